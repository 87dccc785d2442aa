//! Collisions of elastic spheres: energies and angles of one collision, and what many bring a slow atom to.

use crate::values;
use evenfall_sim::constants::{BOLTZMANN_J_PER_K, ELEMENTARY_CHARGE_C};
use evenfall_sim::gas::{GasState, Medium, Pair, Scatter, Species, Velocity};
use evenfall_sim::metals::{Metal, built_in};
use evenfall_sim::random::{Stream, Use};
use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge, repeated};
use evenfall_tests::published::metal_of;
use glam::DVec3;

const SPREAD: Spread = Spread::Repetitions(32);

/// Metals by atomic number.
fn metal(number: f64) -> Metal {
    built_in(metal_of(number)).expect("built in")
}

fn species(number: f64) -> Species {
    match number {
        18.0 => Species::Argon,
        36.0 => Species::Krypton,
        _ => Species::Xenon,
    }
}

fn pair(metal: &Metal, species: Species, scatter: Scatter) -> Pair {
    let state = GasState {
        species,
        pressure_pa: 1.0,
        temperature_k: 300.0,
        free_path_m: None,
        scatter,
    };
    let medium = Medium::new(&state, std::slice::from_ref(metal)).expect("a diameter");
    medium.pairs[0].clone()
}

/// One collision of an atom in gas at rest: energy ratio and cosine of the angle.
fn collision(pair: &Pair, stream: &mut Stream) -> (f64, f64) {
    let before = Velocity {
        along: DVec3::new(0.6, 0.0, 0.8),
        speed: 20.0,
    };
    let after = pair.collide(before, stream);
    let ratio = pair.energy_j(after.speed) / pair.energy_j(before.speed);
    (ratio, after.along.dot(before.along))
}

/// Means over collisions in gas at rest, masses of the gas multiplied.
fn one_collision(heavier: f64) -> Result<(), Disagreement> {
    let table = values!("derived_hard_spheres");
    let mut all = Vec::new();
    let rows = &table.quantity("mean energy ratio").rows;
    for (row, seed) in rows.iter().zip(7..) {
        let inputs = [("metal", row["metal"]), ("gas", row["gas"])];
        let mut atom = metal(row["metal"]);
        atom.molar_mass_kg_per_mol /= heavier;
        let pair = pair(&atom, species(row["gas"]), Scatter::HardSphereAtRest);
        let at = |name: &str| table.quantity(name).at(&inputs);
        let least = at("least energy ratio") - 1e-6;
        let flattest = at("largest angle").to_radians().cos() - 1e-6;
        let runs: Vec<[f64; 3]> = (0..32)
            .map(|run| {
                let mut stream = Stream::new(seed, Use::Atom, run);
                let mut sums = [0.0; 3];
                for _ in 0..16_000 {
                    let (ratio, cosine) = collision(&pair, &mut stream);
                    let within = ratio >= least && ratio <= 1.0 + 1e-12 && cosine >= flattest;
                    assert!(within || (heavier - 1.0).abs() > 1e-9, "{ratio} {cosine}");
                    for (sum, x) in sums.iter_mut().zip([ratio, -ratio.ln(), cosine]) {
                        *sum += x / 16_000.0;
                    }
                }
                sums
            })
            .collect();
        for (k, name) in [
            "mean energy ratio",
            "mean logarithmic decrement",
            "mean cosine",
        ]
        .iter()
        .enumerate()
        {
            let found = runs.iter().map(|run| run[k]);
            all.push(repeated(
                format!("{name} {inputs:?}"),
                found,
                (at(name), 1e-5 * at(name)),
            ));
        }
    }
    judge(&all, SPREAD, 0.02)
}

#[test]
fn energies_and_angles_of_a_collision_are_those_of_elastic_spheres() {
    one_collision(1.0).unwrap();
}

#[test]
fn energies_and_angles_notice_a_mass_one_per_cent_off() {
    assert!(one_collision(1.01).unwrap_err().speaks_against());
}

/// Time-averaged energy and free path of atoms in thermal gas after their start is forgotten, against 3/2 k T and
/// 1/(n σ √(1 + M/m)): equipartition, and J. C. Maxwell's mean free path in a mixture (1860, from memory).
fn in_equilibrium(warmer: f64) -> Result<(), Disagreement> {
    let mut all: Vec<Comparison> = Vec::new();
    for (name, seed) in ["carbon", "aluminium", "copper", "silver", "gold"]
        .iter()
        .zip(100..)
    {
        let atom = built_in(name).expect("built in");
        let pair = pair(&atom, Species::Argon, Scatter::HardSphere);
        let runs: Vec<[f64; 2]> = (0..32).map(|run| averages(&pair, (seed, run))).collect();
        let thermal_j = 1.5 * BOLTZMANN_J_PER_K * 300.0 * warmer;
        let ratio = atom.molar_mass_kg_per_mol / Species::Argon.molar_mass_kg_per_mol();
        let path_m = pair.free_path_m / (1.0 + ratio).sqrt();
        let energies = runs.iter().map(|run| run[0]);
        all.push(repeated(
            format!("energy of {name}"),
            energies,
            (thermal_j, 0.0),
        ));
        let paths = runs.iter().map(|run| run[1]);
        all.push(repeated(format!("path of {name}"), paths, (path_m, 0.0)));
    }
    judge(&all, SPREAD, 0.005)
}

/// Energy over time, J, and length per flight, m, of one atom that starts with 10 eV.
fn averages(pair: &Pair, (seed, run): (u64, u64)) -> [f64; 2] {
    let mut stream = Stream::new(seed, Use::Atom, run);
    let mut now = Velocity {
        along: DVec3::Z,
        speed: pair.speed_of(10.0 * ELEMENTARY_CHARGE_C),
    };
    let (mut time, mut energy, mut path, mut flights) = (0.0, 0.0, 0.0, 0.0);
    for flight in 0..31_000 {
        if flight >= 1000 {
            let length_m = pair.free_path_at_m(now.speed);
            time += length_m / now.speed;
            energy += length_m / now.speed * pair.energy_j(now.speed);
            path += length_m;
            flights += 1.0;
        }
        now = pair.collide(now, &mut stream);
    }
    [energy / time, path / flights]
}

#[test]
fn thermal_gas_brings_atoms_to_its_own_temperature() {
    in_equilibrium(1.0).unwrap();
}

#[test]
fn equipartition_notices_two_per_cent_of_temperature() {
    assert!(in_equilibrium(1.02).unwrap_err().speaks_against());
}

#[test]
fn argon_in_argon_has_its_published_free_path() {
    let table = values!("argon_mean_free_path");
    let quantity = table.quantity("mean free path of argon in argon");
    let own = quantity.rows.iter().filter(|row| {
        // the diameter that the program has
        (row["diameter_nm"] - Species::Argon.diameter_m() * 1e9).abs() < 1e-9
    });
    let mut rows = 0;
    for row in own {
        let atom = Metal {
            molar_mass_kg_per_mol: Species::Argon.molar_mass_kg_per_mol(),
            diameter_m: Some(Species::Argon.diameter_m()),
            ..built_in("gold").expect("built in")
        };
        let state = GasState {
            species: Species::Argon,
            pressure_pa: row["pressure_pa"],
            temperature_k: row["temperature_k"],
            free_path_m: None,
            scatter: Scatter::HardSphere,
        };
        let medium = Medium::new(&state, &[atom]).expect("a diameter");
        // an atom of the gas itself: √(1 + M/m) = √2
        let found_mm = medium.pairs[0].free_path_m / 2.0_f64.sqrt() * 1e3;
        assert!(
            (found_mm / row["value"] - 1.0).abs() < 1e-6,
            "{found_mm} at {row:?}"
        );
        rows += 1;
    }
    assert_eq!(rows, 5, "rows with this diameter");
}
