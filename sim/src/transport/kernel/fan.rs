//! Lines from up to eight triangles side by side to one place.
//!
//! In: starts on the triangles, and the place. Out: a bit for each line that is blocked, as [`Kernel::blocked`] says of each.
//!
//! They are made ready and meet boxes as the lines of any packet ([`super::packet`]), all in one go, and triangles as a
//! [`Pencil`]. Lines of lengths that boxes do not take as they are, or that run too unlike, are judged one by one.

use super::Kernel;
use super::eight::{Eight, Query};
use super::layout::{LANE_BITS, LANES};
use super::nearest::Grounds;
use super::packet::{Boxed, Meets, Packet, RAYS};
use super::pencil::{Eightfold, Pencil};
use super::ray::{ORDINARY, Ray, SHORTEN};
use super::triangle::meet;
use crate::lanes::{Four, LANES as FOUR, Level};
use glam::DVec3;
use wide::f32x8;

/// Triangles that lines start on, made ready for many of them; or the open.
#[derive(Debug)]
pub struct Footings {
    grounds: Grounds,
    /// What each line starts on, and its place, which is not met.
    triangle: [Option<u32>; RAYS],
    place: [u32; RAYS],
}

/// Lines to one place; by line, after the axis.
#[derive(Debug, Clone, Copy)]
pub struct Fan<'a> {
    /// Where they start.
    pub from: &'a [[f64; RAYS]; 3],
    /// Where they end.
    pub to: DVec3,
    /// What they start on.
    pub footings: &'a Footings,
    /// Shares of the ways up to which they are proved clear.
    pub begin: &'a [f64; RAYS],
}

/// Some lines of a fan that are asked for.
struct Asked<'a> {
    kernel: &'a Kernel,
    fan: &'a Fan<'a>,
    asked: u32,
}

impl Query for Asked<'_> {
    /// A bit for each that is blocked; none if they are to be judged one by one.
    type Answer = Option<u32>;

    #[inline(always)]
    fn ask<E: Eight>(&mut self) -> Option<u32> {
        let Self { kernel, fan, asked } = *self;
        let from = fan.footings.grounds.starts::<E::Four>(fan.from, asked);
        let to = fan.to.to_array();
        let mut start = [f32x8::ZERO; 3];
        let mut way = [f32x8::ZERO; 3];
        let mut reach = f32x8::ZERO;
        let mut nothing = f32x8::ZERO;
        for axis in 0..3 {
            let to = E::Four::splat(to[axis]);
            let [mut starts, mut ways] = [[0.0; RAYS]; 2];
            for half in 0..RAYS / FOUR {
                let from = E::Four::load(&from[axis].as_chunks::<FOUR>().0[half]);
                starts.as_chunks_mut::<FOUR>().0[half] = from.narrow();
                ways.as_chunks_mut::<FOUR>().0[half] = (to - from).narrow();
            }
            start[axis] = f32x8::new(starts);
            way[axis] = f32x8::new(ways);
            reach = reach.fast_max(way[axis].abs());
            nothing += (start[axis] + way[axis]) * f32x8::ZERO;
        }
        #[expect(
            clippy::cast_possible_truncation,
            reason = "pushes and margins cover the rounding"
        )]
        let (size, least, most) = (
            kernel.size as f32,
            f32x8::splat(ORDINARY.start as f32),
            f32x8::splat(ORDINARY.end as f32),
        );
        let ordinary = reach.simd_gt(least) & reach.simd_lt(most) & nothing.simd_eq(f32x8::ZERO);
        if asked & !ordinary.to_bitmask() != 0 {
            return None;
        }
        let mut begin = [0.0; RAYS];
        for half in 0..RAYS / FOUR {
            let share = E::Four::load(&fan.begin.as_chunks::<FOUR>().0[half]);
            begin.as_chunks_mut::<FOUR>().0[half] = (share * E::Four::splat(SHORTEN)).narrow();
        }
        let lines = Eightfold {
            to: fan.to,
            from: &from,
            start: &start,
            way: &way,
        };
        let packet = Packet {
            kernel,
            boxed: &Boxed::of(
                (&start, &way),
                (f32x8::new(begin), f32x8::splat(Ray::box_depth(1.0))),
                (asked, size),
            ),
            meets: Close {
                kernel,
                fan,
                from: &from,
                pencil: &Pencil::new::<E::Four>(lines, size)?,
            },
        };
        Some(packet.blocked::<E>(asked))
    }
}

/// The lines at triangles.
struct Close<'a> {
    kernel: &'a Kernel,
    fan: &'a Fan<'a>,
    /// Where they start, dropped onto their triangles.
    from: &'a [[f64; RAYS]; 3],
    pencil: &'a Pencil,
}

impl Meets for Close<'_> {
    #[inline(always)]
    fn some<E: Eight>(&self, mut lines: u32, block: u32, mask: u32) -> u32 {
        let faced = self.pencil.face::<E>(&self.kernel.blocks[block as usize]);
        let mut met = 0;
        while lines != 0 {
            let line = lines.trailing_zeros() as usize % RAYS;
            lines &= lines - 1;
            let (may, surely) = self.pencil.meet(line, &faced);
            let others = may & mask & !own(self.fan.footings.place[line], block);
            let meets = surely & others != 0 || (others != 0 && self.exactly(line, block, others));
            met |= u32::from(meets) << line;
        }
        met
    }
}

impl Close<'_> {
    /// True when some triangle of a block is in the way of a line, of those that are to be looked at.
    #[inline(never)]
    fn exactly(&self, line: usize, block: u32, may: u32) -> bool {
        let [x, y, z] = self.from;
        let from = DVec3::new(x[line], y[line], z[line]);
        let ray = Ray::segment(from, self.fan.to, self.kernel.size);
        self.kernel.meets_some(&ray, block, may)
    }
}

/// A bit for the triangle of a block that is at a place.
#[inline(always)]
pub(super) fn own(place: u32, block: u32) -> u32 {
    let lane = place ^ block << LANE_BITS;
    u32::from(lane < 8) << (lane & 7)
}

impl Kernel {
    /// True when a ray meets one of some triangles of a block between its ends.
    #[inline(always)]
    pub(super) fn meets_some(&self, ray: &Ray, block: u32, mut may: u32) -> bool {
        let triangles = &self.blocks[block as usize];
        while may != 0 {
            let corners = triangles.corners(may.trailing_zeros() as usize % LANES);
            may &= may - 1;
            if meet(ray, &corners).is_some_and(|met| !ray.outside(&corners, met.depth)) {
                return true;
            }
        }
        false
    }

    /// Up to eight triangles for lines to start on; the open for those without one, and beyond.
    pub fn footings(&self, triangles: &[Option<u32>]) -> Footings {
        let triangle = std::array::from_fn(|line| triangles.get(line).copied().flatten());
        Footings {
            grounds: self.grounds(&triangle),
            triangle,
            place: triangle.map(|triangle| self.place_of(triangle)),
        }
    }

    /// A bit for each of some lines of a fan that is blocked, as [`Kernel::blocked`] says for each alone.
    ///
    /// - `asked`: a bit for each that is asked for; the others need only be numbers
    pub fn blocked_fan(&self, fan: &Fan, asked: u32) -> u32 {
        self.blocked_fan_at(self.level, fan, asked)
    }

    /// The same at a level that the processor has.
    pub(super) fn blocked_fan_at(&self, level: Level, fan: &Fan, asked: u32) -> u32 {
        if asked == 0 || self.nodes.is_empty() {
            return 0;
        }
        let kernel = self;
        level
            .ask(Asked { kernel, fan, asked })
            .unwrap_or_else(|| self.one_by_one(fan, asked))
    }

    /// Bits for those of some lines from places, by line after the axis, to one place that are [`Kernel::near`].
    #[inline]
    pub(crate) fn near_some(&self, (from, to): (&[[f64; RAYS]; 3], DVec3), asked: u32) -> u32 {
        let [x, y, z] = from;
        let (mut left, mut near) = (asked, 0);
        while left != 0 {
            let line = left.trailing_zeros() as usize % RAYS;
            left &= left - 1;
            let from = DVec3::new(x[line], y[line], z[line]);
            near |= u32::from(self.near(from, to)) << line;
        }
        near
    }

    #[cold]
    #[inline(never)]
    fn one_by_one(&self, fan: &Fan, asked: u32) -> u32 {
        let [x, y, z] = fan.from;
        (0..RAYS)
            .filter(|line| {
                let from = DVec3::new(x[*line], y[*line], z[*line]);
                asked >> line & 1 != 0 && self.blocked(from, fan.to, fan.footings.triangle[*line])
            })
            .map(|line| 1 << line)
            .sum()
    }
}
