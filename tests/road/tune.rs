//! Tuning against a truth that is known: coupons "measured" by runs of another plan.
//!
//! In: a plan, and one that differs by rate and emission exponent. Out: the difference is found, and what was tuned
//! reproduces the coupons when it is included.

mod gas;

use evenfall_sim::plan::{self, Plan};
use evenfall_sim::scene::{self, Meshes};
use evenfall_sim::transport::{self, Method, RunSettings, Unwatched};
use evenfall_sim::tune::{self, Reading, Refusal, Tuned};
use evenfall_tests::solids::{Sheet, block};
use glam::DVec3;
use std::path::Path;
use std::sync::Arc;

const COUPONS: [(&str, [f64; 3]); 5] = [
    ("below", [0.0, 0.0, 60.0]),
    ("near", [15.0, 0.0, 90.0]),
    ("aside", [60.0, 0.0, 90.0]),
    ("far aside", [110.0, 0.0, 80.0]),
    ("high", [40.0, 40.0, 160.0]),
];

fn settings(seed: u64) -> RunSettings {
    RunSettings {
        method: Method::Auto,
        accuracy: 0.01,
        time: None,
        atoms: Some(1000),
        seed,
        threads: 0,
    }
}

fn part() -> Sheet {
    block(
        DVec3::new(-0.2, -0.005, 0.2),
        DVec3::new(-0.19, 0.005, 0.21),
    )
}

fn text(exponent: f64, rate: f64) -> String {
    let coupons: String = COUPONS
        .iter()
        .map(|(name, [x, y, z])| {
            format!("[[coupon]]\nname = \"{name}\"\nat = [\"{x} mm\", \"{y} mm\", \"{z} mm\"]\nfacing = [0, 0, -1]\nsize = \"4 mm\"\n")
        })
        .collect();
    format!(
        "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\nat = [\"0 mm\", \"0 mm\", \"0 mm\"]\nfacing = [0, 0, 1]\n\
         footprint = {{ shape = \"disc\", radius = \"10 mm\" }}\nlaw = {{ cosine = {exponent:?} }}\noutput = {{ atoms_per_second = {rate:e} }}\n\
         [[part]]\nname = \"block\"\nmesh = \"part.stl\"\nunit = \"m\"\nat = [\"0 m\", \"0 m\", \"0 m\"]\n{coupons}[[step]]\nlasts = \"10 min\"\n"
    )
}

fn meshes() -> Meshes {
    let mut meshes = Meshes::default();
    meshes.insert("part.stl", part().mesh());
    meshes
}

fn read(text: &str) -> Plan {
    plan::read_text(Path::new("check.toml"), text).unwrap_or_else(|e| panic!("{e}"))
}

/// Film on the coupons after a run, m.
fn coated(plan: Plan) -> Vec<f64> {
    let scene = scene::lower(Arc::new(plan), &meshes()).unwrap_or_else(|e| panic!("{e}"));
    let rates = transport::calibrate(&scene, &settings(3)).expect("rates");
    let tally = transport::run(&scene, &rates, &settings(3), &Unwatched);
    tally.coupons_m.iter().map(|coupon| coupon.0).collect()
}

fn readings(films: &[f64], count: usize) -> Vec<Reading> {
    let named = COUPONS.iter().zip(films).take(count);
    named
        .map(|((name, _), film)| Reading {
            coupon: (*name).to_owned(),
            thickness_m: *film,
            error: 0.03,
        })
        .collect()
}

fn tuned(readings: &[Reading]) -> Result<Tuned, Refusal> {
    tuned_of(&read(&text(1.0, 1e18)), readings)
}

fn tuned_of(plan: &Plan, readings: &[Reading]) -> Result<Tuned, Refusal> {
    tune::tune(plan, &meshes(), readings, (&settings(1), &Unwatched))
}

#[test]
fn rate_and_exponent_of_another_machine_are_found() {
    let films = coated(read(&text(1.4, 1.2e18)));
    let tuned = tuned(&readings(&films, 5)).unwrap();
    assert!((tuned.rate.value - 1.2).abs() < 0.02, "{:?}", tuned.rate);
    let exponent = tuned.exponent.as_ref().expect("five coupons tell it");
    assert!((exponent.value - 1.4).abs() < 0.04, "{exponent:?}");
    assert!(exponent.from_to[0] < 1.4 && exponent.from_to[1] > 1.4);
    assert!(tuned.untold.is_empty(), "{:?}", tuned.untold);
    // included, it says what was measured
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("tuned.toml"), &tuned.toml).unwrap();
    let plain = text(1.0, 1e18).replace("law = { cosine = 1.0 }\n", "");
    let including = format!("include = [\"tuned.toml\"]\n{plain}");
    let plan = plan::read_text(&folder.path().join("check.toml"), &including)
        .unwrap_or_else(|e| panic!("{e}\n{}", tuned.toml));
    let mut store = Meshes::default();
    store.insert(folder.path().join("part.stl"), part().mesh());
    let scene = scene::lower(Arc::new(plan), &store).unwrap_or_else(|e| panic!("{e}"));
    let rates = transport::calibrate(&scene, &settings(5)).expect("rates");
    let tally = transport::run(&scene, &rates, &settings(5), &Unwatched);
    for ((found, _), film) in tally.coupons_m.iter().zip(&films) {
        assert!((found / film - 1.0).abs() < 0.03, "{found} {film}");
    }
}

#[test]
fn exponent_notices_a_tenth() {
    let films = coated(read(&text(1.5, 1.2e18)));
    let tuned = tuned(&readings(&films, 5)).unwrap();
    assert!((tuned.exponent.expect("told").value - 1.4).abs() > 0.04);
}

#[test]
fn one_coupon_scales_the_rate_and_says_no_more() {
    let films = coated(read(&text(1.0, 0.7e18)));
    let tuned = tuned(&readings(&films, 1)).unwrap();
    assert!((tuned.rate.value - 0.7).abs() < 0.01, "{:?}", tuned.rate);
    assert!(tuned.exponent.is_none() && tuned.free_path_mm.is_none());
    assert!(
        tuned.toml.contains("correction = 0.") && !tuned.toml.contains("law"),
        "{}",
        tuned.toml
    );
}

#[test]
fn what_cannot_be_told_is_refused() {
    let films = coated(read(&text(1.0, 1e18)));
    let mut wrong = readings(&films, 1);
    wrong[0].error = 0.8;
    assert!(matches!(tuned(&wrong), Err(Refusal::Nothing(_))));
    wrong[0].coupon = "belov".to_owned();
    let why = tuned(&wrong).unwrap_err().to_string();
    assert!(
        why.contains("\"belov\" is not in the plan (there are: below, near"),
        "{why}"
    );
    let twice = [readings(&films, 1), readings(&films, 1)].concat();
    assert!(matches!(tuned(&twice), Err(Refusal::Twice { .. })));
}
