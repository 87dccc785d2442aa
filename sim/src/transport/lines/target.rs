//! A receiver as it lies in one configuration.
//!
//! In: what [`super::Lines::target`] finds. Out: its facet, its sphere, and whether it sees what another sees.

use crate::scene::BodyId;
use crate::transport::kernel::shaft::Base;
use glam::DVec3;

/// Cosine of the angle up to which receivers face alike, and how far apart they may be for their sizes.
const ALIKE: f64 = 0.97;
const NEAR: f64 = 4.0;

/// A receiver in one configuration: a flat facet in its group's frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Target {
    pub corner: DVec3,
    pub edges: [DVec3; 2],
    pub(super) normal: DVec3,
    pub(super) across: [DVec3; 2],
    pub(super) riding: bool,
    pub(super) triangle: u32,
    pub(super) body: BodyId,
}

impl Target {
    /// Number of its triangle in its group.
    pub fn triangle(&self) -> u32 {
        self.triangle
    }

    /// Near the other, for its size, and turned alike: it sees about the same.
    pub fn is_like(&self, other: &Self) -> bool {
        let (middle, radius) = self.bounding_sphere();
        let (there, size) = other.bounding_sphere();
        self.normal.dot(other.normal) > ALIKE
            && middle.distance_squared(there) < (NEAR * (radius + size)).powi(2)
    }

    /// Distance between the middles of two in one frame, m.
    pub fn distance_m(&self, other: &Self) -> f64 {
        self.bounding_sphere().0.distance(other.bounding_sphere().0)
    }

    /// Two unit vectors in its plane, square to each other.
    pub fn across(&self) -> [DVec3; 2] {
        self.across
    }

    /// It has no extent.
    pub fn is_point(&self) -> bool {
        self.edges == [DVec3::ZERO; 2]
    }

    /// Turns with the riding group.
    pub fn riding(&self) -> bool {
        self.riding
    }

    /// Unit normal of the counted side, group's frame.
    pub fn normal(&self) -> DVec3 {
        self.normal
    }

    /// The facet, group's frame.
    pub fn base(&self) -> Base {
        let [e, f] = self.edges;
        Base {
            corners: [self.corner, self.corner + e, self.corner + f],
            normal: self.normal,
        }
    }

    /// A sphere around the facet: centre and radius, m, group's frame.
    pub fn bounding_sphere(&self) -> (DVec3, f64) {
        let [e, f] = self.edges;
        let middle = (e + f) / 3.0;
        let squared = [DVec3::ZERO, e, f].map(|corner| (corner - middle).length_squared());
        (
            self.corner + middle,
            squared.into_iter().fold(0.0, f64::max).sqrt(),
        )
    }
}
