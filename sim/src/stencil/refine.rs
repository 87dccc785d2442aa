//! A sheet cut finer: edges are halved until a caller is content with each of them.
//!
//! In: a [`Sheet`] and which of its edges are too long. Out: the same area in more triangles, without gaps. Used when a
//! sheet is laid.
//!
//! Halving nothing but what is too long may go on for ever: each cut makes new edges, slivers fan out from a corner, and
//! new edges as long as the last ones come of them. So, where asked, a triangle that is cut anywhere is cut at its longest
//! edge too, and the new edge starts there. Then no angle falls below half of the smallest at the start, and triangles
//! shorter than the shortest edge that is too long are never cut (Rivara, "Algorithms for refining triangular grids
//! suitable for adaptive and multigrid techniques", Int. J. Numer. Meth. Eng. 20, 1984; Rosenberg and Stenger, "A lower
//! bound on the angles of triangles constructed by bisecting the longest side", Math. Comp. 29, 1975).

use super::sheet::{Sheet, number};
use glam::DVec2;
use std::collections::{HashMap, HashSet};

/// Most triangles that refining makes of one side of a sheet.
const MOST_TRIANGLES: usize = 400_000;

/// Which edges are halved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Halved {
    /// Those that are too long; good where lengths count along one axis alone.
    TooLong,
    /// Those, and the longest of every triangle that is cut.
    Longest,
}

/// An edge by its corners, the lower number first.
type Edge = [u32; 2];

fn edges([a, b, c]: [u32; 3]) -> [Edge; 3] {
    [[a, b], [b, c], [c, a]].map(|[from, to]| [from.min(to), from.max(to)])
}

impl Sheet {
    /// Halves edges as long as `too_long` says so of them, which it is asked once of each; a triangle is cut where its
    /// edges are, so that nothing gapes. Returns false if that would have taken too many triangles.
    pub(super) fn refine(
        &mut self,
        halved: Halved,
        too_long: impl Fn(DVec2, DVec2) -> bool,
    ) -> bool {
        // looked up only, never gone through: their order does not matter
        let mut good: HashSet<Edge> = HashSet::new();
        loop {
            let mut middles: HashMap<Edge, u32> = HashMap::new();
            let mut points_m = std::mem::take(&mut self.points_m);
            let before = points_m.len();
            for edge in self.triangles.iter().flat_map(|row| edges(*row)) {
                if good.contains(&edge) || middles.contains_key(&edge) {
                    continue;
                }
                let [p, q] = edge.map(|end| points_m[end as usize]);
                if too_long(p, q) {
                    middles.insert(edge, number(points_m.len()));
                    points_m.push(0.5 * (p + q));
                } else {
                    good.insert(edge);
                }
            }
            if halved == Halved::Longest {
                self.halve_longest(&mut points_m, &mut middles);
            }
            self.points_m = points_m;
            if middles.is_empty() {
                return true;
            }
            if 2 * self.points_m.len() > MOST_TRIANGLES {
                self.points_m.truncate(before);
                return false;
            }
            self.halve(&middles);
        }
    }

    /// Adds the longest edge of every triangle that is cut, until there is none to add.
    fn halve_longest(&self, points_m: &mut Vec<DVec2>, middles: &mut HashMap<Edge, u32>) {
        loop {
            let before = middles.len();
            for row in &self.triangles {
                let edges = edges(*row);
                if !edges.iter().any(|edge| middles.contains_key(edge)) {
                    continue;
                }
                let longest = longest(edges, points_m);
                middles.entry(longest).or_insert_with(|| {
                    let [p, q] = longest.map(|end| points_m[end as usize]);
                    points_m.push(0.5 * (p + q));
                    number(points_m.len() - 1)
                });
            }
            if middles.len() == before {
                return;
            }
        }
    }

    fn halve(&mut self, middles: &HashMap<Edge, u32>) {
        let middle = |a: u32, b: u32| middles.get(&[a.min(b), a.max(b)]).copied();
        let mut rim = Vec::with_capacity(self.rim.len());
        for &[a, b] in &self.rim {
            match middle(a, b) {
                None => rim.push([a, b]),
                Some(m) => rim.extend([[a, m], [m, b]]),
            }
        }
        let mut triangles = Vec::with_capacity(self.triangles.len());
        for &[a, b, c] in &self.triangles {
            let middles = [middle(a, b), middle(b, c), middle(c, a)];
            pieces([a, b, c], middles, &self.points_m, &mut triangles);
        }
        self.rim = rim;
        self.triangles = triangles;
    }
}

/// The longest of some edges; of equal ones, that of the lowest corners, so that neighbours agree.
fn longest(edges: [Edge; 3], points_m: &[DVec2]) -> Edge {
    let length = |edge: &Edge| {
        let [p, q] = edge.map(|end| points_m[end as usize]);
        p.distance_squared(q)
    };
    let [first, rest @ ..] = edges;
    rest.into_iter().fold(first, |best, edge| {
        let order = length(&edge).total_cmp(&length(&best));
        if order.then_with(|| best.cmp(&edge)).is_gt() {
            edge
        } else {
            best
        }
    })
}

/// Appends a triangle cut at the middles of its edges (ab, bc, ca), where there are such.
fn pieces(
    [a, b, c]: [u32; 3],
    middles: [Option<u32>; 3],
    points_m: &[DVec2],
    into: &mut Vec<[u32; 3]>,
) {
    match middles {
        [None, None, None] => into.push([a, b, c]),
        [Some(m), None, None] => into.extend([[a, m, c], [m, b, c]]),
        [Some(m), Some(n), None] => {
            into.push([m, b, n]);
            // the shorter diagonal of what is left: it starts at the middle of the longer edge
            let length = |ends: [u32; 2]| {
                let [p, q] = ends.map(|end| points_m[end as usize]);
                p.distance_squared(q)
            };
            if length([a, n]) < length([m, c]) {
                into.extend([[a, m, n], [a, n, c]]);
            } else {
                into.extend([[a, m, c], [m, n, c]]);
            }
        }
        [Some(m), Some(n), Some(o)] => {
            into.extend([[a, m, o], [m, b, n], [o, n, c], [m, n, o]]);
        }
        // turned until it is one of those
        [first, second, third] => pieces([b, c, a], [second, third, first], points_m, into),
    }
}
