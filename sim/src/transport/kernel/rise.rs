//! How far from small facets nothing rises: where lines that leave them steeply begin to be in danger.
//!
//! In: up to eight facets side by side, and a slope. Out: for each a distance before which no triangle comes in the way
//! of a line that leaves it more steeply. Near its start a line is deep in the boxes of its own surroundings, and
//! would have to meet them all.
//!
//! Points of lines that leave a facet at a slope or more lie over its plane and, beyond each edge, over the plane
//! through the edge that rises outward at that slope. What lies wholly under one of these planes is in nobody's way.
//! Triangles are judged in f32 with the margin of [`super::shaft`], those left over in f64 by the same tolerance.

use super::Kernel;
use super::eight::{Eight, Query};
use super::layout::{Child, WIDTH};
use super::ray::HOLD;
use super::shaft::{Base, HalfSpace, ROUGH, is_outside, outside};
use glam::DVec3;
use wide::f32x8;

/// Triangles are looked at up to so many radii of all facets together beyond them.
const FAR: f64 = 1.5;
/// Most blocks of triangles that are looked at.
const BLOCKS: usize = 192;
/// Planes of a facet: its own and those through its edges.
const PLANES: usize = 5;

impl Kernel {
    /// Distances from facets, each with its triangle, before which no other triangle is in the way of lines that leave
    /// them more steeply than `slope`.
    ///
    /// - returns: m for each; 0 where nothing is proved
    pub(crate) fn rises(&self, facets: &[(Base, u32)], slope: f64) -> Vec<f64> {
        let corners = || facets.iter().flat_map(|(base, _)| base.corners);
        let count = corners().count().max(1) as f64;
        let centre = corners().sum::<DVec3>() / count;
        let radius = corners()
            .map(|corner| corner.distance(centre))
            .fold(0.0, f64::max);
        let far = FAR * radius;
        let Some(near) = self.blocks_near(centre, radius + far) else {
            return vec![0.0; facets.len()];
        };
        self.level.ask(Rises {
            kernel: self,
            facets,
            slope,
            near: &near,
            far,
        })
    }

    /// Blocks and masks of leaves whose boxes come nearer to a point than a distance; none if they are many.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the distance is made a little greater"
    )]
    fn blocks_near(&self, point: DVec3, distance: f64) -> Option<Vec<(u32, u32)>> {
        let mut near = Vec::with_capacity(BLOCKS);
        if self.nodes.is_empty() {
            return Some(near);
        }
        let point = point.to_array().map(|x| f32x8::splat(x as f32));
        let reach = (distance + ROUGH * self.size) as f32;
        let reach = f32x8::splat(reach * reach * (1.0 + 1.0 / 1024.0));
        let mut waiting = Vec::with_capacity(4 * WIDTH);
        waiting.push(0);
        while let Some(packed) = waiting.pop() {
            match Child::read(packed) {
                Child::Node(index) => {
                    let node = &self.nodes[index];
                    let mut squared = f32x8::ZERO;
                    for (axis, &point) in point.iter().enumerate() {
                        let under = node.planes[0][axis] - point;
                        let over = point - node.planes[1][axis];
                        let off = under.fast_max(over).fast_max(f32x8::ZERO);
                        squared += off * off;
                    }
                    let there = node.planes[0][0].simd_le(node.planes[1][0]);
                    let mut may = (squared.simd_le(reach) & there).to_bitmask();
                    while may != 0 {
                        waiting.push(node.child[may.trailing_zeros() as usize % WIDTH]);
                        may &= may - 1;
                    }
                }
                Child::Leaf { block, mask } => {
                    if near.len() == BLOCKS {
                        return None;
                    }
                    near.push((block, mask));
                }
            }
        }
        Some(near)
    }
}

/// Distances that are asked for.
struct Rises<'a> {
    kernel: &'a Kernel,
    facets: &'a [(Base, u32)],
    slope: f64,
    /// Blocks that are near.
    near: &'a [(u32, u32)],
    /// The greatest distance.
    far: f64,
}

impl Query for Rises<'_> {
    type Answer = Vec<f64>;

    #[inline(always)]
    fn ask<E: Eight>(&mut self) -> Vec<f64> {
        let mut rises = Vec::with_capacity(self.facets.len());
        for (base, triangle) in self.facets {
            rises.push(self.rise::<E>(base, *triangle));
        }
        rises
    }
}

impl Rises<'_> {
    #[inline(always)]
    fn rise<E: Eight>(&self, base: &Base, triangle: u32) -> f64 {
        let Self {
            kernel, slope, far, ..
        } = *self;
        let mut planes = [HalfSpace::default(); PLANES];
        planes[0] = HalfSpace::through(base.corners[0], -base.normal);
        let mut count = 1;
        for (point, outward) in base.rims().into_iter().flatten() {
            let normal = (outward * slope - base.normal).normalize();
            planes[count] = HalfSpace::through(point, normal);
            count += 1;
        }
        let planes = &planes[..count];
        let centre = base.corners.iter().sum::<DVec3>() / 3.0;
        let radius = base.corners.map(|corner| corner.distance(centre));
        let radius = radius.into_iter().fold(0.0, f64::max);
        let (margin, tolerance) = (ROUGH * kernel.size, HOLD * kernel.size);
        let own = super::split(kernel.place[triangle as usize]);
        let mut rise = far;
        for &(block, mask) in self.near {
            let (number, block) = (block as usize, &kernel.blocks[block as usize]);
            let mut left = mask & !outside::<E>(planes, block, margin);
            while left != 0 {
                let lane = left.trailing_zeros() as usize;
                left &= left - 1;
                let corners = block
                    .corners(lane)
                    .map(|corner| DVec3::from_array(corner.map(f64::from)));
                let harmless = (number, lane) == own
                    || planes
                        .iter()
                        .any(|plane| is_outside(plane, &corners, tolerance));
                if !harmless {
                    let [a, b, c] = corners;
                    let (least, most) = (a.min(b).min(c), a.max(b).max(c));
                    let off = (least - centre).max(centre - most).max(DVec3::ZERO);
                    rise = rise.min(off.length() - radius);
                }
            }
            if rise <= 0.0 {
                return 0.0;
            }
        }
        rise
    }
}
