//! Facets grouped by likeness: a binary tree over place and outlook.
//!
//! In: features and areas of a part's facets. Out: a tree whose groups at every level hold like areas.

use super::features::Features;
use std::ops::Range;

/// Groups are not cut below so many facets.
const FEWEST: usize = 8;

/// A tree over facets.
pub(super) struct Tree {
    /// Facet numbers; every node is a run of them.
    pub order: Vec<u32>,
    nodes: Vec<Node>,
}

struct Node {
    run: Range<usize>,
    area: f64,
    /// Number of the first of two children.
    children: Option<usize>,
}

impl Tree {
    /// Cuts along the widest axis so that either side holds half the area.
    ///
    /// - `length_m`: how much place a change of direction is worth, m
    /// - `smallest`: area below which a group is not cut
    pub fn new(features: &[Features], areas: &[f64], length_m: f32, smallest: f64) -> Self {
        let count = u32::try_from(features.len()).unwrap_or(u32::MAX);
        let mut tree = Self {
            order: (0..count).collect(),
            nodes: vec![Node {
                run: 0..features.len(),
                area: areas.iter().sum(),
                children: None,
            }],
        };
        let mut next = 0;
        while next < tree.nodes.len() {
            let (run, area) = (tree.nodes[next].run.clone(), tree.nodes[next].area);
            if run.len() >= 2 * FEWEST && area > smallest {
                let slice = &mut tree.order[run.clone()];
                let (cut, left) = cut(slice, features, areas, length_m);
                let middle = run.start + cut;
                tree.nodes[next].children = Some(tree.nodes.len());
                for (run, area) in [(run.start..middle, left), (middle..run.end, area - left)] {
                    let children = None;
                    tree.nodes.push(Node {
                        run,
                        area,
                        children,
                    });
                }
            }
            next += 1;
        }
        tree
    }

    /// The groups of at most an area, or that are not cut; runs of `order`, in order.
    pub fn groups(&self, area: f64) -> Vec<Range<usize>> {
        let mut found = Vec::new();
        let mut waiting = vec![0];
        while let Some(number) = waiting.pop() {
            let node = &self.nodes[number];
            match node.children {
                Some(first) if node.area > area => waiting.extend([first + 1, first]),
                _ => found.push(node.run.clone()),
            }
        }
        found
    }
}

/// Sorts a run along its widest axis as far as is needed; returns where to cut and the area before it.
fn cut(run: &mut [u32], features: &[Features], areas: &[f64], length_m: f32) -> (usize, f64) {
    let at = |facet: u32, axis: usize| features[facet as usize].coordinate(axis, length_m);
    let width = |axis: usize| {
        let values = run.iter().map(|&facet| at(facet, axis));
        let (least, most) = values.fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), x| {
            (a.min(x), b.max(x))
        });
        most - least
    };
    let widths: [f32; 6] = std::array::from_fn(width);
    let mut axis = 0;
    for other in 1..6 {
        if widths[other] > widths[axis] {
            axis = other;
        }
    }
    run.sort_unstable_by(|&a, &b| at(a, axis).total_cmp(&at(b, axis)).then(a.cmp(&b)));
    let whole: f64 = run.iter().map(|&facet| areas[facet as usize]).sum();
    let (mut cut, mut left) = (0, 0.0);
    let last = run.len() - FEWEST;
    while cut < FEWEST || (cut < last && left < 0.5 * whole) {
        left += areas[run[cut] as usize];
        cut += 1;
    }
    (cut, left)
}
