//! The plan as meant: SI values, defaults filled in, names not yet resolved to things.
//!
//! In: the key table and the reader of `plan`. Out: `scene::lower` turns it into a [`crate::scene::Scene`].

use crate::metals::{self, Metal};
use glam::DVec3;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A place in a plan file, for diagnostics.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Place {
    /// File the value stands in (the plan itself or an included one).
    pub file: PathBuf,
    /// Byte offset of the value's first byte in that file.
    pub start: usize,
    /// Byte offset one past the value's last byte.
    pub end: usize,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
}

/// A plan file as meant: every quantity in SI, every default of the contract filled in.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// Path of the plan file; relative paths in the plan were resolved against it.
    pub path: PathBuf,
    /// Text of the plan file (without included files).
    pub text: String,
    /// Texts of all files read, the plan first, by path: what a diagnostic underlines.
    pub files: Vec<(PathBuf, String)>,
    /// Headline of report and bench card.
    pub title: String,
    /// Vacuum chamber; without it nothing has walls.
    pub chamber: Option<Chamber>,
    /// Working gas; without it atoms fly straight.
    pub gas: Option<Gas>,
    /// Metals the plan defines itself.
    pub metals: Vec<OwnMetal>,
    /// What emits.
    pub sources: Vec<Source>,
    /// What stands in the way.
    pub fixtures: Vec<Fixture>,
    /// Shutters, in plan order.
    pub shutters: Vec<Shutter>,
    /// What is to be coated.
    pub parts: Vec<Part>,
    /// Named places on parts.
    pub regions: Vec<Region>,
    /// Witness coupons.
    pub coupons: Vec<Coupon>,
    /// Chain of rotations, the first acting first on the parts.
    pub rotations: Vec<Rotation>,
    /// The schedule.
    pub steps: Vec<Step>,
    /// What film is wanted.
    pub film: Option<FilmWanted>,
    /// Stencils.
    pub masks: Vec<Mask>,
    /// Lines along which thickness is evaluated.
    pub probes: Vec<Probe>,
    /// What `advise` may vary.
    pub advise: Option<Advise>,
    /// Where each value stands, keyed as in `source.head.at`, `step.2.lasts`, `chamber.diameter`
    /// (entries of arrays by name, steps and rotations by number from 1; an entry itself as `source.head`).
    pub places: BTreeMap<String, Place>,
}

impl Plan {
    /// Where a key stands, as in `source.head.at`; where it is not written, the nearest enclosing
    /// key that is.
    pub fn place_of(&self, key: &str) -> Option<&Place> {
        let mut key = key;
        loop {
            if let Some(place) = self.places.get(key) {
                return Some(place);
            }
            key = key.rsplit_once('.')?.0;
        }
    }

    /// The metal of this name: one of the plan's own, else one of those that every plan knows.
    pub fn metal(&self, name: &str) -> Option<Metal> {
        self.metals
            .iter()
            .find(|own| own.name == name)
            .map(|own| Metal {
                name: own.name.clone(),
                density_kg_per_m3: own.density_kg_per_m3,
                molar_mass_kg_per_mol: own.molar_mass_kg_per_mol,
            })
            .or_else(|| metals::built_in(name))
    }
}

/// Shape of the vacuum chamber; it stands on z = 0 around the z axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChamberShape {
    /// Upright cylinder.
    Cylinder {
        /// Inner diameter, m.
        diameter_m: f64,
        /// Inner height, m.
        height_m: f64,
    },
    /// Box, centred on the axis in x and y.
    Box {
        /// Inner extent in x, y and z, m.
        size_m: DVec3,
    },
}

/// The vacuum chamber.
#[derive(Debug, Clone, PartialEq)]
pub struct Chamber {
    /// Shape and inner size.
    pub shape: ChamberShape,
    /// Sticking of its walls, 0..=1.
    pub sticking: f64,
}

/// Working gas species.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GasSpecies {
    /// Argon.
    Argon,
    /// Neon.
    Neon,
    /// Krypton.
    Krypton,
    /// Xenon.
    Xenon,
    /// Nitrogen.
    Nitrogen,
}

/// How an atom is deflected by a gas atom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scatter {
    /// Hard spheres in a thermal gas.
    HardSphere,
    /// Hard spheres in a gas at rest (for checks).
    HardSphereAtRest,
    /// Isotropic in the laboratory (for checks).
    Isotropic,
}

/// The working gas.
#[derive(Debug, Clone, PartialEq)]
pub struct Gas {
    /// Species.
    pub species: GasSpecies,
    /// Pressure, Pa.
    pub pressure_pa: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Residual pressure before the gas is let in, Pa.
    pub base_pressure_pa: Option<f64>,
    /// Free path 1/(n·sigma) that overrides the table, m.
    pub free_path_m: Option<f64>,
    /// Scattering law.
    pub scatter: Scatter,
}

/// A metal that the plan defines.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnMetal {
    /// Its name.
    pub name: String,
    /// Bulk density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Surface binding energy, J, where the plan says it.
    pub surface_binding_j: Option<f64>,
    /// Bulk resistivity, Ohm·m.
    pub resistivity_ohm_m: Option<f64>,
    /// Melting point, K.
    pub melting_point_k: Option<f64>,
    /// Atomic diameter for collisions, m.
    pub diameter_m: Option<f64>,
    /// Table of n and k (columns wavelength_nm,n,k), resolved path.
    pub nk_table: Option<PathBuf>,
}

/// How atoms start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SourceKind {
    /// Sputtered: Thompson energies cut sharply at `energy_cut_j`.
    Sputter {
        /// Cut of the energy spectrum, J.
        energy_cut_j: f64,
    },
    /// Evaporated: thermal energies.
    Boat {
        /// Temperature, K; none: 1.1 × melting point of the metal (or the output's temperature).
        temperature_k: Option<f64>,
    },
}

/// Where atoms leave from, in the source's frame.
#[derive(Debug, Clone, PartialEq)]
pub enum Footprint {
    /// A tiny flat area.
    Spot,
    /// A disc.
    Disc {
        /// Radius, m.
        radius_m: f64,
    },
    /// A ring between two radii.
    Ring {
        /// Inner radius, m.
        inner_radius_m: f64,
        /// Outer radius, m.
        outer_radius_m: f64,
    },
    /// A rectangle, width along `along`.
    Rectangle {
        /// Extent along `along`, m.
        width_m: f64,
        /// Extent across, m.
        depth_m: f64,
    },
    /// A line along `along`.
    Line {
        /// Length, m.
        length_m: f64,
    },
    /// An erosion groove: weight per unit area against radius, linear between rows.
    Groove {
        /// Rows (radius m, weight per unit area), radii increasing.
        rows: Vec<(f64, f64)>,
        /// The table's file.
        table: PathBuf,
    },
    /// The faces of a mesh, along their normals.
    Mesh(MeshFile),
    /// A point, all directions.
    Point,
}

/// Law of emission per solid angle.
#[derive(Debug, Clone, PartialEq)]
pub enum EmissionLaw {
    /// cosⁿ of the angle from the normal.
    CosinePower {
        /// Exponent n, above −1.
        exponent: f64,
    },
    /// Table of (angle rad, weight per solid angle), linear between rows.
    Table {
        /// Rows, angles increasing from 0 to at most π/2.
        rows: Vec<(f64, f64)>,
        /// The table's file.
        table: PathBuf,
    },
}

/// How many atoms leave.
#[derive(Debug, Clone, PartialEq)]
pub enum Output {
    /// All of this mass leaves during the run.
    Charge {
        /// Mass, kg.
        mass_kg: f64,
    },
    /// Discharge by current (or power / voltage).
    Discharge {
        /// Current, A.
        current_a: f64,
        /// Voltage, V.
        voltage_v: f64,
        /// Share of the current that is secondary electrons.
        electron_share: f64,
    },
    /// Hertz–Knudsen from a melt.
    Temperature {
        /// Temperature, K.
        temperature_k: f64,
        /// Melt area, m².
        area_m2: f64,
    },
    /// Scaled to a measured coupon.
    Coupon {
        /// Name of the coupon.
        coupon: String,
        /// Thickness there, m.
        thickness_m: f64,
        /// After this time at full power, s.
        after_s: f64,
    },
    /// Plain rate at power 1.
    AtomsPerSecond {
        /// Atoms per second.
        rate_per_s: f64,
    },
}

/// A mesh file with the unit said in the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct MeshFile {
    /// Resolved path.
    pub path: PathBuf,
    /// Metres per unit of the file, where the plan says a unit.
    pub unit_m: Option<f64>,
}

/// Something that emits metal.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Name.
    pub name: String,
    /// Kind, with starting energies.
    pub kind: SourceKind,
    /// Name of the metal.
    pub metal: String,
    /// Centre of the emitting face, m.
    pub at_m: DVec3,
    /// Normal of the emitting face, unit length (+z for `point` and `mesh`).
    pub facing: DVec3,
    /// Direction of width or length, unit length and in the face, where the footprint needs it.
    pub along: Option<DVec3>,
    /// Footprint.
    pub footprint: Footprint,
    /// Emission law.
    pub law: EmissionLaw,
    /// Output.
    pub output: Output,
    /// Factor on the rate that `tune` writes.
    pub correction: f64,
    /// Target thickness for the groove verdict, m.
    pub target_thickness_m: Option<f64>,
}

/// Shape of a fixture or a shutter, centred on its own origin.
#[derive(Debug, Clone, PartialEq)]
pub enum BodyShape {
    /// Rectangular plate, optionally with a round hole along z.
    Plate {
        /// Extents, m.
        size_m: DVec3,
        /// Hole, m.
        hole_diameter_m: Option<f64>,
    },
    /// Solid cylinder along z.
    Cylinder {
        /// Diameter, m.
        diameter_m: f64,
        /// Length, m.
        length_m: f64,
    },
    /// Tube along z.
    Tube {
        /// Outer diameter, m.
        outer_diameter_m: f64,
        /// Inner diameter, m.
        inner_diameter_m: f64,
        /// Length, m.
        length_m: f64,
    },
    /// Sphere.
    Sphere {
        /// Diameter, m.
        diameter_m: f64,
    },
    /// A mesh file.
    Mesh(MeshFile),
}

/// What a body turns with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rides {
    /// Stands still.
    Chamber,
    /// Turns with the parts.
    Part,
}

/// Place of a body: x_chamber = at + Rz·Ry·Rx·x_body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Where the body's origin goes, m.
    pub at_m: DVec3,
    /// Angles about x, y and z, rad.
    pub turn_rad: DVec3,
}

impl Default for Placement {
    fn default() -> Self {
        Self {
            at_m: DVec3::ZERO,
            turn_rad: DVec3::ZERO,
        }
    }
}

/// Anything else in the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Fixture {
    /// Name.
    pub name: String,
    /// Shape.
    pub body: BodyShape,
    /// Place.
    pub placement: Placement,
    /// What it turns with.
    pub rides: Rides,
    /// Sticking, 0..=1.
    pub sticking: f64,
}

/// A shutter: absent when open.
#[derive(Debug, Clone, PartialEq)]
pub struct Shutter {
    /// Name.
    pub name: String,
    /// Names of the sources it belongs to.
    pub over: Vec<String>,
    /// Shape.
    pub body: BodyShape,
    /// Place when shut.
    pub placement: Placement,
    /// Sticking, 0..=1.
    pub sticking: f64,
}

/// Which side of the faces counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Faces {
    /// The side of the corner-order normal.
    Outside,
    /// Both sides, each an area of its own.
    Both,
}

/// An object to be coated.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name.
    pub name: String,
    /// Mesh.
    pub mesh: MeshFile,
    /// Factor on the mesh.
    pub scale: f64,
    /// Place at turning angle 0.
    pub placement: Placement,
    /// Which side counts.
    pub faces: Faces,
    /// Sticking, 0..=1.
    pub sticking: f64,
    /// Material, as said.
    pub material: Option<String>,
    /// Wall thickness, m.
    pub wall_m: Option<f64>,
    /// Temperature limit, K.
    pub limit_k: Option<f64>,
    /// Thermal emissivity.
    pub emissivity: Option<f64>,
    /// Clear material.
    pub clear: bool,
}

/// A named place on a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Name.
    pub name: String,
    /// Name of the part.
    pub part: String,
    /// A shape in the part's coordinates.
    pub inside: Option<(BodyShape, Placement)>,
    /// Name of an object in the mesh file.
    pub object: Option<String>,
    /// Direction (unit) and half-angle (rad) in which the normal must lie.
    pub facing: Option<(DVec3, f64)>,
}

/// A flat witness slide.
#[derive(Debug, Clone, PartialEq)]
pub struct Coupon {
    /// Name.
    pub name: String,
    /// Centre, m.
    pub at_m: DVec3,
    /// Normal of the coated side, unit length.
    pub facing: DVec3,
    /// Edge of the square, m.
    pub size_m: f64,
    /// What it turns with.
    pub rides: Rides,
    /// Sticking, 0..=1.
    pub sticking: f64,
}

/// One rotation of the chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Rotation {
    /// Axis, unit length, at angles 0.
    pub axis: DVec3,
    /// A point on it, m, at angles 0.
    pub through_m: DVec3,
    /// Angular speed, rad/s, signed.
    pub speed_rad_per_s: f64,
    /// Swing amplitude, rad: from 0 up to it and back.
    pub swing_rad: Option<f64>,
}

/// Which shutters are shut in a step.
#[derive(Debug, Clone, PartialEq)]
pub enum ShutterState {
    /// All as said.
    All {
        /// True when shut.
        shut: bool,
    },
    /// By name; those not named are open.
    Named(BTreeMap<String, bool>),
}

/// Power of the sources in a step.
#[derive(Debug, Clone, PartialEq)]
pub enum StepPower {
    /// Times every source's output.
    All(f64),
    /// By name; those not named are off.
    Named(BTreeMap<String, f64>),
}

/// What a rotation does while held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hold {
    /// Parked at an absolute angle, rad.
    At(f64),
    /// Left turning.
    Turn,
}

/// One step of the schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Note for the bench card.
    pub note: Option<String>,
    /// Duration, s.
    pub lasts_s: f64,
    /// Shutters.
    pub shutter: ShutterState,
    /// Power.
    pub power: StepPower,
    /// Parked angles, one per rotation.
    pub hold: Option<Vec<Hold>>,
    /// Speeds for this step, rad/s, one per rotation.
    pub speed_rad_per_s: Option<Vec<f64>>,
    /// Opened up before this step.
    pub vent: bool,
    /// New angles of parts (rad), by name, from this step on.
    pub turn_rad: BTreeMap<String, DVec3>,
    /// New places of parts (m), by name, from this step on.
    pub at_m: BTreeMap<String, DVec3>,
}

/// Thickness wanted.
#[derive(Debug, Clone, PartialEq)]
pub enum Want {
    /// All metals together, m.
    Total(f64),
    /// Per metal, m.
    PerMetal(BTreeMap<String, f64>),
}

/// What film is wanted where.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmWanted {
    /// The least useful thickness.
    pub want: Want,
    /// Share of the area, 0..=1.
    pub on: f64,
    /// Names of regions; none: all parts.
    pub regions: Option<Vec<String>>,
    /// Names of regions that should stay bare.
    pub bare: Vec<String>,
    /// What still counts as bare, m.
    pub bare_under_m: f64,
}

/// A stencil.
#[derive(Debug, Clone, PartialEq)]
pub struct Mask {
    /// Name of the part it lies on.
    pub part: String,
    /// Artwork file.
    pub artwork: PathBuf,
    /// Metres per unit (DXF) or per px (SVG), where said.
    pub unit_m: Option<f64>,
    /// True when the filled shapes are open, false when the ground is.
    pub opens_shapes: bool,
    /// Sheet thickness, m.
    pub sheet_m: f64,
    /// Lift above the surface, m.
    pub lift_m: f64,
    /// Place in the part's coordinates.
    pub placement: Placement,
    /// Radius of the cylinder it is laid on, m.
    pub wrap_m: Option<f64>,
    /// Direction along which it is pushed onto the mesh.
    pub conform: Option<DVec3>,
    /// Sticking, 0..=1.
    pub sticking: f64,
}

/// A straight line along which thickness is evaluated.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// Name, used as a file name.
    pub name: String,
    /// Name of the part.
    pub part: String,
    /// Start, m, in the part's coordinates.
    pub from_m: DVec3,
    /// End, m.
    pub to_m: DVec3,
    /// Number of points.
    pub points: usize,
}

/// What `advise` makes small.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Minimise {
    /// Open time.
    Time,
    /// Metal.
    Metal,
    /// Unevenness.
    Unevenness,
}

/// How the part turns in advised plans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AdviseTurning {
    /// Steady turning.
    Steady,
    /// Hand-turned stops.
    Stops,
    /// Both tried.
    Both,
}

/// A key that `advise` varies.
#[derive(Debug, Clone, PartialEq)]
pub struct Vary {
    /// Key, as in `part.horn.turn.y`.
    pub key: String,
    /// Lower bound, SI.
    pub from: f64,
    /// Upper bound, SI.
    pub to: f64,
}

/// What `advise` may do.
#[derive(Debug, Clone, PartialEq)]
pub struct Advise {
    /// Aim.
    pub minimise: Minimise,
    /// Turning.
    pub turning: AdviseTurning,
    /// Free keys.
    pub vary: Vec<Vary>,
}
