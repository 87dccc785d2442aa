//! Walks the hierarchy with up to eight lines at a time.
//!
//! In: segments that start on one triangle or some that lie together, and run much alike. Out: a bit for each that is
//! blocked.
//!
//! A single line waits for one node after the other; eight that go through the same nodes keep the processor
//! busy meanwhile, and a node is fetched once for all of them. The lines meet the children of a node one after the
//! other, all lines at a time: the same instructions whatever comes of it, so that no branch is guessed wrong. Triangles
//! are met line by line. Lines that run nearly side by side are first taken for one: children that the space which holds
//! them all ([`super::frustum`]) does not enter are not met by each. Blocked lines leave at once. Answers are those of [`Kernel::blocked`], bit for bit.

use super::Kernel;
use super::eight::{Eight, Query};
use super::frustum::Frustum;
use super::layout::{Child, LANE_BITS, LANES, Node, WIDTH};
use super::nearest::Starts;
use super::ray::{Ray, STRETCH, either_way};
use super::sift::Sift;
use super::stack::{Heap, Room, Stack};
use super::triangle::meet;
use super::walk::low;
use crate::lanes::Level;
use glam::DVec3;
use wide::f32x8;

/// Lines of a packet.
pub const RAYS: usize = 8;
/// Slots of most stacks.
const SLOTS: usize = 160;

/// A triangle that lines start on, made ready once for all of them; or the open.
#[derive(Debug)]
pub struct Footing {
    starts: Starts,
    /// Place of the triangle, which is not met.
    place: u32,
}

/// A line of a packet.
#[derive(Debug, Clone, Copy)]
pub struct Strand<'a> {
    /// Where it starts.
    pub from: DVec3,
    /// Where it ends.
    pub to: DVec3,
    /// What it starts on.
    pub footing: &'a Footing,
    /// Share of the way up to which it is proved clear.
    pub begin: f64,
}

/// Lines in single precision, by axis and line.
struct Run {
    from: [[f32; RAYS]; 3],
    /// To the ends; nothing for lines that are none.
    way: [[f32; RAYS]; 3],
    /// Where they may first meet something.
    begin: [f32; RAYS],
    /// Their ends; before their starts for lines that are none.
    limit: [f32; RAYS],
    /// All ways are taken as long as they are.
    ordinary: bool,
}

impl Run {
    const NONE: Self = Self {
        from: [[0.0; RAYS]; 3],
        way: [[0.0; RAYS]; 3],
        begin: [0.0; RAYS],
        limit: [-1.0; RAYS],
        ordinary: true,
    };

    #[inline(always)]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "pushes, stretch and margins cover the rounding"
    )]
    fn set(&mut self, line: usize, from: DVec3, way: DVec3, begin: f64) {
        let unit = Ray::unit(way);
        self.ordinary &= Ray::is_ordinary(way);
        for axis in 0..3 {
            self.from[axis][line] = from[axis] as f32;
            self.way[axis][line] = (way[axis] * unit) as f32;
        }
        self.begin[line] = Ray::box_begin(begin / unit);
        self.limit[line] = Ray::box_depth(1.0 / unit);
    }

    /// The space that holds the lines, of which some are asked for.
    ///
    /// - `size`: of the scene
    #[inline(always)]
    fn frustum(&mut self, asked: u32, size: f32) -> Option<Frustum> {
        if asked == 0 || !self.ordinary {
            return None;
        }
        let first = asked.trailing_zeros() as usize % RAYS;
        for line in (0..RAYS).filter(|line| asked >> line & 1 == 0) {
            self.begin[line] = self.begin[first];
            for axis in 0..3 {
                self.from[axis][line] = self.from[axis][first];
                self.way[axis][line] = self.way[axis][first];
            }
        }
        let ([o, p, q], [u, v, w]) = (self.from, self.way);
        let from = [f32x8::new(o), f32x8::new(p), f32x8::new(q)];
        let way = [f32x8::new(u), f32x8::new(v), f32x8::new(w)];
        Frustum::new(&from, &way, f32x8::new(self.begin), size)
    }
}

/// Lines as boxes see them, eight at a time, by axis.
struct Boxed {
    inverse: [f32x8; 3],
    /// For the lesser plane of a box and for the greater.
    shift: [[f32x8; 3]; 2],
    begin: f32x8,
    limit: f32x8,
}

impl Boxed {
    /// Of lines in a scene of that size.
    #[inline(always)]
    fn of(run: &Run, size: f32) -> Self {
        let ([o, p, q], [u, v, w]) = (run.from, run.way);
        let x = either_way(f32x8::new(o), f32x8::new(u), size);
        let y = either_way(f32x8::new(p), f32x8::new(v), size);
        let z = either_way(f32x8::new(q), f32x8::new(w), size);
        Self {
            inverse: [x[0], y[0], z[0]],
            shift: [[x[1], y[1], z[1]], [x[2], y[2], z[2]]],
            begin: f32x8::new(run.begin),
            limit: f32x8::new(run.limit),
        }
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

/// Lines that are asked for.
struct Lines<'a> {
    kernel: &'a Kernel,
    strands: &'a [Strand<'a>],
    /// They run nearly side by side.
    alike: bool,
}

impl Query for Lines<'_> {
    type Answer = u32;

    #[inline(always)]
    fn ask<E: Eight>(&mut self) -> u32 {
        let kernel = self.kernel;
        let mut rays = [Ray::NONE; RAYS];
        let mut run = Run::NONE;
        let mut open = 0;
        let mut skip = [u32::MAX; RAYS];
        for (number, strand) in self.strands.iter().enumerate().take(RAYS) {
            skip[number] = strand.footing.place;
            let from = strand.footing.starts.of(strand.from);
            let direction = strand.to - from;
            if Ray::possible(from, direction, 1.0) {
                open |= 1 << number;
                rays[number] = Ray::segment(from, strand.to, kernel.size);
                run.set(number, from, direction, strand.begin);
            }
        }
        #[expect(
            clippy::cast_possible_truncation,
            reason = "pushes and margins cover the rounding"
        )]
        let size = kernel.size as f32;
        let boxed = Boxed::of(&run, size);
        let frustum = match self.alike {
            true => run.frustum(open, size),
            false => None,
        };
        let packet = Packet {
            kernel,
            rays: &rays,
            boxed: &boxed,
            skip: &skip,
        };
        let frustum = frustum.as_ref();
        if kernel.stack < SLOTS {
            packet.walk::<E>(open, frustum, &mut Room::<_, SLOTS>::new().stack())
        } else {
            packet.walk::<E>(open, frustum, &mut Heap::new(kernel.stack + 1).stack())
        }
    }
}

/// Lines made ready.
struct Packet<'a> {
    kernel: &'a Kernel,
    rays: &'a [Ray; RAYS],
    boxed: &'a Boxed,
    /// Place of the triangle that each does not meet.
    skip: &'a [u32; RAYS],
}

impl Packet<'_> {
    /// A bit for each of the open lines that is blocked.
    ///
    /// The stack holds packed children over a bit for each line that enters.
    #[inline(always)]
    fn walk<E: Eight>(
        &self,
        all: u32,
        frustum: Option<&Frustum>,
        stack: &mut Stack<'_, u64>,
    ) -> u32 {
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
                    let node = &self.kernel.nodes[index];
                    self.open::<E>(node, (open, frustum), stack);
                }
                Child::Leaf { block, mask } => {
                    open &= !self.meet_some::<E>(lines, block, mask);
                    if open == 0 {
                        break;
                    }
                }
            }
        }
        all & !open
    }

    /// Lets the children of a node wait that some of the open lines enter: of those that the lines' frustum enters, if
    /// there is one.
    #[inline(always)]
    fn open<E: Eight>(
        &self,
        node: &Node,
        (open, frustum): (u32, Option<&Frustum>),
        stack: &mut Stack<'_, u64>,
    ) {
        let [first, last] = [node.planes[0][0], node.planes[1][0]];
        let there = E::load(&first).not_above(E::load(&last));
        let Some(frustum) = frustum else {
            for lane in (0..WIDTH).rev() {
                let all_or_none = 0_u32.wrapping_sub(there >> lane & 1);
                let who = self.boxed.enter::<E>(node, lane) & open & all_or_none;
                stack.push_if(u64::from(node.child[lane]) << 8 | u64::from(who), who != 0);
            }
            return;
        };
        let mut may = frustum.enter::<E>(node) & there;
        while may != 0 {
            let lane = may.trailing_zeros() as usize % WIDTH;
            may &= may - 1;
            let who = self.boxed.enter::<E>(node, lane) & open;
            stack.push_if(u64::from(node.child[lane]) << 8 | u64::from(who), who != 0);
        }
    }

    /// A bit for each of some lines in whose way a triangle of the block is.
    #[inline(always)]
    fn meet_some<E: Eight>(&self, mut lines: u32, block: u32, mask: u32) -> u32 {
        let mut met = 0;
        while lines != 0 {
            let line = lines.trailing_zeros();
            lines &= lines - 1;
            let meets = self.meets::<E>(line as usize % RAYS, block, mask);
            met |= u32::from(meets) << line;
        }
        met
    }

    /// Asks for the memory of the child that comes after the next.
    #[inline(always)]
    fn fetch<E: Eight>(&self, packed: u32) {
        E::fetch::<4>(Child::whereabouts(
            packed,
            &self.kernel.nodes,
            &self.kernel.blocks,
        ));
    }

    /// True when a triangle of the block is in the way of a line.
    #[inline(always)]
    fn meets<E: Eight>(&self, line: usize, block: u32, mask: u32) -> bool {
        let ray = &self.rays[line];
        let triangles = &self.kernel.blocks[block as usize];
        let mut hits = Sift::<E>::new(ray).may_meet(ray, triangles) & mask;
        while hits != 0 {
            let lane = hits.trailing_zeros();
            hits &= hits - 1;
            if block << LANE_BITS | lane == self.skip[line] {
                continue;
            }
            let lane = lane as usize % LANES;
            let corners = triangles.corners(lane);
            if meet(ray, &corners).is_some_and(|met| !ray.outside(&corners, met.depth)) {
                return true;
            }
        }
        false
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

    /// A triangle for lines to start on; the open without one.
    pub fn footing(&self, triangle: Option<u32>) -> Footing {
        Footing {
            starts: self.starts(triangle),
            place: self.place_of(triangle),
        }
    }

    /// As [`Kernel::blocked_eight`], for lines that run nearly side by side.
    ///
    /// # Panics
    /// With more than eight.
    pub fn blocked_together(&self, strands: &[Strand]) -> u32 {
        self.blocked_together_at(self.level, strands)
    }

    /// The same at a level that the processor has.
    pub(super) fn blocked_together_at(&self, level: Level, strands: &[Strand]) -> u32 {
        assert!(strands.len() <= RAYS, "a packet holds eight lines");
        if self.nodes.is_empty() {
            return 0;
        }
        level.ask(Lines {
            kernel: self,
            strands,
            alike: true,
        })
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
        let footing = self.footing(skip);
        let none = Strand {
            from: DVec3::ZERO,
            to: DVec3::ZERO,
            footing: &footing,
            begin: 0.0,
        };
        let mut strands = [none; RAYS];
        for (strand, (from, to)) in strands.iter_mut().zip(segments) {
            (strand.from, strand.to) = (*from, *to);
        }
        level.ask(Lines {
            kernel: self,
            strands: &strands[..segments.len()],
            alike: false,
        })
    }
}
