//! Our own earlier Monte Carlo of hard spheres in argon: a second implementation must agree.
//!
//! An absorbing cylinder of radius 150 mm and height 300 mm; a source disc of radius 20 mm on its axis, on the floor
//! (case 1) or 100 mm above it (case 2), emits upward evenly by the cosine law; a target disc of radius 30 mm stands 100 mm
//! above the source. Argon at 300 K, thermal or at rest; Thompson's energies cut at 100 eV.

use crate::values;
use evenfall_sim::transport::Tally;
use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge, measured, share};
use evenfall_tests::bench::Bench;
use evenfall_tests::published::{Quantity, Source};
use evenfall_tests::solids::disc;
use glam::DVec3;
use std::collections::BTreeMap;

/// A row's inputs.
type Row = BTreeMap<String, f64>;

/// The scene of a row, its free path multiplied.
fn scene(row: &Row, longer: f64) -> Bench {
    let metal = if row["metal"] > 20.0 {
        "silver"
    } else {
        "aluminium"
    };
    let scatter = if row["thermal"] > 0.5 {
        "hard-sphere"
    } else {
        "hard-sphere-at-rest"
    };
    let floor_mm = if row["case"] < 1.5 { 0.0 } else { 100.0 };
    let target = disc(0.03, 48).moved(DVec3::Z * 1e-3 * (floor_mm + 100.0));
    Bench::new()
        .with(&format!(
            "[chamber]\nshape = \"cylinder\"\ndiameter = \"300 mm\"\nheight = \"300 mm\"\n\
             [gas]\npressure = \"1 Pa\"\nfree_path = \"{:?} mm\"\nscatter = \"{scatter}\"\n\
             [[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"{metal}\"\n\
             at = [\"0 mm\", \"0 mm\", \"{floor_mm} mm\"]\nfacing = [0, 0, 1]\n\
             footprint = {{ shape = \"disc\", radius = \"20 mm\" }}\noutput = {{ atoms_per_second = 1.0e18 }}\n",
            row["lambda_mm"] * longer
        ))
        .part("target", target)
        .with("faces = \"both\"\n")
        .step(1.0, "")
}

/// A quantity's comparison at a row, if the table has it there and knows it well: means that rare fast atoms make, and
/// counts of a handful, have no spread to speak of.
fn compared(
    (quantity, row): (&Quantity, &Row),
    tally: &Tally,
    value: fn(&Tally) -> (f64, f64),
) -> Option<Comparison> {
    let same = |other: &&Row| {
        row.iter()
            .all(|(key, x)| key == "value" || key == "std_error" || (other[key] - x).abs() < 1e-9)
    };
    let found = quantity.rows.iter().find(same)?;
    let well_known = if quantity.name.starts_with("energy") {
        0.005
    } else {
        0.015
    };
    if found["std_error"] > well_known * found["value"] {
        return None;
    }
    Some(measured(
        format!("{} {row:?}", quantity.name),
        value(tally),
        (found["value"], found["std_error"]),
    ))
}

fn per_emitted(count: u64, tally: &Tally) -> (f64, f64) {
    share(count, tally.balance.emitted)
}

/// What is read off a tally, by the table's names.
const READINGS: [(&str, fn(&Tally) -> (f64, f64)); 7] = [
    ("front fraction", |t| per_emitted(t.arrivals[0][0].atoms, t)),
    ("front fraction without a collision", |t| {
        let [front, _] = t.arrivals[0];
        per_emitted(front.atoms - front.scattered, t)
    }),
    ("back fraction", |t| per_emitted(t.arrivals[0][1].atoms, t)),
    ("back on the source, top", |t| {
        per_emitted(t.balance.source, t)
    }),
    ("collisions of what arrives on the front", |t| {
        let [front, _] = t.arrivals[0];
        front.collisions.mean(front.atoms)
    }),
    ("energy of what arrives on the front", |t| {
        let [front, _] = t.arrivals[0];
        let (mean, error) = front.micro_ev.mean(front.atoms);
        (mean * 1e-6, error * 1e-6)
    }),
    ("collisions per emitted atom", |t| {
        t.collisions.mean(t.balance.emitted)
    }),
];

/// Compares all rows of the table that are wanted.
fn discs(wanted: impl Fn(&Row) -> bool, longer: f64, effort: f64) -> Result<(), Disagreement> {
    let table: Source = values!("own_monte_carlo");
    let front = &table.quantity("front fraction").rows;
    let mut all = Vec::new();
    for (row, seed) in front.iter().zip(0..).filter(|(row, _)| wanted(row)) {
        let inputs = ["case", "metal", "thermal", "lambda_mm"].map(|name| (name, row[name]));
        let per_atom = table.quantity("collisions per emitted atom").at(&inputs);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "some thousands of atoms"
        )]
        let atoms = (effort / (per_atom + 4.0)) as u64;
        let tally = scene(row, longer).fire(atoms, seed);
        for (name, value) in READINGS {
            // a source above the floor is hit from below too, which the table leaves out
            if name == "back on the source, top" && row["case"] > 1.5 {
                continue;
            }
            let quantity = table.quantity(name);
            all.extend(compared((quantity, row), &tally, value));
        }
    }
    judge(&all, Spread::Known, 0.2)
}

#[test]
fn films_on_a_disc_in_thermal_gas_are_those_of_the_earlier_program() {
    discs(|row| row["thermal"] > 0.5, 1.0, 5e6).unwrap();
}

#[test]
fn films_on_a_disc_in_gas_at_rest_are_those_of_the_earlier_program() {
    discs(|row| row["thermal"] < 0.5, 1.0, 5e6).unwrap();
}

#[test]
fn films_on_a_disc_notice_a_free_path_three_per_cent_longer() {
    let one = |row: &Row| row["case"] < 1.5 && (row["lambda_mm"] - 10.0).abs() < 0.1;
    assert!(discs(one, 1.03, 5e6).unwrap_err().speaks_against());
}
