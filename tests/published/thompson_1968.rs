//! Energies of sputtered atoms: Thompson's spectrum, judged by its quantiles.

use crate::values;
use evenfall_sim::emission::StartEnergy;
use evenfall_sim::random::{Stream, Use};
use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge};

const DRAWS: u32 = 1_000_000;

/// Shares of draws below the tabulated quantiles, the program's binding energy multiplied.
///
/// The cut lies at 10⁷ binding energies: (1 + 10⁻⁷)² of every share.
fn quantiles(stronger: f64) -> Result<(), Disagreement> {
    let table = values!("thompson_1968");
    let law = StartEnergy::Thompson {
        binding_j: 1.0 * stronger,
        cut_j: 1e7,
    };
    let mut stream = Stream::new(5, Use::Atom, 0);
    let draws: Vec<f64> = (0..DRAWS).map(|_| law.sample_j(&mut stream)).collect();
    let rows = &table.quantity("quantile over binding energy, no cut").rows;
    let compared = |row: &std::collections::BTreeMap<String, f64>| {
        let below = draws
            .iter()
            .filter(|&&energy| energy < row["value"])
            .count();
        let share = row["share"];
        Comparison {
            name: format!("share {share}"),
            found: below as f64 / f64::from(DRAWS),
            std_error: (share * (1.0 - share) / f64::from(DRAWS)).sqrt(),
            reference: share,
            bias: 3e-7,
        }
    };
    let all: Vec<Comparison> = rows.iter().map(compared).collect();
    judge(&all, Spread::Known, 0.01)
}

#[test]
fn sputtered_atoms_have_the_quantiles_of_thompsons_spectrum() {
    quantiles(1.0).unwrap();
}

#[test]
fn quantiles_notice_a_binding_energy_two_per_cent_off() {
    assert!(quantiles(1.02).unwrap_err().speaks_against());
}

#[test]
fn the_spectrum_cut_sharply_has_its_closed_mean() {
    let table = values!("thompson_1968");
    for row in &table.quantity("mean over binding energy, sharp cut").rows {
        let law = StartEnergy::Thompson {
            binding_j: 1.0,
            cut_j: row["cut"],
        };
        // a quadrature, not draws: their mean has too heavy a tail to be judged
        let mean: f64 = law.quadrature(200_000).iter().map(|(e, w)| e * w).sum();
        assert!(
            (mean / row["value"] - 1.0).abs() < 1e-6,
            "{mean} at {row:?}"
        );
        let mut stream = Stream::new(6, Use::Atom, 0);
        let most = (0..100_000)
            .map(|_| law.sample_j(&mut stream))
            .fold(0.0, f64::max);
        assert!(
            most < row["cut"] && most > 0.9 * row["cut"],
            "{most} at {row:?}"
        );
    }
}
