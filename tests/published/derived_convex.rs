//! The outside of a sphere, coated from a small cosine source.

use crate::values;
use evenfall_sim::film::State;
use evenfall_tests::agreement::{Comparison, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Head};
use evenfall_tests::forms::spheres::{
    caught_inside_rim, horizon_rad, outside_caught, outside_flux,
};
use evenfall_tests::solids::{Sheet, ball};
use glam::DVec3;

/// Radius of the sphere, m.
const R: f64 = 0.02;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_convex");
    let flux = table.quantity("flux times Rs2 on a sphere");
    flux.check(|of| outside_flux(of("distance"), of("polar_angle_deg").to_radians()));
    table
        .quantity("caught fraction")
        .check(|of| outside_caught(of("distance")));
    table
        .quantity("horizon angle")
        .check(|of| horizon_rad(of("distance")).to_degrees());
}

/// A small source at `distance` radii under the centre of the sphere, facing it.
fn spot_under(distance: f64, exponent: f64) -> Bench {
    Bench::new().source(&Head {
        footprint: "{ shape = \"spot\" }",
        cosine: exponent,
        at: DVec3::new(0.0, 0.0, -distance * R),
        facing: DVec3::Z,
        along: None,
    })
}

/// Small patches that touch the sphere from outside, at the polar angles of the table.
fn patches_against(distance: f64, real_distance: f64) -> Vec<Comparison> {
    let table = values!("derived_convex");
    let rows: Vec<(f64, f64)> = table
        .quantity("flux times Rs2 on a sphere")
        .rows
        .iter()
        .filter(|row| (row["distance"] - distance).abs() < 1e-9)
        .map(|row| (row["polar_angle_deg"].to_radians(), row["value"]))
        .collect();
    let edge = 0.01 * R;
    let mut sheet = Sheet::default();
    for (number, (polar, _)) in rows.iter().enumerate() {
        let azimuth = 2.4 * number as f64;
        let out = DVec3::new(
            polar.sin() * azimuth.cos(),
            polar.sin() * azimuth.sin(),
            -polar.cos(),
        );
        sheet.patch(out * R, out, edge);
    }
    let bench = spot_under(real_distance, 1.0)
        .part("patches", sheet)
        .step(1.0, "");
    let coated = bench.coat(&Asked::rows(0.0028));
    rows.iter()
        .enumerate()
        .map(|(number, &(_, value))| {
            let pair = [2 * number, 2 * number + 1].map(|k| coated.against(k, value / (R * R)));
            Comparison {
                found: 0.5 * (pair[0].found + pair[1].found),
                std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
                // e²/24 times the curvature of flux, under 12/R² of itself for D = 2 and more
                bias: pair[0].bias + 12.0 / 24.0 * (edge / R).powi(2) * pair[0].reference,
                ..pair[0].clone()
            }
        })
        .collect()
}

#[test]
fn outside_of_a_sphere_matches_the_table_up_to_its_horizon() {
    for distance in [2.0, 3.0, 5.0] {
        judge(&patches_against(distance, distance), SCRAMBLINGS, 0.003).unwrap();
    }
}

#[test]
fn outside_of_a_sphere_notices_a_source_half_a_percent_nearer() {
    let verdict = judge(&patches_against(3.0, 2.985), SCRAMBLINGS, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}

const ZONES: u32 = 40;
const SIDES: u32 = 24;

/// Emission angle of the rim of a zone at height z (towards the source negative), rad.
fn rim_rad(distance: f64, z: f64) -> f64 {
    (1.0 - z * z).max(0.0).sqrt().atan2(distance + z)
}

/// Shares caught by zones of a ball, between rims of 24 corners; those behind the horizon are given apart.
fn zones(distance: f64, real: f64, supposed: f64) -> (Vec<Comparison>, Vec<(f64, State)>) {
    let mut sheet = ball(ZONES, SIDES);
    sheet
        .triangles
        .iter_mut()
        .flatten()
        .for_each(|corner| *corner *= R);
    let bench = spot_under(distance, real).part("ball", sheet).step(1.0, "");
    let coated = bench.coat(&Asked::rows(0.0028));
    let mut lit = Vec::new();
    let mut dark = Vec::new();
    let mut receiver = 0;
    for zone in 0..ZONES {
        let facets = if zone == 0 || zone == ZONES - 1 {
            SIDES
        } else {
            2 * SIDES
        };
        let range = receiver..receiver + facets as usize;
        receiver = range.end;
        let height = |k: u32| -1.0 + 2.0 * f64::from(k) / f64::from(ZONES);
        let [near, far] = [height(zone), height(zone + 1)].map(|z| rim_rad(distance, z));
        if far > near {
            // A ring of flat sides turns its back only where its rims shrink, seen from the source.
            let (mut found, mut std_error) = (0.0, 0.0_f64);
            for k in range {
                let area = coated.area_m2(k);
                let (flux, error) = coated.flux(k);
                found += area * flux;
                std_error = std_error.hypot(area * error);
            }
            let reference =
                caught_inside_rim(supposed, far, SIDES) - caught_inside_rim(supposed, near, SIDES);
            let name = format!("D = {distance}, zone {zone}");
            // Corners in f32: 6e-8 of R against rims 0.01 R apart or more.
            lit.push(Comparison {
                name,
                found,
                std_error,
                reference,
                bias: 4e-5 * reference,
            });
        } else {
            let film = &coated.film.rows[0];
            dark.extend(range.map(|k| (film[k].thickness_m, film[k].state)));
        }
    }
    (lit, dark)
}

#[test]
fn zones_of_a_ball_catch_what_passes_between_their_rims() {
    for distance in [2.0, 5.0] {
        let (lit, _) = zones(distance, 1.0, 1.0);
        judge(&lit, SCRAMBLINGS, 0.003).unwrap();
        // What they catch together is 1/D², but for the rim's 24 corners: sin²θ shrinks by under 1.2 %.
        let caught: f64 = lit.iter().map(|c| c.reference).sum();
        let ideal = outside_caught(distance);
        assert!(
            caught < ideal && caught > 0.985 * ideal,
            "{caught} against {ideal}"
        );
    }
}

#[test]
fn zones_of_a_ball_notice_an_exponent_of_1_03() {
    let (lit, _) = zones(2.0, 1.03, 1.0);
    assert!(
        judge(&lit, SCRAMBLINGS, 0.003)
            .unwrap_err()
            .speaks_against()
    );
}

#[test]
fn zones_of_a_ball_behind_the_horizon_are_proved_bare() {
    let (_, dark) = zones(2.0, 1.0, 1.0);
    assert!(dark.len() > 500);
    for (thickness_m, state) in dark {
        assert!(
            thickness_m.abs() < f64::MIN_POSITIVE,
            "{thickness_m} m behind the horizon"
        );
        assert_eq!(state, State::Unreached);
    }
}
