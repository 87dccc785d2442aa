//! Walks the hierarchy along a ray.
//!
//! In: a ready ray. Out: the triangles it meets, to a visitor. Boxes eight at a time in f32; triangles eight
//! at a time in f32 to rule out most ([`super::sift`]), one by one in f64 for what remains.

use super::eight::{Eight, Keys, Query, key};
use super::layout::{Child, LANE_BITS, LANES, Node, WIDTH};
use super::ray::{Ray, Rough, Slabs, reach};
#[cfg(test)]
pub(super) use super::sift::Sieve;
use super::sift::{Gaze, Sift};
use super::stack::{Heap, ROOM, Room, Stack};
use super::triangle::{Corners, Meeting, meet};
use super::{Kernel, Next};
use glam::DVec3;
use std::cell::OnceCell;
use wide::{f32x8, f64x4};

/// The ray's numbers in every lane.
pub(super) struct Lanes<E> {
    near: [E; 3],
    far: [E; 3],
    inverse: [E; 3],
    inverse_far: [E; 3],
    /// Side of boxes that the ray meets first, per axis.
    side: [usize; 3],
    /// Length of the direction that boxes are measured with, in those of the ray's.
    unit: f64,
}

impl<E: Eight> Lanes<E> {
    /// Of a ray.
    #[cfg(test)]
    pub fn new(ray: &Ray) -> Self {
        let origin = DVec3::from_array(ray.origin);
        let rough = Rough::new::<E::Four>(origin, ray.slope());
        Self::of(&Slabs::of(&rough, ray.size), ray.per_reach)
    }

    /// Of a ray that is possible.
    #[inline(always)]
    fn of(slabs: &Slabs, unit: f64) -> Self {
        Self {
            near: Self::three(slabs.near),
            far: Self::three(slabs.far),
            inverse: Self::three(slabs.inverse),
            inverse_far: Self::three(slabs.inverse_far),
            side: slabs.sides(),
            unit,
        }
    }

    #[inline(always)]
    fn three([x, y, z, _]: [f32; 4]) -> [E; 3] {
        [E::splat(x), E::splat(y), E::splat(z)]
    }

    /// Where in the ray boxes begin to be too far.
    #[inline(always)]
    fn limit(&self, t: f64) -> f32 {
        Ray::box_depth(t / self.unit)
    }

    /// Where the children are entered, and a bit for each that is entered before a depth.
    #[cfg(test)]
    pub fn enter(&self, node: &Node, depth: f32) -> (E, u32) {
        let (near, far) = self.slabs(node, depth);
        (near, near.not_above(far))
    }

    /// Where the children are entered and left, if that is before the limit.
    #[inline(always)]
    fn slabs(&self, node: &Node, limit: f32) -> (E, E) {
        let mut near = E::splat(0.0);
        let mut far = E::splat(limit);
        for axis in 0..3 {
            let side = self.side[axis] & 1;
            let entry = E::load(&node.planes[side][axis]);
            let exit = E::load(&node.planes[side ^ 1][axis]);
            near = near.max(entry.times_plus(self.inverse[axis], self.near[axis]));
            far = far.min(exit.times_plus(self.inverse_far[axis], self.far[axis]));
        }
        (near, far)
    }
}

/// Which way a ray goes.
pub(super) trait Way {
    /// Direction of the ray from there, and how many times that it goes.
    fn direction(&self, from: DVec3) -> (DVec3, f64);
    /// The ray from there, which must be possible, in a scene of that size.
    fn ray(&self, from: DVec3, size: f64) -> Ray;
}

/// To a point.
#[derive(Clone, Copy)]
pub(super) struct To<'a>(pub &'a DVec3);

impl Way for To<'_> {
    #[inline(always)]
    fn direction(&self, from: DVec3) -> (DVec3, f64) {
        (*self.0 - from, 1.0)
    }

    #[inline(always)]
    fn ray(&self, from: DVec3, size: f64) -> Ray {
        Ray::segment(from, *self.0, size)
    }
}

/// Along a direction, up to so many times its length.
#[derive(Clone, Copy)]
pub(super) struct Along<'a>(pub &'a DVec3, pub f64);

impl Way for Along<'_> {
    #[inline(always)]
    fn direction(&self, _from: DVec3) -> (DVec3, f64) {
        (*self.0, self.1)
    }

    #[inline(always)]
    fn ray(&self, from: DVec3, size: f64) -> Ray {
        Ray::made(from, *self.0, self.1, size)
    }
}

/// A ray that is asked for.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a, W> {
    pub kernel: &'a Kernel,
    pub from: &'a DVec3,
    pub way: W,
    /// Triangle that it starts on and does not meet.
    pub skip: Option<u32>,
}

/// A walk under way.
struct Walk<'a, E, W> {
    kernel: &'a Kernel,
    lanes: Lanes<E>,
    /// Where it ends, as boxes see it.
    limit: f32,
    /// The ray as triangles see it, roughly; and exactly, once that is asked for.
    gaze: Gaze,
    ray: OnceCell<Ray>,
    from: DVec3,
    way: W,
    /// Place of the triangle that is not met.
    skip: u32,
}

impl<E: Eight, W: Way> Walk<'_, E, W> {
    /// Shows the triangles of a block that the ray meets between its ends to the visitor; the last of its
    /// answers that is not to go on.
    #[inline(always)]
    fn leaf<V: Visitor>(&self, block: u32, mask: u32, visitor: &mut V) -> Next {
        let triangles = &self.kernel.blocks[block as usize];
        let sifted = Sift::<E>::new(&self.gaze).sift(&self.gaze, triangles);
        let mut hits = sifted.may & mask;
        let mut answer = Next::Go;
        if hits == 0 {
            return answer;
        }
        let surely = match V::ORDER {
            Order::Any => sifted.surely(&self.gaze),
            _ => 0,
        };
        while hits != 0 {
            let lane = hits.trailing_zeros();
            hits &= hits - 1;
            let place = block << LANE_BITS | lane;
            if place == self.skip {
                continue;
            }
            if surely >> lane & 1 != 0 {
                visitor.surely(place);
                return Next::Stop;
            }
            match self.meet(place, &triangles.corners(lane as usize % LANES), visitor) {
                Next::Go => {}
                Next::Stop => return Next::Stop,
                within => answer = within,
            }
        }
        answer
    }

    /// Shows a triangle to the visitor if the ray meets it between its ends.
    #[inline(always)]
    fn meet<V: Visitor>(&self, place: u32, corners: &Corners, visitor: &mut V) -> Next {
        let ray = self
            .ray
            .get_or_init(|| self.way.ray(self.from, self.kernel.size));
        match meet(ray, corners) {
            Some(meeting) if !ray.outside(corners, meeting.depth) => {
                visitor.visit(ray, (place, &meeting, corners))
            }
            _ => Next::Go,
        }
    }

    /// Asks for the memory of the child that comes after the next.
    #[inline(always)]
    fn fetch(&self, packed: u32) {
        E::fetch::<5>(Child::whereabouts(
            packed,
            &self.kernel.nodes,
            &self.kernel.blocks,
        ));
    }

    /// In any order, from where the children of the root are entered and left on. The stack holds nodes with the bits of their children that are still to be opened.
    #[inline(always)]
    fn any(&self, (near, far): (E, E), stack: &mut Stack<'_, u64>, visitor: &mut impl Visitor) {
        let limit = self.limit;
        let nodes = &self.kernel.nodes[..];
        let hits = near.not_above(far);
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
            let children = &nodes[(group >> 8) as usize].child;
            let packed = children[lane];
            group &= group - 1;
            match Child::read(packed) {
                Child::Node(index) => {
                    let (near, far) = self.lanes.slabs(&nodes[index], limit);
                    let hits = near.not_above(far);
                    if hits != 0 {
                        stack.push_if(group, group & 0xFF != 0);
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

    /// Nearer boxes first, otherwise alike. The stack holds nodes with the keys of their children that are still to be opened.
    #[inline(always)]
    fn nearest(
        &self,
        (near, far): (E, E),
        stack: &mut Stack<'_, (u32, E::Keys)>,
        visitor: &mut impl Visitor,
    ) {
        let nodes = &self.kernel.nodes[..];
        let mut limit = self.limit;
        let mut furthest = key(limit);
        // the node that is being opened, the child that is next
        let mut number = 0;
        let mut keys = near.keys(far);
        let (mut least, mut lane) = keys.least();
        loop {
            while least > furthest {
                match stack.pop() {
                    Some(waiting) => {
                        (number, keys) = waiting;
                        (least, lane) = keys.least();
                    }
                    None => return,
                }
            }
            keys = keys.without(lane);
            let children = &nodes[number as usize].child;
            let packed = children[lane % WIDTH];
            (least, lane) = keys.least();
            self.fetch(children[lane % WIDTH]);
            match Child::read(packed) {
                Child::Node(index) => {
                    stack.push_if((number, keys), least <= furthest);
                    let (near, far) = self.lanes.slabs(&nodes[index], limit);
                    (number, keys) = (packed, near.keys(far));
                    (least, lane) = keys.least();
                }
                Child::Leaf { block, mask } => match self.leaf(block, mask, visitor) {
                    Next::Go => {}
                    Next::Within(t) => {
                        limit = self.lanes.limit(t);
                        furthest = key(limit);
                    }
                    Next::Stop => return,
                },
            }
        }
    }
}

/// In which order a visitor wants meetings.
pub(super) enum Order {
    /// The first that is found, and no more than which triangle it is with.
    Any,
    /// All, in any.
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
    /// Is told of a triangle that is met, if any will do.
    #[inline(always)]
    fn surely(&mut self, _place: u32) {}
}

/// Shows the triangles that a ray meets between its ends to a visitor.
pub(super) struct Show<'a, W, V>(pub Asked<'a, W>, pub &'a mut V);

impl<W: Way + Copy, V: Visitor> Query for Show<'_, W, V> {
    type Answer = ();

    #[inline(always)]
    fn ask<E: Eight>(&mut self) {
        let Self(asked, visitor) = self;
        let asked = *asked;
        let kernel = asked.kernel;
        if kernel.nodes.is_empty() {
            return;
        }
        let from = kernel.start(asked.from, asked.skip);
        let (direction, t_max) = asked.way.direction(from);
        let rough = Rough::new::<E::Four>(from, direction);
        let ordinary = Ray::is_ordinary(direction) && rough.is_finite() && t_max > 0.0;
        if !ordinary || kernel.depth > ROOM {
            unusual(asked, (from, direction, t_max), *visitor);
            return;
        }
        let slabs = Slabs::of(&rough, kernel.size);
        let (unit, end) = (1.0, Ray::box_depth(t_max));
        let lanes = Lanes::<E>::of(&slabs, unit);
        let (near, far) = lanes.slabs(&kernel.nodes[0], end);
        if near.not_above(far) == 0 {
            return;
        }
        let walk = Walk::<E, W> {
            kernel,
            lanes,
            limit: end,
            gaze: slabs.gaze(&rough, (end, kernel.size)),
            // what has no end mostly meets something: the ray is made while boxes are waited for
            ray: match t_max.is_infinite() {
                true => OnceCell::from(asked.way.ray(from, kernel.size)),
                false => OnceCell::new(),
            },
            from,
            way: asked.way,
            skip: kernel.place_of(asked.skip),
        };
        match V::ORDER {
            Order::Any | Order::None => {
                walk.any((near, far), &mut Room::<_, ROOM>::new().stack(), *visitor)
            }
            Order::NearestFirst => {
                walk.nearest((near, far), &mut Room::<_, ROOM>::new().stack(), *visitor)
            }
        }
    }
}

/// Walks with numbers that the slab test does not take as they are, or far down.
#[cold]
#[inline(never)]
fn unusual<W: Way + Copy, V: Visitor>(
    asked: Asked<'_, W>,
    (from, direction, t_max): (DVec3, DVec3, f64),
    visitor: &mut V,
) {
    let kernel = asked.kernel;
    if !Ray::possible(from, direction, t_max) {
        return;
    }
    let unit = 1.0 / reach(direction);
    let rough = Rough::new::<f64x4>(from, direction * unit);
    let slabs = Slabs::of(&rough, kernel.size);
    let lanes = Lanes::of(&slabs, unit);
    let limit = lanes.limit(t_max);
    let first = lanes.slabs(&kernel.nodes[0], limit);
    let walk = Walk::<f32x8, W> {
        kernel,
        lanes,
        limit,
        gaze: slabs.gaze(&rough, (limit, kernel.size)),
        ray: OnceCell::new(),
        from,
        way: asked.way,
        skip: kernel.place_of(asked.skip),
    };
    match V::ORDER {
        Order::Any | Order::None => walk.any(first, &mut Heap::new(kernel.depth).stack(), visitor),
        Order::NearestFirst => walk.nearest(first, &mut Heap::new(kernel.depth).stack(), visitor),
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
