//! Triangles that share corners and edges, refined towards contacts and cut along their rims.

use super::weld::Weld;
use super::{Contact, Sheet};
use crate::geometry::bounds;
use crate::geometry::distance::closest_on_triangle;
use glam::DVec3;
use rustc_hash::FxHashMap as HashMap;
use std::collections::BTreeSet;

/// Corners nearer than this share of the extent are one.
const SAME: f64 = 1e-7;
/// Rounds of refining.
const MOST_ROUNDS: u32 = 60;
/// Triangles that refining may end with, at most, beyond those it began with.
const MOST_ADDED: usize = 100_000;
/// Edge on a contact over the contact's radius.
const OF_RADIUS: f64 = 1.0 / 6.0;
/// Edge away from a contact over the distance from its rim.
const OF_DISTANCE: f64 = 0.25;
/// A rim that passes so near to a corner, as a share of the edge, passes through it.
const AT_CORNER: f64 = 0.05;

/// Triangles that share corners; only those that conduct.
pub(super) struct Net {
    pub points: Vec<DVec3>,
    pub triangles: Vec<[u32; 3]>,
    pub square_s: Vec<f64>,
    /// The sheet's triangle that each one is a piece of.
    pub from: Vec<u32>,
    weld: Weld,
}

/// An edge by its lower and its higher corner.
type Edge = (u32, u32);

fn edge(a: u32, b: u32) -> Edge {
    (a.min(b), a.max(b))
}

fn edges([a, b, c]: [u32; 3]) -> [Edge; 3] {
    [edge(a, b), edge(b, c), edge(c, a)]
}

/// Longest edge that is wanted at a place, m; by a factor shorter.
pub(super) fn sizes_of(contacts: [Contact; 2], fineness: f64) -> impl Fn(DVec3) -> f64 {
    move |at| {
        let of = |contact: Contact| {
            let off_rim_m = (at.distance(contact.at_m) - contact.radius_m).max(0.0);
            (OF_RADIUS * contact.radius_m).max(OF_DISTANCE * off_rim_m)
        };
        of(contacts[0]).min(of(contacts[1])) / fineness
    }
}

impl Net {
    pub fn of(sheet: &Sheet) -> Self {
        let conducting = || {
            let both = sheet.corners_m.iter().zip(&sheet.square_s).zip(0_u32..);
            both.filter(|((_, square_s), _)| **square_s > 0.0)
        };
        let around = bounds(conducting().flat_map(|((corners, _), _)| *corners));
        let extent_m = around.map_or(1.0, |[low, high]| (high - low).max_element());
        let mut net = Self {
            points: Vec::new(),
            triangles: Vec::new(),
            square_s: Vec::new(),
            from: Vec::new(),
            weld: Weld::of(SAME * extent_m),
        };
        for ((corners, &square_s), from) in conducting() {
            let [a, b, c] = corners.map(|corner| net.weld.number(corner, &mut net.points));
            if a != b && b != c && c != a {
                net.triangles.push([a, b, c]);
                net.square_s.push(square_s);
                net.from.push(from);
            }
        }
        net
    }

    pub fn corners(&self, triangle: usize) -> [DVec3; 3] {
        self.triangles[triangle].map(|point| self.points[point as usize])
    }

    /// Splits edges in whose middle a neighbour has a corner.
    pub fn close_gaps(&mut self) {
        for _ in 0..MOST_ROUNDS {
            let mut middles = HashMap::default();
            for (edge, sides) in Sides::of(&self.triangles, self.points.len()).by_edge() {
                if sides.len() == 1 {
                    let middle =
                        0.5 * (self.points[edge.0 as usize] + self.points[edge.1 as usize]);
                    let found = self.weld.find(middle, &self.points);
                    let found = found.filter(|&point| point != edge.0 && point != edge.1);
                    middles.extend(found.map(|point| (edge, point)));
                }
            }
            if middles.is_empty() {
                return;
            }
            self.split(&middles);
        }
    }

    /// Splits edges that are longer than wanted, and with every triangle that is split its longest edge.
    pub fn refine(&mut self, wanted_m: &impl Fn(DVec3) -> f64) {
        let most = self.triangles.len() + MOST_ADDED;
        for _ in 0..MOST_ROUNDS {
            let mut middles: HashMap<Edge, u32> = HashMap::default();
            for number in 0..self.triangles.len() {
                for (a, b) in edges(self.triangles[number]) {
                    let [p, q] = [a, b].map(|point| self.points[point as usize]);
                    if p.distance(q) > wanted_m(0.5 * (p + q)) {
                        self.middle((a, b), &mut middles);
                    }
                }
            }
            if middles.is_empty() || self.triangles.len() > most {
                return;
            }
            self.mark_longest(&mut middles);
            self.split(&middles);
        }
    }

    fn middle(&mut self, edge: Edge, middles: &mut HashMap<Edge, u32>) {
        let Self { points, .. } = self;
        middles.entry(edge).or_insert_with(|| {
            let middle = 0.5 * (points[edge.0 as usize] + points[edge.1 as usize]);
            points.push(middle);
            u32::try_from(points.len() - 1).unwrap_or(u32::MAX)
        });
    }

    fn mark_longest(&mut self, middles: &mut HashMap<Edge, u32>) {
        let mut before = 0;
        while middles.len() > before {
            before = middles.len();
            for number in 0..self.triangles.len() {
                let edges = edges(self.triangles[number]);
                if edges.iter().any(|edge| middles.contains_key(edge)) {
                    let squared = |edge: &Edge| {
                        self.points[edge.0 as usize].distance_squared(self.points[edge.1 as usize])
                    };
                    let longest = edges
                        .into_iter()
                        .max_by(|a, b| squared(a).total_cmp(&squared(b)).then(a.cmp(b)));
                    if let Some(longest) = longest {
                        self.middle(longest, middles);
                    }
                }
            }
        }
    }

    /// Splits edges at given points: in two with one of them, cutting a corner off with two, in four with three.
    fn split(&mut self, at: &HashMap<Edge, u32>) {
        let mut triangles = Vec::with_capacity(self.triangles.len() + 2 * at.len());
        let mut square_s = Vec::with_capacity(triangles.capacity());
        let mut from = Vec::with_capacity(triangles.capacity());
        for (number, triangle) in self.triangles.iter().enumerate() {
            let found = edges(*triangle).map(|edge| at.get(&edge).copied());
            self.pieces_of(*triangle, found, &mut triangles);
            square_s.resize(triangles.len(), self.square_s[number]);
            from.resize(triangles.len(), self.from[number]);
        }
        self.from = from;
        self.triangles = triangles;
        self.square_s = square_s;
    }

    fn pieces_of(&self, triangle: [u32; 3], found: [Option<u32>; 3], into: &mut Vec<[u32; 3]>) {
        let count = found.iter().flatten().count();
        if let [Some(p), Some(q), Some(r)] = found {
            let [a, b, c] = triangle;
            into.extend([[a, p, r], [p, b, q], [r, q, c], [p, q, r]]);
            return;
        }
        // turned so that the split edges come first
        let turn =
            (0..3).find(|&k| found[k].is_some() && (count == 1 || found[(k + 1) % 3].is_some()));
        let Some(turn) = turn else {
            into.push(triangle);
            return;
        };
        let [a, b, c] = [0, 1, 2].map(|k| triangle[(turn + k) % 3]);
        match (found[turn], found[(turn + 1) % 3]) {
            (Some(p), Some(q)) => {
                into.push([p, b, q]);
                let length = |x: u32, y: u32| {
                    self.points[x as usize].distance_squared(self.points[y as usize])
                };
                into.extend(if length(a, q) < length(p, c) {
                    [[a, p, q], [a, q, c]]
                } else {
                    [[a, p, c], [p, q, c]]
                });
            }
            (Some(p), None) => into.extend([[a, p, c], [p, b, c]]),
            (None, _) => into.push(triangle),
        }
    }

    /// Makes corners and edges where the rim of a contact runs.
    pub fn cut_round(&mut self, contact: Contact) {
        let radius_m = contact.radius_m;
        let mut at = HashMap::default();
        for number in 0..self.triangles.len() {
            for (a, b) in edges(self.triangles[number]) {
                let off = |point: u32| self.points[point as usize] - contact.at_m;
                let (inner, outer) = if off(a).length() < off(b).length() {
                    (a, b)
                } else {
                    (b, a)
                };
                let from = off(inner);
                if from.length() >= radius_m || off(outer).length() <= radius_m {
                    continue;
                }
                // |from + share · along| = radius
                let along = off(outer) - from;
                let half = from.dot(along) / along.length_squared();
                let rest = (radius_m * radius_m - from.length_squared()) / along.length_squared();
                let share = -half + (half * half + rest).sqrt();
                let crossing = contact.at_m + from + share * along;
                if share > 1.0 - AT_CORNER {
                    self.points[outer as usize] = crossing;
                } else if share > AT_CORNER {
                    let points = &mut self.points;
                    at.entry(edge(a, b)).or_insert_with(|| {
                        points.push(crossing);
                        u32::try_from(points.len() - 1).unwrap_or(u32::MAX)
                    });
                }
            }
        }
        self.split(&at);
    }

    /// The triangle nearest to a contact's middle; none where none is within its radius.
    pub fn nearest(&self, contact: Contact) -> Option<usize> {
        let distance_m = |number: usize| {
            let (closest, _) = closest_on_triangle(contact.at_m, self.corners(number));
            closest.distance(contact.at_m)
        };
        let all = (0..self.triangles.len()).map(|number| (number, distance_m(number)));
        let (nearest, off_m) = all.min_by(|a, b| a.1.total_cmp(&b.1))?;
        (off_m < contact.radius_m).then_some(nearest)
    }

    /// Corners within a contact's radius that hang together with those of a triangle by edges within it.
    ///
    /// The far face of a thin wall is within the radius too, but the contact does not touch it.
    pub fn touched(&self, seed: usize, contact: Contact) -> Vec<u32> {
        let within = |point: u32| {
            self.points[point as usize].distance(contact.at_m) <= contact.radius_m * (1.0 + 1e-9)
        };
        let mut next: HashMap<u32, Vec<u32>> = HashMap::default();
        for triangle in &self.triangles {
            for (a, b) in edges(*triangle)
                .into_iter()
                .filter(|e| within(e.0) && within(e.1))
            {
                next.entry(a).or_default().push(b);
                next.entry(b).or_default().push(a);
            }
        }
        let mut open: Vec<u32> = self.triangles[seed]
            .into_iter()
            .filter(|&p| within(p))
            .collect();
        let mut touched = BTreeSet::new();
        while let Some(point) = open.pop() {
            if touched.insert(point) {
                open.extend(next.get(&point).into_iter().flatten());
            }
        }
        touched.into_iter().collect()
    }

    /// The piece that each triangle belongs to, by its first triangle; pieces hang together by edges.
    pub fn pieces(&self) -> Vec<usize> {
        let mut parent: Vec<usize> = (0..self.triangles.len()).collect();
        for (_, sides) in Sides::of(&self.triangles, self.points.len()).by_edge() {
            for side in &sides[1..] {
                join(&mut parent, sides[0].1 as usize, side.1 as usize);
            }
        }
        (0..parent.len())
            .map(|number| root(&mut parent, number))
            .collect()
    }
}

/// Finds the leader of a number.
pub fn root(parent: &mut [usize], mut number: usize) -> usize {
    while parent[number] != number {
        parent[number] = parent[parent[number]];
        number = parent[number];
    }
    number
}

/// Puts two numbers under one leader, the lesser one, so that nothing depends on the order of joining.
pub fn join(parent: &mut [usize], one: usize, other: usize) {
    let (one, other) = (root(parent, one), root(parent, other));
    parent[one.max(other)] = one.min(other);
}

/// Edges of triangles: for each corner the other ends of those it is the lower end of, with their triangles.
struct Sides {
    /// Where each corner's begin, and the end of all.
    begin: Vec<u32>,
    /// Higher end and triangle; of each corner in ascending order.
    sides: Vec<(u32, u32)>,
}

impl Sides {
    fn of(triangles: &[[u32; 3]], points: usize) -> Self {
        let mut begin = vec![0_u32; points + 2];
        for (low, _) in triangles.iter().flat_map(|triangle| edges(*triangle)) {
            begin[low as usize + 2] += 1;
        }
        for point in 2..begin.len() {
            begin[point] += begin[point - 1];
        }
        let mut sides = vec![(0, 0); 3 * triangles.len()];
        for (triangle, number) in triangles.iter().zip(0..) {
            for (low, high) in edges(*triangle) {
                // it moves on from where the corner's begin to where they end
                let next = &mut begin[low as usize + 1];
                sides[*next as usize] = (high, number);
                *next += 1;
            }
        }
        begin.pop();
        for ends in begin.windows(2) {
            sides[ends[0] as usize..ends[1] as usize].sort_unstable();
        }
        Self { begin, sides }
    }

    /// Every edge with its sides, by corner.
    fn by_edge(&self) -> impl Iterator<Item = (Edge, &[(u32, u32)])> {
        let corners = self.begin.windows(2).zip(0_u32..);
        corners.flat_map(|(ends, low)| {
            let sides = &self.sides[ends[0] as usize..ends[1] as usize];
            let edges = sides.chunk_by(|one, next| one.0 == next.0);
            edges.map(move |sides| ((low, sides[0].0), sides))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_have_the_sides_that_triangles_give_them() {
        let triangles = [[0, 1, 2], [2, 1, 3], [1, 2, 4], [3, 0, 2]];
        let sides = Sides::of(&triangles, 5);
        let mut found: HashMap<Edge, Vec<u32>> = HashMap::default();
        for (edge, sides) in sides.by_edge() {
            let numbers = sides.iter().map(|side| side.1).collect();
            assert!(found.insert(edge, numbers).is_none(), "{edge:?} twice");
        }
        let mut expected: HashMap<Edge, Vec<u32>> = HashMap::default();
        for (triangle, number) in triangles.iter().zip(0..) {
            for edge in edges(*triangle) {
                expected.entry(edge).or_default().push(number);
            }
        }
        assert_eq!(found, expected);
        assert_eq!(found[&(1, 2)], [0, 1, 2]);
    }
}
