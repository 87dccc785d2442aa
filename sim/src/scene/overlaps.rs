//! Riding bodies that stand in one another.
//!
//! In: bodies and groups. Out: the warnings that name them.

use super::approach::CUT_M;
use super::clearance::{in_words, inside, tree_of};
use super::model::{BodyId, BodyKind, Configuration, Scene};
use crate::geometry::Tree;
use crate::geometry::distance::pierce;

/// Riding bodies that overlap each other, as clamps overlap what they hold.
pub(super) fn overlaps(scene: &Scene) -> Vec<String> {
    let mut known = Vec::new();
    for configuration in &scene.configurations {
        for pair in overlapping(scene, configuration) {
            if !known.contains(&pair) {
                known.push(pair);
            }
        }
    }
    let bodies = |(one, other): &(BodyId, BodyId)| {
        [*one, *other].map(|id| in_words(&scene.bodies[id.0 as usize]))
    };
    known
        .iter()
        .map(bodies)
        .map(|[one, other]| {
            format!(
                "{one} and {other} overlap: right where one clamps the other, else one has been moved into the \
                 other and is to be moved along (film inside the overlap is not counted apart)"
            )
        })
        .collect()
}

fn overlapping(scene: &Scene, configuration: &Configuration) -> Vec<(BodyId, BodyId)> {
    let group = &configuration.riding;
    let ids: Vec<BodyId> = group.bodies.iter().map(|(id, _)| *id).collect();
    if ids.len() < 2 {
        return Vec::new();
    }
    let trees: Vec<Tree> = ids.iter().map(|&id| tree_of(scene, group, id)).collect();
    let mut pairs = Vec::new();
    for (i, one) in trees.iter().enumerate() {
        for (j, other) in trees.iter().enumerate().skip(i + 1) {
            let [a, b] = [ids[i], ids[j]];
            let [body_a, body_b] = [a, b].map(|id| &scene.bodies[id.0 as usize]);
            if [body_a, body_b]
                .iter()
                .any(|body| matches!(body.kind, BodyKind::Mask { .. }))
            {
                continue; // a sheet lies on its part, and under what clamps it
            }
            let [pose_a, pose_b] = [group.poses[i], group.poses[j]];
            let overlap = cuts(one, other)
                || inside(body_a, pose_a, body_b, pose_b)
                || inside(body_b, pose_b, body_a, pose_a);
            if overlap {
                pairs.push((a, b));
            }
        }
    }
    pairs
}

/// Whether two surfaces in one frame pass through each other.
fn cuts(one: &Tree, other: &Tree) -> bool {
    let mut stack = vec![(0, 0)];
    while let Some((a, b)) = stack.pop() {
        let [[low, high], [other_low, other_high]] = [one.node_box(a), other.node_box(b)];
        if low.cmpgt(other_high).any() || other_low.cmpgt(high).any() {
            continue;
        }
        match (one.halves(a), other.halves(b)) {
            (Some(halves), None) => stack.extend(halves.map(|half| (half, b))),
            (None, Some(halves)) => stack.extend(halves.map(|half| (a, half))),
            (Some(first), Some(second)) => {
                if (high - low).length() >= (other_high - other_low).length() {
                    stack.extend(first.map(|half| (half, b)));
                } else {
                    stack.extend(second.map(|half| (a, half)));
                }
            }
            (None, None) => {
                let pairs = one.triangles(a).iter();
                let mut pairs = pairs.flat_map(|p| other.triangles(b).iter().map(move |q| (p, q)));
                if pairs.any(|(p, q)| pierce(*p, *q, CUT_M)) {
                    return true;
                }
            }
        }
    }
    false
}
