//! Sputter yields of argon ions: Y. Yamamura, H. Tawara (1996), and what was measured before.

use crate::values;
use evenfall_sim::supply::sputter::{Ion, Target};
use evenfall_tests::published::metal_of;

fn target(number: f64) -> Target {
    Target::of(metal_of(number)).expect("every built-in metal is a target")
}

fn argon() -> Ion {
    Ion::of("argon").expect("argon sputters")
}

#[test]
fn thresholds_and_yields_are_those_of_the_paper() {
    let table = values!("yamamura_tawara_1996");
    let thresholds = table.quantity("threshold energy");
    thresholds.check(|of| target(of("target_z")).threshold_ev(argon()));
    let yields = table.quantity("yield");
    yields.check(|of| target(of("target_z")).yield_per_ion(argon(), of("energy_ev")));
}

#[test]
fn the_comparison_notices_a_misprint_of_the_logarithm() {
    let table = values!("yamamura_tawara_1996");
    for row in &table.quantity("yield with the logarithm misprinted").rows {
        let found = target(row["target_z"]).yield_per_ion(argon(), row["energy_ev"]);
        assert!((found / row["value"] - 1.0).abs() > 0.1, "{row:?}: {found}");
    }
}

#[test]
fn measured_yields_lie_within_thirty_per_cent() {
    let table = values!("yamamura_tawara_1996");
    let measured = table.quantity("measured yield");
    measured.check(|of| target(of("target_z")).yield_per_ion(argon(), of("energy_ev")));
}
