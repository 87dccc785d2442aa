//! The two methods against closed forms and each other, on scenes built by hand.

use super::lines::Lines;
use super::{Method, RunSettings, Tally, Unwatched, calibrate, run};
use crate::geometry::solids;
use crate::mesh::Mesh;
use crate::plan::model::{
    Coupon, EmissionLaw, Faces, Footprint, MeshFile, Output, Part, Placement, Plan, Rotation,
    ShutterState, Source, SourceKind, Step, StepPower,
};
use crate::scene::{Meshes, Scene, lower};
use glam::DVec3;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::sync::Arc;

mod drawn;
mod together;

fn settings(method: Method, accuracy: f64, threads: usize) -> RunSettings {
    RunSettings {
        method,
        accuracy,
        time: None,
        atoms: Some(2_000_000),
        seed: 1,
        threads,
    }
}

fn source(exponent: f64) -> Source {
    Source {
        name: "head".into(),
        kind: SourceKind::Sputter {
            energy_cut_j: 1.6e-17,
        },
        metal: "silver".into(),
        at_m: DVec3::ZERO,
        facing: DVec3::Z,
        along: None,
        footprint: Footprint::Spot,
        law: EmissionLaw::CosinePower { exponent },
        output: Output::AtomsPerSecond { rate_per_s: 1e18 },
        correction: 1.0,
        target_thickness_m: None,
    }
}

fn step() -> Step {
    Step {
        note: None,
        lasts_s: 60.0,
        shutter: ShutterState::All { shut: false },
        power: StepPower::All(1.0),
        hold: None,
        speed_rad_per_s: None,
        vent: false,
        turn_rad: BTreeMap::new(),
        at_m: BTreeMap::new(),
    }
}

/// A grid plate looking down on the source from 100 mm.
fn scene(exponent: f64, speed_rad_per_s: f64) -> Scene {
    let turning = [(DVec3::Z, speed_rad_per_s, None)];
    staged(source(exponent), &turning, Vec::new())
}

/// The same over any source, with rotations about axes through the origin: speed, rad/s, and swing, rad.
fn staged(source: Source, rotations: &[(DVec3, f64, Option<f64>)], coupons: Vec<Coupon>) -> Scene {
    over_grid(source, rotations, (coupons, 20))
}

/// The same with a plate of so many squares a side.
fn over_grid(
    source: Source,
    rotations: &[(DVec3, f64, Option<f64>)],
    (coupons, squares): (Vec<Coupon>, u32),
) -> Scene {
    let grid = solids::grid(0.2, 0.2, [squares, squares]);
    let placement = Placement {
        at_m: DVec3::new(0.0, 0.0, 0.1),
        turn_rad: DVec3::new(PI, 0.0, 0.0),
    };
    let part = (&grid, placement, Faces::Outside);
    with_part(source, part, rotations, coupons)
}

/// A part seen from within as well, all around its middle, 300 mm above a source.
pub(super) fn hollow(solid: &solids::Solid) -> Scene {
    let placement = Placement {
        at_m: DVec3::new(0.0, 0.0, 0.3),
        turn_rad: DVec3::ZERO,
    };
    with_part(
        source(1.0),
        (solid, placement, Faces::Both),
        &[],
        Vec::new(),
    )
}

fn with_part(
    source: Source,
    (solid, placement, faces): (&solids::Solid, Placement, Faces),
    rotations: &[(DVec3, f64, Option<f64>)],
    coupons: Vec<Coupon>,
) -> Scene {
    let mesh = Mesh::from_triangles(&solid.vertices, &solid.triangles).expect("a solid");
    let mut meshes = Meshes::default();
    meshes.insert("plate.stl", mesh);
    let plan = Plan {
        sources: vec![source],
        parts: vec![Part {
            name: "plate".into(),
            mesh: MeshFile {
                path: "plate.stl".into(),
                unit_m: Some(1.0),
            },
            scale: 1.0,
            placement,
            faces,
            sticking: 1.0,
            material: None,
            wall_m: None,
            limit_k: None,
            emissivity: None,
            clear: false,
        }],
        coupons,
        rotations: rotations
            .iter()
            .map(|&(axis, speed_rad_per_s, swing_rad)| Rotation {
                axis,
                through_m: DVec3::ZERO,
                speed_rad_per_s,
                swing_rad,
            })
            .collect(),
        steps: vec![step()],
        ..Plan::default()
    };
    lower(Arc::new(plan), &meshes).expect("a plain scene")
}

/// Lines of a scene with a plain rate.
pub(super) fn lines_of(scene: &Scene) -> Lines<'_> {
    let rates = calibrate(scene, &settings(Method::Auto, 0.02, 1)).expect("a plain rate");
    Lines::new(scene, &rates)
}

fn tally(scene: &Scene, method: Method, accuracy: f64, threads: usize) -> Tally {
    let settings = settings(method, accuracy, threads);
    let rates = calibrate(scene, &settings).expect("a plain rate");
    run(scene, &rates, &settings, &Unwatched)
}

#[test]
fn cosine_spot_over_plate_matches_closed_form_by_gather_and_fire() {
    // Plate parallel at h: flux = (n+1)/(2π h²) (1 + (x/h)²)^-(n+3)/2 per emitted atom (item: small
    // sources; derived, PHYSICS.md "Closed forms"); total caught by a 0.2 × 0.2 m plate by summing.
    for (method, limit) in [(Method::Gather, 4.5), (Method::Fire, 4.5)] {
        let scene = scene(1.0, 0.0);
        let tally = tally(&scene, method, 0.003, 0);
        let metal = &scene.metals[0];
        let atoms = 6e19;
        // Per row of the mesh: area, volume found, volume expected.
        let mut rows = vec![[0.0; 3]; scene.parts[0].mesh.triangles.len()];
        for (receiver, sums) in scene.receivers.iter().zip(&tally.receivers) {
            let body = &scene.bodies[receiver.body.0 as usize];
            let [a, b, c] = body.corners(receiver.triangle);
            let corners = receiver.corners.map(|w| a + (b - a) * w.x + (c - a) * w.y);
            let flux = |p: DVec3| {
                let s = p.truncate().length_squared() / 0.01;
                1.0 / (PI * 0.01) * (1.0 + s).powi(-2)
            };
            // three-point rule, exact to second order
            let mids = [(0, 1), (1, 2), (2, 0)]
                .map(|(i, j): (usize, usize)| (corners[i] + corners[j]) / 2.0);
            let mean = mids.map(flux).iter().sum::<f64>() / 3.0;
            let expected = mean * atoms * metal.atom_volume_m3();
            let row = &mut rows[receiver.triangle as usize];
            row[0] += receiver.area_m2;
            row[1] += receiver.area_m2 * sums.thickness_m;
            row[2] += receiver.area_m2 * expected;
        }
        let worst = rows
            .iter()
            .zip(&tally.row_std_error_m[0][0])
            .map(|([area, found, expected], error)| {
                (found - expected).abs() / (area * error).max(1e-6 * expected)
            })
            .fold(0.0, f64::max);
        assert!(
            worst < limit + 0.5,
            "{method:?}: z {worst}, accuracy {}",
            tally.accuracy
        );
        assert_eq!(tally.balance.fates(), tally.balance.emitted);
    }
}

#[test]
fn gather_gives_the_same_bits_on_any_number_of_threads() {
    let scene = scene(2.0, 1.0);
    let one = tally(&scene, Method::Auto, 0.02, 1);
    let three = tally(&scene, Method::Auto, 0.02, 3);
    assert_eq!(format!("{one:?}"), format!("{three:?}"));
}

#[test]
fn errors_are_never_zero_where_lines_were_blocked_or_none_arrived() {
    use super::causes::Causes;
    use super::gather::Cell;
    let causes = Causes {
        open_thickness_m: 1e-7,
        ..Causes::default()
    };
    let error = |cell: Cell| super::tally::sums_of(&cell, &causes, 32).std_error_m;
    // 32 scramblings of 2e-9 m each, four lines each: no spread at all
    let even = Cell {
        sum: 64e-9,
        squares: 32.0 * 2e-9 * 2e-9,
        samples: 128,
        arrived: 128,
        ..Cell::default()
    };
    assert!(error(even) < 1e-15, "all clear: no spread is no error");
    let shaded = Cell {
        arrived: 32,
        blocked: 96,
        ..even
    };
    assert!((error(shaded) / (2e-9 / 32.0) - 1.0).abs() < 1e-9);
    let unseen = Cell {
        sum: 0.0,
        squares: 0.0,
        arrived: 0,
        ..even
    };
    assert!(
        (error(unseen) / (1e-7 / 128.0) - 1.0).abs() < 1e-9,
        "below the horizon"
    );
    let dark = Cell {
        blocked: 64,
        missed: 64e-9,
        ..unseen
    };
    assert!((error(dark) / (1e-9 / 32.0) - 1.0).abs() < 1e-9);
}

/// Mean squares of the differences between a sketch of one scene and a run of another, in standard errors: of
/// receivers that the sketch looked at, and of those that it led.
fn mean_squares(sketched: &Scene, ran: &Scene) -> [f64; 2] {
    let settings = settings(Method::Gather, 0.005, 0);
    let rates = calibrate(sketched, &settings).expect("a plain rate");
    let sketch = super::sketch(sketched, &rates, &settings, &Unwatched);
    let run = run(ran, &rates, &settings, &Unwatched);
    assert_eq!(sketch.balance.fates(), sketch.balance.emitted);
    let lines = Lines::new(sketched, &rates);
    let job = super::gather::Job {
        lines: &lines,
        receivers: &sketched.receivers,
        seed: 1,
        purpose: crate::random::Use::Pilot,
        round: 0,
    };
    let led = super::led::Led::new(&job, &super::tally::idle(sketched)).spared;
    let pairs = sketch.receivers.iter().zip(&run.receivers).zip(&led);
    let mut squares = [(0.0, 0_u32); 2];
    for ((a, b), &led) in pairs.filter(|((a, _), _)| a.arrived > 0) {
        let error = a.std_error_m.hypot(b.std_error_m);
        let (sum, count) = &mut squares[usize::from(led)];
        *sum += ((a.thickness_m - b.thickness_m) / error).powi(2);
        *count += 1;
    }
    assert!(squares[0].1 > 500, "{squares:?}");
    squares.map(|(sum, count)| sum / f64::from(count))
}

#[test]
fn a_sketch_differs_from_the_run_by_its_errors() {
    // t of 16 scramblings has a variance of 15/13; over a thousand receivers its mean is known to 8 %
    let scene = scene(2.0, 1.0);
    let [found, _] = mean_squares(&scene, &scene);
    assert!((found - 15.0 / 13.0).abs() < 0.35, "{found}");
}

#[test]
fn the_comparison_notices_a_sketch_of_another_law() {
    let [found, _] = mean_squares(&scene(2.6, 1.0), &scene(2.0, 1.0));
    assert!((found - 15.0 / 13.0).abs() > 0.35, "{found}");
}

/// A plate of 33 800 receivers over an off-axis spot behind nothing, standing still.
fn fine(exponent: f64) -> Scene {
    over_grid(source(exponent), &[], (Vec::new(), 130))
}

#[test]
fn what_a_sketch_leads_differs_from_the_run_by_no_more_than_its_errors() {
    let scene = fine(2.0);
    let [looked_at, led] = mean_squares(&scene, &scene);
    assert!((looked_at - 15.0 / 13.0).abs() < 0.35, "{looked_at}");
    // the error of what is led is a bound on changes nearby, so that differences may be smaller than it
    assert!((0.05..15.0 / 13.0 + 0.35).contains(&led), "{led}");
}

#[test]
fn the_comparison_notices_a_sketch_that_leads_by_another_law() {
    let [_, led] = mean_squares(&fine(2.6), &fine(2.0));
    assert!(!(0.05..15.0 / 13.0 + 0.35).contains(&led), "{led}");
}
