//! What is scattered: the default method against plain firing, which is the judge, and its errors against the truth.
//!
//! Free paths of 50, 10 and 5 mm, silver and aluminium, hard spheres in thermal gas and isotropic; standing, turning,
//! behind a shield, and with half of what lands leaving again.

use evenfall_tests::agreement::{Spread, judge, measured};
use evenfall_tests::bench::{Asked, Coated};
use evenfall_tests::cup::{Both, Held, both, fired, runs, scene};

fn agrees(gas: (&str, &str, f64), held: Held, atoms: u64) {
    let bench = scene(gas, held);
    let both = both(&bench, &bench, atoms);
    both.totals_agree().unwrap();
    both.clusters_agree().unwrap();
}

const HARD: &str = "hard-sphere";
const EVEN: &str = "isotropic";

#[test]
fn silver_at_50_mm_comes_as_when_fired() {
    agrees(("silver", HARD, 50.0), Held::Still, 1_000_000);
    agrees(("silver", EVEN, 50.0), Held::Turning, 1_000_000);
}

#[test]
fn silver_at_10_mm_comes_as_when_fired() {
    agrees(("silver", HARD, 10.0), Held::Turning, 1_000_000);
    agrees(("silver", EVEN, 10.0), Held::Still, 1_000_000);
}

#[test]
fn silver_at_5_mm_comes_as_when_fired() {
    agrees(("silver", HARD, 5.0), Held::Shielded, 600_000);
    agrees(("silver", EVEN, 5.0), Held::Loose, 1_000_000);
}

#[test]
fn aluminium_at_50_mm_comes_as_when_fired() {
    agrees(("aluminium", HARD, 50.0), Held::Shielded, 1_000_000);
    agrees(("aluminium", EVEN, 50.0), Held::Loose, 1_000_000);
}

#[test]
fn aluminium_at_10_mm_comes_as_when_fired() {
    agrees(("aluminium", HARD, 10.0), Held::Loose, 1_000_000);
    agrees(("aluminium", EVEN, 10.0), Held::Shielded, 1_000_000);
}

#[test]
fn aluminium_at_5_mm_comes_as_when_fired() {
    agrees(("aluminium", HARD, 5.0), Held::Still, 1_000_000);
    agrees(("aluminium", EVEN, 5.0), Held::Turning, 1_000_000);
}

#[test]
fn the_comparison_notices_another_free_path_and_a_forgotten_direction() {
    let bench = scene(("silver", HARD, 10.0), Held::Still);
    let found = runs(&bench);
    for other in [("silver", HARD, 8.5), ("silver", EVEN, 10.0)] {
        let both = Both {
            runs: found.clone(),
            fired: fired(&scene(other, Held::Still), 400_000),
        };
        let clusters = both.clusters_agree();
        assert!(
            clusters.is_err_and(|found| found.speaks_against()),
            "{other:?}"
        );
    }
}

#[test]
fn without_gas_what_bounces_comes_as_when_fired() {
    let loose = |sticking: &str| {
        let mut bench = scene(("silver", HARD, 10.0), Held::Loose);
        let from = bench.text.find("[gas]").unwrap();
        let to = bench.text.find("[[source]]").unwrap();
        bench.text.replace_range(from..to, "");
        bench.text = bench.text.replace("sticking = 0.5", sticking);
        bench
    };
    let bench = loose("sticking = 0.5");
    let same = both(&bench, &bench, 1_000_000);
    same.totals_agree().unwrap();
    same.clusters_agree().unwrap();
    let other = Both {
        fired: fired(&loose("sticking = 0.55"), 1_000_000),
        ..same
    };
    assert!(
        other
            .clusters_agree()
            .is_err_and(|found| found.speaks_against())
    );
}

#[test]
fn the_default_method_says_gas_and_its_parts_like_firing() {
    let bench = scene(("silver", HARD, 20.0), Held::Turning);
    let asked = Asked {
        method: evenfall_sim::transport::Method::Auto,
        atoms: 300_000,
        ..Asked::gather(0.05)
    };
    let auto = bench.coat(&asked);
    let fired = bench.coat(&Asked::fire(300_000));
    let part = |coated: &Coated| {
        let tally = &coated.tally;
        let facets = coated.scene.parts[0].front.clone();
        let volume = |f: usize| tally.receivers[f].thickness_m * coated.scene.receivers[f].area_m2;
        let scattered: f64 = facets
            .clone()
            .map(|f| volume(f) * f64::from(tally.scattered[f]))
            .sum();
        let angle: f64 = facets
            .clone()
            .filter(|&f| tally.receivers[f].thickness_m > 0.0)
            .map(|f| volume(f) * tally.receivers[f].incidence_rad)
            .sum();
        let all: f64 = facets.map(volume).sum();
        (scattered / all, angle / all)
    };
    let (found, reference) = (part(&auto), part(&fired));
    let arrived = fired.tally.arrivals[0][0].atoms as f64;
    // binomial, and angles that spread over less than a radian
    let shares = measured(
        "scattered".to_owned(),
        (found.0, 0.004),
        (reference.0, 0.5 / arrived.sqrt()),
    );
    let angles = measured(
        "angle".to_owned(),
        (found.1, 0.004),
        (reference.1, 0.5 / arrived.sqrt()),
    );
    judge(&[shares, angles], Spread::Known, 0.02).unwrap();
    // the audit is fired as ever
    let (mean, error) = auto.tally.part_mean_m[0];
    let (audit, audit_error) = auto.tally.audit_part_mean_m[0];
    let means = measured("mean".to_owned(), (mean, error), (audit, audit_error));
    judge(&[means], Spread::Known, 0.03).unwrap();
    assert_eq!(auto.tally.balance.emitted, 300_000);
}

/// Seeds, and every so many facets of the cup: they lie in groups of their own.
const SEEDS: u64 = 200;
const APART: usize = 9;

/// Squared deviations from the truth over squared errors, `[seed][facet]`, with the truth stretched.
fn squares(films: &[Coated], truth: &Coated, stretch: f64) -> Vec<Vec<f64>> {
    let facets = || truth.scene.parts[0].front.clone().step_by(APART);
    let emitted = truth.tally.balance.emitted as f64;
    let one = |coated: &Coated| -> Vec<f64> {
        let of = |facet: usize| {
            let (found, fired) = (
                &coated.tally.receivers[facet],
                &truth.tally.receivers[facet],
            );
            let count = f64::from(fired.arrived);
            let own_m = fired.thickness_m * ((1.0 - count / emitted) / count).sqrt();
            let off_m = found.thickness_m - stretch * fired.thickness_m;
            off_m.powi(2) / (found.std_error_m.powi(2) + own_m.powi(2))
        };
        facets().map(of).collect()
    };
    films.iter().map(one).collect()
}

#[test]
fn errors_of_scattered_films_have_the_size_they_state_and_a_shift_is_noticed() {
    let bench = scene(("silver", EVEN, 30.0), Held::Turning);
    let truth = bench.coat(&Asked {
        seed: 1 << 40,
        ..Asked::fire(4_000_000)
    });
    let film = |seed: u64| {
        let asked = Asked {
            method: evenfall_sim::transport::Method::Auto,
            seed,
            atoms: 20_000,
            ..Asked::gather(0.3)
        };
        bench.coat(&asked)
    };
    let films: Vec<Coated> = (0..SEEDS).map(film).collect();
    let rms = |stretch: f64| {
        let squares = squares(&films, &truth, stretch);
        assert!(squares.len() * squares[0].len() >= 4000);
        // 32 batches or more: the factor √((R − 1)/(R − 3)) of Student's t
        let all: evenfall_sim::stats::Running = squares.into_iter().flatten().collect();
        (all.mean() * 29.0 / 31.0).sqrt()
    };
    let (right, shifted) = (rms(1.0), rms(1.2));
    assert!((right - 1.0).abs() < 0.12, "{right}");
    assert!(shifted > 1.12, "{shifted}");
}
