//! Where atoms leave and in which directions.
//!
//! In: shapes and tables in SI from `scene::lower`. Out: points of the footprint and directions of
//! flight, each with its density, for `transport`.
//!
//! Every law and every footprint offers a `sample` and the density it follows; one χ² routine
//! (`emission/tests.rs`) holds the one against the other for all of them.

mod energy;
mod footprint;
mod groove;
mod law;
pub mod sight;
#[cfg(test)]
mod tests;

use glam::DVec3;

pub use energy::StartEnergy;

/// Law of emission per solid angle about the normal.
#[derive(Debug, Clone, PartialEq)]
pub enum EmissionLaw {
    /// cosⁿ, n above −1; build it with [`EmissionLaw::cosine_power`].
    CosinePower {
        /// n.
        exponent: f64,
    },
    /// Linear table of weight per solid angle against angle.
    Table(TableLaw),
    /// All directions alike (a `point` source).
    Isotropic,
}

/// A tabulated law, normalised; build it with [`TableLaw::new`].
#[derive(Debug, Clone, PartialEq)]
pub struct TableLaw {
    /// Angles, rad, increasing from 0 to at most π/2; nothing leaves beyond the last.
    pub angles_rad: Vec<f64>,
    /// Density per steradian at these angles, linear in the angle between them.
    pub pdf_per_sr: Vec<f64>,
    /// Cumulative probability up to these angles, from 0 to 1.
    pub cumulative: Vec<f64>,
}

/// A footprint in the chamber frame; build it with [`Footprint::new`].
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

/// A normalised erosion groove; build it with [`GrooveTable::new`].
#[derive(Debug, Clone, PartialEq)]
pub struct GrooveTable {
    /// Radii, m, increasing; nothing leaves outside the first and the last.
    pub radii_m: Vec<f64>,
    /// Emission density per m² at these radii, linear in the radius between them; its integral is 1.
    pub weights: Vec<f64>,
    /// Cumulative share of the emission inside these radii, from 0 to 1.
    pub cumulative: Vec<f64>,
}

/// Emitting faces; build it with [`MeshFootprint::new`].
#[derive(Debug, Clone, PartialEq)]
pub struct MeshFootprint {
    /// Corners of each face, chamber frame, m; the corner order turns right-handed about the normal.
    pub faces: Vec<[DVec3; 3]>,
    /// Cumulative share of the area up to and with each face, ending at 1.
    pub cumulative: Vec<f64>,
    /// Sum of the areas, m².
    pub area_m2: f64,
    /// A sphere that holds all faces: centre, m, and radius, m.
    pub ball: (DVec3, f64),
}

/// A point of a footprint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FootprintPoint {
    /// Position, chamber frame, m.
    pub position_m: DVec3,
    /// Unit normal of the face there.
    pub normal: DVec3,
}

/// Why a law or a footprint cannot be built; rows are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EmissionError {
    /// cosⁿ with n at or below −1, or not finite.
    #[error(
        "emission exponent {exponent} (must be above -1, otherwise the law has no finite total); \
         use 1 for a flat evaporating surface"
    )]
    Exponent {
        /// n.
        exponent: f64,
    },
    /// A table with fewer than two rows.
    #[error(
        "{rows} rows in the {table} (at least 2 are needed to draw a line between them); add rows"
    )]
    TooFewRows {
        /// Which table.
        table: TableKind,
        /// Rows found.
        rows: usize,
    },
    /// A number in a table that is not finite.
    #[error("row {row} of the {table} holds {value} (must be a finite number); correct the row")]
    NotFinite {
        /// Which table.
        table: TableKind,
        /// Row from 1.
        row: usize,
        /// The value.
        value: f64,
    },
    /// A first column that does not increase.
    #[error(
        "row {row} of the {table} has {} after {} (the first column must increase); sort the rows",
        .table.first_column(*.value), .table.first_column(*.before)
    )]
    NotIncreasing {
        /// Which table.
        table: TableKind,
        /// Row from 1.
        row: usize,
        /// Value of the row, rad or m.
        value: f64,
        /// Value of the row before, rad or m.
        before: f64,
    },
    /// A table of angles that does not begin at 0.
    #[error(
        "the {} begins at {} (must begin at 0 deg, the normal of the face); add a row for 0 deg",
        TableKind::Lobe, TableKind::Lobe.first_column(*.angle_rad)
    )]
    NoAxisRow {
        /// First angle, rad.
        angle_rad: f64,
    },
    /// An angle behind the face.
    #[error(
        "row {row} of the {} is at {} (90 deg is the face itself, nothing leaves behind it); \
         end the table at 90 deg",
        TableKind::Lobe, TableKind::Lobe.first_column(*.angle_rad)
    )]
    BehindFace {
        /// Row from 1.
        row: usize,
        /// Angle, rad.
        angle_rad: f64,
    },
    /// A negative radius.
    #[error(
        "row {row} of the {} is at {} (a radius cannot be below 0 mm); correct the row",
        TableKind::Groove, TableKind::Groove.first_column(*.radius_m)
    )]
    NegativeRadius {
        /// Row from 1.
        row: usize,
        /// Radius, m.
        radius_m: f64,
    },
    /// A negative weight.
    #[error(
        "row {row} of the {table} has weight {weight} (a share of the emission cannot be below 0); \
         correct the row"
    )]
    NegativeWeight {
        /// Which table.
        table: TableKind,
        /// Row from 1.
        row: usize,
        /// The weight.
        weight: f64,
    },
    /// Weights that are all zero.
    #[error(
        "all weights of the {table} are 0 (nothing would leave); give one row a weight above 0"
    )]
    NothingLeaves {
        /// Which table.
        table: TableKind,
    },
    /// An emitting mesh without area.
    #[error(
        "the {faces} faces of the emitting mesh have an area of 0 mm2 (nothing could leave); give a mesh with area"
    )]
    NoArea {
        /// Number of faces.
        faces: usize,
    },
}

/// Which table an [`EmissionError`] is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableKind {
    /// Weight per solid angle against angle.
    Lobe,
    /// Weight per area against radius.
    Groove,
}

impl std::fmt::Display for TableKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Lobe => "table of the emission law",
            Self::Groove => "table of the erosion groove",
        })
    }
}

impl TableKind {
    /// A value of the first column as a person writes it.
    fn first_column(self, value: f64) -> String {
        match self {
            Self::Lobe => format!("{} deg", tidy(value.to_degrees())),
            Self::Groove => format!("{} mm", tidy(value * 1e3)),
        }
    }
}

/// Rounds to nine decimals, so that a converted value prints as it was written.
fn tidy(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// Checks that the first column increases, all numbers are finite and no weight is negative.
fn check_rows(table: TableKind, rows: &[(f64, f64)]) -> Result<(), EmissionError> {
    if rows.len() < 2 {
        let rows = rows.len();
        return Err(EmissionError::TooFewRows { table, rows });
    }
    for (index, &(value, weight)) in rows.iter().enumerate() {
        let row = index + 1;
        for value in [value, weight] {
            if !value.is_finite() {
                return Err(EmissionError::NotFinite { table, row, value });
            }
        }
        if weight < 0.0 {
            return Err(EmissionError::NegativeWeight { table, row, weight });
        }
        if index > 0 && value <= rows[index - 1].0 {
            let before = rows[index - 1].0;
            return Err(EmissionError::NotIncreasing {
                table,
                row,
                value,
                before,
            });
        }
    }
    Ok(())
}

/// Finds x in [0, `width`] where `integral(x)` = `target`, for an increasing integral.
///
/// Newton's steps, held inside a bracket that shrinks with every step, until the bracket or the step
/// is at the end of f64.
fn invert(
    width: f64,
    target: f64,
    integral: impl Fn(f64) -> f64,
    slope: impl Fn(f64) -> f64,
) -> f64 {
    let (mut low, mut high) = (0.0, width);
    let mut x = 0.5 * width;
    for _ in 0..200 {
        let miss = integral(x) - target;
        if miss > 0.0 {
            high = x;
        } else {
            low = x;
        }
        let newton = x - miss / slope(x);
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - x).abs() <= 2.0 * f64::EPSILON * width {
            return next;
        }
        x = next;
    }
    x
}
