//! Laws: integrals, draws, moments.

use super::*;
use crate::stats::z_limit;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Draws from `sampled`, counted in 36 × 8 cells of angle and azimuth, against the density of `stated`.
fn law_misfit(sampled: &EmissionLaw, stated: &EmissionLaw, seed: u64) -> f64 {
    const ANGLES: usize = 36; // of 5°, so that the jump of the table at 85° is an edge
    const TURNS: usize = 8;
    let mut stream = Stream(seed);
    let mut counts = vec![0; ANGLES * TURNS];
    for _ in 0..DRAWS {
        let direction = sampled.sample(stream.pair());
        assert!((direction.length() - 1.0).abs() < 1e-12);
        let turn = direction.y.atan2(direction.x).rem_euclid(TAU) / TAU;
        let angle = direction.z.clamp(-1.0, 1.0).acos() / PI;
        counts[cell(angle, ANGLES) * TURNS + cell(turn, TURNS)] += 1;
    }
    let edge = |k: usize| PI * k as f64 / ANGLES as f64;
    let mut probabilities = Vec::new();
    for k in 0..ANGLES {
        // θ = upper edge − width · s⁵ tames laws that grow without bound towards the face.
        let [from, to] = [edge(k), edge(k + 1)];
        let density = |s: f64| {
            let angle = to - (to - from) * s.powi(5);
            let stretch = 5.0 * (to - from) * s.powi(4);
            stated.pdf_per_sr(angle.cos()) * TAU * angle.sin() * stretch
        };
        let share = integral(0.0, 1.0, 2000, density);
        probabilities.extend([share / TURNS as f64; TURNS]);
    }
    misfit(&counts, &probabilities)
}

fn lobe() -> EmissionLaw {
    let rows = [
        (0.0, 0.6),
        (20.0, 1.0),
        (20.5, 2.0),
        (45.0, 0.0),
        (60.0, 0.0),
        (85.0, 0.3),
    ];
    let rows = rows.map(|(degrees, weight): (f64, f64)| (degrees.to_radians(), weight));
    EmissionLaw::Table(TableLaw::new(&rows).unwrap())
}

fn cosine(exponent: f64) -> EmissionLaw {
    EmissionLaw::cosine_power(exponent).unwrap()
}

fn laws() -> Vec<(&'static str, EmissionLaw)> {
    vec![
        ("cosine", cosine(1.0)),
        ("flat", cosine(0.0)),
        ("forward", cosine(4.0)),
        ("sharp", cosine(37.5)),
        ("under cosine", cosine(-0.4)),
        ("table", lobe()),
        (
            "table of two",
            EmissionLaw::Table(TableLaw::new(&[(0.0, 0.0), (FRAC_PI_2, 3.0)]).unwrap()),
        ),
        ("isotropic", EmissionLaw::Isotropic),
    ]
}

#[test]
fn every_law_integrates_to_one() {
    for (name, law) in laws() {
        if name == "under cosine" {
            continue; // unbounded at the face: the quadrature is not made for it, the χ² below is
        }
        let density = |angle: f64| law.pdf_per_sr(angle.cos()) * TAU * angle.sin();
        // Panels of a quarter degree, so that the rows of the table fall on their edges.
        let total = integral(0.0, PI, 720, density);
        assert!((total - 1.0).abs() < 1e-9, "{name}: {total}");
    }
}

#[test]
fn draws_of_every_law_follow_its_density() {
    for (seed, (name, law)) in laws().into_iter().enumerate() {
        let misfit = law_misfit(&law, &law, seed as u64);
        assert!(misfit < 1.0, "{name}: χ² at {misfit} of its limit");
    }
}

#[test]
fn draws_of_a_law_notice_a_slightly_wrong_density() {
    assert!(law_misfit(&cosine(1.0), &cosine(1.03), 1) > 1.0);
    assert!(law_misfit(&cosine(0.0), &cosine(0.02), 2) > 1.0);
    let rows: Vec<_> = match lobe() {
        EmissionLaw::Table(table) => table
            .angles_rad
            .iter()
            .copied()
            .zip(table.pdf_per_sr)
            .collect(),
        _ => unreachable!(),
    };
    let mut wrong = rows.clone();
    wrong[1].1 *= 1.05;
    let wrong = EmissionLaw::Table(TableLaw::new(&wrong).unwrap());
    assert!(law_misfit(&lobe(), &wrong, 3) > 1.0);
}

#[test]
fn mean_cosine_of_the_cosine_power_law_is_n_plus_1_over_n_plus_2() {
    // ∫ cos θ p dΩ = (n + 1)/(n + 2), variance (n + 1)/(n + 3) − mean².
    for (seed, exponent) in [0.0, 1.0, 2.5, 20.0].into_iter().enumerate() {
        let mut stream = Stream(100 + seed as u64);
        let law = cosine(exponent);
        let sum: f64 = (0..DRAWS).map(|_| law.sample(stream.pair()).z).sum();
        let mean = (exponent + 1.0) / (exponent + 2.0);
        let variance = (exponent + 1.0) / (exponent + 3.0) - mean * mean;
        let error = (variance / DRAWS as f64).sqrt();
        let z = (sum / DRAWS as f64 - mean) / error;
        assert!(z.abs() < z_limit(1000, 1e-3), "n = {exponent}: z = {z}");
    }
}

#[test]
fn angle_drawn_from_a_table_has_the_share_below_it() {
    let EmissionLaw::Table(table) = lobe() else {
        unreachable!()
    };
    for k in 1..200 {
        let u = f64::from(k) / 200.0;
        let direction = EmissionLaw::Table(table.clone()).sample([u, 0.0]);
        let angle = direction.x.atan2(direction.z);
        let edges: Vec<f64> = table.angles_rad.iter().map(|&row| row.min(angle)).collect();
        let density = |angle: f64| table.pdf_per_sr_at(angle) * TAU * angle.sin();
        let below: f64 = edges
            .windows(2)
            .map(|ends| integral(ends[0], ends[1], 200, density))
            .sum();
        assert!(
            (below - u).abs() < 1e-10,
            "u = {u}: {below} below {angle} rad"
        );
    }
}

#[test]
fn short_pieces_of_a_table_lose_no_digits() {
    // A table of 100 001 rows of the cosine law must give the cosine law.
    let rows: Vec<_> = (0..=100_000)
        .map(|k| FRAC_PI_2 * f64::from(k) / 100_000.0)
        .map(|angle| (angle, angle.cos().max(0.0)))
        .collect();
    let table = TableLaw::new(&rows).unwrap();
    for angle in [1e-3_f64, 0.3, 1.0, 1.5] {
        let inside = table.cumulative[table.angles_rad.partition_point(|&row| row < angle)];
        let edge = table.angles_rad[table.angles_rad.partition_point(|&row| row < angle)];
        let exact = edge.sin() * edge.sin();
        assert!(
            (inside - exact).abs() < 1e-9 * exact + 1e-12,
            "{inside} against {exact}"
        );
        let density = table.pdf_per_sr_at(angle);
        assert!((density * PI - angle.cos()).abs() < 1e-9);
    }
}
