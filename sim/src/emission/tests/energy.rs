//! Starting energies: draws against density, and the quadrature against both.

use super::*;
use crate::constants::BOLTZMANN_J_PER_K;
use crate::emission::StartEnergy;
use crate::random::{Stream as Counter, Use};

const U: f64 = 4.7e-19;

fn laws() -> Vec<(&'static str, StartEnergy)> {
    let thompson = |cut_j: f64| StartEnergy::Thompson {
        binding_j: U,
        cut_j,
    };
    let boat = StartEnergy::Effusive {
        temperature_k: 1500.0,
    };
    vec![
        ("Thompson", thompson(34.0 * U)),
        ("Thompson, cut low", thompson(0.7 * U)),
        ("boat", boat),
    ]
}

/// A law with its scale off by a share.
fn scaled(law: &StartEnergy, by: f64) -> StartEnergy {
    match *law {
        StartEnergy::Thompson { binding_j, cut_j } => StartEnergy::Thompson {
            binding_j: binding_j * by,
            cut_j,
        },
        StartEnergy::Effusive { temperature_k } => StartEnergy::Effusive {
            temperature_k: temperature_k * by,
        },
    }
}

/// Highest energy of a law, or one beyond which it is negligible.
fn end(law: &StartEnergy) -> f64 {
    match *law {
        StartEnergy::Thompson { cut_j, .. } => cut_j,
        StartEnergy::Effusive { temperature_k } => 30.0 * BOLTZMANN_J_PER_K * temperature_k,
    }
}

/// χ² of draws from one law against the density of another, over its limit.
fn energy_misfit(sampled: &StartEnergy, stated: &StartEnergy) -> f64 {
    const CELLS: usize = 60;
    let last = end(stated);
    let mut stream = Counter::new(31, Use::Atom, 0);
    let mut counts = vec![0; CELLS];
    for _ in 0..DRAWS {
        // cells even in √E
        counts[cell((sampled.sample_j(&mut stream) / last).sqrt(), CELLS)] += 1;
    }
    let edge = |k: usize| (k as f64 / CELLS as f64).powi(2) * last;
    let density = |e: f64| stated.pdf_per_j(e);
    let shares: Vec<f64> = (0..CELLS)
        .map(|k| integral(edge(k), edge(k + 1) * (1.0 - 1e-15), 200, density))
        .collect();
    misfit(&counts, &shares)
}

#[test]
fn energies_follow_their_densities() {
    for (name, law) in laws() {
        let found = energy_misfit(&law, &law);
        assert!(found < 1.0, "{name}: {found}");
    }
}

#[test]
fn energies_notice_a_scale_three_per_cent_off() {
    for (name, law) in laws() {
        let found = energy_misfit(&scaled(&law, 1.03), &law);
        assert!(found > 1.0, "{name}: {found}");
    }
}

#[test]
fn energy_densities_integrate_to_one() {
    for (name, law) in laws() {
        // in √E, as in the cells
        let root = (end(&law) * (1.0 - 1e-15)).sqrt();
        let density = |r: f64| law.pdf_per_j(r * r) * 2.0 * r;
        let whole = integral(0.0, root, 20_000, density);
        assert!((whole - 1.0).abs() < 1e-6, "{name}: {whole}");
    }
}

#[test]
fn what_leaves_a_boat_carries_twice_its_thermal_energy() {
    // 2 k T: the mean energy of a flux out of a Maxwell gas (item of every text on effusion)
    let law = StartEnergy::Effusive {
        temperature_k: 1500.0,
    };
    let mean: f64 = law.quadrature(4000).iter().map(|(e, w)| e * w).sum();
    assert!(
        (mean / (2.0 * BOLTZMANN_J_PER_K * 1500.0) - 1.0).abs() < 1e-9,
        "{mean}"
    );
}
