//! Where atoms leave and in which directions.

use glam::DVec3;

/// Law of emission per solid angle about the normal.
#[derive(Debug, Clone, PartialEq)]
pub enum EmissionLaw {
    /// cosⁿ, n above −1.
    CosinePower {
        /// n.
        exponent: f64,
    },
    /// Linear table of weight per solid angle against angle.
    Table(TableLaw),
    /// All directions alike (a `point` source).
    Isotropic,
}

/// A tabulated law, normalised.
#[derive(Debug, Clone, PartialEq)]
pub struct TableLaw {
    /// Angles, rad, increasing from 0.
    pub angles_rad: Vec<f64>,
    /// Density per steradian at these angles.
    pub pdf_per_sr: Vec<f64>,
    /// Cumulative probability up to these angles.
    pub cumulative: Vec<f64>,
}

/// A footprint in the chamber frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Footprint {
    /// Centre of the face, m.
    pub centre_m: DVec3,
    /// Unit vectors: along, across, normal (right-handed).
    pub frame: [DVec3; 3],
    /// Shape.
    pub shape: FootprintShape,
}

/// Shape of a footprint.
#[derive(Debug, Clone, PartialEq)]
pub enum FootprintShape {
    /// A tiny flat area, or a point.
    Spot,
    /// Disc (inner radius 0) or ring, even per area.
    Ring {
        /// m.
        inner_radius_m: f64,
        /// m.
        outer_radius_m: f64,
    },
    /// Rectangle, extents along and across, m.
    Rectangle {
        /// m.
        width_m: f64,
        /// m.
        depth_m: f64,
    },
    /// Line along the first axis, m.
    Line {
        /// m.
        length_m: f64,
    },
    /// Radially symmetric weight per area, linear between rows.
    Groove(GrooveTable),
    /// Faces of a mesh in the chamber frame.
    Mesh(MeshFootprint),
}

/// A normalised erosion groove.
#[derive(Debug, Clone, PartialEq)]
pub struct GrooveTable {
    /// Radii, m, increasing.
    pub radii_m: Vec<f64>,
    /// Weight per area at these radii.
    pub weights: Vec<f64>,
    /// Cumulative share of the emission inside these radii.
    pub cumulative: Vec<f64>,
}

/// Emitting faces.
#[derive(Debug, Clone, PartialEq)]
pub struct MeshFootprint {
    /// Corners of each face, chamber frame, m.
    pub faces: Vec<[DVec3; 3]>,
    /// Cumulative share of the area up to and with each face.
    pub cumulative: Vec<f64>,
}

/// A point of a footprint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FootprintPoint {
    /// Position, chamber frame, m.
    pub position_m: DVec3,
    /// Unit normal of the face there.
    pub normal: DVec3,
}
