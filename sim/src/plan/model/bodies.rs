//! Bodies, places and what is watched on them.

use super::MeshFile;
use glam::DVec3;

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
