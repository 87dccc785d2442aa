//! Probes: thickness at points along a line, each dropped onto the nearest surface.
//!
//! In: the plan's probes and the scene. Out: [`ProbePoint`]s, evaluated at the points themselves.

use super::causes;
use super::gather::{Job, Keep, SCRAMBLINGS, Sums as Gathered};
use super::lines::Lines;
use super::pilot::{self, Aim};
use super::{ProbePoint, Sums, Tally, tally};
use crate::plan::model::Probe;
use crate::random::Use;
use crate::scene::covered::ALL_LIT;
use crate::scene::{Part, Receiver, Scene, Side};
use crate::transport::kernel::Kernel;
use glam::DVec3;

/// Probe points are asked to be this much better than the map, and at least this good: they are few.
const BETTER: f64 = 0.25;
const GOOD: f64 = 0.0025;

/// Rounds of raised efforts, the last of which counts.
const ROUNDS: u16 = 5;

/// Evaluates all probes of the plan.
///
/// - `asked`: relative accuracy of the map and the thickness below which it is taken against a floor, m
pub(crate) fn evaluate(
    scene: &Scene,
    lines: &Lines,
    seed: u64,
    asked: (f64, f64),
) -> Vec<Vec<ProbePoint>> {
    scene
        .plan
        .probes
        .iter()
        .map(|probe| {
            let part = scene
                .parts
                .iter()
                .find(|part| scene.bodies[part.body.0 as usize].name == probe.part);
            part.map(|part| one(scene, lines, (probe, part), (seed, asked)))
                .unwrap_or_default()
        })
        .collect()
}

/// Reads the film at the probes' points off the facets that they lie on: fired atoms land on areas, not on points.
///
/// - `receivers`: sums of the scene's receivers
pub(crate) fn read(scene: &Scene, receivers: &[Sums]) -> Vec<Vec<ProbePoint>> {
    let probes = scene.plan.probes.iter();
    probes
        .map(|probe| {
            let (mut points, facets) = dropped(scene, probe);
            for (point, facet) in points.iter_mut().zip(facets) {
                if let Some(facet) = facet {
                    point.sums = receivers[facet];
                }
            }
            points
        })
        .collect()
}

/// Adds to points where what comes straight was evaluated what is scattered onto the facets that they lie on.
///
/// The error is at most that of the facet's whole film beside that of the point.
pub(crate) fn add_scattered(scene: &Scene, tally: &Tally, probes: &mut [Vec<ProbePoint>]) {
    if tally.scattered.is_empty() {
        return;
    }
    for (probe, points) in scene.plan.probes.iter().zip(probes) {
        let (_, facets) = dropped(scene, probe);
        for (point, facet) in points.iter_mut().zip(facets) {
            let Some(facet) = facet else { continue };
            let (whole, own) = (&tally.receivers[facet], &mut point.sums);
            let scattered_m = whole.thickness_m * f64::from(tally.scattered[facet]);
            let sum_m = own.thickness_m + scattered_m;
            if scattered_m > 0.0 {
                let straight = if own.thickness_m > 0.0 {
                    own.thickness_m * own.incidence_rad
                } else {
                    0.0
                };
                own.incidence_rad = (straight + scattered_m * whole.incidence_rad) / sum_m;
            }
            own.thickness_m = sum_m;
            own.std_error_m = own.std_error_m.hypot(whole.std_error_m);
            own.arrived = own.arrived.max(whole.arrived);
        }
    }
}

/// Points of a probe on the surface, with the facet that each lies on.
fn dropped(scene: &Scene, probe: &Probe) -> (Vec<ProbePoint>, Vec<Option<usize>>) {
    let body = |part: &&Part| scene.bodies[part.body.0 as usize].name == probe.part;
    let Some(part) = scene.parts.iter().find(body) else {
        return (Vec::new(), Vec::new());
    };
    let (points, places) = drop_points(scene, probe, part);
    let facets = places.iter().map(|place| {
        let [bary, ..] = place.corners;
        scene.receiver_at(place.body, place.triangle, place.side, bary)
    });
    (points, facets.collect())
}

fn one(
    scene: &Scene,
    lines: &Lines,
    (probe, part): (&Probe, &Part),
    (seed, (accuracy, floor_m)): (u64, (f64, f64)),
) -> Vec<ProbePoint> {
    let (mut points, receivers) = drop_points(scene, probe, part);
    let ones = vec![1.0; receivers.len()];
    let idle = vec![false; receivers.len()];
    let job = Job {
        lines,
        receivers: &receivers,
        seed,
        purpose: Use::Probe,
        round: 0,
    };
    let mut rays = 0;
    let causes = causes::look(&job, &idle, causes::Points::MANY, &mut rays);
    let aim = Aim {
        accuracy: (accuracy * BETTER).min(GOOD),
        floor_m: Some(floor_m),
        areas_m2: &ones,
        idle: &idle,
        unlit: &idle,
        causes: &causes,
        beside: pilot::Beside::default(),
    };
    let (effort, sums) = pilot::run_pilot(&job, &idle, &mut rays);
    let mut effort = pilot::settle(&job, &aim, &effort, &sums);
    let mut sums = Gathered::new(0, effort.channels, Keep::Means);
    for round in 1..=ROUNDS {
        let job = Job { round, ..job };
        sums = Gathered::new(receivers.len(), effort.channels, Keep::Means);
        while sums.scramblings < SCRAMBLINGS {
            job.scramblings(&effort, &mut sums);
        }
        let raised = pilot::raise(&effort, &sums, &aim);
        let over = |sums: Sums| sums.std_error_m > aim.accuracy * sums.thickness_m.max(floor_m);
        let short = tally::receivers_of(&sums, &causes).any(over);
        if !short || raised.sum() <= effort.sum() {
            break;
        }
        effort = raised;
    }
    for (point, sums) in points.iter_mut().zip(tally::receivers_of(&sums, &causes)) {
        point.sums = sums;
    }
    points
}

/// Points on the surface, and receivers without extent there.
fn drop_points(scene: &Scene, probe: &Probe, part: &Part) -> (Vec<ProbePoint>, Vec<Receiver>) {
    let body = &scene.bodies[part.body.0 as usize];
    let corners = |row: usize| body.triangles[row].map(|i| body.vertices[i as usize]);
    let kernel = Kernel::build(
        (0..body.triangles.len())
            .map(|row| corners(row).map(|p| p.as_vec3()))
            .collect(),
    );
    let length_m = (probe.to_m - probe.from_m).length();
    let last = probe.points.saturating_sub(1).max(1) as f64;
    (0..probe.points)
        .filter_map(|index| {
            let share = index as f64 / last;
            let on_line: DVec3 = probe.from_m.lerp(probe.to_m, share);
            let nearest = kernel.nearest_point(on_line)?;
            let [a, b, c] = corners(nearest.triangle as usize);
            let bary = nearest.bary;
            let point = ProbePoint {
                s_m: length_m * share,
                position_m: a + (b - a) * bary.x + (c - a) * bary.y,
                sums: Sums::default(),
            };
            let receiver = Receiver {
                body: part.body,
                triangle: nearest.triangle,
                side: Side::Front,
                corners: [bary; 3],
                area_m2: 0.0,
                lit: ALL_LIT,
            };
            Some((point, receiver))
        })
        .unzip()
}
