//! Rates, free paths and what survives, against integrals that do not use their closed forms.

use super::path::{mean_relative_speed, slowing};
use super::*;
use crate::emission::StartEnergy;
use crate::metals::built_in;
use crate::random::{Stream, Use};
use crate::stats::{Running, z_limit};
use glam::DVec3;
use std::f64::consts::PI;

/// ⟨|v − u|⟩ over a Maxwell gas by quadrature: speeds by Simpson's rule, the mean over angles in closed form.
fn relative_speed_by_quadrature(y: f64) -> f64 {
    const PANELS: u32 = 20_000;
    const LAST: f64 = 12.0;
    let density = |u: f64| {
        // mean of |v − u| over directions: ((y + u)³ − |y − u|³)/(6 y u)
        let mean = ((y + u).powi(3) - (y - u).abs().powi(3)) / (6.0 * y * u);
        4.0 / PI.sqrt() * u * u * (-u * u).exp() * mean
    };
    let step = LAST / f64::from(PANELS);
    let sum: f64 = (1..PANELS)
        .map(|i| density(step * f64::from(i)) * if i % 2 == 1 { 4.0 } else { 2.0 })
        .sum();
    sum * step / 3.0
}

#[test]
fn the_mean_relative_speed_is_its_integral() {
    for y in [0.01, 0.3, 0.6, 1.0, 2.5, 8.0, 50.0] {
        let (closed, sum) = (mean_relative_speed(y), relative_speed_by_quadrature(y));
        assert!(
            (closed / sum - 1.0).abs() < 1e-9,
            "{y}: {closed} against {sum}"
        );
    }
    let series = mean_relative_speed(0.99e-4);
    assert!((series / mean_relative_speed(1.01e-4) - 1.0).abs() < 1e-9);
}

#[test]
fn tabulated_free_paths_are_right_to_six_millionths() {
    // y/g = √π/2 · y (1 − y²/3 + …): a straight line over the first cell of 1/256 is off by (1/256)²/3 = 5.1·10⁻⁶
    let table = slowing();
    for i in 1..100_000_u32 {
        let y = f64::from(i) * 1.7e-4;
        let exact = y / mean_relative_speed(y);
        assert!((table.at(y) / exact - 1.0).abs() < 6e-6, "{y}");
    }
    assert!((table.at(0.5) / (0.5 / mean_relative_speed(0.502)) - 1.0).abs() > 6e-6);
}

fn pair(name: &str, scatter: Scatter) -> Pair {
    let state = GasState {
        species: Species::Argon,
        pressure_pa: 1.0,
        temperature_k: 300.0,
        free_path_m: Some(0.05),
        scatter,
    };
    let medium = Medium::new(&state, &[built_in(name).unwrap()]).unwrap();
    medium.pairs[0].clone()
}

#[test]
fn a_free_path_of_the_plan_holds_for_fast_atoms_and_falls_for_slow_ones() {
    let thermal = pair("silver", Scatter::HardSphere);
    assert!((thermal.free_path_at_m(1e4) - 0.05).abs() < 1e-9);
    assert!(thermal.free_path_at_m(0.5) < 0.03);
    for constant in [Scatter::HardSphereAtRest, Scatter::Isotropic] {
        assert!((pair("silver", constant).free_path_at_m(0.01) - 0.05).abs() < 1e-15);
    }
}

#[test]
fn speeds_and_energies_turn_into_each_other() {
    let pair = pair("silver", Scatter::HardSphere);
    let energy_j = 3.7e-19;
    assert!((pair.energy_j(pair.speed_of(energy_j)) / energy_j - 1.0).abs() < 1e-14);
    // an atom as fast as a gas atom at √(2kT/m) has (M/m) kT: 107.8682/39.948 · 1.380649e-23 · 300
    assert!((pair.energy_j(1.0) / (107.8682 / 39.948 * 1.380_649e-23 * 300.0) - 1.0).abs() < 1e-9);
}

/// Share that survives a distance by draws: energies from the law, then the exponential of their own path.
fn survives(energy: &StartEnergy, pair: &Pair, distance_m: f64) -> Running {
    let mut stream = Stream::new(21, Use::Atom, 0);
    (0..200_000)
        .map(|_| {
            let speed = pair.speed_of(energy.sample_j(&mut stream));
            (-distance_m / pair.free_path_at_m(speed)).exp()
        })
        .collect()
}

#[test]
fn what_survives_a_line_is_the_mean_over_starting_energies() {
    let limit = z_limit(1000, 1e-3);
    let thompson = StartEnergy::Thompson {
        binding_j: 4.7e-19,
        cut_j: 1.6e-17,
    };
    let boat = StartEnergy::Effusive {
        temperature_k: 1400.0,
    };
    for energy in [thompson, boat] {
        let pair = pair("silver", Scatter::HardSphere);
        let survival = Survival::new(&pair, &energy);
        for distance_m in [0.003, 0.05, 0.31] {
            let drawn = survives(&energy, &pair, distance_m);
            let z = |value: f64| (drawn.mean() - value).abs() / drawn.std_error().unwrap();
            assert!(z(survival.at(distance_m)) < limit, "{distance_m}");
            // and not of a path two per cent longer
            assert!(z(survival.at(distance_m * 1.02)) > limit, "{distance_m}");
        }
        assert!(survival.at(0.0) > 1.0 - 1e-12);
        let far = [1.9999, 2.0001, 2.6].map(|d| survival.at(d).ln());
        assert!((far[0] - far[1]).abs() < 0.02 && far[2] < far[1] - 11.0);
    }
    let rest = Survival::new(&pair("gold", Scatter::Isotropic), &thompson);
    assert!((rest.at(0.1) - (-2.0_f64).exp()).abs() < 1e-12);
}

#[test]
fn directions_are_even_on_the_sphere() {
    // moments of an even direction: ⟨n⟩ = 0, ⟨n_i²⟩ = 1/3, ⟨n_i⁴⟩ = 1/5, ⟨n_i² n_j²⟩ = 1/15 (derived)
    let limit = z_limit(1000, 1e-3);
    let mut stream = Stream::new(9, Use::Atom, 2);
    let mut of: [Running; 9] = Default::default();
    for _ in 0..2_500_000 {
        let n = collide::any_direction(&mut stream);
        assert!((n.length() - 1.0).abs() < 1e-12);
        let q = n * n;
        let all = [
            n.x,
            n.y,
            n.z,
            q.x,
            q.z,
            q.x * q.x,
            q.z * q.z,
            q.x * q.y,
            q.y * q.z,
        ];
        of.iter_mut()
            .zip(all)
            .for_each(|(of, value)| of.push(value));
    }
    let third = 1.0 / 3.0;
    let truth = [
        0.0,
        0.0,
        0.0,
        third,
        third,
        0.2,
        0.2,
        third / 5.0,
        third / 5.0,
    ];
    for (found, truth) in of.iter().zip(truth) {
        let error = found.std_error().unwrap();
        assert!(
            (found.mean() - truth).abs() < limit * error,
            "{found:?} {truth}"
        );
        // and it would notice one per cent more
        assert!((found.mean() - truth - 0.01 * third).abs() > limit * error);
    }
}

#[test]
fn directions_stay_unit_vectors_however_slow_atoms_get() {
    for name in ["aluminium", "gold"] {
        let pair = pair(name, Scatter::HardSphereAtRest);
        let mut stream = Stream::new(3, Use::Atom, 1);
        let mut now = Velocity {
            along: DVec3::X,
            speed: 40.0,
        };
        // energies fall below the smallest f64 on the way
        for _ in 0..10_000 {
            now = pair.collide(now, &mut stream);
            assert!((now.along.length() - 1.0).abs() < 1e-12 && now.speed >= 0.0);
        }
        assert!(pair.energy_j(now.speed) < 1e-300);
    }
}

#[test]
fn an_atom_as_heavy_as_a_gas_atom_may_be_stopped_and_keeps_a_direction() {
    let mut twin = built_in("gold").unwrap();
    twin.molar_mass_kg_per_mol = Species::Argon.molar_mass_kg_per_mol();
    let state = GasState {
        species: Species::Argon,
        pressure_pa: 1.0,
        temperature_k: 300.0,
        free_path_m: None,
        scatter: Scatter::HardSphereAtRest,
    };
    let medium = Medium::new(&state, &[twin]).unwrap();
    let mut stream = Stream::new(4, Use::Atom, 1);
    let mut now = Velocity {
        along: DVec3::Z,
        speed: 1.0,
    };
    for _ in 0..100_000 {
        now = medium.pairs[0].collide(now, &mut stream);
        assert!(now.along.is_finite() && (now.along.length() - 1.0).abs() < 1e-9);
    }
}
