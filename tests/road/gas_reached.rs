//! What a run in gas promises of its errors: the accuracy asked is reached, and all errors hold that of the rate.

use evenfall_sim::film;
use evenfall_sim::outcome::{self, model::Summary};
use evenfall_sim::plan;
use evenfall_sim::scene::{self, Scene};
use evenfall_sim::transport::{self, Method, Rates, RunSettings, Stopped, Tally, Unwatched};
use std::path::Path;
use std::sync::Arc;

/// The project's feed horn, as its plan has it but with argon in the chamber: deep, turning, half of it turned away, and
/// its rate set by a coupon.
fn horn_in_argon() -> Scene {
    let models = Path::new(env!("CARGO_MANIFEST_DIR")).join("../models");
    let text = std::fs::read_to_string(models.join("horn.toml")).unwrap();
    let gas = "[gas]\nspecies = \"argon\"\npressure = \"0.5 Pa\"\n[[source]]";
    assert_eq!(text.matches("[[source]]").count(), 1);
    let text = text.replace("[[source]]", gas);
    let plan = Arc::new(plan::read_text(&models.join("horn.toml"), &text).unwrap());
    let meshes = scene::load_meshes(&plan).unwrap();
    scene::lower(plan, &meshes).unwrap()
}

fn settings(accuracy: f64, atoms: Option<u64>) -> RunSettings {
    RunSettings {
        method: Method::Auto,
        accuracy,
        time: None,
        atoms,
        seed: 1,
        threads: 0,
    }
}

fn told(scene: &Scene, rates: &Rates, tally: &Tally) -> Summary {
    let film = film::grow(scene, tally);
    outcome::assemble(scene, rates, tally, film, &settings(0.1, None)).summary
}

#[test]
fn a_run_in_gas_ends_at_the_accuracy_asked_with_errors_that_hold_the_rates() {
    const ASKED: f64 = 0.1;
    let scene = horn_in_argon();
    let asked = settings(ASKED, None);
    let rates = transport::calibrate(&scene, &asked).unwrap();
    let tally = transport::run(&scene, &rates, &asked, &Unwatched);
    let summary = told(&scene, &rates, &tally);
    assert_eq!(tally.stopped, Some(Stopped::Reached));
    assert!(tally.accuracy <= ASKED, "{}", tally.accuracy);
    // a rate from a coupon is known to some per cent here, and no film that rests on it is known better
    let rate = rates.relative_error[0];
    assert!(rate > 0.01, "{rate}");
    for &(mean_m, error_m) in tally.part_mean_m.iter().chain(&tally.coupons_m) {
        assert!(
            error_m > rate * mean_m,
            "{error_m} of {mean_m}, rate {rate}"
        );
    }
    // the mean over a part is known far better than the rate, which is in its error once
    let (mean_m, error_m) = tally.part_mean_m[0];
    assert!(
        error_m < 1.2 * rate * mean_m,
        "{error_m} of {mean_m}, rate {rate}"
    );
    let rows = film::grow(&scene, &tally).rows;
    let filmed = rows[0].iter().filter(|row| row.thickness_m > 0.0);
    assert!(
        filmed
            .clone()
            .all(|row| row.std_error_m > rate * row.thickness_m)
    );
    assert!(filmed.count() > 10_000);
    // what the audit compares rests on the same rate on both sides: sampling alone, and that is not nothing
    assert_eq!(summary.audit.len(), 2);
    for audit in &summary.audit {
        assert!(audit.mean_stderr_nm > 0.0, "{audit:?}");
        assert!(audit.z.abs() < 4.0, "{audit:?}");
    }
    // and what a source is known by that took no part, is not taken out of them
    let mut others = rates.clone();
    others.relative_error.push(1.0);
    let again = told(&scene, &others, &tally);
    assert_eq!(format!("{:?}", again.audit), format!("{:?}", summary.audit));
}

#[test]
fn a_limit_on_atoms_ends_a_run_in_gas_short_of_what_was_asked() {
    let scene = horn_in_argon();
    let rates = transport::calibrate(&scene, &settings(0.1, None)).unwrap();
    let tally = transport::run(&scene, &rates, &settings(0.03, Some(40_000)), &Unwatched);
    assert_eq!(tally.stopped, Some(Stopped::Atoms));
    // 0.11 to 0.137 with seeds 1 to 6 before atoms started from nets
    assert!(
        tally.accuracy > 0.03 && tally.accuracy < 0.14,
        "{}",
        tally.accuracy
    );
}
