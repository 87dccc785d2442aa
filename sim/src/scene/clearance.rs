//! Clearances: how near riding bodies come to what stands still, and where they would cut it.
//!
//! In: bodies, groups, the schedule. Out: the clearances that `check` reports, and the issues and warnings
//! of those that are not there.

mod wall;

use super::approach::{Approach, between, to_place};
use super::facts::{Clearance, SceneFacts};
use super::issue::{Problem, SceneIssue};
use super::model::{Body, BodyId, BodyKind, Group, Scene, Step};
use super::sweep::{Stretch, Sweep};
use crate::geometry::Tree;
use crate::geometry::distance::{to_box, winding};
use crate::units::{degrees, mm_and_inch};
use glam::DVec3;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use wall::Wall;

/// Pairs of nodes that one search may look at: a fraction of a second.
const EFFORT: usize = 4_000_000;

/// A search that was cut short is not worth a warning where it proved this much, m, and this share of the
/// nearest distance seen.
const FAR_M: f64 = 0.03;
const FAR_SHARE: f64 = 0.9;

/// How far outside the chamber counts as outside, m (rounding of flush faces).
const FLUSH_M: f64 = 1e-9;

/// What a riding body is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Still {
    Body(BodyId),
    Wall(Wall),
}

/// One riding body in one place against one still thing, and the steps in which both are there.
struct Meeting {
    riding: BodyId,
    /// Configuration whose riding group holds the body where it is.
    configuration: usize,
    still: Still,
    steps: Vec<usize>,
}

/// What a meeting came to.
struct Met {
    scheduled: Approach,
    full_turn: Approach,
    /// One of them lies wholly inside the other.
    swallowed: bool,
}

/// Measures all clearances.
pub(super) fn measure(scene: &Scene, issues: &mut Vec<SceneIssue>) -> SceneFacts {
    let meetings = meetings(scene);
    let trees = Trees::build(scene, &meetings);
    let met: Vec<Met> = meetings
        .par_iter()
        .map(|m| meet(scene, &trees, m))
        .collect();
    let mut facts = SceneFacts::default();
    let mut merged: BTreeMap<(BodyId, Still), Clearance> = BTreeMap::new();
    for (meeting, met) in meetings.iter().zip(&met) {
        judge(scene, meeting, met, issues, &mut facts.warnings);
        merge(scene, meeting, met, &mut merged, &mut facts);
    }
    facts.clearances.extend(merged.into_values());
    facts.warnings.extend(super::overlaps::overlaps(scene));
    facts
}

/// Every pair of a riding body (where it is) and a still thing, with the steps that see both.
fn meetings(scene: &Scene) -> Vec<Meeting> {
    let mut meetings: Vec<Meeting> = Vec::new();
    for (number, step) in scene.steps.iter().enumerate() {
        let configuration = &scene.configurations[step.configuration];
        let bodies = configuration
            .still
            .bodies
            .iter()
            .map(|(id, _)| Still::Body(*id));
        let walls = scene
            .chamber
            .iter()
            .flat_map(|_| Wall::ALL.map(Still::Wall));
        let stills: Vec<Still> = bodies.chain(walls).collect();
        for (&(riding, _), pose) in configuration
            .riding
            .bodies
            .iter()
            .zip(&configuration.riding.poses)
        {
            for &still in &stills {
                let same = |m: &&mut Meeting| {
                    m.riding == riding
                        && m.still == still
                        && pose_in(&scene.configurations[m.configuration].riding, riding)
                            == Some(*pose)
                };
                match meetings.iter_mut().find(same) {
                    Some(meeting) => meeting.steps.push(number),
                    None => meetings.push(Meeting {
                        riding,
                        configuration: step.configuration,
                        still,
                        steps: vec![number],
                    }),
                }
            }
        }
    }
    meetings
}

fn pose_in(group: &Group, body: BodyId) -> Option<glam::DAffine3> {
    let index = group.bodies.iter().position(|(id, _)| *id == body)?;
    Some(group.poses[index])
}

/// Trees over bodies in the frame of their group, by configuration for what rides.
struct Trees {
    riding: BTreeMap<(BodyId, usize), Tree>,
    still: BTreeMap<BodyId, Tree>,
}

impl Trees {
    fn build(scene: &Scene, meetings: &[Meeting]) -> Self {
        let mut trees = Self {
            riding: BTreeMap::new(),
            still: BTreeMap::new(),
        };
        for meeting in meetings {
            let configuration = &scene.configurations[meeting.configuration];
            let key = (meeting.riding, meeting.configuration);
            trees
                .riding
                .entry(key)
                .or_insert_with(|| tree_of(scene, &configuration.riding, meeting.riding));
            if let Still::Body(still) = meeting.still {
                trees.still.entry(still).or_insert_with(|| {
                    // a shutter stands in some configurations only
                    let groups = scene.configurations.iter().map(|c| &c.still);
                    let mut holding = groups.filter(|group| pose_in(group, still).is_some());
                    holding
                        .next()
                        .map_or_else(Tree::default, |group| tree_of(scene, group, still))
                });
            }
        }
        trees
    }
}

fn corners_of<'a>(
    body: &'a Body,
    pose: glam::DAffine3,
) -> impl Iterator<Item = [DVec3; 3]> + use<'a> {
    let corners = move |row: &[u32; 3]| {
        row.map(|corner| pose.transform_point3(body.vertices[corner as usize]))
    };
    body.triangles.iter().map(corners)
}

pub(super) fn tree_of(scene: &Scene, group: &Group, id: BodyId) -> Tree {
    let pose = pose_in(group, id).unwrap_or_default();
    Tree::build((0..).zip(corners_of(&scene.bodies[id.0 as usize], pose)))
}

fn meet(scene: &Scene, trees: &Trees, meeting: &Meeting) -> Met {
    let riding = &trees.riding[&(meeting.riding, meeting.configuration)];
    let full = Stretch::full_turn(scene.motion.axes.len());
    let steps = meeting.steps.iter().map(|&step| &scene.steps[step].motion);
    let mut stretches: Vec<Stretch> = steps.map(Stretch::of_step).collect();
    if matches!(meeting.still, Still::Wall(wall) if wall.sees_no_turning(scene)) {
        stretches = vec![Stretch::full_turn(0)];
    }
    let approach = |stretches: &[Stretch]| {
        let mut sweep = Sweep::new(&scene.motion, stretches.iter().copied());
        match (meeting.still, &scene.chamber) {
            (Still::Body(still), _) => between(riding, &trees.still[&still], &mut sweep, EFFORT),
            (Still::Wall(wall), Some(shape)) => {
                to_place(riding, &mut sweep, &|at| wall.distance_m(shape, at), EFFORT)
            }
            (Still::Wall(_), None) => Approach::NOTHING,
        }
    };
    let scheduled = approach(&stretches);
    let covered = stretches.contains(&full) || stretches.contains(&Stretch::full_turn(0));
    let full_turn = if covered {
        scheduled
    } else {
        approach(&[full])
    };
    let swallowed = match meeting.still {
        Still::Body(still) if !scheduled.cut => {
            let first = meeting.steps.first().map(|&step| &scene.steps[step]);
            first.is_some_and(|step| swallowed(scene, meeting, still, step))
        }
        _ => false,
    };
    Met {
        scheduled,
        full_turn,
        swallowed,
    }
}

/// Whether one of two solids lies wholly inside the other where the step begins.
fn swallowed(scene: &Scene, meeting: &Meeting, still: BodyId, step: &Step) -> bool {
    let configuration = &scene.configurations[step.configuration];
    let chamber_from_riding = scene.motion.pose(&step.motion.angles_at(0.0));
    let poses = (
        pose_in(&configuration.riding, meeting.riding).map(|pose| chamber_from_riding * pose),
        pose_in(&configuration.still, still),
    );
    let (Some(riding_pose), Some(still_pose)) = poses else {
        return false;
    };
    let [one, other] = [meeting.riding, still].map(|id| &scene.bodies[id.0 as usize]);
    inside(one, riding_pose, other, still_pose) || inside(other, still_pose, one, riding_pose)
}

/// Whether a corner of one body lies inside the closed shells of another.
pub(super) fn inside(
    one: &Body,
    pose: glam::DAffine3,
    other: &Body,
    other_pose: glam::DAffine3,
) -> bool {
    if matches!(other.kind, BodyKind::Coupon(_) | BodyKind::SourceFace(_)) {
        return false; // flat: nothing fits inside
    }
    let Some(corner) = one
        .triangles
        .first()
        .map(|row| one.vertices[row[0] as usize])
    else {
        return false;
    };
    let at = pose.transform_point3(corner);
    let moved = other
        .vertices
        .iter()
        .map(|&v| other_pose.transform_point3(v));
    let Some(around) = crate::geometry::bounds(moved) else {
        return false;
    };
    to_box(at, around) <= 0.0 && winding(at, corners_of(other, other_pose)) > 0.5
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
