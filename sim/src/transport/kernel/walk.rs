//! Walks the hierarchy along a ray.
//!
//! In: a ready ray. Out: the triangles it meets, to a closure. Boxes eight at a time in f32; triangles four
//! at a time in f32 to rule out most, one by one in f64 for what remains.

use super::layout::{Block, Child, LANE_BITS, Node, WIDTH};
use super::ray::Ray;
use super::triangle::{Corners, Meeting, meet};
use super::{Kernel, Next};
use wide::{f32x4, f32x8};

/// Room on the stacks of most walks; larger trees take theirs from the heap.
pub(super) const DEPTH: usize = 24;
pub(super) const ROOM: usize = 160;

/// The ray's numbers in every lane.
pub(super) struct Lanes {
    near: [f32x8; 3],
    far: [f32x8; 3],
    inverse: [f32x8; 3],
    inverse_far: [f32x8; 3],
    /// Row of planes that the ray meets first, per axis.
    first: [usize; 3],
}

/// The ray's numbers for blocks of triangles, in every lane.
pub(super) struct Sieve {
    origin: [f32x4; 3],
    shear: [f32x4; 2],
    blur: f32x4,
}

impl Lanes {
    #[inline]
    pub fn new(ray: &Ray) -> Self {
        let all = |of: [f32; 3]| {
            [
                f32x8::splat(of[0]),
                f32x8::splat(of[1]),
                f32x8::splat(of[2]),
            ]
        };
        Self {
            near: all(ray.near),
            far: all(ray.far),
            inverse: all(ray.inverse),
            inverse_far: all(ray.inverse_far),
            first: ray.first_rows(),
        }
    }

    /// Entry depths of the children, and a bit for each that is entered before the limit.
    #[inline]
    pub fn enter(&self, node: &Node, limit: f32) -> (f32x8, u32) {
        let mut near = f32x8::ZERO;
        let mut far = f32x8::splat(limit);
        for axis in 0..3 {
            let first = self.first[axis];
            let last = (2 * axis + 3) - first;
            near = near.fast_max((node.planes[first] - self.near[axis]) * self.inverse[axis]);
            far = far.fast_min((node.planes[last] - self.far[axis]) * self.inverse_far[axis]);
        }
        (near, near.simd_le(far).to_bitmask())
    }
}

impl Sieve {
    #[inline]
    pub fn new(ray: &Ray) -> Self {
        let origin = |axis: usize| f32x4::splat(ray.rough_origin[ray.axes[axis]]);
        Self {
            origin: [origin(0), origin(1), origin(2)],
            shear: ray.rough_shear.map(f32x4::splat),
            blur: f32x4::splat(ray.blur),
        }
    }

    /// A bit for each triangle of the block that the line may meet.
    ///
    /// Its plane coordinates in f32 are off by at most `blur`, called η, and edge functions of coordinates
    /// up to M by 4ηM + 2η² + 4 · 2⁻²⁴M² < 8η(M + η), as 2⁻²⁴M < η/4 ([`Ray`]). Ruled out is what has, beyond
    /// that, edge functions of either sign.
    #[inline]
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

/// A walk under way.
struct Walk<'a> {
    kernel: &'a Kernel,
    ray: &'a Ray,
    lanes: Lanes,
    sieve: Sieve,
    /// Place of the triangle that is not met.
    skip: u32,
}

impl Walk<'_> {
    /// Shows the triangles of a block that the ray meets between its ends to the visitor; the last of its
    /// answers that is not to go on.
    #[inline]
    fn leaf(
        &self,
        block: u32,
        mask: u32,
        visitor: &mut impl FnMut(u32, Meeting, &Corners) -> Next,
    ) -> Next {
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
            match visitor(place, meeting, &corners) {
                Next::Go => {}
                Next::Stop => return Next::Stop,
                within => answer = within,
            }
        }
        answer
    }

    /// In any order. The stack holds nodes with the bits of their children that are still to be opened.
    #[inline]
    fn any(&self, stack: &mut [u64], mut visitor: impl FnMut(u32, Meeting, &Corners) -> Next) {
        let limit = Ray::box_depth(self.ray.depth_max);
        let nodes = &self.kernel.nodes[..];
        let (_, hits) = self.lanes.enter(&nodes[0], limit);
        stack[0] = u64::from(hits);
        let mut waiting = usize::from(hits != 0);
        while waiting > 0 {
            let group = stack[waiting - 1];
            let lane = group.trailing_zeros() as usize % WIDTH;
            let packed = nodes[(group >> 8) as usize].child[lane];
            let rest = group & (group - 1);
            stack[waiting - 1] = rest;
            waiting -= usize::from(rest & 0xFF == 0);
            match Child::read(packed) {
                Child::Node(index) => {
                    let (_, hits) = self.lanes.enter(&nodes[index], limit);
                    stack[waiting] = u64::from(packed) << 8 | u64::from(hits);
                    waiting += usize::from(hits != 0);
                }
                Child::Leaf { block, mask } => {
                    if matches!(self.leaf(block, mask, &mut visitor), Next::Stop) {
                        return;
                    }
                }
            }
        }
    }

    /// Nearer boxes first. The stack holds entry depths (as bits, which for numbers from 0 up are in their
    /// order) over packed children.
    #[inline]
    fn nearest(&self, stack: &mut [u64], mut visitor: impl FnMut(u32, Meeting, &Corners) -> Next) {
        let mut limit = Ray::box_depth(self.ray.depth_max);
        let mut waiting = 0;
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
                    let near = near.as_array();
                    let bottom = waiting;
                    while hits != 0 {
                        let lane = hits.trailing_zeros() as usize % WIDTH;
                        hits &= hits - 1;
                        // abs: a zero may come with a sign.
                        let depth = u64::from(near[lane].abs().to_bits());
                        let entry = depth << 32 | u64::from(node.child[lane]);
                        let mut at = waiting;
                        while at > bottom && stack[at - 1] < entry {
                            stack[at] = stack[at - 1];
                            at -= 1;
                        }
                        stack[at] = entry;
                        waiting += 1;
                    }
                }
                Child::Leaf { block, mask } => match self.leaf(block, mask, &mut visitor) {
                    Next::Go => {}
                    Next::Within(depth) => limit = Ray::box_depth(depth),
                    Next::Stop => return,
                },
            }
            let furthest = u64::from(limit.to_bits()) << 32 | 0xFFFF_FFFF;
            loop {
                if waiting == 0 {
                    return;
                }
                waiting -= 1;
                if stack[waiting] <= furthest {
                    packed = low(stack[waiting]);
                    break;
                }
            }
        }
    }
}

impl Kernel {
    /// Shows the triangles that the ray meets between its ends to the visitor, in no order.
    #[inline]
    pub(super) fn visit_any(
        &self,
        ray: &Ray,
        skip: Option<u32>,
        visitor: impl FnMut(u32, Meeting, &Corners) -> Next,
    ) {
        if self.nodes.is_empty() {
            return;
        }
        let walk = Walk {
            kernel: self,
            ray,
            lanes: Lanes::new(ray),
            sieve: Sieve::new(ray),
            skip: self.place_of(skip),
        };
        if self.depth <= DEPTH {
            walk.any(&mut [0; DEPTH], visitor);
        } else {
            walk.any(&mut vec![0; self.depth], visitor);
        }
    }

    /// The same, nearer boxes first.
    #[inline]
    pub(super) fn visit_nearest(
        &self,
        ray: &Ray,
        skip: Option<u32>,
        visitor: impl FnMut(u32, Meeting, &Corners) -> Next,
    ) {
        if self.nodes.is_empty() {
            return;
        }
        let walk = Walk {
            kernel: self,
            ray,
            lanes: Lanes::new(ray),
            sieve: Sieve::new(ray),
            skip: self.place_of(skip),
        };
        if self.stack <= ROOM {
            walk.nearest(&mut [0; ROOM], visitor);
        } else {
            walk.nearest(&mut vec![0; self.stack], visitor);
        }
    }

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
