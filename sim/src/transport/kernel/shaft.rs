//! Proves that whole bundles of lines are clear.
//!
//! In: a facet and balls that hold everything its lines go to. Out: true only when no triangle reaches into
//! the space between. Then none of the lines needs a walk of its own.
//!
//! The lines fill, at most, the convex hull of the facet and the balls, in front of the facet. A shaft is a few
//! half-spaces that each hold all of that: in front of the facet; under a plane through each of its edges that
//! just lets the balls in, so that a neighbour across the edge is out exactly when all balls are above it;
//! and short of the far end. What lies wholly outside one of them is in nobody's way (after Haines and
//! Wallace, "Shaft culling for efficient ray-cast radiosity", Eurographics Workshop on Rendering, 1991).
//! Each half-space is checked against facet and balls when it is made, and left out if it fails: fewer of
//! them prove less, never wrongly.
//!
//! Boxes are judged in f32 with a margin above its rounding, triangles in f64. One that reaches in by under 2⁻⁴⁶ of
//! the scene counts as outside, as it does for single lines (module head of [`super`], starts and ends).

use super::Kernel;
use super::eight::{Eight, Query};
use super::layout::{Block, Child, LANES, Node, WIDTH};
use super::ray::HOLD;
use glam::{DVec2, DVec3};

/// Half-spaces of a shaft: the facet, up to four edges, the far end.
const MOST: usize = 6;
/// Room for nodes that wait, before the heap is needed.
const ROOM: usize = 256;
/// Above the rounding of a plane's height over a corner in f32, relative to the scene: three products and
/// sums of at most √3 scenes, 2⁻²⁴ each, and the rounding of the plane itself.
pub(super) const ROUGH: f64 = 1.0 / (1u64 << 19) as f64;
/// How much wider balls are made before planes are laid along them, relative: above the rounding of that.
const WIDER: f64 = 1e-9;

/// The half-space normal · x ≤ offset.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct HalfSpace {
    pub normal: DVec3,
    pub offset: f64,
}

impl HalfSpace {
    /// That whose plane goes through a point.
    pub fn through(point: DVec3, normal: DVec3) -> Self {
        Self {
            normal,
            offset: normal.dot(point),
        }
    }
}

/// True when a triangle lies wholly outside a half-space, or reaches in by no more than a tolerance.
pub(super) fn is_outside(side: &HalfSpace, corners: &[DVec3; 3], tolerance: f64) -> bool {
    let height = |corner: &DVec3| side.normal.dot(*corner) - side.offset;
    corners.iter().all(|corner| height(corner) >= -tolerance)
}

/// Space that holds all lines from a facet to some balls.
#[derive(Debug, Clone)]
pub(crate) struct Shaft {
    sides: [HalfSpace; MOST],
    count: usize,
    /// Largest coordinate of what it was made from.
    size: f64,
}

/// A facet that lines start from, or a point without extent.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Base {
    /// Corners, equal for a point.
    pub corners: [DVec3; 3],
    /// Unit normal of the side that lines leave from.
    pub normal: DVec3,
}

impl Base {
    /// Points on the rim with unit vectors that lead out of the facet there, in its plane.
    pub(super) fn rims(&self) -> [Option<(DVec3, DVec3)>; 4] {
        let [a, b, c] = self.corners;
        if a == b && b == c {
            let (first, second) = self.normal.any_orthonormal_pair();
            return [first, -first, second, -second].map(|outward| Some((a, outward)));
        }
        let rim = |from: DVec3, to: DVec3, third: DVec3| {
            let across = (to - from).cross(self.normal).try_normalize()?;
            let outward = if across.dot(third - from) > 0.0 {
                -across
            } else {
                across
            };
            Some((from, outward))
        };
        [rim(a, b, c), rim(b, c, a), rim(c, a, b), None]
    }
}

impl Shaft {
    /// The shaft from a facet to balls (centre, radius).
    pub fn new(base: &Base, balls: &[(DVec3, f64)]) -> Self {
        let largest = |point: DVec3| point.abs().max_element();
        let corners = base.corners.iter().map(|&corner| largest(corner));
        let ends = balls.iter().map(|&(centre, r)| largest(centre) + r);
        let mut shaft = Self {
            sides: [HalfSpace::default(); MOST],
            count: 0,
            size: corners.chain(ends).fold(0.0, f64::max),
        };
        shaft.push(-base.normal, -base.normal.dot(base.corners[0]));
        for (point, outward) in base.rims().into_iter().flatten() {
            if let Some(normal) = leaning(point, [outward, base.normal], balls) {
                let offset = normal.dot(point);
                let slack = HOLD * shaft.size;
                let inside = balls.iter().all(|(c, r)| normal.dot(*c) + r <= offset)
                    && base
                        .corners
                        .iter()
                        .all(|q| normal.dot(*q) <= offset + slack);
                if inside {
                    shaft.push(normal, offset);
                }
            }
        }
        let middle = balls.iter().map(|ball| ball.0).sum::<DVec3>() / balls.len().max(1) as f64;
        if let Some(axis) = (middle - base.corners[0]).try_normalize() {
            let corners = base.corners.iter().map(|&q| axis.dot(q));
            let ends = balls.iter().map(|(c, r)| axis.dot(*c) + r);
            shaft.push(axis, corners.chain(ends).fold(f64::NEG_INFINITY, f64::max));
        }
        shaft
    }

    fn push(&mut self, normal: DVec3, offset: f64) {
        self.sides[self.count] = HalfSpace { normal, offset };
        self.count += 1;
    }

    fn sides(&self) -> &[HalfSpace] {
        &self.sides[..self.count]
    }

    /// A bit for each child whose box may reach in.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the margin covers the rounding"
    )]
    #[inline(always)]
    fn enter<E: Eight>(&self, node: &Node, margin: f64) -> u32 {
        // Lanes in use have their planes the right way round.
        let [first, last] = [&node.planes[0][0], &node.planes[1][0]];
        let mut may = E::load(first).not_above(E::load(last));
        for side in self.sides() {
            let mut height = E::splat(0.0);
            for axis in 0..3 {
                let slope = side.normal[axis] as f32;
                let nearest = usize::from(slope <= 0.0);
                height = E::load(&node.planes[nearest][axis]).times_plus(E::splat(slope), height);
            }
            may &= !E::splat((side.offset + margin) as f32).below(height);
            if may == 0 {
                break;
            }
        }
        may
    }

    /// True when a triangle of the block reaches in: those that single precision leaves in doubt are looked at.
    #[inline(always)]
    fn met<E: Eight>(&self, block: &Block, mask: u32, (margin, tolerance): (f64, f64)) -> bool {
        let mut left = mask & !outside::<E>(self.sides(), block, margin);
        while left != 0 {
            let lane = left.trailing_zeros() as usize % LANES;
            left &= left - 1;
            if self.reaches_in(block, lane, tolerance) {
                return true;
            }
        }
        false
    }

    /// True when a triangle is outside none of the sides.
    fn reaches_in(&self, block: &Block, lane: usize, tolerance: f64) -> bool {
        let corners = block
            .corners(lane)
            .map(|corner| DVec3::from_array(corner.map(f64::from)));
        let mut sides = self.sides().iter();
        !sides.any(|side| is_outside(side, &corners, tolerance))
    }
}

/// A bit for each triangle of a block that lies wholly outside one of the half-spaces, by more than a margin.
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the margin covers the rounding"
)]
pub(super) fn outside<E: Eight>(sides: &[HalfSpace], block: &Block, margin: f64) -> u32 {
    let [xs, ys, zs] = &block.corners;
    let mut all = 0;
    for side in sides {
        let x = E::splat(side.normal.x as f32);
        let y = E::splat(side.normal.y as f32);
        let z = E::splat(side.normal.z as f32);
        let limit = E::splat((side.offset + margin) as f32);
        let mut least = E::splat(f32::INFINITY);
        for corner in 0..3 {
            let height = E::load(&xs[corner]).times(x);
            let height = E::load(&ys[corner]).times_plus(y, height);
            least = least.min(E::load(&zs[corner]).times_plus(z, height));
        }
        all |= limit.below(least);
    }
    all
}

/// The unit normal of the plane through a point of the rim that leans outward just so far that all balls are
/// inside; none if a ball reaches to the rim itself or the plane would cut the facet.
///
/// - `[outward, up]`: out of the facet in its plane, and its normal
fn leaning(point: DVec3, [outward, up]: [DVec3; 2], balls: &[(DVec3, f64)]) -> Option<DVec3> {
    let mut most: Option<DVec2> = None;
    for (centre, radius) in balls {
        let to = *centre - point;
        let flat = DVec2::new(to.dot(outward), to.dot(up));
        let distance = flat.length();
        let sine = radius * (1.0 + WIDER) / distance + WIDER;
        if sine.is_nan() || sine >= 1.0 {
            return None;
        }
        let toward = flat / distance;
        // Square to the way there on the outward side, turned back by the angle under which the ball is seen.
        let normal = DVec2::new(toward.y, -toward.x) * (1.0 - sine * sine).sqrt() - toward * sine;
        if most.is_none_or(|old| old.perp_dot(normal) < 0.0) {
            most = Some(normal);
        }
    }
    let normal = most.filter(|normal| normal.x > 0.0)?;
    Some((outward * normal.x + up * normal.y).normalize())
}

impl Kernel {
    /// True only when no triangle other than `skip` reaches into the shaft by more than rounding.
    ///
    /// `skip` is the triangle that the facet is part of.
    pub(crate) fn is_clear(&self, shaft: &Shaft, skip: Option<u32>) -> bool {
        if self.nodes.is_empty() {
            return true;
        }
        self.level.ask(Clear {
            kernel: self,
            shaft,
            skip,
        })
    }
}

/// A shaft that is asked for.
struct Clear<'a> {
    kernel: &'a Kernel,
    shaft: &'a Shaft,
    skip: Option<u32>,
}

impl Query for Clear<'_> {
    type Answer = bool;

    #[inline(always)]
    fn ask<E: Eight>(&mut self) -> bool {
        let Self {
            kernel,
            shaft,
            skip,
        } = *self;
        let size = kernel.size.max(shaft.size);
        let (margin, tolerance) = (ROUGH * size, HOLD * size);
        let skip = skip.map(|number| super::split(kernel.place[number as usize]));
        let mut few = [0_u32; ROOM];
        let mut many = Vec::new();
        let stack: &mut [u32] = if kernel.stack <= ROOM {
            &mut few
        } else {
            many.resize(kernel.stack, 0);
            &mut many
        };
        let mut waiting = 1; // the root, whose number is 0
        while waiting > 0 {
            waiting -= 1;
            match Child::read(stack[waiting]) {
                Child::Node(index) => {
                    let node = &kernel.nodes[index];
                    let mut may = shaft.enter::<E>(node, margin);
                    while may != 0 {
                        stack[waiting] = node.child[may.trailing_zeros() as usize % WIDTH];
                        waiting += 1;
                        may &= may - 1;
                    }
                }
                Child::Leaf { block, mask } => {
                    let block = block as usize;
                    let own = skip.filter(|(at, _)| *at == block);
                    let mask = mask & !own.map_or(0, |(_, lane)| 1 << lane);
                    if shaft.met::<E>(&kernel.blocks[block], mask, (margin, tolerance)) {
                        return false;
                    }
                }
            }
        }
        true
    }
}
