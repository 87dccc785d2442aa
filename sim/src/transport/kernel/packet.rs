//! Walks the hierarchy with up to eight lines at a time.
//!
//! In: segments that start on one triangle. Out: a bit for each that is blocked. Lines from some triangles to one place
//! walk alike ([`super::fan`]).
//!
//! A single line waits for one node after the other; eight that go through the same nodes keep the processor
//! busy meanwhile, and a node is fetched once for all of them. The lines meet the children of a node one after the
//! other, all lines at a time: the same instructions whatever comes of it, so that no branch is guessed wrong. Triangles
//! are met line by line. Blocked lines leave at once. Answers are those of [`Kernel::blocked`], bit for bit.

use super::Kernel;
use super::eight::{Eight, Query};
use super::fan::own;
use super::layout::{Child, Node, WIDTH};
use super::ray::{Ray, STRETCH, eight_slopes};
use super::sift::{Gaze, Sift};
use super::stack::{Heap, Room, Stack};
use super::walk::low;
use crate::lanes::Level;
use glam::DVec3;
use wide::f32x8;

/// Lines of a packet.
pub const RAYS: usize = 8;
/// Slots of most stacks.
const SLOTS: usize = 160;

/// Lines as boxes see them, eight at a time, by axis.
pub(super) struct Boxed {
    inverse: [f32x8; 3],
    /// For the lesser plane of a box and for the greater.
    shift: [[f32x8; 3]; 2],
    begin: f32x8,
    limit: f32x8,
    /// Side of boxes that the lines meet first, per axis; and whether it is the same for all.
    side: [usize; 3],
    alike: bool,
    /// `shift` for that side; and for the other one, with its reciprocal slopes, both stretched.
    near: [f32x8; 3],
    far: [f32x8; 3],
    inverse_far: [f32x8; 3],
}

impl Boxed {
    /// Of lines by starts and ways to their ends, by axis.
    ///
    /// - `begin`, `limit`: where in the ways they may first and last meet something
    /// - `asked`: a bit for each that is asked for; `size`: largest coordinate of triangles
    #[inline(always)]
    pub fn of(
        (from, way): (&[f32x8; 3], &[f32x8; 3]),
        (begin, limit): (f32x8, f32x8),
        (asked, size): (u32, f32),
    ) -> Self {
        let x = eight_slopes(from[0], way[0], size);
        let y = eight_slopes(from[1], way[1], size);
        let z = eight_slopes(from[2], way[2], size);
        let stretch = f32x8::splat(STRETCH);
        let inverse = [x[0], y[0], z[0]];
        let inverse_far = inverse.map(|x| x * stretch);
        let pushed = [[x[1], y[1], z[1]], [x[2], y[2], z[2]]];
        let back = inverse.map(|x| x.simd_lt(f32x8::ZERO).to_bitmask() & asked);
        let [p, q, r] = back.map(|back| usize::from(back != 0));
        Self {
            inverse,
            shift: pushed.map(|[a, b, c]| [a * x[0], b * y[0], c * z[0]]),
            begin,
            limit,
            side: [p, q, r],
            alike: back.iter().all(|&back| back == 0 || back == asked),
            near: [
                pushed[p][0] * x[0],
                pushed[q][1] * y[0],
                pushed[r][2] * z[0],
            ],
            far: [
                pushed[p ^ 1][0] * inverse_far[0],
                pushed[q ^ 1][1] * inverse_far[1],
                pushed[r ^ 1][2] * inverse_far[2],
            ],
            inverse_far,
        }
    }

    /// The same as [`Boxed::enter`] for lines that all meet the same sides first, and nothing for a lane without child.
    #[inline(always)]
    fn enter_alike<E: Eight>(&self, node: &Node, lane: usize) -> u32 {
        let mut near = E::load(&self.begin);
        let mut far = E::load(&self.limit);
        for axis in 0..3 {
            let side = self.side[axis] & 1;
            let entry = E::splat(node.planes[side][axis].as_array()[lane]);
            let exit = E::splat(node.planes[side ^ 1][axis].as_array()[lane]);
            let (inverse, inverse_far) = (&self.inverse[axis], &self.inverse_far[axis]);
            near = near.max(entry.times_plus(E::load(inverse), E::load(&self.near[axis])));
            far = far.min(exit.times_plus(E::load(inverse_far), E::load(&self.far[axis])));
        }
        near.not_above(far)
    }

    /// A bit for each line that enters a child before its end; for a lane without child it means nothing.
    #[inline(always)]
    fn enter<E: Eight>(&self, node: &Node, lane: usize) -> u32 {
        let mut near = E::load(&self.begin);
        let mut far = E::splat(f32::INFINITY);
        for axis in 0..3 {
            let inverse = E::load(&self.inverse[axis]);
            let least = E::splat(node.planes[0][axis].as_array()[lane]);
            let most = E::splat(node.planes[1][axis].as_array()[lane]);
            let least = least.times_plus(inverse, E::load(&self.shift[0][axis]));
            let most = most.times_plus(inverse, E::load(&self.shift[1][axis]));
            near = near.max(least.min(most));
            far = far.min(least.max(most));
        }
        near.not_above(far.times(E::splat(STRETCH)).min(E::load(&self.limit)))
    }
}

/// What lines do at triangles.
pub(super) trait Meets {
    /// A bit for each of some lines in whose way a triangle of a block is; `mask` tells its lanes in use.
    fn some<E: Eight>(&self, lines: u32, block: u32, mask: u32) -> u32;
}

/// Lines made ready.
pub(super) struct Packet<'a, M> {
    pub kernel: &'a Kernel,
    pub boxed: &'a Boxed,
    pub meets: M,
}

impl<M: Meets> Packet<'_, M> {
    /// A bit for each of the lines asked for that is blocked.
    #[inline(always)]
    pub fn blocked<E: Eight>(&self, asked: u32) -> u32 {
        if self.kernel.stack < SLOTS {
            self.walk::<E>(asked, &mut Room::<_, SLOTS>::new().stack())
        } else {
            self.walk::<E>(asked, &mut Heap::new(self.kernel.stack + 1).stack())
        }
    }

    /// The stack holds packed children over a bit for each line that enters.
    #[inline(always)]
    fn walk<E: Eight>(&self, all: u32, stack: &mut Stack<'_, u64>) -> u32 {
        let mut open = all;
        stack.push(u64::from(open)); // the root, whose number is 0
        while let Some(entry) = stack.pop() {
            let lines = low(entry) & 0xFF & open;
            if lines == 0 {
                continue;
            }
            if let Some(next) = stack.top() {
                self.fetch::<E>(low(next >> 8));
            }
            match Child::read(low(entry >> 8)) {
                Child::Node(index) => {
                    self.open::<E>(&self.kernel.nodes[index], open, stack);
                }
                Child::Leaf { block, mask } => {
                    open &= !self.meets.some::<E>(lines, block, mask);
                    if open == 0 {
                        break;
                    }
                }
            }
        }
        all & !open
    }

    /// Lets the children of a node wait that some of the open lines enter.
    #[inline(always)]
    fn open<E: Eight>(&self, node: &Node, open: u32, stack: &mut Stack<'_, u64>) {
        if self.boxed.alike {
            for lane in (0..WIDTH).rev() {
                let who = self.boxed.enter_alike::<E>(node, lane) & open;
                stack.push_if(u64::from(node.child[lane]) << 8 | u64::from(who), who != 0);
            }
            return;
        }
        let [first, last] = [node.planes[0][0], node.planes[1][0]];
        let there = E::load(&first).not_above(E::load(&last));
        for lane in (0..WIDTH).rev() {
            let all_or_none = 0_u32.wrapping_sub(there >> lane & 1);
            let who = self.boxed.enter::<E>(node, lane) & open & all_or_none;
            stack.push_if(u64::from(node.child[lane]) << 8 | u64::from(who), who != 0);
        }
    }

    /// Asks for the memory of the child that comes after the next.
    #[inline(always)]
    fn fetch<E: Eight>(&self, packed: u32) {
        E::fetch::<5>(Child::whereabouts(
            packed,
            &self.kernel.nodes,
            &self.kernel.blocks,
        ));
    }
}

/// Segments from one triangle that are asked for.
struct Asked<'a> {
    kernel: &'a Kernel,
    segments: &'a [(DVec3, DVec3)],
    skip: Option<u32>,
}

impl Query for Asked<'_> {
    type Answer = u32;

    #[inline(always)]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "pushes, stretch and margins cover the rounding"
    )]
    fn ask<E: Eight>(&mut self) -> u32 {
        let kernel = self.kernel;
        let size = kernel.size as f32;
        let starts = kernel.starts(self.skip);
        let mut ends = [(DVec3::ZERO, DVec3::ZERO); RAYS];
        let mut gazes = [Gaze::NONE; RAYS];
        let [mut start, mut way] = [[[0.0; RAYS]; 3]; 2];
        let mut limit = [-1.0; RAYS]; // before the starts of lines that are none
        let mut asked = 0;
        for (line, (from, to)) in self.segments.iter().enumerate().take(RAYS) {
            let from = starts.of(*from);
            ends[line] = (from, *to);
            let direction = *to - from;
            if Ray::possible(from, direction, 1.0) {
                asked |= 1 << line;
                let unit = Ray::unit(direction);
                limit[line] = Ray::box_depth(1.0 / unit);
                for axis in 0..3 {
                    start[axis][line] = from[axis] as f32;
                    way[axis][line] = (direction[axis] * unit) as f32;
                }
            }
        }
        let ([o, p, q], [u, v, w]) = (start, way);
        let from = [f32x8::new(o), f32x8::new(p), f32x8::new(q)];
        let ways = [f32x8::new(u), f32x8::new(v), f32x8::new(w)];
        let range = (f32x8::ZERO, f32x8::new(limit));
        let boxed = Boxed::of((&from, &ways), range, (asked, size));
        for (line, gaze) in gazes.iter_mut().enumerate() {
            let inverse = [0, 1, 2].map(|axis: usize| boxed.inverse[axis].as_array()[line]);
            let from = [o[line], p[line], q[line]];
            let way = [u[line], v[line], w[line]];
            *gaze = Gaze::new(from, way, inverse, (limit[line], size));
        }
        let packet = Packet {
            kernel,
            boxed: &boxed,
            meets: Close {
                kernel,
                ends: &ends,
                gazes: &gazes,
                place: kernel.place_of(self.skip),
            },
        };
        packet.blocked::<E>(asked)
    }
}

/// The lines at triangles.
struct Close<'a> {
    kernel: &'a Kernel,
    /// Starts, dropped onto the triangle, and ends.
    ends: &'a [(DVec3, DVec3); RAYS],
    gazes: &'a [Gaze; RAYS],
    /// Place of the triangle that is not met.
    place: u32,
}

impl Meets for Close<'_> {
    #[inline(always)]
    fn some<E: Eight>(&self, mut lines: u32, block: u32, mask: u32) -> u32 {
        let triangles = &self.kernel.blocks[block as usize];
        let wanted = mask & !own(self.place, block);
        let mut met = 0;
        while lines != 0 {
            let line = lines.trailing_zeros() as usize % RAYS;
            lines &= lines - 1;
            let gaze = &self.gazes[line];
            let sifted = Sift::<E>::new(gaze).sift(gaze, triangles);
            let may = sifted.may & wanted;
            let meets =
                may != 0 && (sifted.surely(gaze) & may != 0 || self.exactly(line, block, may));
            met |= u32::from(meets) << line;
        }
        met
    }
}

impl Close<'_> {
    /// True when some triangle of a block is in the way of a line, of those that are to be looked at.
    #[inline(never)]
    fn exactly(&self, line: usize, block: u32, may: u32) -> bool {
        let (from, to) = self.ends[line];
        let ray = Ray::segment(from, to, self.kernel.size);
        self.kernel.meets_some(&ray, block, may)
    }
}

impl Kernel {
    /// A bit for each of up to eight segments (from, to) that is blocked, as [`Kernel::blocked`] says for each.
    /// Those that are not [`Kernel::near`] need not be asked for.
    ///
    /// `skip` is the triangle on which all of them start.
    ///
    /// # Panics
    /// With more than eight.
    pub fn blocked_eight(&self, segments: &[(DVec3, DVec3)], skip: Option<u32>) -> u32 {
        self.blocked_eight_at(self.level, segments, skip)
    }

    /// The same at a level that the processor has.
    pub(super) fn blocked_eight_at(
        &self,
        level: Level,
        segments: &[(DVec3, DVec3)],
        skip: Option<u32>,
    ) -> u32 {
        assert!(segments.len() <= RAYS, "a packet holds eight lines");
        if self.nodes.is_empty() {
            return 0;
        }
        level.ask(Asked {
            kernel: self,
            segments,
            skip,
        })
    }
}
