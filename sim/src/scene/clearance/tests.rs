//! Clearances against closed forms: spheres and planes, whose distances are those of their centres.

use super::folded;
use crate::geometry::solids;
use crate::plan::Plan;
use crate::plan::model as p;
use crate::scene::lower::tests::{cube_over_disc, mesh_of, part, step};
use crate::scene::motion::Motion;
use crate::scene::{Clearance, Meshes, Problem, Scene, SceneIssues, draft};
use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, TAU};
use std::sync::Arc;

/// A facet of a sphere stands in by up to this share of the radius (see `solids::sphere`).
const FACET: f64 = 4.2e-4;

fn sphere_fixture(name: &str, radius_m: f64, at_m: DVec3) -> p::Fixture {
    p::Fixture {
        name: name.to_owned(),
        body: p::BodyShape::Sphere {
            diameter_m: 2.0 * radius_m,
        },
        placement: p::Placement {
            at_m,
            turn_rad: DVec3::ZERO,
        },
        rides: p::Rides::Chamber,
        sticking: 1.0,
    }
}

/// A ball of 10 mm radius on an arm of 30 mm that turns about z, over a disc.
fn ball_on_arm(lasts_s: f64, rate_rad_per_s: f64) -> (Plan, Meshes) {
    let (mut plan, mut meshes) = cube_over_disc();
    plan.parts = vec![part("ball", DVec3::new(0.03, 0.0, 0.1))];
    meshes.insert("ball", mesh_of(&solids::sphere(0.02)));
    plan.rotations = vec![p::Rotation {
        axis: DVec3::Z,
        through_m: DVec3::ZERO,
        speed_rad_per_s: rate_rad_per_s,
        swing_rad: None,
    }];
    plan.steps[0].lasts_s = lasts_s;
    (plan, meshes)
}

/// The scene, or what is wrong with it: which is also what is found wrong without measuring.
fn lowered(plan: Plan, meshes: &Meshes) -> Result<Scene, SceneIssues> {
    let draft = draft(Arc::new(plan), meshes)?;
    let stands = draft.stands();
    let proven = draft.prove();
    let said = |issues: &SceneIssues| issues.to_string();
    let measured = proven.as_ref().err().map(said);
    assert_eq!(stands.as_ref().err().map(said), measured);
    proven
}

fn clearance<'a>(scene: &'a Scene, still: &str) -> &'a Clearance {
    let mut all = scene.facts.clearances.iter();
    all.find(|c| c.still == still).unwrap()
}

#[test]
fn two_balls_pass_each_other_at_the_distance_of_their_centres_less_their_radii() {
    let at = 2.0_f64; // rad, where the still ball hangs above the way of the riding one
    let centre = DVec3::new(0.03 * at.cos(), 0.03 * at.sin(), 0.14);
    let (mut plan, meshes) = ball_on_arm(60.0, 0.5);
    plan.fixtures.push(sphere_fixture("knob", 0.005, centre));
    let scene = lowered(plan, &meshes).unwrap();
    let found = clearance(&scene, "fixture knob");
    let gap = 0.04 - 0.015;
    let facets = FACET * 0.015;
    assert!(
        (found.full_turn_m - gap).abs() < 0.005 * gap + facets,
        "{}",
        found.full_turn_m
    );
    assert!((found.full_turn_at_rad[0] - at).abs() < 0.1);
    assert_eq!(
        found.scheduled_m.to_bits(),
        found.full_turn_m.to_bits(),
        "60 s are more than a turn"
    );
}

#[test]
fn a_quarter_turn_sees_the_clearance_at_its_end_and_the_full_turn_sees_more() {
    let centre = DVec3::new(-0.03, 0.0, 0.14);
    let (mut plan, meshes) = ball_on_arm(1.0, FRAC_PI_2);
    plan.fixtures.push(sphere_fixture("knob", 0.005, centre));
    let scene = lowered(plan, &meshes).unwrap();
    let found = clearance(&scene, "fixture knob");
    // at 90 deg the ball is at (0, 30, 100) mm
    let gap = DVec3::new(0.0, 0.03, 0.1).distance(centre) - 0.015;
    let facets = FACET * 0.015;
    assert!(
        (found.scheduled_m - gap).abs() < 0.005 * gap + facets,
        "{}",
        found.scheduled_m
    );
    assert!((found.scheduled_at_rad[0] - FRAC_PI_2).abs() < 0.05);
    assert!((found.full_turn_m - 0.025).abs() < 0.005 * 0.025 + facets);
}

#[test]
fn a_turning_ball_keeps_its_distance_from_walls_base_plate_and_lid() {
    let (mut plan, meshes) = ball_on_arm(60.0, 0.5);
    plan.chamber = Some(p::Chamber {
        shape: p::ChamberShape::Cylinder {
            diameter_m: 0.3,
            height_m: 0.35,
        },
        sticking: 1.0,
    });
    let scene = lowered(plan, &meshes).unwrap();
    for (still, gap) in [("wall", 0.15 - 0.04), ("base plate", 0.09), ("lid", 0.24)] {
        let found = clearance(&scene, still);
        let facets = FACET * 0.01;
        assert!(
            (found.scheduled_m - gap).abs() < 0.005 * gap + facets,
            "{still} {found:?}"
        );
    }
}

#[test]
fn a_ball_that_sweeps_through_a_post_is_refused_with_the_angle() {
    let (mut plan, meshes) = ball_on_arm(60.0, 0.5);
    let at = 4.0_f64;
    let centre = DVec3::new(0.03 * at.cos(), 0.03 * at.sin(), 0.1);
    plan.fixtures.push(sphere_fixture("post", 0.002, centre));
    let error = lowered(plan, &meshes).unwrap_err();
    assert_eq!(error.issues.len(), 1);
    assert_eq!(error.issues[0].key(), "part.ball.at");
    let text = error.issues[0].to_string();
    assert!(
        text.starts_with("part ball cuts fixture post at a turning angle of "),
        "{text}"
    );
    let angle: f64 = text
        .split(" of ")
        .nth(1)
        .unwrap()
        .split(' ')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    // the balls overlap while their centres are nearer than 12 mm, within 0.41 rad of 4 rad
    assert!((angle.to_radians() - at).abs() < 0.41, "{angle}");
}

#[test]
fn a_part_parked_beside_a_post_is_accepted_though_a_full_turn_would_cut_it() {
    let (mut plan, meshes) = ball_on_arm(60.0, 0.5);
    plan.steps = vec![p::Step {
        hold: Some(vec![p::Hold::At(1.0)]),
        ..step()
    }];
    let at = 4.0_f64;
    let centre = DVec3::new(0.03 * at.cos(), 0.03 * at.sin(), 0.1);
    plan.fixtures.push(sphere_fixture("post", 0.002, centre));
    let scene = lowered(plan, &meshes).unwrap();
    let found = clearance(&scene, "fixture post");
    assert!(found.full_turn_m.abs() <= 0.0);
    // chord of 3 rad on 30 mm, less the radii
    let gap = 0.06 * 1.5_f64.sin() - 0.012;
    assert!((found.scheduled_m - gap).abs() < 0.005 * gap + FACET * 0.012);
}

#[test]
fn a_small_post_swallowed_by_the_part_is_found_though_no_faces_meet() {
    let (mut plan, meshes) = ball_on_arm(60.0, 0.5);
    plan.steps[0].hold = Some(vec![p::Hold::At(0.0)]);
    plan.fixtures
        .push(sphere_fixture("post", 0.002, DVec3::new(0.03, 0.0, 0.1)));
    let error = lowered(plan, &meshes).unwrap_err();
    assert!(matches!(error.issues[0].problem, Problem::Cuts { .. }));
}

#[test]
fn a_part_that_swings_out_of_the_chamber_is_refused_and_one_flush_with_the_wall_is_not() {
    let box_chamber = |depth_m: f64| {
        Some(p::Chamber {
            shape: p::ChamberShape::Box {
                size_m: DVec3::new(0.3, depth_m, 0.4),
            },
            sticking: 1.0,
        })
    };
    let (mut plan, mut meshes) = cube_over_disc();
    meshes.insert("cube", mesh_of(&solids::cuboid(DVec3::splat(0.02))));
    plan.parts[0].placement.at_m = DVec3::new(0.03, 0.0, 0.1);
    plan.chamber = box_chamber(0.02);
    lowered(plan.clone(), &meshes).expect("flush with both long walls");
    let (mut turning, _) = ball_on_arm(60.0, 0.5);
    turning.parts.clone_from(&plan.parts);
    turning.chamber = box_chamber(0.06);
    let error = lowered(turning, &meshes).unwrap_err();
    assert!(
        error.issues.iter().any(|issue| matches!(
            issue.problem,
            Problem::OutsideChamber { wall: "wall", beyond_m, .. }
                // the far corner is (40, 10) mm from the axis
                if (beyond_m - (0.04_f64.hypot(0.01) - 0.03)).abs() < 1e-4
        )),
        "{error}"
    );
}

#[test]
fn touching_is_a_clearance_of_zero_and_no_cut() {
    let (mut plan, meshes) = cube_over_disc();
    plan.fixtures.push(p::Fixture {
        body: p::BodyShape::Plate {
            size_m: DVec3::new(0.05, 0.05, 0.002),
            hole_diameter_m: None,
        },
        ..sphere_fixture("table", 0.1, DVec3::new(0.0, 0.0, 0.111))
    });
    let scene = lowered(plan.clone(), &meshes).unwrap();
    assert!(clearance(&scene, "fixture table").scheduled_m < 1e-12);
    plan.fixtures[0].placement.at_m.z -= 1e-4;
    let error = lowered(plan, &meshes).unwrap_err();
    assert!(matches!(error.issues[0].problem, Problem::Cuts { .. }));
}

#[test]
fn two_rotations_pass_a_post_at_the_distance_that_a_fine_walk_through_time_finds() {
    let (mut plan, meshes) = ball_on_arm(40.0, 0.7);
    plan.rotations.push(p::Rotation {
        axis: DVec3::Z,
        through_m: DVec3::new(0.08, 0.0, 0.0),
        speed_rad_per_s: -0.31,
        swing_rad: None,
    });
    let knob = DVec3::new(0.1, 0.09, 0.13);
    plan.fixtures.push(sphere_fixture("knob", 0.005, knob));
    plan.rotations[0].through_m = DVec3::new(0.01, 0.0, 0.0);
    let scene = lowered(plan, &meshes).unwrap();
    let motion: &Motion = &scene.motion;
    let walk = |angles: &[f64]| {
        let centre = motion
            .pose(angles)
            .transform_point3(DVec3::new(0.03, 0.0, 0.1));
        centre.distance(knob) - 0.015
    };
    let through_time = (0..200_000).map(|i| {
        let angles = scene.steps[0]
            .motion
            .angles_at(40.0 * f64::from(i) / 200_000.0);
        walk(&angles)
    });
    let gap = through_time.fold(f64::INFINITY, f64::min);
    let everywhere = (0..360).flat_map(|i| (0..360).map(move |j| [i, j]));
    let everywhere = everywhere.map(|turned| walk(&turned.map(|t| TAU * f64::from(t) / 360.0)));
    let least = everywhere.fold(f64::INFINITY, f64::min);
    let found = clearance(&scene, "fixture knob");
    let facets = FACET * 0.015;
    let checks = [
        (found.scheduled_m, gap + 1e-6, "in the schedule"),
        (found.full_turn_m, least + 3e-4, "through a full turn"), // walked in steps of 1 deg
    ];
    for (found_m, walked_m, during) in checks {
        let warnings = &scene.facts.warnings;
        let cut_short = warnings.iter().any(|warning| warning.contains(during));
        // a search cut short reports what it proved: never more than the truth, and said as a bound
        let loose = if cut_short { 0.3 } else { 0.005 };
        assert!(found_m < walked_m + facets, "{found:?} {walked_m}");
        assert!(
            found_m > (1.0 - loose) * walked_m - facets - 3e-4,
            "{found:?} {walked_m}"
        );
    }
}

#[test]
fn angles_of_many_turns_are_named_within_one() {
    let turn = 1.25_f64;
    for (angle, named) in [
        (turn, turn),
        (-turn, -turn),
        (21.0 * TAU, 0.0),
        (3.0 * TAU + turn, turn),
        (-2.0 * TAU - turn, TAU - turn),
    ] {
        assert!((folded(angle) - named).abs() < 1e-9, "{angle}");
    }
}
