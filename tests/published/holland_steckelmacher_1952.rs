//! Small cosⁿ sources over a plate: Holland and Steckelmacher, Vacuum 2, 346 (1952).

use crate::values;
use evenfall_tests::agreement::{Comparison, SCRAMBLINGS, Spread, chi_squared_share, judge};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::forms::small_source::{
    caught_fraction, drop_radius, flux_on_plate, relative_on_plate,
};
use evenfall_tests::forms::spheres::caught_inside_rim;
use evenfall_tests::quadrature::triangle_mean;
use evenfall_tests::solids::{Sheet, rings};
use glam::DVec3;

/// Height of the plate over the source, m.
const HEIGHT: f64 = 0.1;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("holland_steckelmacher_1952");
    let relative = table.quantity("relative thickness on a plate");
    relative.check(|of| relative_on_plate(of("n"), of("x_over_h")));
    table
        .quantity("caught fraction")
        .check(|of| caught_fraction(of("n"), of("x_over_h")));
    table
        .quantity("drop radius over height")
        .check(|of| drop_radius(of("n"), of("share")));
}

/// A spot under a square plate of 512 triangles out to 1.6 heights, which faces it.
fn spot_under_plate(exponent: f64) -> Bench {
    let mut plate = Sheet::default();
    let half = 1.6 * HEIGHT;
    let edges = [
        DVec3::new(0.0, 2.0 * half, 0.0),
        DVec3::new(2.0 * half, 0.0, 0.0),
    ];
    plate.grid(DVec3::new(-half, -half, HEIGHT), edges, [16, 16]);
    Bench::new()
        .source(&Head {
            footprint: "{ shape = \"spot\" }",
            cosine: exponent,
            at: DVec3::ZERO,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .step(1.0, "")
}

/// Film of a real exponent on every facet against the closed form of a supposed one.
fn plate_against_form(real: f64, supposed: f64) -> Vec<Comparison> {
    let coated = spot_under_plate(real).coat(&Asked::rows(0.0028));
    coated.compare(2, &|p, _| flux_on_plate(supposed, HEIGHT, p.x.hypot(p.y)))
}

#[test]
fn small_source_over_plate_matches_closed_form() {
    for exponent in [0.0, 1.0, 2.0, 3.0, 4.0] {
        judge(&plate_against_form(exponent, exponent), SCRAMBLINGS, 0.003).unwrap();
    }
}

#[test]
fn small_source_over_plate_notices_an_exponent_of_1_03() {
    let verdict = judge(&plate_against_form(1.0, 1.03), SCRAMBLINGS, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}

/// Thickness at points of the plate over that on the axis, at the given distances over height.
fn relative_at(exponent: f64, x_over_h: &[f64], expected: &[f64]) -> Vec<Comparison> {
    let mut bench = spot_under_plate(exponent);
    for x in x_over_h {
        let ends = [
            DVec3::new(0.0, 0.0, HEIGHT),
            DVec3::new(x * HEIGHT, 0.0, HEIGHT),
        ];
        bench = bench.probe("plate", ends, 2);
    }
    let coated = bench.coat(&Asked::rows(0.0028));
    let compare = |(probe, &reference): (usize, &f64)| {
        let (axis, axis_error) = coated.probe_flux(probe, 0);
        let (there, error) = coated.probe_flux(probe, 1);
        let relative = there / axis;
        let std_error = relative * (error / there).hypot(axis_error / axis);
        Comparison {
            name: format!("n = {exponent}, x/h = {}", x_over_h[probe]),
            found: relative,
            std_error,
            reference,
            bias: 4e-6 * reference, // starts lifted by 2⁻²², twice, as flux falls with 1/r²
        }
    };
    expected.iter().enumerate().map(compare).collect()
}

#[test]
fn thickness_on_a_plate_falls_as_the_table_says() {
    let table = values!("holland_steckelmacher_1952");
    let relative = table.quantity("relative thickness on a plate");
    let x_over_h = [0.25, 0.5, 0.75, 1.0, 1.5];
    for n in [0.0, 1.0, 2.0, 3.0, 4.0] {
        let expected = x_over_h.map(|x| relative.at(&[("n", n), ("x_over_h", x)]));
        judge(&relative_at(n, &x_over_h, &expected), SCRAMBLINGS, 0.003).unwrap();
    }
}

#[test]
fn thickness_on_a_plate_has_dropped_to_the_share_at_the_tabulated_radius() {
    let table = values!("holland_steckelmacher_1952");
    let drop = table.quantity("drop radius over height");
    let shares = [0.99, 0.95, 0.9, 0.5];
    for n in [0.0, 1.0, 2.0, 3.0] {
        let radii = shares.map(|share| drop.at(&[("n", n), ("share", share)]));
        judge(&relative_at(n, &radii, &shares), SCRAMBLINGS, 0.003).unwrap();
    }
}

#[test]
fn thickness_on_a_plate_notices_a_source_half_a_percent_nearer() {
    let table = values!("holland_steckelmacher_1952");
    let relative = table.quantity("relative thickness on a plate");
    let x_over_h = [0.25, 0.5, 1.0];
    // The same places seen from a source half a percent nearer lie at 1.005 times their x/h.
    let expected = x_over_h.map(|x| relative.at(&[("n", 1.0), ("x_over_h", x)]));
    let verdict = judge(
        &relative_at(1.0, &x_over_h.map(|x| 1.005 * x), &expected),
        SCRAMBLINGS,
        0.003,
    );
    assert!(verdict.unwrap_err().speaks_against());
}

/// Share of fired atoms caught inside rims of 192 corners at the given distances over height.
fn caught(exponent: f64, x_over_h: &[f64], seed: u64) -> (Coated, Vec<f64>) {
    const SIDES: u32 = 192;
    let profile: Vec<(f64, f64)> = std::iter::once(0.0)
        .chain(x_over_h.iter().copied())
        .map(|x| (x * HEIGHT, HEIGHT))
        .collect();
    let bench = Bench::new()
        .source(&Head {
            footprint: "{ shape = \"spot\" }",
            cosine: exponent,
            at: DVec3::ZERO,
            facing: DVec3::Z,
            along: None,
        })
        .part("disc", rings(&profile, SIDES))
        .step(1.0, "");
    let coated = bench.coat(&Asked {
        seed,
        ..Asked::fire(1_000_000)
    });
    let area = |receiver: usize| coated.area_m2(receiver);
    let mut sum = 0.0;
    let mut shares = Vec::new();
    let mut next = 0;
    for ring in 0..x_over_h.len() {
        let facets = if ring == 0 { SIDES } else { 2 * SIDES } as usize;
        sum += (next..next + facets)
            .map(|k| coated.flux(k).0 * area(k))
            .sum::<f64>();
        next += facets;
        shares.push(sum);
    }
    (coated, shares)
}

fn caught_against(real: f64, supposed: f64) -> Vec<Comparison> {
    let x_over_h = [0.5, 1.0, 2.0];
    let (coated, shares) = caught(real, &x_over_h, 11);
    let fired = coated.tally.balance.emitted as f64;
    let compare = |(&x, &found): (&f64, &f64)| {
        let reference = caught_inside_rim(supposed, f64::atan(x), 192);
        let std_error = (reference * (1.0 - reference) / fired).sqrt();
        Comparison {
            name: format!("n = {real}, x/h = {x}"),
            found,
            std_error,
            reference,
            bias: 1e-6,
        }
    };
    x_over_h.iter().zip(&shares).map(compare).collect()
}

#[test]
fn plate_catches_the_tabulated_share_of_fired_atoms() {
    let table = values!("holland_steckelmacher_1952");
    for n in [0.0, 1.0, 2.0, 3.0] {
        judge(&caught_against(n, n), Spread::Known, 0.003).unwrap();
        // A rim of 192 corners stands for the circle to 2e-4.
        let circle = table
            .quantity("caught fraction")
            .at(&[("n", n), ("x_over_h", 1.0)]);
        assert!((caught_inside_rim(n, 1.0_f64.atan(), 192) / circle - 1.0).abs() < 3e-4);
    }
}

#[test]
fn plate_catch_notices_an_exponent_of_1_03() {
    let verdict = judge(&caught_against(1.03, 1.0), Spread::Known, 0.003);
    assert!(verdict.unwrap_err().speaks_against());
}

/// χ² of atoms fired at the plate against the closed form, as a share of its limit.
fn fired_misfit(real: f64, supposed: f64) -> f64 {
    let coated = spot_under_plate(real).coat(&Asked::fire(2_000_000));
    let fired = coated.tally.balance.emitted as f64;
    let mut counts = Vec::new();
    let mut expected = Vec::new();
    for receiver in 0..coated.rows() {
        let area = coated.area_m2(receiver);
        counts.push((coated.flux(receiver).0 * area * fired).round());
        let form = |p: DVec3| flux_on_plate(supposed, HEIGHT, p.x.hypot(p.y));
        expected.push(triangle_mean(coated.corners(receiver), 2, &form) * area * fired);
    }
    counts.push(fired - counts.iter().sum::<f64>());
    expected.push(fired - expected.iter().sum::<f64>());
    chi_squared_share(&counts, &expected)
}

#[test]
fn atoms_fired_at_a_plate_land_as_the_closed_form_says() {
    let misfit = fired_misfit(1.0, 1.0);
    assert!(misfit < 1.0, "χ² at {misfit} of its limit");
}

#[test]
fn atoms_fired_at_a_plate_notice_an_exponent_of_1_03() {
    assert!(fired_misfit(1.03, 1.0) > 1.0);
}
