//! Haze under a lifted stencil in gas: the default method against plain firing, zone by zone, with the errors it states.
//!
//! `cargo run --release -p evenfall-tests --example haze`, some minutes on two cores; what it printed stands in
//! `sim/benches/recorded/haze.txt`. The same with fewer atoms is a test of `tests/road/stencil_haze.rs`.

use evenfall_sim::transport::Method;
use evenfall_tests::bench::{Asked, Coated};
use evenfall_tests::lifted::{GAS, ZONES, asked, mean_m, receivers_in, runs};
use std::ops::Range;

/// Zones from the middle of the window outwards, m.
fn zones() -> Vec<Range<f64>> {
    let mut all = vec![-4e-3..-1e-3, -1e-3..-0.3e-3, -0.3e-3..0.3e-3];
    all.extend(ZONES);
    all.extend([
        1.5e-3..2e-3,
        2e-3..2.5e-3,
        2.5e-3..3e-3,
        3e-3..4e-3,
        4e-3..6e-3,
    ]);
    all
}

/// Mean over a zone's receivers of the standard errors that runs state, m.
fn stated_m(runs: &[Coated], zone: &Range<f64>) -> f64 {
    let (mut sum, mut area) = (0.0, 0.0);
    for run in runs {
        for index in receivers_in(&run.scene, zone) {
            let own = run.scene.receivers[index].area_m2;
            sum += own * run.tally.receivers[index].std_error_m;
            area += own;
        }
    }
    sum / area
}

fn main() {
    let words: Vec<u64> = std::env::args()
        .skip(1)
        .filter_map(|w| w.parse().ok())
        .collect();
    let word = |place: usize, otherwise: u64| words.get(place).copied().unwrap_or(otherwise);
    #[expect(clippy::cast_precision_loss, reason = "a few percent")]
    let accuracy = word(4, 10) as f64 / 100.0;
    let by_auto = Asked {
        accuracy,
        ..asked(Method::Auto, word(0, 200_000))
    };
    let auto = runs(GAS, by_auto, word(1, 8));
    let fire = runs(GAS, asked(Method::Fire, word(2, 4_000_000)), word(3, 4));
    println!(
        "zone mm: auto nm, spread; fired nm, spread; ratio; z by the spread; stated for one place / really off"
    );
    let mut is_true = true;
    for zone in zones() {
        let ((found, spread), (truth, error)) = (mean_m(&auto, &zone), mean_m(&fire, &zone));
        let stated = stated_m(&auto, &zone);
        println!(
            "{:5.1} to {:4.1}: {:9.5} ± {:.5}, fired {:9.5} ± {:.5}: {:.3}; z {:+.1}; stated {:.1} %, off {:+.1} %",
            1e3 * zone.start,
            1e3 * zone.end,
            1e9 * found,
            1e9 * spread,
            1e9 * truth,
            1e9 * error,
            found / truth,
            (found - truth) / spread.hypot(error),
            100.0 * stated / truth,
            100.0 * (found / truth - 1.0),
        );
        // the error stated for one place holds what smoothing gets wrong there, so that of a zone lies within it
        is_true &= (found - truth).abs() < stated + 3.0 * error;
    }
    if !is_true {
        eprintln!("a zone is farther off than the error stated for its places");
        std::process::exit(1);
    }
}
