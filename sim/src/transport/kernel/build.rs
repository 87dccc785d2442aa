//! Builds the hierarchy, and walks it.
//!
//! In: triangles. Out: a [`Kernel`] of eight-wide nodes over triangles laid out leaf by leaf. The binary
//! hierarchy is obvhs's; each triangle is in exactly one leaf.

use super::ray::Ray;
use super::triangle::{Meeting, meet};
use super::{Kernel, Next};
use glam::{DVec3, Vec3};
use obvhs::aabb::Aabb;
use obvhs::bvh2::{Bvh2, builder::build_bvh2};
use obvhs::{BvhBuildParams, ploc::PlocSearchDistance, ploc::SortPrecision};
use std::time::Duration;

/// Children of a node.
pub(super) const WIDTH: usize = 8;
/// Most triangles of a leaf.
const LEAF: u32 = 8;
/// Marks a leaf: then three bits of count − 1, then its first triangle.
const IS_LEAF: u32 = 1 << 31;
const FIRST_BITS: u32 = 28;

/// Boxes of up to eight children, lane by lane; empty lanes are turned inside out and never met.
#[derive(Debug, Clone, Copy)]
#[repr(C, align(32))]
pub(super) struct Node {
    /// Smallest x, y, z, then largest x, y, z.
    pub planes: [[f32; WIDTH]; 6],
    /// Number of a node, or a leaf.
    pub child: [u32; WIDTH],
}

impl Node {
    const EMPTY: Self = Self {
        planes: [
            [f32::INFINITY; WIDTH],
            [f32::INFINITY; WIDTH],
            [f32::INFINITY; WIDTH],
            [f32::NEG_INFINITY; WIDTH],
            [f32::NEG_INFINITY; WIDTH],
            [f32::NEG_INFINITY; WIDTH],
        ],
        child: [0; WIDTH],
    };

    fn set(&mut self, lane: usize, aabb: &Aabb, child: u32) {
        for axis in 0..3 {
            self.planes[axis][lane] = aabb.min[axis];
            self.planes[axis + 3][lane] = aabb.max[axis];
        }
        self.child[lane] = child;
    }
}

/// Range of triangles of a leaf, if the child is one.
pub(super) fn leaf(child: u32) -> Option<std::ops::Range<usize>> {
    (child & IS_LEAF != 0).then(|| {
        let first = (child & ((1 << FIRST_BITS) - 1)) as usize;
        let count = ((child & !IS_LEAF) >> FIRST_BITS) as usize + 1;
        first..first + count
    })
}

impl Kernel {
    /// Builds the hierarchy. Triangles without area, or not finite, keep their number and are never met.
    ///
    /// # Panics
    /// From 2²⁸ (268 million) triangles on, for which leaves have no room.
    pub fn build(triangles: Vec<[Vec3; 3]>) -> Self {
        assert!(
            triangles.len() < 1 << FIRST_BITS,
            "a kernel holds fewer than 2^28 triangles"
        );
        let count = u32::try_from(triangles.len()).unwrap_or(u32::MAX);
        let (mut number, without_area): (Vec<u32>, Vec<u32>) =
            (0..count).partition(|index| has_area(&triangles[*index as usize]));
        let boxes: Vec<Aabb> = number
            .iter()
            .map(|index| around(&triangles[*index as usize]))
            .collect();
        let mut kernel = Self::default();
        if !boxes.is_empty() {
            let tree = build_bvh2(&boxes, params(), &mut Duration::default());
            drop(boxes);
            let mut order = Vec::with_capacity(triangles.len());
            kernel.stack = Widening {
                tree: &tree,
                order: &mut order,
                nodes: &mut kernel.nodes,
            }
            .run();
            number = order
                .into_iter()
                .map(|index| number[index as usize])
                .collect();
        }
        number.extend(without_area);
        kernel.place = vec![0; number.len()];
        for (place, index) in (0u32..).zip(&number) {
            kernel.place[*index as usize] = place;
        }
        kernel.corners = number
            .iter()
            .map(|index| triangles[*index as usize].map(|corner| corner.to_array()))
            .collect();
        kernel.number = number;
        kernel.set_bounds();
        kernel
    }

    fn set_bounds(&mut self) {
        let mut corners = self
            .corners
            .iter()
            .flatten()
            .map(|c| Vec3::from_array(*c))
            .filter(|c| c.is_finite());
        self.bounds = corners.next().map(|first| {
            corners.fold((first, first), |(least, most), c| {
                (least.min(c), most.max(c))
            })
        });
        self.size = self.bounds.map_or(0.0, |(least, most)| {
            f64::from(least.abs().max_element().max(most.abs().max_element()))
        });
    }

    /// Shows every triangle that the ray meets between its ends to the visitor, nearer boxes first.
    pub(super) fn visit(
        &self,
        ray: &Ray,
        skip: Option<u32>,
        mut visitor: impl FnMut(usize, Meeting, &[[f32; 3]; 3]) -> Next,
    ) {
        if self.nodes.is_empty() {
            return;
        }
        let skip = skip.map_or(usize::MAX, |index| self.place[index as usize] as usize);
        let mut stack = Vec::with_capacity(self.stack);
        let mut limit = Ray::box_depth(ray.depth_max);
        stack.push((0.0, 0));
        while let Some((depth, child)) = stack.pop() {
            if depth > limit {
                continue;
            }
            let Some(range) = leaf(child) else {
                let from = stack.len();
                let node = &self.nodes[child as usize];
                for lane in 0..WIDTH {
                    if let Some(depth) = enter(node, lane, ray, limit) {
                        stack.push((depth, node.child[lane]));
                    }
                }
                stack[from..].sort_by(|a, b| b.0.total_cmp(&a.0));
                continue;
            };
            for place in range.filter(|place| *place != skip) {
                let corners = &self.corners[place];
                let Some(meeting) = meet(ray, corners) else {
                    continue;
                };
                if ray.outside(corners, meeting.depth) {
                    continue;
                }
                match visitor(place, meeting, corners) {
                    Next::Go => {}
                    Next::Within(depth) => limit = Ray::box_depth(depth),
                    Next::Stop => return,
                }
            }
        }
    }
}

/// Where the ray enters the box of a child, if it does before the limit.
fn enter(node: &Node, lane: usize, ray: &Ray, limit: f32) -> Option<f32> {
    let (mut near, mut far) = (0.0f32, f32::INFINITY);
    for axis in 0..3 {
        let (first, last) = if ray.inverse[axis] > 0.0 {
            (axis, axis + 3)
        } else {
            (axis + 3, axis)
        };
        near = near.max((node.planes[first][lane] - ray.near[axis]) * ray.inverse[axis]);
        far = far.min((node.planes[last][lane] - ray.far[axis]) * ray.inverse[axis]);
    }
    (near <= Ray::stretch(far).min(limit)).then_some(near)
}

fn params() -> BvhBuildParams {
    BvhBuildParams {
        pre_split: false,
        ploc_search_distance: PlocSearchDistance::Low,
        search_depth_threshold: 2,
        reinsertion_batch_ratio: 0.02,
        post_collapse_reinsertion_batch_ratio_multiplier: 0.0,
        sort_precision: SortPrecision::U64,
        max_prims_per_leaf: LEAF,
        collapse_traversal_cost: 3.0,
    }
}

fn around(triangle: &[Vec3; 3]) -> Aabb {
    let [a, b, c] = *triangle;
    Aabb::new(a.min(b).min(c).into(), a.max(b).max(c).into())
}

/// Two corners apart and the third off their line, exactly: differences of f32 are exact in f64 (unless
/// they differ by over 2²⁹, where the rounding does not make them equal), and equal rounded products are
/// told apart by their rounding errors.
fn has_area(triangle: &[Vec3; 3]) -> bool {
    let [a, b, c] = triangle.map(|corner| corner.as_dvec3());
    let (e, f): (DVec3, DVec3) = (b - a, c - a);
    let differ = |p: f64, q: f64, r: f64, s: f64| {
        let (left, right) = (p * q, r * s);
        (left - right).abs() > 0.0 || (p.mul_add(q, -left) - r.mul_add(s, -right)).abs() > 0.0
    };
    triangle.iter().all(|corner| corner.is_finite())
        && (differ(e.x, f.y, e.y, f.x) || differ(e.y, f.z, e.z, f.y) || differ(e.z, f.x, e.x, f.z))
}

/// Turns the binary hierarchy into eight-wide nodes.
struct Widening<'a> {
    tree: &'a Bvh2,
    order: &'a mut Vec<u32>,
    nodes: &'a mut Vec<Node>,
}

impl Widening<'_> {
    /// Fills nodes and order; returns the largest stack that a walk needs.
    fn run(&mut self) -> usize {
        self.nodes.push(Node::EMPTY);
        let mut deepest = 1;
        // Binary node, wide node it becomes, entries waiting on the stack when it is opened.
        let mut open = vec![(0usize, 0usize, 0usize)];
        while let Some((binary, wide, waiting)) = open.pop() {
            let members = self.members(binary);
            let waiting = waiting + members.len();
            deepest = deepest.max(waiting);
            for (lane, member) in members.into_iter().enumerate() {
                let node = &self.tree.nodes[member];
                let child = if node.is_leaf() {
                    self.leaf(node.first_index, node.prim_count)
                } else {
                    let number = self.nodes.len();
                    self.nodes.push(Node::EMPTY);
                    open.push((member, number, waiting));
                    u32::try_from(number).unwrap_or(u32::MAX)
                };
                self.nodes[wide].set(lane, node.aabb(), child);
            }
        }
        deepest
    }

    /// The binary nodes that become the children: the largest inner one is opened until there are eight.
    fn members(&self, binary: usize) -> Vec<usize> {
        let mut members = vec![binary];
        while members.len() < WIDTH {
            let largest = (0..members.len())
                .filter(|lane| !self.tree.nodes[members[*lane]].is_leaf())
                .max_by(|a, b| {
                    let area = |lane: usize| self.tree.nodes[members[lane]].aabb().half_area();
                    area(*a).total_cmp(&area(*b))
                });
            let Some(lane) = largest else { break };
            let first = self.tree.nodes[members[lane]].first_index as usize;
            members[lane] = first;
            members.push(first + 1);
        }
        members
    }

    fn leaf(&mut self, first: u32, count: u32) -> u32 {
        let place = u32::try_from(self.order.len()).unwrap_or(u32::MAX);
        let range = first as usize..(first + count) as usize;
        self.order.extend(&self.tree.primitive_indices[range]);
        IS_LEAF | (count - 1) << FIRST_BITS | place
    }
}
