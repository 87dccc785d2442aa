//! Gas, metals and sources.

use glam::DVec3;
use std::path::PathBuf;

pub use crate::gas::{Scatter, Species as GasSpecies};

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
