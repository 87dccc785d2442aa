//! A ray made ready: its shear for triangles and its slabs for boxes.
//!
//! In: origin and direction in f64. Out: what [`super::triangle`] and the walk need of it.

use super::Hit;
use super::triangle::Meeting;
use crate::lanes::Four;
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
    /// For boxes.
    pub slabs: Slabs,
    /// Origin and shear in f32, and how far off the plane coordinates are that follow from them.
    pub rough_origin: [f32; 3],
    pub rough_shear: [f32; 2],
    pub blur: f32,
}

/// What the slab test needs of a ray, by axis; the fourth number means nothing.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slabs {
    /// Origin, pushed outward for the near side and for the far side.
    pub near: [f32; 4],
    pub far: [f32; 4],
    /// Reciprocal slopes, and those for the far side, stretched.
    pub inverse: [f32; 4],
    pub inverse_far: [f32; 4],
}

impl Slabs {
    #[inline(always)]
    fn of<F: Four>([x, y, z]: [f64; 3], [u, v, w]: [f64; 3], size: f64) -> Self {
        let origin = F::load(&[x, y, z, 0.0]);
        let slope = F::load(&[u, v, w, 1.0]);
        let steep = slope.abs().max(F::splat(LEAST_SLOPE)).signed_as(slope);
        let push = F::splat(ORIGIN_PUSH) * origin.abs() + F::splat(SCENE_PUSH * size);
        let push = push.signed_as(slope);
        let inverse = (F::splat(1.0) / steep).narrow();
        Self {
            near: (origin + push).narrow(),
            far: (origin - push).narrow(),
            inverse,
            inverse_far: [
                inverse[0] * STRETCH,
                inverse[1] * STRETCH,
                inverse[2] * STRETCH,
                STRETCH,
            ],
        }
    }

    /// Row of planes of a node that the ray meets first, per axis.
    #[inline(always)]
    pub fn first_rows(&self) -> [usize; 3] {
        let first = |axis: usize| axis + 3 * usize::from(self.inverse[axis] <= 0.0);
        [first(0), first(1), first(2)]
    }
}

/// The two shorter axes of a direction, ordered to keep handedness, and the longest: by the longest, and whether the
/// direction goes backward or forward along it.
const AXES: [[[usize; 3]; 2]; 3] = [
    [[2, 1, 0], [1, 2, 0]],
    [[0, 2, 1], [2, 0, 1]],
    [[1, 0, 2], [0, 1, 2]],
];

impl Ray {
    /// The ray `origin + t·direction`, 0 < t < `t_max`, or none if it has no length or is not finite.
    #[inline(always)]
    #[expect(clippy::cast_possible_truncation, reason = "blur covers the rounding")]
    pub fn new<F: Four>(origin: DVec3, direction: DVec3, t_max: f64, size: f64) -> Option<Self> {
        let length = direction.abs();
        let longer = length.x.max(length.y);
        let longest = if length.z > longer {
            2
        } else {
            usize::from(length.y > length.x)
        };
        let reach = longer.max(length.z);
        let per_reach = 1.0 / reach;
        // 0 unless something is infinite or no number
        let nothing = origin * 0.0 + direction * 0.0;
        let nothing = nothing.x + nothing.y + nothing.z;
        if !(nothing.abs() <= 0.0 && per_reach.is_finite() && t_max > 0.0) {
            return None;
        }
        let way = direction.to_array();
        let forward = way[longest] > 0.0;
        let axes = AXES[longest][usize::from(forward)];
        let slope = [way[0] * per_reach, way[1] * per_reach, way[2] * per_reach];
        let turn = if forward { 1.0 } else { -1.0 };
        let shear = [slope[axes[0]] * turn, slope[axes[1]] * turn];
        let start = origin.to_array();
        let slabs = Slabs::of::<F>(start, slope, size);
        let scale = size.max(origin.abs().max_element());
        Some(Self {
            origin: start,
            axes,
            shear,
            sign: turn,
            reach,
            depth_max: t_max * reach,
            end: None,
            hold: HOLD * scale,
            close: CLOSE * scale,
            slabs,
            rough_origin: [start[0] as f32, start[1] as f32, start[2] as f32],
            rough_shear: [shear[0] as f32, shear[1] as f32],
            blur: (BLUR * scale) as f32,
        })
    }

    /// The open segment.
    #[inline(always)]
    pub fn segment<F: Four>(from: DVec3, to: DVec3, size: f64) -> Option<Self> {
        let mut ray = Self::new::<F>(from, to - from, 1.0, size)?;
        ray.end = Some(to);
        Some(ray)
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
