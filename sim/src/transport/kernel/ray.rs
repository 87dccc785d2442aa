//! A ray made ready: its shear for triangles and its slabs for boxes.
//!
//! In: origin and direction in f64. Out: what [`super::triangle`] and the walk need of it.

use super::Hit;
use super::sift::Gaze;
use super::triangle::Meeting;
use crate::lanes::Four;
use glam::{DVec2, DVec3};
use wide::{f32x4, f32x8};

/// Outward push of origins in the slab test, relative to themselves and to the triangles' size (module head of [`super`]).
const PUSH: f32 = 1.0 / (1u32 << 22) as f32;
/// Smallest component of a direction in the slab test, 2⁻⁷⁰.
const LEAST_SLOPE: f32 = 1.0 / (1u128 << 70) as f32;
/// Lengths of directions, along the longest axis, that the slab test takes as they are.
pub(super) const ORDINARY: std::ops::Range<f64> = 1.0 / (1u64 << 20) as f64..(1u64 << 20) as f64;
/// Least length of a direction along its longest axis; the reciprocal is finite.
const LEAST_REACH: f64 = 1.0 / f64::MAX;
/// Stretch of far slab distances and of the ray's end, 1 + 16 · 2⁻²⁴ (module head of [`super`]).
pub(super) const STRETCH: f32 = 1.0 + 1.0 / (1u32 << 20) as f32;
/// Shortening of what of a ray is proved clear, 1 − 2⁻¹⁶: far above the rounding of slab distances.
pub(super) const SHORTEN: f64 = 1.0 - 1.0 / (1u64 << 16) as f64;
/// A plane this near, relative to the scene, holds the point.
pub(super) const HOLD: f64 = 1.0 / (1u64 << 46) as f64;
/// Meetings farther than this from a point, relative to the scene, are never with what holds it.
const CLOSE: f64 = 1.0 / (1u64 << 20) as f64;

/// A ray with everything that does not depend on the triangle.
#[derive(Debug, Clone, Copy)]
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
    pub reach: f64,
    /// One over that.
    pub per_reach: f64,
    /// End of the ray as depth, the distance along the longest axis.
    pub depth_max: f64,
    /// Where it ends, when a triangle there is not to be met.
    end: DVec3,
    ends: Ends,
    /// The scene: largest coordinate of the triangles and of the origin.
    scale: f64,
    /// That of the triangles alone.
    #[cfg(test)]
    pub size: f64,
}

/// Whether a triangle at the end of a ray may be met.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Ends {
    Open,
    Kept,
}

/// What the slab test needs of a ray, by axis; the fourth number means nothing.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slabs {
    /// Reciprocal slopes, and those for the far side, stretched.
    pub inverse: [f32; 4],
    pub inverse_far: [f32; 4],
    /// Origin, pushed outward for the near side and for the far side, times minus the reciprocal slope of that side.
    pub near: [f32; 4],
    pub far: [f32; 4],
}

/// Origin and direction in single precision; the fourth number is the third again.
pub(super) struct Rough {
    pub origin: f32x4,
    pub direction: f32x4,
}

impl Rough {
    #[inline(always)]
    pub fn new<F: Four>(origin: DVec3, direction: DVec3) -> Self {
        let narrow = |v: DVec3| f32x4::new(F::load(&[v.x, v.y, v.z, v.z]).narrow());
        Self {
            origin: narrow(origin),
            direction: narrow(direction),
        }
    }

    /// True when all numbers are finite in single precision.
    #[inline(always)]
    pub fn is_finite(&self) -> bool {
        let sum = self.origin + self.direction;
        let nothing = sum * f32x4::ZERO;
        nothing.simd_eq(f32x4::ZERO).to_bitmask() == 0b1111
    }
}

impl Slabs {
    /// Of a ray that is possible.
    #[inline(always)]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "pushes and stretch cover the rounding"
    )]
    pub fn of(rough: &Rough, size: f64) -> Self {
        let (origin, slope) = (rough.origin, rough.direction);
        let minus = f32x4::splat(-0.0);
        let (length, sign) = (slope & !minus, slope & minus);
        let inverse = f32x4::splat(1.0) / (length.fast_max(f32x4::splat(LEAST_SLOPE)) | sign);
        let inverse_far = inverse * f32x4::splat(STRETCH);
        let scene = f32x4::splat(size as f32);
        let push = (((origin & !minus) + scene) * f32x4::splat(PUSH)) | sign;
        Self {
            inverse: inverse.to_array(),
            inverse_far: inverse_far.to_array(),
            near: ((-origin - push) * inverse).to_array(),
            far: ((push - origin) * inverse_far).to_array(),
        }
    }

    /// The ray as triangles see it.
    ///
    /// - `t_max`: end, in lengths of the direction
    /// - `size`: largest coordinate of triangles
    #[inline(always)]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "its bounds cover the rounding"
    )]
    pub fn gaze(&self, rough: &Rough, (t_max, size): (f32, f64)) -> Gaze {
        let three = |four: f32x4| {
            let [x, y, z, _] = four.to_array();
            [x, y, z]
        };
        let (origin, way) = (three(rough.origin), three(rough.direction));
        let [x, y, z, _] = self.inverse;
        Gaze::new(origin, way, [x, y, z], (t_max, size as f32))
    }

    /// Side of boxes that the ray meets first, per axis.
    #[inline(always)]
    pub fn sides(&self) -> [usize; 3] {
        let [x, y, z, _] = self.inverse;
        [
            usize::from(x < 0.0),
            usize::from(y < 0.0),
            usize::from(z < 0.0),
        ]
    }
}

/// What the slab test needs of eight lines along one axis: reciprocal slopes, and minus the origin pushed up, for the
/// lesser plane of a box, and down, for the greater.
#[inline(always)]
pub(super) fn eight_slopes(origin: f32x8, slope: f32x8, size: f32) -> [f32x8; 3] {
    let minus = f32x8::splat(-0.0);
    let (length, sign) = (slope & !minus, slope & minus);
    let inverse = f32x8::ONE / (length.fast_max(f32x8::splat(LEAST_SLOPE)) | sign);
    let push = ((origin & !minus) + f32x8::splat(size)) * f32x8::splat(PUSH);
    [inverse, -origin - push, push - origin]
}

/// Length of a direction along its longest axis.
#[inline(always)]
pub(super) fn reach(direction: DVec3) -> f64 {
    let length = direction.abs();
    greater(greater(length.x, length.y), length.z)
}

/// The greater of two numbers.
#[inline(always)]
pub(super) fn greater<T: PartialOrd>(a: T, b: T) -> T {
    if a > b { a } else { b }
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
    #[cfg(test)]
    pub fn new<F: Four>(origin: DVec3, direction: DVec3, t_max: f64, size: f64) -> Option<Self> {
        Self::possible(origin, direction, t_max).then(|| Self::made(origin, direction, t_max, size))
    }

    /// The open segment.
    #[inline(always)]
    pub fn segment(from: DVec3, to: DVec3, size: f64) -> Self {
        let mut ray = Self::made(from, to - from, 1.0, size);
        ray.end = to;
        ray.ends = Ends::Kept;
        ray
    }

    /// True when the ray has some length and is finite.
    #[inline(always)]
    pub fn possible(origin: DVec3, direction: DVec3, t_max: f64) -> bool {
        // 0 unless something is infinite or no number
        let nothing = (origin + direction) * 0.0;
        let nothing = nothing.x + nothing.y + nothing.z;
        nothing.abs() <= 0.0 && reach(direction) >= LEAST_REACH && t_max > 0.0
    }

    /// The ray, which must be possible.
    #[inline(always)]
    pub fn made(origin: DVec3, direction: DVec3, t_max: f64, size: f64) -> Self {
        let length = direction.abs();
        let longer = greater(length.x, length.y);
        let longest = if length.z > longer {
            2
        } else {
            usize::from(length.y > length.x)
        };
        let reach = greater(longer, length.z);
        let per_reach = 1.0 / reach;
        let way = direction.to_array();
        let along = way[longest];
        let axes = AXES[longest][usize::from(along > 0.0)];
        let per = per_reach.copysign(along);
        let shear = [way[axes[0]] * per, way[axes[1]] * per];
        let start = origin.to_array();
        let scale = greater(size, self::reach(origin));
        Self {
            origin: start,
            axes,
            shear,
            sign: 1.0_f64.copysign(along),
            reach,
            per_reach,
            depth_max: t_max * reach,
            end: DVec3::ZERO,
            ends: Ends::Open,
            scale,
            #[cfg(test)]
            size,
        }
    }

    /// The direction, as long as it is along the longest axis.
    #[cfg(test)]
    pub fn slope(&self) -> DVec3 {
        let mut slope = [0.0; 3];
        slope[self.axes[0]] = self.shear[0] * self.sign;
        slope[self.axes[1]] = self.shear[1] * self.sign;
        slope[self.axes[2]] = self.sign;
        DVec3::from_array(slope)
    }

    /// True when the slab test takes the direction as long as it is.
    #[inline(always)]
    pub fn is_ordinary(direction: DVec3) -> bool {
        ORDINARY.contains(&reach(direction))
    }

    /// How long the slab test wants a direction, in its lengths.
    #[inline(always)]
    pub fn unit(direction: DVec3) -> f64 {
        let reach = reach(direction);
        if ORDINARY.contains(&reach) {
            1.0
        } else {
            1.0 / reach
        }
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
        let close = CLOSE * self.scale;
        (depth <= close && self.holds(corners, DVec3::from_array(self.origin)))
            || (depth >= self.depth_max - close
                && self.ends == Ends::Kept
                && self.holds(corners, self.end))
    }

    /// True when the plane of the triangle passes through the point, within rounding.
    #[cold]
    #[inline(never)]
    fn holds(&self, corners: &[[f32; 3]; 3], point: DVec3) -> bool {
        let [a, b, c] = corners.map(|corner| DVec3::from_array(corner.map(f64::from)));
        let normal = (b - a).cross(c - a);
        normal.dot(point - a).abs() <= HOLD * self.scale * normal.length()
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
