//! Walks the hierarchy with up to eight lines at a time.
//!
//! In: segments that start on one triangle and run much alike. Out: a bit for each that is blocked.
//!
//! A single line waits for one node after the other; eight that go through the same nodes keep the processor
//! busy meanwhile, and a node is fetched once for all of them. Each line meets the children of a node eight
//! at a time, as alone ([`super::walk`]), so lines that part company cost no more than single ones. Blocked lines
//! leave at once. Answers are those of [`Kernel::blocked`], bit for bit.

use super::Kernel;
use super::eight::{Eight, Query};
use super::layout::{Child, LANE_BITS, Node};
use super::ray::{Ray, Slabs};
use super::stack::{Room, Stack};
use super::triangle::meet;
use super::walk::{Sieve, low};
use crate::lanes::Level;
use glam::DVec3;

/// Lines of a packet.
pub(crate) const RAYS: usize = 8;

/// A line as boxes see it.
#[derive(Clone, Copy, Default)]
struct Boxed {
    slabs: Slabs,
    /// Row of planes that it meets first, per axis.
    first: [usize; 3],
    /// Its end.
    limit: f32,
}

impl Boxed {
    #[inline(always)]
    fn new(ray: &Ray) -> Self {
        Self {
            slabs: ray.slabs,
            first: ray.slabs.first_rows(),
            limit: Ray::box_depth(ray.depth_max),
        }
    }

    /// A bit for each child that is entered before the end.
    #[inline(always)]
    fn enter<E: Eight>(&self, node: &Node) -> u32 {
        let slabs = &self.slabs;
        let mut near = E::splat(0.0);
        let mut far = E::splat(self.limit);
        for axis in 0..3 {
            let first = self.first[axis];
            let last = (2 * axis + 3) - first;
            let entry = E::load(&node.planes[first]).minus(E::splat(slabs.near[axis]));
            let exit = E::load(&node.planes[last]).minus(E::splat(slabs.far[axis]));
            near = near.max(entry.times(E::splat(slabs.inverse[axis])));
            far = far.min(exit.times(E::splat(slabs.inverse_far[axis])));
        }
        near.not_above(far)
    }
}

/// Lines that are asked for.
struct Lines<'a> {
    kernel: &'a Kernel,
    segments: &'a [(DVec3, DVec3)],
    skip: Option<u32>,
}

impl Query for Lines<'_> {
    type Answer = u32;

    #[inline(always)]
    fn ask<E: Eight>(self) -> u32 {
        let kernel = self.kernel;
        let mut packet = Packet {
            kernel,
            rays: [const { None }; RAYS],
            boxed: [Boxed::default(); RAYS],
            skip: kernel.place_of(self.skip),
        };
        let start = kernel.starts(self.skip);
        for (number, (from, to)) in self.segments.iter().enumerate() {
            if let Some(ray) = Ray::segment::<E::Four>(start.of(*from), *to, kernel.size) {
                packet.boxed[number] = Boxed::new(&ray);
                packet.rays[number] = Some(ray);
            }
        }
        packet.walk::<E>(&mut Room::new().stack(kernel.stack))
    }
}

/// Lines made ready.
struct Packet<'a> {
    kernel: &'a Kernel,
    rays: [Option<Ray>; RAYS],
    boxed: [Boxed; RAYS],
    /// Place of the triangle that is not met.
    skip: u32,
}

impl Packet<'_> {
    /// A bit for each line that is blocked.
    ///
    /// The stack holds packed children over a bit for each line that enters.
    #[inline(always)]
    fn walk<E: Eight>(&self, stack: &mut Stack<'_>) -> u32 {
        let mut open = 0;
        for (number, ray) in self.rays.iter().enumerate() {
            open |= u32::from(ray.is_some()) << number;
        }
        let all = open;
        stack.push(u64::from(open)); // the root, whose number is 0
        while let Some(entry) = stack.pop() {
            let mut lines = low(entry) & 0xFF & open;
            if lines == 0 {
                continue;
            }
            match Child::read(low(entry >> 8)) {
                Child::Node(index) => {
                    let node = &self.kernel.nodes[index];
                    // One byte for each child, in it a bit for each line.
                    let mut entered = 0_u64;
                    while lines != 0 {
                        let line = lines.trailing_zeros();
                        lines &= lines - 1;
                        entered |=
                            spread(self.boxed[line as usize % RAYS].enter::<E>(node)) << line;
                    }
                    while entered != 0 {
                        let lane = entered.trailing_zeros() / 8;
                        let who = entered >> (8 * lane) & 0xFF;
                        entered &= !(0xFF << (8 * lane));
                        stack.push(u64::from(node.child[lane as usize % 8]) << 8 | who);
                    }
                }
                Child::Leaf { block, mask } => {
                    while lines != 0 {
                        let line = lines.trailing_zeros();
                        lines &= lines - 1;
                        if self.meets(line as usize % RAYS, block, mask) {
                            open &= !(1 << line);
                        }
                    }
                    if open == 0 {
                        break;
                    }
                }
            }
        }
        all & !open
    }

    /// True when a triangle of the block is in the way of a line.
    #[inline(always)]
    fn meets(&self, line: usize, block: u32, mask: u32) -> bool {
        let Some(ray) = &self.rays[line] else {
            return false;
        };
        let triangles = &self.kernel.blocks[block as usize];
        let mut hits = Sieve::new(ray).may_meet(ray, triangles) & mask;
        while hits != 0 {
            let lane = hits.trailing_zeros();
            hits &= hits - 1;
            if block << LANE_BITS | lane == self.skip {
                continue;
            }
            let corners = triangles.corners(lane as usize);
            if meet(ray, &corners).is_some_and(|met| !ray.outside(&corners, met.depth)) {
                return true;
            }
        }
        false
    }
}

/// Eight bits into the lowest of eight bytes each.
#[inline(always)]
fn spread(bits: u32) -> u64 {
    let mut wide = u64::from(bits);
    wide = (wide | wide << 28) & 0x0000_000F_0000_000F;
    wide = (wide | wide << 14) & 0x0003_0003_0003_0003;
    (wide | wide << 7) & 0x0101_0101_0101_0101
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
        self.blocked_eight_at(Level::best(), segments, skip)
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
        level.ask(Lines {
            kernel: self,
            segments,
            skip,
        })
    }
}
