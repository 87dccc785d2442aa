//! Walks the hierarchy along a ray.
//!
//! In: a ready ray. Out: the triangles it meets, to a closure. Boxes eight at a time in f32; triangles four
//! at a time in f32 to rule out most, one by one in f64 for what remains.

use super::eight::{Eight, Query};
use super::layout::{Block, Child, LANE_BITS, Node, WIDTH};
use super::ray::Ray;
use super::stack::{Room, Stack};
use super::triangle::{Corners, Meeting, meet};
use super::{Kernel, Next};
use glam::DVec3;
use wide::f32x4;

/// The ray's numbers in every lane.
pub(super) struct Lanes<E> {
    near: [E; 3],
    far: [E; 3],
    inverse: [E; 3],
    inverse_far: [E; 3],
    /// Row of planes that the ray meets first, per axis.
    first: [usize; 3],
}

/// The ray's numbers for blocks of triangles, in every lane.
pub(super) struct Sieve {
    origin: [f32x4; 3],
    shear: [f32x4; 2],
    blur: f32x4,
}

impl<E: Eight> Lanes<E> {
    #[inline(always)]
    pub fn new(ray: &Ray) -> Self {
        Self {
            near: Self::three(ray.slabs.near),
            far: Self::three(ray.slabs.far),
            inverse: Self::three(ray.slabs.inverse),
            inverse_far: Self::three(ray.slabs.inverse_far),
            first: ray.slabs.first_rows(),
        }
    }

    #[inline(always)]
    fn three([x, y, z, _]: [f32; 4]) -> [E; 3] {
        [E::splat(x), E::splat(y), E::splat(z)]
    }

    /// Entry depths of the children, and a bit for each that is entered before the limit.
    #[inline(always)]
    pub fn enter(&self, node: &Node, limit: f32) -> (E, u32) {
        let mut near = E::splat(0.0);
        let mut far = E::splat(limit);
        for axis in 0..3 {
            let first = self.first[axis];
            let last = (2 * axis + 3) - first;
            let entry = E::load(&node.planes[first]).minus(self.near[axis]);
            let exit = E::load(&node.planes[last]).minus(self.far[axis]);
            near = near.max(entry.times(self.inverse[axis]));
            far = far.min(exit.times(self.inverse_far[axis]));
        }
        (near, near.not_above(far))
    }
}

impl Sieve {
    #[inline(always)]
    pub fn new(ray: &Ray) -> Self {
        let [x, y, z] = ray.axes;
        Self {
            origin: [
                f32x4::splat(ray.rough_origin[x]),
                f32x4::splat(ray.rough_origin[y]),
                f32x4::splat(ray.rough_origin[z]),
            ],
            shear: [
                f32x4::splat(ray.rough_shear[0]),
                f32x4::splat(ray.rough_shear[1]),
            ],
            blur: f32x4::splat(ray.blur),
        }
    }

    /// A bit for each triangle of the block that the line may meet.
    ///
    /// Its plane coordinates in f32 are off by at most `blur`, called η, and edge functions of coordinates
    /// up to M by 4ηM + 2η² + 4 · 2⁻²⁴M² < 8η(M + η), as 2⁻²⁴M < η/4 ([`Ray`]). Ruled out is what has, beyond
    /// that, edge functions of either sign.
    #[inline(always)]
    pub fn may_meet(&self, ray: &Ray, block: &Block) -> u32 {
        let [x, y, z] = ray.axes;
        let (xs, ys, zs) = (&block.corners[x], &block.corners[y], &block.corners[z]);
        let seen = |corner: usize| {
            let along = zs[corner] - self.origin[2];
            [
                (xs[corner] - self.origin[0]) - self.shear[0] * along,
                (ys[corner] - self.origin[1]) - self.shear[1] * along,
            ]
        };
        let (a, b, c) = (seen(0), seen(1), seen(2));
        let most = |p: [f32x4; 2]| p[0].abs().fast_max(p[1].abs());
        let margin = f32x4::splat(8.0)
            * self.blur
            * (most(a).fast_max(most(b)).fast_max(most(c)) + self.blur);
        let edge = |a: [f32x4; 2], b: [f32x4; 2]| a[0] * b[1] - a[1] * b[0];
        let (u, v, w) = (edge(b, c), edge(c, a), edge(a, b));
        let least = u.fast_min(v).fast_min(w);
        let greatest = u.fast_max(v).fast_max(w);
        let ruled_out = least.simd_lt(-margin) & greatest.simd_gt(margin);
        !ruled_out.to_bitmask()
    }
}

/// Which way a ray goes.
#[derive(Clone, Copy)]
pub(super) enum Way {
    /// To this point.
    To(DVec3),
    /// Along a direction, up to so many times its length.
    Along(DVec3, f64),
}

/// A ray that is asked for.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a> {
    pub kernel: &'a Kernel,
    pub from: DVec3,
    pub way: Way,
    /// Triangle that it starts on and does not meet.
    pub skip: Option<u32>,
}

/// A walk under way.
struct Walk<'a, E> {
    kernel: &'a Kernel,
    ray: &'a Ray,
    lanes: Lanes<E>,
    sieve: Sieve,
    /// Place of the triangle that is not met.
    skip: u32,
}

impl Asked<'_> {
    /// The ray; none where nothing can be met.
    #[inline(always)]
    fn ray<E: Eight>(&self) -> Option<Ray> {
        let kernel = self.kernel;
        if kernel.nodes.is_empty() {
            return None;
        }
        let from = kernel.start(self.from, self.skip);
        match self.way {
            Way::To(to) => Ray::segment::<E::Four>(from, to, kernel.size),
            Way::Along(direction, t_max) => {
                Ray::new::<E::Four>(from, direction, t_max, kernel.size)
            }
        }
    }

    #[inline(always)]
    fn walk<'a, E: Eight>(&'a self, ray: &'a Ray) -> Walk<'a, E> {
        Walk {
            kernel: self.kernel,
            lanes: Lanes::new(ray),
            sieve: Sieve::new(ray),
            skip: self.kernel.place_of(self.skip),
            ray,
        }
    }
}

impl<E: Eight> Walk<'_, E> {
    /// Shows the triangles of a block that the ray meets between its ends to the visitor; the last of its
    /// answers that is not to go on.
    #[inline(always)]
    fn leaf(&self, block: u32, mask: u32, visitor: &mut impl Visitor) -> Next {
        let triangles = &self.kernel.blocks[block as usize];
        let mut hits = self.sieve.may_meet(self.ray, triangles) & mask;
        let mut answer = Next::Go;
        while hits != 0 {
            let lane = hits.trailing_zeros();
            hits &= hits - 1;
            let place = block << LANE_BITS | lane;
            if place == self.skip {
                continue;
            }
            let corners = triangles.corners(lane as usize);
            let Some(meeting) = meet(self.ray, &corners) else {
                continue;
            };
            if self.ray.outside(&corners, meeting.depth) {
                continue;
            }
            match visitor.visit(self.ray, (place, &meeting, &corners)) {
                Next::Go => {}
                Next::Stop => return Next::Stop,
                within => answer = within,
            }
        }
        answer
    }

    /// In any order. The stack holds nodes with the bits of their children that are still to be opened.
    #[inline(always)]
    fn any(&self, stack: &mut Stack<'_>, visitor: &mut impl Visitor) {
        let limit = Ray::box_depth(self.ray.depth_max);
        let nodes = &self.kernel.nodes[..];
        let (_, hits) = self.lanes.enter(&nodes[0], limit);
        // the node that is being opened: its number over a bit for each child
        let mut group = u64::from(hits);
        loop {
            if group & 0xFF == 0 {
                match stack.pop() {
                    Some(waiting) => group = waiting,
                    None => return,
                }
            }
            let lane = group.trailing_zeros() as usize % WIDTH;
            let packed = nodes[(group >> 8) as usize].child[lane];
            group &= group - 1;
            match Child::read(packed) {
                Child::Node(index) => {
                    let (_, hits) = self.lanes.enter(&nodes[index], limit);
                    if hits != 0 {
                        if group & 0xFF != 0 {
                            stack.push(group);
                        }
                        group = u64::from(packed) << 8 | u64::from(hits);
                    }
                }
                Child::Leaf { block, mask } => {
                    if matches!(self.leaf(block, mask, visitor), Next::Stop) {
                        return;
                    }
                }
            }
        }
    }

    /// Nearer boxes first. The stack holds entry depths (as bits, which for numbers from 0 up are in their
    /// order) over packed children.
    #[inline(always)]
    fn nearest(&self, stack: &mut Stack<'_>, visitor: &mut impl Visitor) {
        let mut limit = Ray::box_depth(self.ray.depth_max);
        let mut packed = 0;
        loop {
            match Child::read(packed) {
                Child::Node(index) => {
                    let node = &self.kernel.nodes[index];
                    let (near, mut hits) = self.lanes.enter(node, limit);
                    if hits.is_power_of_two() {
                        packed = node.child[hits.trailing_zeros() as usize % WIDTH];
                        continue;
                    }
                    let near = near.store();
                    let bottom = stack.len();
                    while hits != 0 {
                        let lane = hits.trailing_zeros() as usize % WIDTH;
                        hits &= hits - 1;
                        // abs: a zero may come with a sign.
                        let depth = u64::from(near[lane].abs().to_bits());
                        stack.push(depth << 32 | u64::from(node.child[lane]));
                    }
                    stack.sort_from(bottom);
                }
                Child::Leaf { block, mask } => match self.leaf(block, mask, visitor) {
                    Next::Go => {}
                    Next::Within(depth) => limit = Ray::box_depth(depth),
                    Next::Stop => return,
                },
            }
            let furthest = u64::from(limit.to_bits()) << 32 | 0xFFFF_FFFF;
            loop {
                match stack.pop() {
                    Some(entry) if entry <= furthest => {
                        packed = low(entry);
                        break;
                    }
                    Some(_) => {}
                    None => return,
                }
            }
        }
    }
}

/// In which order a visitor wants meetings.
pub(super) enum Order {
    /// In any.
    None,
    /// Those in nearer boxes first.
    NearestFirst,
}

/// What is done with meetings.
pub(super) trait Visitor {
    /// Order in which it is shown them.
    const ORDER: Order;
    /// Is shown a meeting: place of the triangle, where it is met, its corners.
    fn visit(&mut self, ray: &Ray, meeting: (u32, &Meeting, &Corners)) -> Next;
}

/// Shows the triangles that a ray meets between its ends to a visitor; hands the visitor back.
pub(super) struct Show<'a, V>(pub Asked<'a>, pub V);

impl<V: Visitor> Query for Show<'_, V> {
    type Answer = V;

    #[inline(always)]
    fn ask<E: Eight>(self) -> V {
        let Self(asked, mut visitor) = self;
        if let Some(ray) = asked.ray::<E>() {
            let walk = asked.walk::<E>(&ray);
            let mut room = Room::new();
            match V::ORDER {
                Order::None => walk.any(&mut room.stack(asked.kernel.depth), &mut visitor),
                Order::NearestFirst => {
                    walk.nearest(&mut room.stack(asked.kernel.stack), &mut visitor);
                }
            }
        }
        visitor
    }
}

impl Kernel {
    #[inline]
    pub(super) fn place_of(&self, triangle: Option<u32>) -> u32 {
        triangle.map_or(u32::MAX, |number| self.place[number as usize])
    }
}

/// The lower half.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the lower half is asked for"
)]
pub(super) fn low(bits: u64) -> u32 {
    bits as u32
}
