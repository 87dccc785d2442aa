//! A ray made ready: its shear for triangles and its slabs for boxes.
//!
//! In: origin and direction in f64. Out: what [`super::triangle`] and the walk need of it.

use super::Hit;
use super::triangle::Meeting;
use glam::{DVec2, DVec3};

/// Outward push of origins relative to themselves; above the 2⁻²⁴ of rounding to f32.
const ORIGIN_PUSH: f64 = 1.0 / (1u64 << 22) as f64;
/// Outward push of origins relative to the scene.
const SCENE_PUSH: f64 = 1.0 / (1u64 << 30) as f64;
/// Smallest slope in the slab test, 2⁻⁷⁰.
const LEAST_SLOPE: f64 = 1.0 / (1u128 << 70) as f64;
/// Bound of the error of plane coordinates in f32, relative to the scene, for a corner P away along an axis,
/// in units of 2⁻²⁴: origin 2 · scale, differences 2P, shear P, product P, last difference 2P; P ≤ 2 · scale
/// makes 14 · scale.
const BLUR: f64 = 1.0 / (1u64 << 20) as f64;
/// Stretch of far slab distances and of the ray's end; above 1 + 10 · 2⁻²⁴.
const STRETCH: f32 = 1.0 + 1.0 / (1u32 << 20) as f32;
/// A plane this near, relative to the scene, holds the point.
pub(super) const HOLD: f64 = 1.0 / (1u64 << 46) as f64;
/// Meetings farther than this from a point, relative to the scene, are never with what holds it.
const CLOSE: f64 = 1.0 / (1u64 << 20) as f64;

/// A ray with everything that does not depend on the triangle.
#[derive(Debug, Clone)]
pub(super) struct Ray {
    /// Origin.
    pub origin: [f64; 3],
    /// The two shorter axes of the direction, ordered to keep handedness, and the longest.
    pub axes: [usize; 3],
    /// Direction along the two shorter axes over that along the longest.
    pub shear: [f64; 2],
    /// Sign of the direction along the longest axis.
    pub sign: f64,
    /// Length of the direction along the longest axis: depth = t · reach.
    reach: f64,
    /// End of the ray as depth, the distance along the longest axis.
    pub depth_max: f64,
    /// Where it ends, when a triangle there is not to be met.
    end: Option<DVec3>,
    /// Distances of [`HOLD`] and [`CLOSE`] for this ray.
    hold: f64,
    close: f64,
    /// Pushed origins and reciprocal slopes of the slab test.
    pub near: [f32; 3],
    pub far: [f32; 3],
    pub inverse: [f32; 3],
    /// Those for the far side, stretched.
    pub inverse_far: [f32; 3],
    /// Origin and shear in f32, and how far off the plane coordinates are that follow from them.
    pub rough_origin: [f32; 3],
    pub rough_shear: [f32; 2],
    pub blur: f32,
}

impl Ray {
    /// The ray `origin + t·direction`, 0 < t < `t_max`, or none if it has no length or is not finite.
    #[inline(always)]
    #[expect(clippy::cast_possible_truncation, reason = "blur covers the rounding")]
    pub fn new(origin: DVec3, direction: DVec3, t_max: f64, size: f64) -> Option<Self> {
        let length = direction.abs();
        let longest = if length.x >= length.y && length.x >= length.z {
            0
        } else if length.y >= length.z {
            1
        } else {
            2
        };
        let reach = length[longest];
        let per_reach = 1.0 / reach;
        if !(origin.is_finite() && direction.is_finite() && per_reach.is_finite() && t_max > 0.0) {
            return None;
        }
        let forward = direction[longest] > 0.0;
        let (second, third) = ((longest + 1) % 3, (longest + 2) % 3);
        let axes = if forward {
            [second, third, longest]
        } else {
            [third, second, longest]
        };
        let slope = direction * per_reach;
        let turn = if forward { 1.0 } else { -1.0 };
        let scale = size.max(origin.abs().max_element());
        let mut ray = Self {
            origin: origin.to_array(),
            axes,
            shear: [slope[axes[0]] * turn, slope[axes[1]] * turn],
            sign: turn,
            reach,
            depth_max: t_max * reach,
            end: None,
            hold: HOLD * scale,
            close: CLOSE * scale,
            near: [0.0; 3],
            far: [0.0; 3],
            inverse: [0.0; 3],
            inverse_far: [0.0; 3],
            rough_origin: origin.as_vec3().to_array(),
            rough_shear: [0.0; 2],
            blur: (BLUR * scale) as f32,
        };
        ray.rough_shear = [ray.shear[0] as f32, ray.shear[1] as f32];
        for axis in 0..3 {
            ray.set_slab(axis, origin[axis], slope[axis], size);
        }
        Some(ray)
    }

    /// The open segment.
    #[inline(always)]
    pub fn segment(from: DVec3, to: DVec3, size: f64) -> Option<Self> {
        let mut ray = Self::new(from, to - from, 1.0, size)?;
        ray.end = Some(to);
        Some(ray)
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "the push covers the rounding"
    )]
    #[inline(always)]
    fn set_slab(&mut self, axis: usize, origin: f64, slope: f64, size: f64) {
        let slope = if slope.abs() < LEAST_SLOPE {
            LEAST_SLOPE.copysign(slope)
        } else {
            slope
        };
        let push = (ORIGIN_PUSH * origin.abs() + SCENE_PUSH * size).copysign(slope);
        self.near[axis] = (origin + push) as f32;
        self.far[axis] = (origin - push) as f32;
        self.inverse[axis] = 1.0 / slope as f32;
        self.inverse_far[axis] = self.inverse[axis] * STRETCH;
    }

    /// Row of planes of a node that the ray meets first, per axis.
    #[inline(always)]
    pub fn first_rows(&self) -> [usize; 3] {
        [0, 1, 2].map(|axis| {
            if self.inverse[axis] > 0.0 {
                axis
            } else {
                axis + 3
            }
        })
    }

    /// A depth as the boxes see it, stretched.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the stretch covers the rounding"
    )]
    #[inline(always)]
    pub fn box_depth(depth: f64) -> f32 {
        depth as f32 * STRETCH
    }

    /// True when the triangle is met at or beyond an end of the ray, or holds it.
    #[inline(always)]
    pub fn outside(&self, corners: &[[f32; 3]; 3], depth: f64) -> bool {
        if !(depth > 0.0 && depth < self.depth_max) {
            return true;
        }
        (depth <= self.close && self.holds(corners, DVec3::from_array(self.origin)))
            || self
                .end
                .is_some_and(|end| depth >= self.depth_max - self.close && self.holds(corners, end))
    }

    /// True when the plane of the triangle passes through the point, within rounding.
    fn holds(&self, corners: &[[f32; 3]; 3], point: DVec3) -> bool {
        let [a, b, c] = corners.map(|corner| DVec3::from_array(corner.map(f64::from)));
        let normal = (b - a).cross(c - a);
        normal.dot(point - a).abs() <= self.hold * normal.length()
    }

    /// The meeting in the caller's terms.
    #[inline(always)]
    pub fn hit(&self, triangle: u32, meeting: &Meeting) -> Hit {
        Hit {
            triangle,
            t: meeting.depth / self.reach,
            bary: DVec2::new(meeting.second, meeting.third),
            from_front: meeting.from_front,
        }
    }
}
