//! The ray kernel: does a line meet a triangle, and which first.
//!
//! In: triangles rounded to f32 and rays in f64. Out: blocked or not, first hit, all crossings.

use glam::{DVec3, Vec3};

/// A bounding-volume hierarchy over triangles, immutable.
#[derive(Debug, Clone, Default)]
pub struct Kernel {
    /// Corners of every triangle in the caller's order.
    pub triangles: Vec<[Vec3; 3]>,
}

/// Where a ray meets a triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Number of the triangle in the caller's order.
    pub triangle: u32,
    /// Distance along the ray in units of the direction's length.
    pub t: f64,
    /// Weights of the second and third corner.
    pub bary: glam::DVec2,
    /// True when the ray comes from the side of the corner-order normal.
    pub from_front: bool,
}

impl Kernel {
    /// Builds the hierarchy. Triangles without area are kept in number and never hit.
    pub fn build(triangles: Vec<[Vec3; 3]>) -> Self {
        Self { triangles }
    }

    /// True when any triangle other than `skip` meets the open segment from `from` to `to`.
    pub fn blocked(&self, _from: DVec3, _to: DVec3, _skip: Option<u32>) -> bool {
        false
    }

    /// The first triangle other than `skip` met by `origin + t·direction`, 0 < t < `t_max`.
    pub fn first_hit(
        &self,
        _origin: DVec3,
        _direction: DVec3,
        _t_max: f64,
        _skip: Option<u32>,
    ) -> Option<Hit> {
        None
    }
}
