//! The ray kernel: does a line meet a triangle, and which first.
//!
//! In: triangles with corners in f32, and rays in f64. Out: blocked or not, the first hit, every
//! crossing, the nearest point. Used by `scene` (clearances, inside or outside) and by everything
//! that flies in `transport`.
//!
//! # Why nothing leaks
//!
//! The geometry *is* the triangles with f32 corners; nothing is moved, snapped or thickened.
//!
//! **Edges.** Every ray has one map from space to a plane: shift by the origin, shear along the largest
//! component of the direction (Woop, Benthin, Wald, "Watertight ray/triangle intersection", JCGT 2(1),
//! 2013), here in f64 (`ray`, `triangle`). It is applied corner by corner and knows nothing of triangles,
//! so a corner shared by several triangles lands on one and the same plane point for all of them. The
//! three edge functions are differences of two products, and their *signs* are exact: rounding is
//! monotonic, so two different rounded products are in the order of the true ones; equal ones are
//! settled by their rounding errors, which a fused multiply-add gives exactly. Inclusive signs (all three
//! ≥ 0 or all three ≤ 0, either winding) thus decide exactly whether the closed plane triangle holds the
//! ray's plane point 0.
//!
//! Take a closed surface with the origin inside, and the surface that has its corners where the map put
//! them. That is closed too and, unless the origin is as near as the rounding, still around it. Any
//! line moved aside by a generic hair meets it ahead, in a triangle that has area in the plane. Let the hair
//! shrink to nothing: there are finitely many triangles, they are closed, so one of them holds the ray itself.
//! Hence a ray through a shared edge or corner is caught, and triangles seen edge-on, without area in the
//! plane, may be left out: their neighbours hold the ray.
//!
//! The rounding moves corners sideways by at most 5 · 2⁻⁵³ of their distance from the origin (two shifts, a
//! product, a difference; the rounding of the shear is common to all corners and merely turns the ray by
//! 2⁻⁵³): 10⁻¹⁵ of the scene.
//!
//! **Boxes.** The slab test runs in f32 and must not miss a box that the line meets. Write u for 2⁻²⁴, o for the
//! origin, d for the direction, size for the largest coordinate of the triangles. The plane p of a slab is reached at
//! t = p·r − o·r, with one and the same rounded r = 1/d in both products. So the error of r, 2u for the two roundings of d
//! and of its reciprocal, merely scales t, and all others but the last count as moving the origin: rounding o,
//! pushing it, and the product o·r by 3u|o|, the product p·r by u·size where it is not fused with the
//! difference. Origins are pushed outward by 4u (|o| + size), so u|o| + 3u·size is left (less a few u² of them), far
//! above the 10⁻¹⁵ of the scene above; and t has the right sign. With the last rounding t is right to a relative 3u on the
//! near side. The far side has an r of its own, stretched by 1 + 16u = 1 + 2⁻²⁰ and rounded once more, and the end of
//! the ray is stretched as much: both are above the 7u of the two sides (after Ize, "Robust BVH ray traversal", JCGT
//! 2(2), 2013). Directions whose longest component is not within 2⁻²⁰ to 2²⁰, seldom ones, are first made to have
//! that of 1. Components under 2⁻⁷⁰ count as 2⁻⁷⁰ in the slab test alone: no infinity or NaN arises in scenes up to
//! 2⁵⁶, and over two scenes' length that takes the ray aside by under 2⁻⁴⁸ scenes, less than the push.
//! Blocks of triangles are looked at in f32 by edge functions with a bound of their error (`sift`; `pencil` for lines to
//! one place): what is missed beyond it is ruled out, what is met beyond it, and away from both ends, needs no more
//! where only blocked or not is asked. The rest is decided as said above.
//!
//! **Starts and ends.** A start on a triangle is given with its number (`skip`); that triangle is not met.
//! Near its edges the start is dropped onto it and kept 2⁻²⁰ of its height off them, so that rounding cannot
//! put it behind a neighbour: convex neighbours do not block, concave ones do, however near the edge the start
//! was (in a groove narrower than 1.5·10⁻⁸ scene/height rad it counts as touching the other wall). Moreover
//! a ray does not meet a triangle that holds its start or its end: the plane of the triangle passes within
//! 2⁻⁴⁶ scenes (1.4·10⁻¹⁴, fourteen times the error above) of that point *and* the meeting is within 2⁻²⁰ scenes of
//! it. So ends may lie on triangles, and bodies that touch face to face let rays into each other, where the
//! far side stops them. Points known only to f32, such as a face drawn analytically beside its own mesh,
//! lie off the mesh by more than that: the caller must keep them clear.
//!
//! The scene here is the largest coordinate of the triangles or of the ray's origin.
//!
//! **Not covered.** Rays at under 10⁻⁹ scene/height rad to their own start triangle (their weight is as small).
//! Triangles without area are never met; where one closes a seam, a gap of rounding width is open.
//!
//! **Many lines.** `packet` walks with eight lines at a time from one triangle, `fan` with eight from some side by side to
//! one place; `rise` says from where on lines that leave steeply may meet something, and `shaft` proves whole bundles
//! clear; all answer as single lines do.
//!
//! # Size
//!
//! 67 bytes per triangle on large meshes: blocks with numbers 55, places 4, nodes 8; while building about 145 more.

mod build;
mod eight;
pub mod fan;
mod layout;
mod nearest;
pub mod packet;
mod pencil;
mod ray;
mod rise;
mod settled;
pub(crate) mod shaft;
mod sift;
mod stack;
#[cfg(test)]
mod tests;
mod triangle;
mod walk;
mod widen;

use crate::lanes::Level;
use glam::{DVec2, DVec3, Vec3};
use layout::{Block, LANES, Node};
use ray::Ray;
use triangle::{Corners, Meeting};
use walk::{Along, Asked, Order, Show, To, Visitor};

/// A bounding-volume hierarchy over triangles, immutable. The default one is empty and costs nothing.
#[derive(Debug, Clone, Default)]
pub struct Kernel {
    /// Number of triangles.
    len: usize,
    /// Triangles by leaf; those without area at the end, in no leaf.
    blocks: Vec<Block>,
    /// Where the caller's triangle is: block · 8 + lane.
    place: Vec<u32>,
    /// Eight-wide nodes, the root first.
    nodes: Vec<Node>,
    /// Levels of nodes.
    depth: usize,
    /// Largest number of children that wait on the stack of a walk in order.
    stack: usize,
    /// Smallest and largest corner.
    bounds: Option<(Vec3, Vec3)>,
    /// Largest absolute coordinate.
    size: f64,
    /// What the processor can.
    level: Level,
}

/// Where a ray meets a triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Number of the triangle in the caller's order.
    pub triangle: u32,
    /// Distance along the ray in units of the direction's length.
    pub t: f64,
    /// Weights of the second and third corner.
    pub bary: DVec2,
    /// True when the ray comes from the side of the corner-order normal.
    pub from_front: bool,
}

/// The point of the triangles that is nearest to a given one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Number of the triangle in the caller's order.
    pub triangle: u32,
    /// Weights of the second and third corner.
    pub bary: DVec2,
    /// Distance, in the unit of the corners.
    pub distance: f64,
}

impl Kernel {
    /// Number of triangles, those without area included.
    pub fn len(&self) -> usize {
        self.len
    }

    /// True without triangles.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Smallest and largest coordinates of all corners; none without triangles.
    pub fn bounds(&self) -> Option<(Vec3, Vec3)> {
        self.bounds
    }

    /// Corners of the caller's triangle, as rounded.
    ///
    /// # Panics
    /// When the number is not below [`Kernel::len`].
    pub fn triangle(&self, triangle: u32) -> [DVec3; 3] {
        let (block, lane) = split(self.place[triangle as usize]);
        self.blocks[block]
            .corners(lane)
            .map(|corner| DVec3::from_array(corner.map(f64::from)))
    }

    /// The point of a triangle with the given weights of its second and third corner.
    ///
    /// # Panics
    /// When the number is not below [`Kernel::len`].
    pub fn point(&self, triangle: u32, bary: DVec2) -> DVec3 {
        let [a, b, c] = self.triangle(triangle);
        a + (b - a) * bary.x + (c - a) * bary.y
    }

    /// False when the box around a segment and the box around all triangles are apart.
    ///
    /// Both boxes are exact; 2⁻⁴⁰ of the scene stays in hand for where starts are dropped to (module head).
    #[inline]
    pub(crate) fn near(&self, from: DVec3, to: DVec3) -> bool {
        let Some((least, most)) = self.bounds else {
            return false;
        };
        let slack = DVec3::splat(self.size * 2.0_f64.powi(-40));
        let (low, high) = (from.min(to) - slack, from.max(to) + slack);
        low.cmple(most.as_dvec3()).all() && high.cmpge(least.as_dvec3()).all()
    }

    /// Where a triangle lies in the hierarchy: near for triangles that are near each other.
    ///
    /// # Panics
    /// When there is no such triangle.
    pub fn place(&self, triangle: u32) -> u32 {
        self.place[triangle as usize]
    }

    /// The caller's number of a place.
    fn numbered(&self, place: u32) -> u32 {
        let (block, lane) = split(place);
        self.blocks[block].number[lane]
    }

    /// True when any triangle other than `skip` meets the open segment from `from` to `to`.
    ///
    /// `skip` is the triangle on which `from` lies. Either winding blocks. Triangles that hold `from` or
    /// `to` do not (module head).
    pub fn blocked(&self, from: DVec3, to: DVec3, skip: Option<u32>) -> bool {
        self.blocked_by(from, to, skip).is_some()
    }

    /// Some triangle that blocks the open segment, if there is one; not necessarily the first.
    ///
    /// As [`Kernel::blocked`], which is `blocked_by(…).is_some()`.
    pub fn blocked_by(&self, from: DVec3, to: DVec3, skip: Option<u32>) -> Option<u32> {
        if !self.near(from, to) {
            return None;
        }
        let asked = self.asked(&from, To(&to), skip);
        let mut found = Blocker(NOWHERE);
        self.level.ask(Show(asked, &mut found));
        (found.0 != NOWHERE).then(|| self.numbered(found.0))
    }

    #[inline]
    fn asked<'a, W>(&'a self, from: &'a DVec3, way: W, skip: Option<u32>) -> Asked<'a, W> {
        Asked {
            kernel: self,
            from,
            way,
            skip,
        }
    }

    /// The first triangle other than `skip` met by `origin + t·direction`, 0 < t < `t_max`.
    ///
    /// Of several at the same t, the one with the smallest number. `skip` is the triangle on which the
    /// origin lies; t counts from the point it is dropped to (module head).
    pub fn first_hit(
        &self,
        origin: DVec3,
        direction: DVec3,
        t_max: f64,
        skip: Option<u32>,
    ) -> Option<Hit> {
        let asked = self.asked(&origin, Along(&direction, t_max), skip);
        let mut first = First {
            kernel: self,
            place: NOWHERE,
            depth: f64::INFINITY,
            reach: 1.0,
            bary: DVec2::ZERO,
            from_front: false,
        };
        self.level.ask(Show(asked, &mut first));
        if first.place == NOWHERE {
            return None;
        }
        Some(Hit {
            triangle: self.numbered(first.place),
            t: first.depth / first.reach,
            bary: first.bary,
            from_front: first.from_front,
        })
    }

    /// Every triangle other than `skip` that meets `origin + t·direction`, 0 < t < `t_max`, by
    /// ascending t, then number.
    ///
    /// At a shared edge or corner, just those triangles that the line met if it were moved aside by an
    /// infinitesimal step, the same for all: a line through a closed surface crosses it an even number of
    /// times, and what goes in comes out (signs by `from_front`).
    pub fn crossings(
        &self,
        origin: DVec3,
        direction: DVec3,
        t_max: f64,
        skip: Option<u32>,
    ) -> Vec<Hit> {
        let asked = self.asked(&origin, Along(&direction, t_max), skip);
        let mut all = Crossed {
            kernel: self,
            hits: Vec::new(),
        };
        self.level.ask(Show(asked, &mut all));
        let mut hits = all.hits;
        hits.sort_by(|a, b| a.t.total_cmp(&b.t).then(a.triangle.cmp(&b.triangle)));
        hits
    }
}

/// Block and lane of a place.
fn split(place: u32) -> (usize, usize) {
    (place as usize / LANES, place as usize % LANES)
}

/// No triangle's place or number.
const NOWHERE: u32 = u32::MAX;

/// The place of some triangle that is in the way.
struct Blocker(u32);

impl Visitor for Blocker {
    const ORDER: Order = Order::Any;

    #[inline(always)]
    fn visit(&mut self, _ray: &Ray, (place, _, _): (u32, &Meeting, &Corners)) -> Next {
        self.0 = place;
        Next::Stop
    }

    #[inline(always)]
    fn surely(&mut self, place: u32) {
        self.0 = place;
    }
}

/// The first meeting, number by number: an answer that is put together where it is made and taken apart elsewhere
/// takes as long as a box.
struct First<'a> {
    kernel: &'a Kernel,
    place: u32,
    depth: f64,
    /// Of the ray.
    reach: f64,
    bary: DVec2,
    from_front: bool,
}

impl Visitor for First<'_> {
    const ORDER: Order = Order::NearestFirst;

    #[inline(always)]
    fn visit(&mut self, ray: &Ray, (place, meeting, _): (u32, &Meeting, &Corners)) -> Next {
        if meeting.depth > self.depth {
            return Next::Go;
        }
        let level = meeting.depth >= self.depth && self.place != NOWHERE;
        if level && self.kernel.numbered(self.place) < self.kernel.numbered(place) {
            return Next::Go;
        }
        self.place = place;
        self.depth = meeting.depth;
        self.reach = ray.reach;
        self.bary = DVec2::new(meeting.second, meeting.third);
        self.from_front = meeting.from_front;
        Next::Within(meeting.depth * ray.per_reach)
    }
}

/// All meetings that a closed surface offers.
struct Crossed<'a> {
    kernel: &'a Kernel,
    hits: Vec<Hit>,
}

impl Visitor for Crossed<'_> {
    const ORDER: Order = Order::None;

    #[inline(always)]
    fn visit(&mut self, ray: &Ray, (place, meeting, corners): (u32, &Meeting, &Corners)) -> Next {
        if triangle::owns(ray, corners) {
            self.hits
                .push(ray.hit(self.kernel.numbered(place), meeting));
        }
        Next::Go
    }
}

/// What a visitor wants after a meeting.
enum Next {
    /// All others.
    Go,
    /// Only others up to this many times the direction's length.
    Within(f64),
    /// No others.
    Stop,
}
