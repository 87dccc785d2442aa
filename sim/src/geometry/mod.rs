//! Plain geometry: solids as triangles, areas and distances.
//!
//! In: sizes in metres. Out: corners and triangles for `scene`, closest distances for clearances and
//! probes. Knows nothing of plans, parts or sources.

pub mod distance;
pub mod solids;
#[cfg(test)]
mod tests;
mod tree;

pub use solids::Solid;
pub use tree::{Nearest, Tree};

use glam::DVec3;

/// Area of a triangle, m².
///
/// |(b − a) × (c − a)| / 2.
pub fn triangle_area_m2([a, b, c]: [DVec3; 3]) -> f64 {
    0.5 * (b - a).cross(c - a).length()
}

/// An edge as a key: the bits of its two ends, the lesser first, so that it is the same from either side.
pub fn edge_key(ends: [DVec3; 2]) -> [[u64; 3]; 2] {
    let mut key = ends.map(|end| end.to_array().map(f64::to_bits));
    key.sort_unstable();
    key
}

/// Lowest and highest corner of the smallest upright box around points; none without points.
pub fn bounds(points: impl IntoIterator<Item = DVec3>) -> Option<[DVec3; 2]> {
    points.into_iter().fold(None, |bounds, point| {
        Some(match bounds {
            None => [point, point],
            Some([low, high]) => [point.min(low), point.max(high)],
        })
    })
}
