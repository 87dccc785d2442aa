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
//! **Edges.** Every ray has one map from space to a plane: shift by the origin, shear along the
//! largest component of the direction (Woop, Benthin, Wald, "Watertight ray/triangle intersection",
//! JCGT 2(1), 2013), all in f64, four roundings per coordinate ([`ray`]). It is applied corner by corner
//! and knows nothing of triangles, so a corner shared by several triangles lands on one and the same
//! plane point for all of them. The three edge functions are differences of two products; their *signs*
//! are exact ([`triangle`]: rounding is monotonic, so two different rounded products are in the order of
//! the true ones; equal ones are settled by their rounding errors, which a fused multiply-add gives
//! exactly). Inclusive signs (≥ 0 or ≤ 0 all three, either winding) thus decide exactly whether the
//! plane point 0 lies in the closed plane triangle. A closed surface is mapped, continuously and linearly
//! on each triangle, to the plane; its plane triangles cover each point an even number of times, and a
//! point on a shared edge or corner belongs to each of the triangles there. A triangle that collapses in
//! the plane to a segment has zero area there and is skipped: almost every point next to it is covered by
//! the others, these plane triangles are closed sets, so the points of the segment are covered too.
//!
//! What rounding does is to move corners sideways by at most 5 · 2⁻⁵³ of their distance from the origin
//! (2⁻⁵³ each: shift twice, product, difference, and the shear's own rounding, which is common to all
//! corners and merely turns the ray by that much). So the answer is the exact one for a closed surface
//! that is moved by under 10⁻¹⁵ of the scene, and a ray that starts farther than that from it cannot
//! slip out.
//!
//! **Boxes.** The slab test runs in f32 and must never miss a box that the line meets. Origins are pushed
//! outward by 2⁻²² of themselves and 2⁻³⁰ of the scene, far above the 2⁻²⁴ of rounding to f32 and the
//! 10⁻¹⁵ above. A slab distance is then a difference, a rounded reciprocal and a product: relative error
//! below 3 · 2⁻²⁴ (1 + 2⁻²³) on either side, and the far one is stretched by 1 + 2⁻²⁰ > 1 + 6 · 2⁻²⁴ (Ize,
//! "Robust BVH ray traversal", JCGT 2(2), 2013). Components of the direction under 2⁻⁷⁰ of the largest
//! one are taken as 2⁻⁷⁰ in the slab test alone: no infinities or NaN arise, and as the pushed origin is
//! 2⁻³⁰ of the scene away, such a slab is met by the ray for 2⁴⁰ scenes of length.
//!
//! **Starts and ends.** A start on a triangle is given with its number (`skip`); that triangle is not met.
//! The start is dropped onto it and kept 2⁻²⁰ of its height off its edges, so that the roundings cannot
//! put it behind a neighbour: convex neighbours do not block, concave ones do, however near the edge the
//! start was. Moreover a ray does not meet a triangle that holds its start or its end: the plane of the
//! triangle passes within 2⁻⁴⁶ scene sizes (1.4·10⁻¹⁴, fourteen times the error above) of that point *and*
//! the meeting is within 2⁻²⁰ scene sizes of it. So ends may lie on triangles. Ends known only to f32, such
//! as a face drawn analytically beside its own mesh, lie off the mesh by more than that; the caller
//! must shorten such a line.
//!
//! What is not covered: rays within about 10⁻⁹ rad of the plane of their own start triangle (their cosine,
//! and with it their weight, is as small); triangles without area are never met, so where one
//! closes a T-shaped seam a gap of rounding width (10⁻¹⁵) is open.

mod build;
mod nearest;
mod ray;
#[cfg(test)]
mod tests;
mod triangle;

use glam::{DVec2, DVec3, Vec3};
use ray::Ray;

/// A bounding-volume hierarchy over triangles, immutable.
#[derive(Debug, Clone, Default)]
pub struct Kernel {
    /// Corners, grouped by leaf; triangles without area at the end.
    corners: Vec<[[f32; 3]; 3]>,
    /// The caller's number of each entry of `corners`.
    number: Vec<u32>,
    /// Where in `corners` the caller's triangle is.
    place: Vec<u32>,
    /// Eight-wide nodes, the root first.
    nodes: Vec<build::Node>,
    /// Largest number of nodes that wait on a traversal's stack.
    stack: usize,
    /// Smallest and largest corner.
    bounds: Option<(Vec3, Vec3)>,
    /// Largest absolute coordinate.
    size: f64,
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
        self.corners.len()
    }

    /// True without triangles.
    pub fn is_empty(&self) -> bool {
        self.corners.is_empty()
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
        self.corners[self.place[triangle as usize] as usize]
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
        let from = self.start(from, skip);
        let ray = Ray::segment(from, to, self.size)?;
        let mut found = None;
        self.visit(&ray, skip, |place, _, _| {
            found = Some(self.number[place]);
            Next::Stop
        });
        found
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
        let origin = self.start(origin, skip);
        let ray = Ray::new(origin, direction, t_max, self.size)?;
        let mut best: Option<(triangle::Meeting, u32)> = None;
        self.visit(&ray, skip, |place, meeting, _| {
            let number = self.number[place];
            let nearer = best.is_none_or(|(old, old_number)| {
                meeting.depth < old.depth || (meeting.depth <= old.depth && number < old_number)
            });
            if nearer {
                best = Some((meeting, number));
                Next::Within(meeting.depth)
            } else {
                Next::Go
            }
        });
        best.map(|(meeting, number)| ray.hit(number, &meeting))
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
        let origin = self.start(origin, skip);
        let mut hits = Vec::new();
        if let Some(ray) = Ray::new(origin, direction, t_max, self.size) {
            self.visit(&ray, skip, |place, meeting, corners| {
                if triangle::owns(&ray, corners) {
                    hits.push(ray.hit(self.number[place], &meeting));
                }
                Next::Go
            });
        }
        hits.sort_by(|a, b| a.t.total_cmp(&b.t).then(a.triangle.cmp(&b.triangle)));
        hits
    }
}

/// What a visitor wants after a meeting.
enum Next {
    /// All others.
    Go,
    /// Only others up to this depth.
    Within(f64),
    /// No others.
    Stop,
}
