//! Clearances: how near riding bodies come to what stands still, and where they would cut it.
//!
//! In: bodies, groups, the schedule. Out: the clearances that `check` reports, and the issues and warnings
//! of those that are not there.

mod meeting;
mod wall;

use super::approach::{Approach, Wanted};
use super::facts::{Clearance, SceneFacts};
use super::issue::{Problem, SceneIssue};
use super::model::{Body, BodyId, BodyKind, Scene};
use crate::units::{degrees, mm_and_inch};
use meeting::{Meeting, Met, Still};
pub(super) use meeting::{inside, tree_of};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A search that was cut short is not worth a warning where it proved this much, m, and this share of the
/// nearest distance seen.
const FAR_M: f64 = 0.03;
const FAR_SHARE: f64 = 0.9;

/// How far outside the chamber counts as outside, m (rounding of flush faces).
const FLUSH_M: f64 = 1e-9;

/// Measures all clearances.
pub(super) fn measure(scene: &Scene, issues: &mut Vec<SceneIssue>) -> SceneFacts {
    let met = meeting::all_met(scene, Wanted::Distance);
    let mut facts = SceneFacts::default();
    let mut merged: BTreeMap<(BodyId, Still), Clearance> = BTreeMap::new();
    for (meeting, met) in &met {
        judge(scene, meeting, met, issues, &mut facts.warnings);
        merge(scene, meeting, met, &mut merged, &mut facts);
    }
    facts.clearances.extend(merged.into_values());
    facts.warnings.extend(super::overlaps::overlaps(scene));
    facts
}

/// Finds what [`measure`] finds wrong, and nothing of how near the rest comes, which takes far longer.
pub(super) fn faults(scene: &Scene, issues: &mut Vec<SceneIssue>) {
    for (meeting, met) in &meeting::all_met(scene, Wanted::Faults) {
        judge(scene, meeting, met, issues, &mut Vec::new());
    }
}

/// Cuts, and what stands outside the chamber.
fn judge(
    scene: &Scene,
    meeting: &Meeting,
    met: &Met,
    issues: &mut Vec<SceneIssue>,
    warnings: &mut Vec<String>,
) {
    let body = &scene.bodies[meeting.riding.0 as usize];
    let scheduled = met.scheduled;
    let at = angles_in_words(scene, &scheduled.angles);
    let key = format!("{}.at", key_of(body));
    match meeting.still {
        Still::Body(still) if scheduled.cut || met.swallowed => {
            let still = in_words(&scene.bodies[still.0 as usize]);
            let riding = in_words(body);
            if matches!(body.kind, BodyKind::Fixture(_) | BodyKind::Mask { .. }) {
                warnings.push(format!(
                    "{riding} cuts {still} {at} (no two solids can be in one place, though a shaft in \
                     its bearing is often drawn so); check that nothing collides"
                ));
            } else {
                let problem = Problem::Cuts { riding, still, at };
                issues.push(SceneIssue { key, problem });
            }
        }
        Still::Wall(wall) if scheduled.distance_m < -FLUSH_M => {
            if matches!(body.kind, BodyKind::Part(_) | BodyKind::Coupon(_)) {
                issues.push(SceneIssue {
                    key,
                    problem: Problem::OutsideChamber {
                        what: in_words(body),
                        wall: wall.name(),
                        beyond_m: -scheduled.distance_m,
                        at,
                    },
                });
            }
        }
        _ => {}
    }
}

/// Adds a meeting to the clearance of its pair.
fn merge(
    scene: &Scene,
    meeting: &Meeting,
    met: &Met,
    merged: &mut BTreeMap<(BodyId, Still), Clearance>,
    facts: &mut SceneFacts,
) {
    let riding = &scene.bodies[meeting.riding.0 as usize];
    let riding = match riding.kind {
        // it goes by its artwork's name, which may be its part's as well
        BodyKind::Mask { .. } => in_words(riding),
        _ => riding.name.clone(),
    };
    let still = match meeting.still {
        Still::Body(still) => in_words(&scene.bodies[still.0 as usize]),
        Still::Wall(wall) => wall.name().to_owned(),
    };
    let rotations = scene.motion.axes.len();
    let mut report = |approach: &Approach, during: &str| {
        let short = approach.cut_short();
        let distance_m = if short {
            approach.at_least_m
        } else {
            approach.distance_m
        };
        let distance_m = distance_m.max(0.0);
        let far = distance_m > FAR_M && distance_m > FAR_SHARE * approach.distance_m;
        if short && !far {
            facts.warnings.push(format!(
                "clearance between {riding} and {still} {during} is at least {} (the search was cut short \
                 after the nearest pose seen, {} {})",
                mm_and_inch(distance_m),
                mm_and_inch(approach.distance_m.max(0.0)),
                angles_in_words(scene, &approach.angles)
            ));
        }
        let angles = approach.angles[..rotations].iter();
        (
            distance_m,
            angles.map(|&angle| folded(angle)).collect::<Vec<f64>>(),
            short,
        )
    };
    let (scheduled_m, scheduled_at_rad, scheduled_is_bound) =
        report(&met.scheduled, "in the schedule");
    let (full_turn_m, full_turn_at_rad, full_turn_is_bound) = if met.scheduled == met.full_turn {
        (scheduled_m, scheduled_at_rad.clone(), scheduled_is_bound)
    } else {
        report(&met.full_turn, "through a full turn")
    };
    let clearance = Clearance {
        riding: riding.clone(),
        still,
        scheduled_m,
        scheduled_at_rad,
        scheduled_is_bound,
        full_turn_m,
        full_turn_at_rad,
        full_turn_is_bound,
    };
    merged
        .entry((meeting.riding, meeting.still))
        .and_modify(|known| {
            if clearance.scheduled_m < known.scheduled_m {
                known.scheduled_m = clearance.scheduled_m;
                known.scheduled_is_bound = clearance.scheduled_is_bound;
                known
                    .scheduled_at_rad
                    .clone_from(&clearance.scheduled_at_rad);
            }
            if clearance.full_turn_m < known.full_turn_m {
                known.full_turn_m = clearance.full_turn_m;
                known.full_turn_is_bound = clearance.full_turn_is_bound;
                known
                    .full_turn_at_rad
                    .clone_from(&clearance.full_turn_at_rad);
            }
        })
        .or_insert(clearance);
}

/// An angle beyond a full turn as one within it, rad; a hair short of a full turn (rounding) is none.
fn folded(angle_rad: f64) -> f64 {
    if angle_rad.abs() <= TAU {
        return angle_rad;
    }
    let rest = angle_rad.rem_euclid(TAU);
    if TAU - rest < 1e-9 { 0.0 } else { rest }
}

/// A body as messages name it.
pub(super) fn in_words(body: &Body) -> String {
    let name = &body.name;
    match body.kind {
        BodyKind::Part(_) => format!("part {name}"),
        BodyKind::Fixture(_) => format!("fixture {name}"),
        BodyKind::Shutter(_) => format!("shutter {name}"),
        BodyKind::Coupon(_) => format!("coupon {name}"),
        BodyKind::SourceFace(_) => format!("face of source {name}"),
        BodyKind::Mask { .. } => format!("stencil {name}"),
    }
}

/// The plan's table of a body.
pub(super) fn key_of(body: &Body) -> String {
    let name = &body.name;
    match body.kind {
        BodyKind::Part(_) => format!("part.{name}"),
        BodyKind::Fixture(_) => format!("fixture.{name}"),
        BodyKind::Shutter(_) => format!("shutter.{name}"),
        BodyKind::Coupon(_) => format!("coupon.{name}"),
        BodyKind::SourceFace(_) => format!("source.{name}"),
        BodyKind::Mask { mask, .. } => format!("mask.{}", mask + 1),
    }
}

/// Angles as messages name them.
pub(super) fn angles_in_words(scene: &Scene, angles: &[f64]) -> String {
    let rotations = scene.motion.axes.len();
    if rotations == 0 {
        return "where it stands".to_owned();
    }
    let angles = angles[..rotations]
        .iter()
        .map(|&angle| degrees(folded(angle)));
    format!(
        "at a turning angle of {}",
        angles.collect::<Vec<_>>().join(", ")
    )
}

#[cfg(test)]
mod tests;
