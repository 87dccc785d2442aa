//! A tree of triangles for distances.
//!
//! In: corners of triangles. Out: nested boxes and spheres over them, in a fixed order, and the nearest
//! point of the surface. (Rays are the business of the ray kernel, which has its own hierarchy.)

use super::distance::{closest_on_triangle, to_box};
use glam::{DVec2, DVec3};
use std::ops::Range;

/// Triangles per leaf.
const LEAF: usize = 4;

/// A balanced tree over triangles: nodes in preorder, halves by count along the widest direction.
#[derive(Debug, Clone, Default)]
pub struct Tree {
    nodes: Vec<Node>,
    /// Corners, in the order of the leaves.
    corners: Vec<[DVec3; 3]>,
    /// Number of each triangle in the caller's order, in the order of the leaves.
    numbers: Vec<u32>,
}

/// A node: what surrounds its triangles, and which they are.
#[derive(Debug, Clone, Copy)]
struct Node {
    low: DVec3,
    high: DVec3,
    /// Largest distance of a corner from the middle of the box.
    radius_m: f64,
    start: u32,
    end: u32,
    /// The second half (the first follows the node); 0 for a leaf.
    second: u32,
}

/// The nearest point of a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Triangle in the caller's order.
    pub triangle: u32,
    /// The point, m.
    pub position_m: DVec3,
    /// Weights of the triangle's second and third corner there.
    pub bary: DVec2,
    /// Distance, m.
    pub distance_m: f64,
}

impl Tree {
    /// Builds the tree.
    ///
    /// - `triangles`: number (of the caller's choice) and corners, m
    pub fn build(triangles: impl Iterator<Item = (u32, [DVec3; 3])>) -> Self {
        let mut entries: Vec<(u32, [DVec3; 3])> = triangles.collect();
        let count = nodes_over(entries.len());
        let blank = Node {
            low: DVec3::ZERO,
            high: DVec3::ZERO,
            radius_m: 0.0,
            start: 0,
            end: 0,
            second: 0,
        };
        let mut nodes = vec![blank; count];
        if !entries.is_empty() {
            split(&mut entries, &mut nodes, [0, 0]);
        }
        let (numbers, corners) = entries.into_iter().unzip();
        Self {
            nodes,
            corners,
            numbers,
        }
    }

    /// Whether it holds no triangle.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// The root's box; none when empty.
    pub fn bounds(&self) -> Option<[DVec3; 2]> {
        self.nodes.first().map(|root| [root.low, root.high])
    }

    /// The box around a node.
    pub fn node_box(&self, node: u32) -> [DVec3; 2] {
        let node = &self.nodes[node as usize];
        [node.low, node.high]
    }

    /// A sphere around a node: centre and radius, m.
    pub fn node_sphere(&self, node: u32) -> (DVec3, f64) {
        let node = &self.nodes[node as usize];
        (0.5 * (node.low + node.high), node.radius_m)
    }

    /// The two halves of a node; none for a leaf.
    pub fn halves(&self, node: u32) -> Option<[u32; 2]> {
        match self.nodes[node as usize].second {
            0 => None,
            second => Some([node + 1, second]),
        }
    }

    /// Corners of a node's triangles.
    pub fn triangles(&self, node: u32) -> &[[DVec3; 3]] {
        &self.corners[self.range(node)]
    }

    /// Numbers of a node's triangles.
    pub fn numbers(&self, node: u32) -> &[u32] {
        &self.numbers[self.range(node)]
    }

    /// The nearest point of the surface; none when empty.
    pub fn nearest(&self, point: DVec3) -> Option<Nearest> {
        let mut best: Option<Nearest> = None;
        let mut stack = vec![0];
        if self.is_empty() {
            return None;
        }
        while let Some(node) = stack.pop() {
            let away = to_box(point, self.node_box(node));
            if best.is_some_and(|best| away >= best.distance_m) {
                continue;
            }
            if let Some(mut halves) = self.halves(node) {
                let [first, second] = halves.map(|half| to_box(point, self.node_box(half)));
                if first < second {
                    halves.reverse(); // the nearer half is taken first
                }
                stack.extend(halves);
                continue;
            }
            for (&triangle, &corners) in self.numbers(node).iter().zip(self.triangles(node)) {
                let (position_m, bary) = closest_on_triangle(point, corners);
                let distance_m = position_m.distance(point);
                let nearer = best.is_none_or(|best| {
                    distance_m < best.distance_m
                        || (distance_m <= best.distance_m && triangle < best.triangle)
                });
                if nearer {
                    best = Some(Nearest {
                        triangle,
                        position_m,
                        bary: DVec2::from_array(bary),
                        distance_m,
                    });
                }
            }
        }
        best
    }

    fn range(&self, node: u32) -> Range<usize> {
        let node = &self.nodes[node as usize];
        node.start as usize..node.end as usize
    }
}

/// Triangles in the first half of a node; none for a leaf.
fn half_of(count: usize) -> Option<usize> {
    (count > LEAF).then_some(count / 2)
}

/// Nodes of the tree over a number of triangles.
fn nodes_over(count: usize) -> usize {
    match half_of(count) {
        _ if count == 0 => 0,
        None => 1,
        Some(half) => 1 + nodes_over(half) + nodes_over(count - half),
    }
}

/// Fills the nodes over a run of triangles and sorts the run to fit.
///
/// - `from`: number of the run's first triangle and of its first node
fn split(entries: &mut [(u32, [DVec3; 3])], nodes: &mut [Node], from: [u32; 2]) {
    let [start, node] = from;
    let corners = || entries.iter().flat_map(|entry| entry.1);
    let low = corners().fold(DVec3::INFINITY, DVec3::min);
    let high = corners().fold(DVec3::NEG_INFINITY, DVec3::max);
    let middle = 0.5 * (low + high);
    let radius_m = corners().map(|at| at.distance(middle)).fold(0.0, f64::max);
    let end = start + u32::try_from(entries.len()).unwrap_or(u32::MAX);
    nodes[0] = Node {
        low,
        high,
        radius_m,
        start,
        end,
        second: 0,
    };
    let Some(half) = half_of(entries.len()) else {
        return;
    };
    let extent = high - low;
    let axis = if extent.x >= extent.y && extent.x >= extent.z {
        0
    } else if extent.y >= extent.z {
        1
    } else {
        2
    };
    let place = |entry: &(u32, [DVec3; 3])| {
        let [a, b, c] = entry.1;
        (a + b + c)[axis]
    };
    entries.select_nth_unstable_by(half, |one, other| {
        place(one)
            .total_cmp(&place(other))
            .then(one.0.cmp(&other.0))
    });
    let (first, second) = entries.split_at_mut(half);
    let left_nodes = nodes_over(half);
    let second_node = node + 1 + u32::try_from(left_nodes).unwrap_or(u32::MAX);
    nodes[0].second = second_node;
    let (left, right) = nodes[1..].split_at_mut(left_nodes);
    let second_start = start + u32::try_from(half).unwrap_or(u32::MAX);
    let from = [[start, node + 1], [second_start, second_node]];
    if first.len() > 4096 {
        rayon::join(
            || split(first, left, from[0]),
            || split(second, right, from[1]),
        );
    } else {
        split(first, left, from[0]);
        split(second, right, from[1]);
    }
}
