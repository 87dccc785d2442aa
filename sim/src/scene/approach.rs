//! How near a riding body comes to something that stands still.
//!
//! In: a tree of the riding body's triangles, a tree of the still body's (or a plain function of place)
//! and the cells of a sweep. Out: the smallest distance with the angles there, and what is proved about it.
//!
//! Best-first over the cells: in the middle pose of each the two trees give the exact distance, and a
//! second walk gives a bound below every distance within the cell: for two convex sets apart by d along
//! u, the distance stays above d less what can stray along u. The least bound is refined until it is as
//! good as the best distance seen. The bound in hand when the effort is spent is reported, so that a
//! short search is never read as a wide clearance. Written here because the search must run over angles
//! and triangles at once and stop at a distance known from elsewhere, which general mesh-to-mesh queries
//! do not offer.

use super::motion::Angles;
use super::sweep::Sweep;
use crate::geometry::Tree;
use crate::geometry::distance::{closest_in_box, closest_of_triangles, pierce};
use glam::{DAffine3, DVec3};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Nearer than this counts as touching, m; what touches is cut only if an edge goes through by more
/// than [`CUT_M`] on either side.
const TOUCH_M: f64 = 1e-9;

/// Depth on either side from which an edge that passes through a face is a cut, m. Deep enough for
/// corners that were rounded to f32 in a file.
pub(super) const CUT_M: f64 = 1e-6;

/// Pairs of nodes that one pose may take.
const LOOKS_PER_POSE: usize = 300_000;

/// Relative looseness at which a search ends.
const LOOSE: f64 = 5e-3;

/// Absolute looseness at which a search ends, m.
const LOOSE_M: f64 = 1e-5;

/// How much a search is to find out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wanted {
    /// The smallest distance.
    Distance,
    /// Whether there is a cut, or something outside, and how bad it is: nothing of what is clear of that.
    Faults,
}

impl Wanted {
    /// A distance from which on no more is asked, m.
    fn enough_m(self) -> f64 {
        match self {
            Self::Distance => f64::INFINITY,
            Self::Faults => 2.0 * TOUCH_M,
        }
    }
}

/// The smallest distance found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Approach {
    /// Smallest distance seen, m: at `angles`. Negative (from [`to_place`] only) where it is outside.
    pub distance_m: f64,
    /// No distance is smaller, m.
    pub at_least_m: f64,
    /// Angles there.
    pub angles: Angles,
    /// The surfaces pass through each other there.
    pub cut: bool,
}

impl Approach {
    /// What is known before anything was looked at.
    pub const NOTHING: Self = Self {
        distance_m: f64::INFINITY,
        at_least_m: f64::INFINITY,
        angles: [0.0; super::motion::MAX_ROTATIONS],
        cut: false,
    };

    /// Whether the search ended before it was as close as it should be.
    pub fn cut_short(&self) -> bool {
        self.at_least_m < self.goal_m() - 1e-12
    }

    /// A bound this high settles the search, m.
    fn goal_m(&self) -> f64 {
        self.distance_m - LOOSE_M.max(LOOSE * self.distance_m.abs())
    }
}

/// The smallest distance between two surfaces while one moves through a sweep.
///
/// - `riding`: in the riding frame
/// - `still`: in the chamber frame
/// - `effort`: pairs of nodes to look at, at most (about)
pub(super) fn between(
    (riding, still): (&Tree, &Tree),
    sweep: &mut Sweep,
    (wanted, effort): (Wanted, usize),
) -> Approach {
    if riding.is_empty() || still.is_empty() {
        return Approach::NOTHING;
    }
    let mut walk = Pairs {
        riding,
        still,
        looks: 0,
        stack: Vec::new(),
    };
    let enough_m = wanted.enough_m();
    search(sweep, (wanted, effort), &mut |sweep, cell, best| {
        let pose = sweep.cell(cell).pose;
        if wanted == Wanted::Faults && !sweep.cell(cell).is_still() {
            // that it is clear is often told by the largest boxes
            let bound = walk.least_bound(&pose, sweep, cell, enough_m);
            if bound >= enough_m {
                return (bound, std::mem::take(&mut walk.looks));
            }
        }
        let left_out = walk.least_distance(&pose, sweep.cell(cell).angles, best);
        let goal = best.goal_m().min(enough_m);
        let bound = if sweep.cell(cell).is_still() {
            goal.min(left_out)
        } else {
            walk.least_bound(&pose, sweep, cell, goal)
        };
        (bound, std::mem::take(&mut walk.looks))
    })
}

/// The smallest value of a function of place over the corners of a body that moves through a sweep.
///
/// The function must change by no more than the distance between two places, and over a triangle be least
/// at a corner (as a distance to the walls around is).
///
/// - `effort`: nodes to look at, at most (about)
pub(super) fn to_place(
    riding: &Tree,
    sweep: &mut Sweep,
    value_m: &impl Fn(DVec3) -> f64,
    (wanted, effort): (Wanted, usize),
) -> Approach {
    if riding.is_empty() {
        return Approach::NOTHING;
    }
    search(sweep, (wanted, effort), &mut |sweep, cell, best| {
        let pose = sweep.cell(cell).pose;
        let mut looks = 0;
        // once for the distance in the middle pose, once for the bound within the cell
        let mut least = |start: f64, stray: &dyn Fn(DVec3, f64) -> f64| {
            let mut least = start;
            let mut stack = vec![0];
            while let Some(node) = stack.pop() {
                looks += 1;
                let (centre, radius) = riding.node_sphere(node);
                let centre = pose.transform_point3(centre);
                let strays = stray(centre, radius);
                let bound = value_m(centre) - radius - strays;
                if bound >= least {
                    continue;
                }
                if radius < 0.3 * strays {
                    least = bound;
                } else if let Some(halves) = riding.halves(node) {
                    stack.extend(halves);
                } else {
                    for &corner in riding.triangles(node).iter().flatten() {
                        let at = pose.transform_point3(corner);
                        least = least.min(value_m(at) - stray(at, 0.0));
                    }
                }
            }
            least
        };
        let distance = least(best.distance_m, &|_, _| 0.0);
        if distance < best.distance_m {
            best.distance_m = distance;
            best.angles = sweep.cell(cell).angles;
        }
        let goal = best.goal_m().min(wanted.enough_m());
        let bound = if sweep.cell(cell).is_still() {
            goal
        } else {
            least(goal, &|centre, radius| {
                sweep.stray_m(cell, centre, radius, DVec3::ZERO)
            })
        };
        (bound, looks)
    })
}

/// A cell with a bound below every distance within it.
struct Open {
    bound_m: f64,
    cell: u32,
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Open {}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Open {
    /// The least bound is the greatest, for a heap that gives the greatest first; ties in a fixed order.
    fn cmp(&self, other: &Self) -> Ordering {
        let by_bound = other.bound_m.total_cmp(&self.bound_m);
        by_bound.then_with(|| other.cell.cmp(&self.cell))
    }
}

/// Refines cells until the least bound is close to the best distance.
///
/// - `look`: looks at a cell, improves the best and returns a bound (at least the goal if the cell is
///   settled) and the effort it took
fn search(
    sweep: &mut Sweep,
    (wanted, effort): (Wanted, usize),
    look: &mut dyn FnMut(&Sweep, u32, &mut Approach) -> (f64, usize),
) -> Approach {
    let mut best = Approach::NOTHING;
    let mut heap = BinaryHeap::new();
    let mut spent = 0;
    let goal_m = |best: &Approach| best.goal_m().min(wanted.enough_m());
    let mut visit = |sweep: &Sweep, cell: u32, best: &mut Approach, heap: &mut BinaryHeap<Open>| {
        let (bound_m, looks) = look(sweep, cell, best);
        if sweep.cell(cell).is_still() {
            best.at_least_m = best.at_least_m.min(bound_m);
        } else if bound_m < goal_m(best) {
            heap.push(Open { bound_m, cell });
        }
        looks
    };
    for cell in sweep.roots() {
        spent += visit(sweep, cell, &mut best, &mut heap);
    }
    while let Some(open) = heap.peek() {
        if best.cut || open.bound_m >= goal_m(&best) || spent >= effort {
            break;
        }
        let cell = open.cell;
        heap.pop();
        for half in sweep.halves(cell) {
            spent += visit(sweep, half, &mut best, &mut heap);
        }
    }
    let open = heap.peek().map_or(f64::INFINITY, |open| open.bound_m);
    best.at_least_m = open.min(best.at_least_m).min(best.goal_m());
    if !best.cut_short() {
        best.at_least_m = best.distance_m; // within the looseness that every reader is told of
    }
    best
}

/// A walk over pairs of nodes.
struct Pairs<'a> {
    riding: &'a Tree,
    still: &'a Tree,
    looks: usize,
    stack: Vec<(f64, u32, u32)>,
}

impl Pairs<'_> {
    /// How far two nodes are apart at least, and along which direction (from the still to the riding).
    ///
    /// The still box lies behind the plane through its point nearest to the middle of the riding box; the
    /// riding box reaches back from its middle by Σ |half extent · u|.
    fn apart(&self, pose: &DAffine3, a: u32, b: u32) -> (f64, DVec3) {
        let [low, high] = self.riding.node_box(a);
        let centre = pose.transform_point3(0.5 * (low + high));
        let away = centre - closest_in_box(centre, self.still.node_box(b));
        let Some(along) = away.try_normalize() else {
            return (f64::NEG_INFINITY, DVec3::ZERO);
        };
        let in_riding = (pose.matrix3.transpose() * along).abs();
        (away.length() - in_riding.dot(0.5 * (high - low)), along)
    }

    /// Improves the best distance in one pose; returns a bound below what was left out for its effort.
    fn least_distance(&mut self, pose: &DAffine3, angles: Angles, best: &mut Approach) -> f64 {
        let end = self.looks + LOOKS_PER_POSE;
        self.stack.clear();
        self.stack.push((self.apart(pose, 0, 0).0, 0, 0));
        while let Some((apart, a, b)) = self.stack.pop() {
            self.looks += 1;
            // touching faces are looked at one and all: one of them may be cut
            let near_m = if best.distance_m <= TOUCH_M {
                2.0 * TOUCH_M
            } else {
                best.distance_m * (1.0 - 0.25 * LOOSE)
            };
            if apart >= near_m || best.cut {
                continue;
            }
            if self.looks > end {
                let left = self.stack.iter().map(|open| open.0);
                return left.fold(apart, f64::min);
            }
            if self.push_halves(pose, a, b) {
                continue;
            }
            let (_, along) = self.apart(pose, a, b);
            for &one in self.riding.triangles(a) {
                let one = one.map(|corner| pose.transform_point3(corner));
                for &other in self.still.triangles(b) {
                    if separation(one, other, along) >= near_m.min(best.distance_m) + TOUCH_M {
                        continue;
                    }
                    let [p, q] = closest_of_triangles(one, other);
                    let distance_m = p.distance(q);
                    let cut = distance_m <= TOUCH_M && pierce(one, other, CUT_M);
                    if distance_m < best.distance_m || cut {
                        *best = Approach {
                            distance_m,
                            angles,
                            cut,
                            ..*best
                        };
                    }
                }
            }
        }
        f64::INFINITY
    }

    /// A bound below every distance within a cell, or `goal_m` if all are above that.
    ///
    /// Nodes small against what strays, and those whose bound is nearly as good as the least one, are not
    /// opened: their own bound is as good as the cell allows.
    fn least_bound(&mut self, pose: &DAffine3, sweep: &Sweep, cell: u32, goal_m: f64) -> f64 {
        let (mut least, mut given_up) = (goal_m, f64::INFINITY);
        self.stack.clear();
        self.stack.push((self.apart(pose, 0, 0).0, 0, 0));
        while let Some((_, a, b)) = self.stack.pop() {
            self.looks += 1;
            let (centre, radius) = self.riding.node_sphere(a);
            let (apart, along) = self.apart(pose, a, b);
            let stray = sweep.stray_m(cell, pose.transform_point3(centre), radius, along);
            let bound = apart - stray;
            if bound >= least {
                continue;
            }
            let size = radius + self.still.node_sphere(b).1;
            if bound > least - 0.25 * stray || size < 0.3 * stray {
                given_up = bound.min(given_up);
            } else if !self.push_halves(pose, a, b) {
                least = least.min(self.bound_of_leaves(pose, sweep, cell, (a, b)).max(bound));
            }
        }
        least.min(given_up)
    }

    /// Bound below the distances of the triangles of two leaves within a cell.
    fn bound_of_leaves(
        &self,
        pose: &DAffine3,
        sweep: &Sweep,
        cell: u32,
        (a, b): (u32, u32),
    ) -> f64 {
        let mut within = f64::INFINITY;
        for &one in self.riding.triangles(a) {
            let one = one.map(|corner| pose.transform_point3(corner));
            for &other in self.still.triangles(b) {
                let [p, q] = closest_of_triangles(one, other);
                let along = (p - q).normalize_or_zero();
                let stray = one.map(|at| sweep.stray_m(cell, at, 0.0, along));
                let stray = stray.into_iter().fold(0.0, f64::max);
                within = within.min(p.distance(q) - stray);
            }
        }
        within
    }

    /// Pushes the halves of the larger node of a pair, the nearer one on top; false for two leaves.
    fn push_halves(&mut self, pose: &DAffine3, a: u32, b: u32) -> bool {
        let (one, other) = (self.riding.halves(a), self.still.halves(b));
        let pairs = match (one, other) {
            (None, None) => return false,
            (Some(halves), None) => halves.map(|half| (half, b)),
            (None, Some(halves)) => halves.map(|half| (a, half)),
            (Some(first), Some(second)) => {
                let (radius, other_radius) =
                    (self.riding.node_sphere(a).1, self.still.node_sphere(b).1);
                if radius >= other_radius {
                    first.map(|half| (half, b))
                } else {
                    second.map(|half| (a, half))
                }
            }
        };
        let mut pairs = pairs.map(|(a, b)| (self.apart(pose, a, b).0, a, b));
        if pairs[0].0 < pairs[1].0 {
            pairs.reverse();
        }
        self.stack.extend(pairs);
        true
    }
}

/// How far two triangles are apart at least along a direction (from the other to the one).
fn separation(one: [DVec3; 3], other: [DVec3; 3], along: DVec3) -> f64 {
    let near = one
        .map(|corner| along.dot(corner))
        .into_iter()
        .fold(f64::INFINITY, f64::min);
    let far = other
        .map(|corner| along.dot(corner))
        .into_iter()
        .fold(f64::NEG_INFINITY, f64::max);
    near - far
}
