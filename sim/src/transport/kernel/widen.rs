//! Decides which nodes of a binary hierarchy become the children of eight-wide ones.
//!
//! In: the binary hierarchy. Out: for a binary node, the up to eight below it that are its children. The
//! choice has the least expected number of boxes and blocks that a random line opens, each weighted by
//! its surface area (Ylitie, Karras, Laine, "Efficient incoherent ray traversal on GPUs through
//! compressed wide BVHs", HPG 2017, section 3.1).

use super::layout::WIDTH;
use obvhs::bvh2::Bvh2;

/// Cost of a block of triangles, of a node 1; measured, not critical.
const BLOCK_COST: f32 = 0.9;

/// Least costs of a binary node's triangles as 1 to 7 children of some wide node.
type Costs = [f32; WIDTH - 1];

/// The costs of all nodes.
pub(super) struct Widening<'a> {
    tree: &'a Bvh2,
    costs: Vec<Costs>,
}

impl<'a> Widening<'a> {
    /// Weighs all nodes, children before parents.
    pub fn new(tree: &'a Bvh2) -> Self {
        let mut order = vec![0usize];
        let mut next = 0;
        while next < order.len() {
            let node = &tree.nodes[order[next]];
            if !node.is_leaf() {
                let first = node.first_index as usize;
                order.extend([first, first + 1]);
            }
            next += 1;
        }
        let mut widening = Self {
            tree,
            costs: vec![[0.0; WIDTH - 1]; tree.nodes.len()],
        };
        for index in order.into_iter().rev() {
            widening.costs[index] = widening.weigh(index);
        }
        widening
    }

    fn weigh(&self, index: usize) -> Costs {
        let node = &self.tree.nodes[index];
        let area = node.aabb().half_area();
        if node.is_leaf() {
            return [area * BLOCK_COST; WIDTH - 1];
        }
        let mut costs = [0.0; WIDTH - 1];
        costs[0] = area + self.split(index, WIDTH).0;
        for slots in 2..WIDTH {
            costs[slots - 1] = self.split(index, slots).0.min(costs[slots - 2]);
        }
        costs
    }

    /// Cheapest way to give `slots` to the two children of an inner node, and the left one's share.
    fn split(&self, index: usize, slots: usize) -> (f32, usize) {
        let first = self.tree.nodes[index].first_index as usize;
        let (left, right) = (&self.costs[first], &self.costs[first + 1]);
        let mut best = (f32::INFINITY, 1);
        for share in 1..slots {
            let cost = left[share - 1] + right[slots - share - 1];
            if cost < best.0 {
                best = (cost, share);
            }
        }
        best
    }

    /// The children of an inner node made wide.
    pub fn children(&self, index: usize) -> Vec<usize> {
        let mut children = Vec::with_capacity(WIDTH);
        let mut open = vec![(index, WIDTH)];
        while let Some((index, slots)) = open.pop() {
            let slots = self.used(index, slots);
            if slots == 1 || self.tree.nodes[index].is_leaf() {
                children.push(index);
                continue;
            }
            let share = self.split(index, slots).1;
            let first = self.tree.nodes[index].first_index as usize;
            open.extend([(first + 1, slots - share), (first, share)]);
        }
        children
    }

    /// The fewest slots that cost as little as those given.
    fn used(&self, index: usize, slots: usize) -> usize {
        if slots == WIDTH {
            return slots;
        }
        let costs = &self.costs[index];
        (1..slots)
            .find(|fewer| costs[fewer - 1] <= costs[slots - 1])
            .unwrap_or(slots)
    }
}
