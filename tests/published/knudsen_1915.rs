//! The inside of a sphere, coated from a small source on its wall: M. Knudsen (1915).

use crate::values;
use evenfall_tests::agreement::{Comparison, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Head};
use evenfall_tests::forms::spheres::{caught_inside_rim, inside_over_mean};
use evenfall_tests::solids::{Sheet, ball};
use glam::DVec3;
use std::f64::consts::PI;

/// Radius of the sphere, m.
const R: f64 = 0.1;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("knudsen_1915");
    let inside = table.quantity("flux over mean inside a sphere");
    inside.check(|of| inside_over_mean(of("n"), of("emission_angle_deg").to_radians()));
}

/// A spot on the lowest point of the sphere, facing its centre.
fn spot_on_the_wall(exponent: f64) -> Bench {
    Bench::new().source(&Head {
        footprint: "{ shape = \"spot\" }",
        cosine: exponent,
        // A millionth of the radius inside, so that it is not in the corner of the facets there.
        at: DVec3::new(0.0, 0.0, -R * (1.0 - 1e-6)),
        facing: DVec3::Z,
        along: None,
    })
}

/// 120 places on the sphere, even per area (spirals of the golden angle), up to 75° of emission.
fn places() -> Vec<DVec3> {
    let top = 1.0;
    let low = (2.0 * 75.0_f64.to_radians()).cos();
    let golden = PI * (3.0 - 5.0_f64.sqrt());
    (0..120)
        .map(|k| {
            let k = f64::from(k);
            let z: f64 = top + (low - top) * (k + 0.5) / 120.0;
            let across = (1.0 - z * z).sqrt();
            let (sin, cos) = (golden * k).sin_cos();
            DVec3::new(across * cos, across * sin, z)
        })
        .collect()
}

/// Flux on small patches that touch the sphere from inside, over the mean Q/(4πR²).
fn patches_against(real: f64, supposed: f64) -> Vec<Comparison> {
    let edge = 0.01 * R;
    let mut sheet = Sheet::default();
    places()
        .iter()
        .for_each(|place| sheet.patch(*place * R, -*place, edge));
    let coated = spot_on_the_wall(real)
        .part("patches", sheet)
        .step(1.0, "")
        .coat(&Asked::rows(0.0028));
    let mean = 1.0 / (4.0 * PI * R * R);
    let compare = |receiver: usize| {
        let place = places()[receiver / 2];
        // The polar angle from the far pole is twice the emission angle.
        let emission = 0.5 * place.z.clamp(-1.0, 1.0).acos();
        let reference = mean * inside_over_mean(supposed, emission);
        let mut comparison = coated.against(receiver, reference);
        // Triangles lie to either side of the place, 0.24 edges off: compare with the pair's mean
        // below; the mesh term of a patch of edge e is e²/24 times the curvature of flux, and the source
        // is 1e-6 R off. Near 75° the flux of n = 0 has curvature 40/R² of itself.
        comparison.bias += reference * (40.0 / 24.0 * (edge / R).powi(2) + 4e-6);
        comparison
    };
    let all: Vec<Comparison> = (0..coated.rows()).map(compare).collect();
    all.chunks(2)
        .map(|pair| Comparison {
            found: 0.5 * (pair[0].found + pair[1].found),
            std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
            ..pair[0].clone()
        })
        .collect()
}

#[test]
fn cosine_source_on_the_wall_coats_the_inside_of_a_sphere_evenly() {
    judge(&patches_against(1.0, 1.0), SCRAMBLINGS, 0.003).unwrap();
}

#[test]
fn other_exponents_coat_the_inside_of_a_sphere_as_the_closed_form_says() {
    for n in [0.0, 2.0, 3.0] {
        judge(&patches_against(n, n), SCRAMBLINGS, 0.003).unwrap();
    }
}

#[test]
fn inside_of_a_sphere_notices_an_exponent_of_1_03() {
    let verdict = judge(&patches_against(1.03, 1.0), SCRAMBLINGS, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}

const ZONES: u32 = 40;
const SIDES: u32 = 24;

/// Shares caught by zones of equal area of an inside-out sphere, between rims of 24 corners; the zone
/// around the source is left out, so that the sheet stays open and faces as drawn.
fn zones_against(real: f64, supposed: f64) -> Vec<Comparison> {
    let mut inside = ball(ZONES, SIDES).turned_over();
    inside.triangles.drain(..SIDES as usize);
    for corner in inside.triangles.iter_mut().flatten() {
        *corner *= R;
    }
    let coated = spot_on_the_wall(real)
        .part("inside", inside)
        .step(1.0, "")
        .coat(&Asked::rows(0.0028));
    let mut zones = vec![(0.0, 0.0_f64); ZONES as usize];
    for receiver in 0..coated.rows() {
        let z = coated.corners(receiver).iter().map(|c| c.z).sum::<f64>() / (3.0 * R);
        let zone = &mut zones[zone_of(z)];
        let area = coated.area_m2(receiver);
        let (flux, error) = coated.flux(receiver);
        *zone = (zone.0 + area * flux, zone.1.hypot(area * error));
    }
    let rim = |z: f64| {
        // Emission angle of a rim at height z: tan θ = √(1 − z²)/(1 + z); half the angle from the top.
        caught_inside_rim(supposed, 0.5 * z.min(1.0).acos(), SIDES)
    };
    // The two lowest zones lie around the source, at over 70° of emission.
    (2..ZONES as usize)
        .map(|zone| {
            let height = |k: usize| -1.0 + 2.0 * k as f64 / f64::from(ZONES);
            let reference = rim(height(zone)) - rim(height(zone + 1));
            let (found, std_error) = zones[zone];
            let name = format!("n = {real}, zone {zone}");
            // 1e-6 R of displacement changes the lowest of these rims, at 0.3 R, by 1e-5.
            Comparison {
                name,
                found,
                std_error,
                reference,
                bias: 2e-5 * reference,
            }
        })
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a zone's small number"
)]
fn zone_of(z: f64) -> usize {
    (0.5 * (z + 1.0) * f64::from(ZONES)) as usize
}

#[test]
fn zones_of_an_inside_out_sphere_catch_what_passes_between_their_rims() {
    for n in [1.0, 2.0] {
        judge(&zones_against(n, n), SCRAMBLINGS, 0.003).unwrap();
    }
}

#[test]
fn zones_of_an_inside_out_sphere_notice_an_exponent_of_1_03() {
    let verdict = judge(&zones_against(1.03, 1.0), SCRAMBLINGS, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}
