//! Meetings of what rides with what stands still, and how near the two come in each.
//!
//! In: bodies, groups, the schedule. Out: every such pair with what its search found.

use super::wall::Wall;
use crate::geometry::Tree;
use crate::geometry::distance::{to_box, winding};
use crate::scene::approach::{Approach, Wanted, between, to_place};
use crate::scene::model::{Body, BodyId, BodyKind, Group, Scene, Step};
use crate::scene::sweep::{Stretch, Sweep};
use glam::DVec3;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Pairs of nodes that one search may look at: a fraction of a second.
const EFFORT: usize = 4_000_000;

/// What a riding body is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Still {
    Body(BodyId),
    Wall(Wall),
}

/// One riding body in one place against one still thing, and the steps in which both are there.
pub(super) struct Meeting {
    pub riding: BodyId,
    /// Configuration whose riding group holds the body where it is.
    pub configuration: usize,
    pub still: Still,
    pub steps: Vec<usize>,
}

/// What a meeting came to.
pub(super) struct Met {
    pub scheduled: Approach,
    pub full_turn: Approach,
    /// One of them lies wholly inside the other.
    pub swallowed: bool,
}

/// All meetings with what each came to.
pub(super) fn all_met(scene: &Scene, wanted: Wanted) -> Vec<(Meeting, Met)> {
    let meetings = meetings(scene);
    let trees = Trees::build(scene, &meetings);
    let met: Vec<Met> = meetings
        .par_iter()
        .map(|meeting| meet(scene, &trees, meeting, wanted))
        .collect();
    meetings.into_iter().zip(met).collect()
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

pub(in crate::scene) fn tree_of(scene: &Scene, group: &Group, id: BodyId) -> Tree {
    let pose = pose_in(group, id).unwrap_or_default();
    Tree::build((0..).zip(corners_of(&scene.bodies[id.0 as usize], pose)))
}

fn meet(scene: &Scene, trees: &Trees, meeting: &Meeting, wanted: Wanted) -> Met {
    let stretches = stretches(scene, meeting);
    let full = Stretch::full_turn(scene.motion.axes.len());
    let covered = stretches.contains(&full) || stretches.contains(&Stretch::full_turn(0));
    let scheduled = approach(scene, trees, meeting, (&stretches, wanted));
    // a fault beyond the schedule is none
    let full_turn = if covered || wanted == Wanted::Faults {
        scheduled
    } else {
        approach(scene, trees, meeting, (&[full], wanted))
    };
    Met {
        scheduled,
        full_turn,
        swallowed: is_swallowed(scene, meeting, &scheduled),
    }
}

/// What the meeting's steps go through.
fn stretches<'a>(scene: &'a Scene, meeting: &Meeting) -> Vec<Stretch<'a>> {
    if matches!(meeting.still, Still::Wall(wall) if wall.sees_no_turning(scene)) {
        return vec![Stretch::full_turn(0)];
    }
    let steps = meeting.steps.iter().map(|&step| &scene.steps[step].motion);
    steps.map(Stretch::of_step).collect()
}

/// How near the two come on some stretches.
fn approach(
    scene: &Scene,
    trees: &Trees,
    meeting: &Meeting,
    (stretches, wanted): (&[Stretch], Wanted),
) -> Approach {
    let riding = &trees.riding[&(meeting.riding, meeting.configuration)];
    let mut sweep = Sweep::new(&scene.motion, stretches.iter().copied());
    let effort = (wanted, EFFORT);
    match (meeting.still, &scene.chamber) {
        (Still::Body(still), _) => between((riding, &trees.still[&still]), &mut sweep, effort),
        (Still::Wall(wall), Some(shape)) => {
            let value_m = |at| wall.distance_m(shape, at);
            to_place(riding, &mut sweep, &value_m, effort)
        }
        (Still::Wall(_), None) => Approach::NOTHING,
    }
}

/// Whether one of the two lies wholly inside the other.
fn is_swallowed(scene: &Scene, meeting: &Meeting, scheduled: &Approach) -> bool {
    match meeting.still {
        Still::Body(still) if !scheduled.cut => {
            let first = meeting.steps.first().map(|&step| &scene.steps[step]);
            first.is_some_and(|step| swallowed(scene, meeting, still, step))
        }
        _ => false,
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
pub(in crate::scene) fn inside(
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
