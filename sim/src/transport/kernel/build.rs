//! Builds the hierarchy.
//!
//! In: triangles. Out: a [`Kernel`]. The binary hierarchy is obvhs's (locally ordered clustering with some
//! reinsertion), every triangle in exactly one leaf; here it is widened and laid out.

use super::Kernel;
use super::layout::{Block, Child, LANE_BITS, Node};
use super::settled::settled;
use super::widen::Widening;
use crate::lanes::Level;
use glam::{DVec3, Vec3};
use obvhs::Boundable;
use obvhs::aabb::Aabb;
use obvhs::bvh2::{Bvh2, leaf_collapser::collapse, reinsertion::ReinsertionOptimizer};
use obvhs::ploc::{PlocBuilder, PlocSearchDistance, SortPrecision};

/// Passes of clustering with the nearest neighbours alone, before a wider search.
const NARROW_PASSES: usize = 2;
/// Share of nodes that are tried in a better place, in the first of the passes: twice as many make short rays faster by a
/// hundredth and the hierarchy later by a third.
const REINSERTED: f32 = 0.1;
/// Cost of a node for triangles to be left apart; high, as a block costs the same whatever it holds.
const NODE_COST: f32 = 10.0;

/// A triangle as obvhs sees it; laid out as the caller's, so that no copy is made.
struct Triangle([Vec3; 3]);

impl Boundable for Triangle {
    fn aabb(&self) -> Aabb {
        let [a, b, c] = self.0;
        Aabb::new(a.min(b).min(c).into(), a.max(b).max(c).into())
    }
}

impl Kernel {
    /// Builds the hierarchy. Triangles without area, or not finite, keep their number and are never met.
    ///
    /// # Panics
    /// From 2²⁸ (268 million) triangles on, for which blocks have no room.
    pub fn build(triangles: Vec<[Vec3; 3]>) -> Self {
        assert!(
            triangles.len() < 1 << 28,
            "a kernel holds fewer than 2^28 triangles"
        );
        let mut kernel = Self {
            len: triangles.len(),
            level: Level::best(),
            ..Self::default()
        };
        kernel.set_bounds(&triangles);
        let mut solid = Vec::new();
        let mut without_area = Vec::new();
        for (number, triangle) in (0u32..).zip(&triangles) {
            if has_area(triangle) {
                solid.push(number);
            } else {
                without_area.push((number, *triangle));
            }
        }
        let triangles: Vec<Triangle> = triangles
            .into_iter()
            .filter(|triangle| without_area.is_empty() || has_area(triangle))
            .map(Triangle)
            .collect();
        let mut layout = Layout {
            kernel: &mut kernel,
            triangles: &triangles,
            number: &solid,
        };
        layout.kernel.place = vec![0; layout.kernel.len];
        if !triangles.is_empty() {
            let tree = hierarchy(&triangles);
            layout.widen(&tree);
        }
        for (number, triangle) in without_area {
            layout.block(&[(number, triangle)]);
        }
        kernel.nodes = settled(std::mem::take(&mut kernel.nodes));
        kernel.blocks = settled(std::mem::take(&mut kernel.blocks));
        kernel
    }

    fn set_bounds(&mut self, triangles: &[[Vec3; 3]]) {
        let mut corners = triangles
            .iter()
            .flatten()
            .filter(|corner| corner.is_finite());
        self.bounds = corners.next().map(|first| {
            corners.fold((*first, *first), |(least, most), c| {
                (least.min(*c), most.max(*c))
            })
        });
        self.size = self.bounds.map_or(0.0, |(least, most)| {
            f64::from(least.abs().max_element().max(most.abs().max_element()))
        });
    }
}

/// The binary hierarchy. A function of the triangles alone: one thread, no randomness.
fn hierarchy(triangles: &[Triangle]) -> Bvh2 {
    let count = u32::try_from(triangles.len()).unwrap_or(u32::MAX);
    let mut tree = PlocBuilder::with_capacity(triangles.len()).build(
        PlocSearchDistance::Medium,
        triangles,
        (0..count).collect(),
        SortPrecision::U64,
        NARROW_PASSES,
    );
    ReinsertionOptimizer::default().run(&mut tree, REINSERTED, None);
    collapse(&mut tree, 1 << LANE_BITS, NODE_COST);
    // Not needed further on, and large.
    tree.parents = Vec::new();
    tree
}

/// Two corners apart and the third off their line, exactly: differences of f32 are exact in f64 (unless
/// they differ by over 2²⁹, where the rounding does not make them equal), and equal rounded products are
/// told apart by their rounding errors.
pub(super) fn has_area(triangle: &[Vec3; 3]) -> bool {
    let [a, b, c] = triangle.map(|corner| corner.as_dvec3());
    let (e, f): (DVec3, DVec3) = (b - a, c - a);
    let differ = |p: f64, q: f64, r: f64, s: f64| {
        let (left, right) = (p * q, r * s);
        (left - right).abs() > 0.0 || (p.mul_add(q, -left) - r.mul_add(s, -right)).abs() > 0.0
    };
    triangle.iter().all(|corner| corner.is_finite())
        && (differ(e.x, f.y, e.y, f.x) || differ(e.y, f.z, e.z, f.y) || differ(e.z, f.x, e.x, f.z))
}

/// Turns the binary hierarchy into eight-wide nodes over blocks.
struct Layout<'a> {
    kernel: &'a mut Kernel,
    triangles: &'a [Triangle],
    number: &'a [u32],
}

impl Layout<'_> {
    /// Fills nodes and blocks, depth first, and measures the largest stack that a walk needs.
    fn widen(&mut self, tree: &Bvh2) {
        let widening = Widening::new(tree);
        self.kernel.nodes.push(Node::empty());
        // Binary node, wide node it becomes, nodes above it, entries waiting on the stack when it is opened.
        let mut open = vec![(0usize, 0usize, 1usize, 0usize)];
        while let Some((binary, wide, depth, waiting)) = open.pop() {
            let members = widening.children(binary);
            let waiting = waiting + members.len();
            self.kernel.depth = self.kernel.depth.max(depth);
            self.kernel.stack = self.kernel.stack.max(waiting);
            for (lane, member) in members.into_iter().enumerate() {
                let node = &tree.nodes[member];
                let child = if node.is_leaf() {
                    let range =
                        node.first_index as usize..(node.first_index + node.prim_count) as usize;
                    let triangles: Vec<_> = tree.primitive_indices[range]
                        .iter()
                        .map(|index| *index as usize)
                        .map(|index| (self.number[index], self.triangles[index].0))
                        .collect();
                    self.block(&triangles)
                } else {
                    let number = self.kernel.nodes.len();
                    self.kernel.nodes.push(Node::empty());
                    open.push((member, number, depth + 1, waiting));
                    u32::try_from(number).unwrap_or(u32::MAX)
                };
                self.kernel.nodes[wide].set(lane, node.aabb(), child);
            }
        }
    }

    /// Lays down up to four numbered triangles; returns the packed leaf.
    fn block(&mut self, triangles: &[(u32, [Vec3; 3])]) -> u32 {
        let block = u32::try_from(self.kernel.blocks.len()).unwrap_or(u32::MAX);
        let corners: Vec<[Vec3; 3]> = triangles.iter().map(|(_, corners)| *corners).collect();
        let mut laid = Block::new(&corners);
        for ((lane, slot), (number, _)) in (0u32..).zip(&mut laid.number).zip(triangles) {
            *slot = *number;
            self.kernel.place[*number as usize] = block << LANE_BITS | lane;
        }
        self.kernel.blocks.push(laid);
        Child::leaf(block, triangles.len())
    }
}
