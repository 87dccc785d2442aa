//! Convex bodies in a beam, averaged over a turn and over all orientations: A. Cauchy (1832).

use crate::values;
use evenfall_tests::agreement::{Comparison, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::quadrature::{gauss_legendre, integral};
use evenfall_tests::solids::{Sheet, block, rings};
use glam::DVec3;
use std::f64::consts::{FRAC_1_PI, PI};
use std::fmt::Write as _;

/// Distance of the source, m: its rays meet a body of some mm in parallel but for 1e-4.
const FAR: f64 = 50.0;
/// Half the size of the bodies, m.
const SIZE: f64 = 0.0025;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("cauchy_1832");
    // Mean of the positive part of a cosine, over the sphere of directions and over a turn.
    let over_all = integral(0.0, 0.5 * PI, 4, |t| 0.5 * t.cos() * t.sin());
    table
        .quantity("mean projection over surface")
        .check(|_| over_all);
    table
        .quantity("mean over flat, side of a turning cylinder")
        .check(|_| FRAC_1_PI);
}

/// A far spot on the x axis that faces the origin.
fn beam(exponent: f64) -> Bench {
    Bench::new().source(&Head {
        footprint: "{ shape = \"spot\" }",
        cosine: exponent,
        at: DVec3::new(FAR, 0.0, 0.0),
        facing: -DVec3::X,
        along: None,
    })
}

/// Flux of the beam on a flat that faces it, per emitted atom.
fn flat(exponent: f64) -> f64 {
    (exponent + 1.0) / (2.0 * PI * FAR * FAR)
}

/// Film over that of a flat that faces the beam, on each side of a prism that turns whole turns.
fn turning_prism(real: f64, supposed: f64) -> Vec<Comparison> {
    let prism = rings(&[(SIZE, -SIZE), (SIZE, SIZE)], 36);
    let bench = beam(real)
        .part("prism", prism)
        .turning(DVec3::Z)
        .step(2.0, "");
    let coated = bench.coat(&Asked::rows(0.0028));
    let reference = values!("cauchy_1832")
        .quantity("mean over flat, side of a turning cylinder")
        .at(&[]);
    (0..coated.rows())
        .map(|receiver| {
            let mut comparison = coated.against(receiver, reference * flat(supposed));
            // Rays are parallel to SIZE/FAR; the flux changes by three times that over the body.
            comparison.bias += 3.0 * SIZE / FAR * comparison.reference;
            comparison
        })
        .collect()
}

#[test]
fn side_of_a_turning_cylinder_gets_one_over_pi_of_a_flat() {
    judge(&turning_prism(1.0, 1.0), SCRAMBLINGS, 0.003).unwrap();
}

#[test]
fn side_of_a_turning_cylinder_notices_an_exponent_of_1_03() {
    let verdict = judge(&turning_prism(1.03, 1.0), SCRAMBLINGS, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}

/// A body that takes all orientations: whole turns about x at `STOPS` stops of a turn about z, the stops'
/// cosines and durations those of Gauss and Legendre.
///
/// The beam comes along x, so the direction to it in the body's frame has the stop's angle from the
/// body's x axis and, while it turns, every angle around it: even over the sphere.
const STOPS: u32 = 24;

fn tumbling(body: Sheet, exponent: f64) -> Coated {
    let mut bench = beam(exponent)
        .part("body", body)
        .with("[[rotation]]\naxis = [1.0, 0.0, 0.0]\nspeed = \"360 deg/s\"\n")
        .with("[[rotation]]\naxis = [0.0, 0.0, 1.0]\nspeed = \"360 deg/s\"\n");
    for (cosine, weight) in gauss_legendre(STOPS) {
        let hold = cosine.acos().to_degrees();
        let mut more = String::new();
        let _ = writeln!(more, "hold = [\"turn\", \"{hold:?} deg\"]");
        let _ = writeln!(more, "power = {weight:?}");
        bench = bench.step(1.0, &more);
    }
    bench.coat(&Asked::rows(0.0028))
}

/// Mean over the stops and turns of the positive part of the cosine between normal and beam.
fn mean_of_stops(normal: DVec3) -> f64 {
    let stop = |(cosine, weight): (f64, f64)| {
        // n·b = n_x cos β + sin β |n_yz| cos α, its positive part averaged over α.
        let [level, swing] = [
            normal.x * cosine,
            normal.y.hypot(normal.z) * (1.0 - cosine * cosine).sqrt(),
        ];
        let mean = if level >= swing {
            level
        } else if level <= -swing {
            0.0
        } else {
            let edge = (-level / swing).acos();
            (level * edge + swing * edge.sin()) / PI
        };
        0.5 * weight * mean
    };
    gauss_legendre(STOPS).into_iter().map(stop).sum()
}

/// Film on every facet of a slanted box against the mean of its stops, and last the mean over its
/// surface against a quarter.
fn tumbling_box(real: f64, supposed: f64) -> Vec<Comparison> {
    let mut body = block(
        DVec3::splat(-SIZE),
        DVec3::new(SIZE, 0.6 * SIZE, 0.3 * SIZE),
    );
    let lean = glam::DQuat::from_euler(glam::EulerRot::XYZ, 0.4, 0.7, 0.2);
    body.triangles
        .iter_mut()
        .flatten()
        .for_each(|corner| *corner = lean * *corner);
    let coated = tumbling(body, real);
    let quarter = values!("cauchy_1832")
        .quantity("mean projection over surface")
        .at(&[]);
    let mut all = Vec::new();
    let mut whole = Comparison {
        name: "mean over the surface".to_owned(),
        found: 0.0,
        std_error: 0.0,
        reference: quarter * flat(supposed),
        bias: 0.0,
    };
    let area: f64 = (0..coated.rows()).map(|row| coated.area_m2(row)).sum();
    let mut stopped = 0.0;
    for receiver in 0..coated.rows() {
        let share = coated.area_m2(receiver) / area;
        let normal = evenfall_tests::bench::normal_of(coated.corners(receiver));
        let mut comparison = coated.against(receiver, flat(supposed) * mean_of_stops(normal));
        comparison.bias += 3.0 * SIZE / FAR * comparison.reference;
        whole.found += share * comparison.found;
        whole.std_error = whole.std_error.hypot(share * comparison.std_error);
        whole.bias += share * comparison.bias;
        stopped += share * comparison.reference;
        all.push(comparison);
    }
    // So many stops are not all orientations: by this much they miss the quarter.
    whole.bias += (stopped - whole.reference).abs();
    assert!(
        whole.bias < 0.002 * whole.reference,
        "{STOPS} stops are too few"
    );
    all.push(whole);
    all
}

#[test]
fn tumbling_convex_body_gets_a_quarter_of_a_flat() {
    judge(&tumbling_box(1.0, 1.0), SCRAMBLINGS, 0.003).unwrap();
}

#[test]
fn tumbling_convex_body_notices_an_exponent_of_1_03() {
    let verdict = judge(&tumbling_box(1.03, 1.0), SCRAMBLINGS, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}
