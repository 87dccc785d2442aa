//! How atoms flew, for summary and report: free paths with their doubt, collisions, what arrived scattered.
//!
//! In: scene and tally. Out: a [`FlightSummary`], and sentences.

use super::figures::{percent, three, with_error};
use super::model::{ArrivalSummary, FlightSummary, FreePath, GasSummary, Known};
use super::surroundings::body;
use crate::gas::{Scatter, doubt};
use crate::scene::Scene;
use crate::transport::{Moments, Tally};
use crate::worth::reach;

/// How atoms flew; nothing where all flew straight to where they stuck.
pub fn flight(scene: &Scene, tally: &Tally) -> Option<FlightSummary> {
    if scene.is_straight() {
        return None;
    }
    let parts = scene.parts.iter().zip(&tally.arrivals);
    let parts = parts.map(|(part, [front, back])| {
        let both = if part.back.is_empty() {
            *front
        } else {
            front.plus(back)
        };
        let scattered = both.scattered as f64 / both.atoms.max(1) as f64;
        let in_ev = |energy: Known| Known {
            mean: energy.mean * 1e-6,
            stderr: energy.stderr * 1e-6,
        };
        ArrivalSummary {
            part: body(scene, part.body).name.clone(),
            scattered_fraction: Known {
                mean: scattered,
                stderr: (scattered * (1.0 - scattered) / both.atoms.max(1) as f64).sqrt(),
            },
            collisions: known(&both.collisions, both.atoms),
            energy_ev: scene
                .gas
                .as_ref()
                .map(|_| in_ev(known(&both.micro_ev, both.atoms))),
        }
    });
    Some(FlightSummary {
        gas: gas(scene),
        collisions_per_atom: known(&tally.collisions, tally.balance.emitted),
        bounces_per_atom: known(&tally.bounces, tally.balance.emitted),
        parts: parts.collect(),
    })
}

fn known(moments: &Moments, atoms: u64) -> Known {
    let (mean, stderr) = moments.mean(atoms);
    Known { mean, stderr }
}

fn gas(scene: &Scene) -> Option<GasSummary> {
    let gas = scene.gas.as_ref()?;
    let free_paths = scene.metals.iter().zip(&gas.pairs).map(|(metal, pair)| {
        let free_path_mm = pair.free_path_m * 1e3;
        let by_pair = reach::doubt(&metal.name, gas.state.species.name(), pair.sigma_m2);
        // carbon's diameter is a guess: its doubt is that of the table
        let by_pair = by_pair.filter(|_| metal.name != "carbon");
        let doubt = by_pair.unwrap_or_else(|| {
            let table = doubt(&metal.name);
            [table.least, table.most]
        });
        let tabulated = gas.state.free_path_m.is_none();
        FreePath {
            metal: metal.name.clone(),
            free_path_mm,
            sigma_nm2: pair.sigma_m2 * 1e18,
            doubt_mm: tabulated.then(|| doubt.map(|by| by * free_path_mm)),
        }
    });
    Some(GasSummary {
        species: gas.state.species.name().to_owned(),
        pressure_pa: gas.state.pressure_pa,
        temperature_k: gas.state.temperature_k,
        base_pressure_pa: scene
            .plan
            .gas
            .as_ref()
            .and_then(|said| said.base_pressure_pa),
        scatter: match gas.state.scatter {
            Scatter::HardSphere => "hard-sphere",
            Scatter::HardSphereAtRest => "hard-sphere-at-rest",
            Scatter::Isotropic => "isotropic",
        }
        .to_owned(),
        free_paths: free_paths.collect(),
    })
}

/// What a reader must know of the flight, one sentence each.
pub fn in_words(flight: &FlightSummary) -> Vec<String> {
    let bounced = if flight.bounces_per_atom.mean > 0.0 {
        format!(", and left {} surfaces again", of(&flight.bounces_per_atom))
    } else {
        String::new()
    };
    let mut all = vec![match &flight.gas {
        Some(gas) => format!(
            "Atoms were followed one by one through {} at {} Pa and {} K: each collided {} times on average{bounced}.",
            gas.species,
            three(gas.pressure_pa),
            three(gas.temperature_k),
            of(&flight.collisions_per_atom),
        ),
        None => format!(
            "Atoms were followed one by one and flew straight from surface to surface{bounced}, on average."
        ),
    }];
    if let Some(gas) = &flight.gas {
        all.extend(
            gas.free_paths
                .iter()
                .map(|path| free_path(&gas.species, path)),
        );
    }
    all.extend(flight.parts.iter().map(|part| {
        let energy = part.energy_ev.map_or_else(String::new, |energy_ev| {
            format!("; atoms land with {} eV on average", of(&energy_ev))
        });
        format!(
            "Of the atoms on part {}, {} came after a collision or a bounce{energy}.",
            part.part,
            percent(part.scattered_fraction.mean)
        )
    }));
    all
}

fn of(known: &Known) -> String {
    with_error(known.mean, known.stderr)
}

/// The free path of a metal and how far to trust it.
pub fn free_path(species: &str, path: &FreePath) -> String {
    let origin = match path.doubt_mm {
        Some([least, most]) => format!(
            "hard spheres as wide as atoms lie apart in the solid, no measurement; other reckonings give {} to {} mm",
            three(least),
            three(most)
        ),
        None => "as the plan gives it".to_owned(),
    };
    format!(
        "Free path of fast {} in {species}: {} mm ({} nm²; {origin}).",
        path.metal,
        three(path.free_path_mm),
        three(path.sigma_nm2)
    )
}
