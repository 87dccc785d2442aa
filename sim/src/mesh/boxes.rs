//! Box trees: which of many boxes meet a ray, a box, or the boxes of another tree.
//!
//! In: the boxes of triangles or of shells, in f64. Out: their numbers. Only for judging a mesh;
//! rays of atoms go through the kernel of `transport`.

use glam::DVec3;

/// Most items in a leaf.
const LEAF: usize = 4;

/// An axis-aligned box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub low: DVec3,
    pub high: DVec3,
}

impl Bounds {
    /// The box of no points.
    pub const NOTHING: Self = Self {
        low: DVec3::INFINITY,
        high: DVec3::NEG_INFINITY,
    };

    /// The box of some points.
    pub fn of(points: impl IntoIterator<Item = DVec3>) -> Self {
        points
            .into_iter()
            .fold(Self::NOTHING, |bounds, point| Self {
                low: bounds.low.min(point),
                high: bounds.high.max(point),
            })
    }

    /// The box of both.
    pub fn join(self, other: Self) -> Self {
        Self {
            low: self.low.min(other.low),
            high: self.high.max(other.high),
        }
    }

    /// True if the boxes have a point in common.
    pub fn meets(&self, other: &Self) -> bool {
        self.low.cmple(other.high).all() && other.low.cmple(self.high).all()
    }

    /// True if the other box lies within this one.
    pub fn holds(&self, other: &Self) -> bool {
        self.low.cmple(other.low).all() && other.high.cmple(self.high).all()
    }

    /// True if the ray from `origin`, with `inverse` of its direction per axis, may meet the box.
    ///
    /// Each bound is widened by 4 units in the last place of its magnitude, more than the two
    /// roundings of the slab test can lose.
    fn may_be_hit(&self, origin: DVec3, inverse: DVec3) -> bool {
        let slack = 4.0 * f64::EPSILON;
        let to_low = (self.low - origin) * inverse;
        let to_high = (self.high - origin) * inverse;
        let near = to_low.min(to_high);
        let far = to_low.max(to_high);
        let enter = (near - near.abs() * slack).max_element();
        let leave = (far + far.abs() * slack).min_element();
        leave >= enter.max(0.0)
    }
}

/// A node: its box, and either its first child (the second follows it) or its items.
#[derive(Debug, Clone)]
struct Node {
    bounds: Bounds,
    first: usize,
    /// Items of a leaf; 0 for an inner node.
    items: usize,
}

/// A tree over boxes.
#[derive(Debug, Clone)]
pub(super) struct Tree {
    nodes: Vec<Node>,
    items: Vec<u32>,
}

impl Tree {
    /// Builds a tree over the items, whose boxes `bounds_of` gives; halves are split at the median
    /// of the longest axis.
    pub fn over(items: Vec<u32>, bounds_of: impl Fn(u32) -> Bounds) -> Self {
        let mut tree = Self {
            nodes: Vec::with_capacity(items.len() / 2 + 1),
            items,
        };
        if tree.items.is_empty() {
            return tree;
        }
        tree.nodes.push(Node {
            bounds: Bounds::NOTHING,
            first: 0,
            items: tree.items.len(),
        });
        let mut open = vec![0];
        while let Some(at) = open.pop() {
            let (first, count) = (tree.nodes[at].first, tree.nodes[at].items);
            let own = &mut tree.items[first..first + count];
            let mut centres = Bounds::NOTHING;
            let mut bounds = Bounds::NOTHING;
            for item in own.iter() {
                let one = bounds_of(*item);
                bounds = bounds.join(one);
                centres = centres.join(Bounds::of([one.low.midpoint(one.high)]));
            }
            tree.nodes[at].bounds = bounds;
            if count <= LEAF {
                continue;
            }
            let axis = (centres.high - centres.low).max_position();
            let half = count / 2;
            own.select_nth_unstable_by(half, |a, b| {
                let centre = |item: u32| {
                    let one = bounds_of(item);
                    one.low[axis] + one.high[axis]
                };
                centre(*a).total_cmp(&centre(*b)).then(a.cmp(b))
            });
            let children = tree.nodes.len();
            for (first, items) in [(first, half), (first + half, count - half)] {
                let bounds = Bounds::NOTHING;
                tree.nodes.push(Node {
                    bounds,
                    first,
                    items,
                });
            }
            tree.nodes[at].first = children;
            tree.nodes[at].items = 0;
            open.extend([children, children + 1]);
        }
        tree
    }

    /// The box of everything.
    pub fn bounds(&self) -> Bounds {
        self.nodes
            .first()
            .map_or(Bounds::NOTHING, |root| root.bounds)
    }

    /// Visits the items in leaves whose box meets `bounds`.
    pub fn meeting(&self, bounds: &Bounds, visit: impl FnMut(u32)) {
        self.visit(|node| node.meets(bounds), visit);
    }

    /// Visits the items in leaves whose box the ray may meet.
    pub fn along(&self, origin: DVec3, direction: DVec3, visit: impl FnMut(u32)) {
        let inverse = direction.recip();
        self.visit(|node| node.may_be_hit(origin, inverse), visit);
    }

    fn visit(&self, enters: impl Fn(&Bounds) -> bool, mut visit: impl FnMut(u32)) {
        if self.nodes.is_empty() {
            return;
        }
        // Halving keeps the tree flatter than 64 levels, and each level leaves one node behind.
        let mut open = Vec::with_capacity(64);
        open.push(0);
        while let Some(at) = open.pop() {
            let node = &self.nodes[at];
            if !enters(&node.bounds) {
                continue;
            }
            if node.items > 0 {
                for item in &self.items[node.first..node.first + node.items] {
                    visit(*item);
                }
            } else {
                open.extend([node.first, node.first + 1]);
            }
        }
    }

    /// Visits pairs of items of two trees whose leaves' boxes meet, until `visit` says `false` or
    /// `steps` pairs of nodes were looked at; returns whether it came to the end.
    pub fn pairs(&self, other: &Self, steps: u64, mut visit: impl FnMut(u32, u32) -> bool) -> bool {
        if self.nodes.is_empty() || other.nodes.is_empty() {
            return true;
        }
        let mut left = steps;
        let mut open = vec![(0, 0)];
        while let Some((one, two)) = open.pop() {
            if left == 0 {
                return false;
            }
            left -= 1;
            let (a, b) = (&self.nodes[one], &other.nodes[two]);
            if !a.bounds.meets(&b.bounds) {
                continue;
            }
            match (a.items > 0, b.items > 0) {
                (true, true) => {
                    for item in &self.items[a.first..a.first + a.items] {
                        for partner in &other.items[b.first..b.first + b.items] {
                            if !visit(*item, *partner) {
                                return false;
                            }
                        }
                    }
                }
                (false, true) => open.extend([(a.first, two), (a.first + 1, two)]),
                (true, false) => open.extend([(one, b.first), (one, b.first + 1)]),
                (false, false) => {
                    // The larger one is opened, so that both shrink together.
                    if size(a) >= size(b) {
                        open.extend([(a.first, two), (a.first + 1, two)]);
                    } else {
                        open.extend([(one, b.first), (one, b.first + 1)]);
                    }
                }
            }
        }
        true
    }
}

fn size(node: &Node) -> f64 {
    (node.bounds.high - node.bounds.low).length_squared()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_tree_finds_what_asking_each_box_finds(
            boxes in prop::collection::vec(
                (prop::array::uniform3(-10.0_f64..10.0), prop::array::uniform3(0.0_f64..3.0)), 0..60),
            asked in (prop::array::uniform3(-10.0_f64..10.0), prop::array::uniform3(0.0_f64..5.0)),
            direction in prop::array::uniform3(-1.0_f64..1.0),
        ) {
            let bounds = |(low, size): &([f64; 3], [f64; 3])| Bounds {
                low: DVec3::from_array(*low),
                high: DVec3::from_array(*low) + DVec3::from_array(*size),
            };
            let all: Vec<_> = boxes.iter().map(bounds).collect();
            let asked = bounds(&asked);
            let direction = DVec3::from_array(direction);
            let items: Vec<u32> = (0..).take(all.len()).collect();
            let tree = Tree::over(items.clone(), |item| all[item as usize]);
            let mut met = Vec::new();
            tree.meeting(&asked, |item| met.push(item));
            let mut hit = Vec::new();
            tree.along(asked.low, direction, |item| hit.push(item));
            let mut paired = Vec::new();
            let single = Tree::over(vec![0], |_| asked);
            let ended = tree.pairs(&single, u64::MAX, |item, _| {
                paired.push(item);
                true
            });
            prop_assert!(ended);
            for item in items {
                let one = &all[item as usize];
                if one.meets(&asked) {
                    prop_assert!(met.contains(&item));
                    prop_assert!(paired.contains(&item));
                }
                if one.may_be_hit(asked.low, direction.recip()) {
                    prop_assert!(hit.contains(&item));
                }
            }
        }
    }
}
