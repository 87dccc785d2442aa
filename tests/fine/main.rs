//! A cup of 60 000 facets in gas: the default method against plain firing, to half a percent of the total.
//!
//! `cargo run --release -p evenfall-tests --example fine -- [metal] [law] [free path in mm]`, a quarter of an hour on two cores; what it printed
//! stands in `sim/benches/recorded/scattered-60k.txt`. The same on a cup of hundreds of facets is a test of `tests/road/scattered.rs`.
#![allow(clippy::expect_used, reason = "what cannot be set up has failed")]

use evenfall_tests::agreement::{Comparison, Disagreement, Spread, judge};
use evenfall_tests::bench::Asked;
use evenfall_tests::cup::{Both, CLUSTER, CLUSTERS, Held, cup_profile, fired, runs_of, scene_with};
use evenfall_tests::solids::{Sheet, rings};

/// The cup of 60 000 facets.
fn fine_cup() -> Sheet {
    const SPLIT: u32 = 14;
    let coarse = cup_profile();
    let mut profile = vec![coarse[0]];
    for ends in coarse.windows(2) {
        profile.extend((1..=SPLIT).map(|k| {
            let share = f64::from(k) / f64::from(SPLIT);
            let between = |from: f64, to: f64| from + (to - from) * share;
            let [(r0, z0), (r1, z1)] = [ends[0], ends[1]];
            (
                if share < 1.0 { between(r0, r1) } else { r1 },
                between(z0, z1),
            )
        }));
    }
    rings(&profile, 240)
}

/// Runs of the default method on the fine part: with them the total is known to a quarter of the half percent asked.
const FINE_RUNS: u32 = 12;

/// The total to half a percent, itself known to a fifth of a percent, and 64 clusters.
fn agrees_finely(gas: (&str, &str, f64), held: Held) -> Result<(), Disagreement> {
    let sheet = fine_cup();
    assert_eq!(sheet.triangles.len(), 60_000);
    let bench = scene_with(sheet, gas, held);
    let asked = Asked {
        atoms: 1_000_000,
        ..Asked::gather(0.04)
    };
    let both = Both {
        runs: runs_of(&bench, asked, FINE_RUNS.into()),
        fired: fired(&bench, 20_000_000),
    };
    let total = both.comparison(CLUSTERS);
    let [off, error] = [
        total.found / total.reference - 1.0,
        total.std_error / total.reference,
    ]
    .map(|x| 100.0 * x);
    println!("{gas:?}: total {off:+.3} % ± {error:.3} %");
    let told: Vec<Comparison> = (0..CLUSTERS)
        .map(|cluster| both.comparison(cluster))
        .filter(|c| c.std_error <= CLUSTER * c.reference)
        .collect();
    let squares: f64 = told
        .iter()
        .map(|c| ((c.found - c.reference) / c.std_error).powi(2))
        .sum();
    println!("{} clusters, Σz² = {squares:.1}", told.len());
    assert!(off.abs() < 0.5, "{off}");
    judge(&[total], Spread::Repetitions(FINE_RUNS), 0.002)?;
    judge(&told, Spread::Repetitions(FINE_RUNS), CLUSTER)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let word =
        |place: usize, otherwise: &'static str| words.get(place).map_or(otherwise, String::as_str);
    let path_mm = word(2, "10").parse().expect("a number of millimetres");
    let gas = (word(0, "silver"), word(1, "hard-sphere"), path_mm);
    if let Err(disagreement) = agrees_finely(gas, Held::Turning) {
        eprintln!("{disagreement:?}");
        std::process::exit(1);
    }
}
