//! Tuning the free path where gas scatters: a truth made by runs with other random numbers.
//!
//! In: large coupons at several distances in argon. Out: the free path of the truth lies in the interval.

use super::{Reading, Tuned, meshes, settings, tuned_of};
use evenfall_sim::transport::{self, Method, Unwatched};
use evenfall_sim::{plan, scene};
use std::path::Path;
use std::sync::Arc;

const COUPONS: [(&str, [f64; 3]); 6] = [
    ("below", [0.0, 0.0, 50.0]),
    ("middle", [0.0, 40.0, 100.0]),
    ("high", [40.0, 40.0, 180.0]),
    ("highest", [0.0, 0.0, 260.0]),
    ("aside", [70.0, 0.0, 90.0]),
    ("far aside", [-100.0, 0.0, 150.0]),
];

fn text(rate: f64, free_path_mm: f64) -> String {
    let coupons: String = COUPONS
        .iter()
        .map(|(name, [x, y, z])| {
            format!("[[coupon]]\nname = \"{name}\"\nat = [\"{x} mm\", \"{y} mm\", \"{z} mm\"]\nfacing = [0, 0, -1]\nsize = \"20 mm\"\n")
        })
        .collect();
    format!(
        "[chamber]\nshape = \"cylinder\"\ndiameter = \"440 mm\"\nheight = \"300 mm\"\n\
         [gas]\nspecies = \"argon\"\npressure = \"0.5 Pa\"\nfree_path = \"{free_path_mm} mm\"\n\
         [[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\nat = [\"0 mm\", \"0 mm\", \"10 mm\"]\nfacing = [0, 0, 1]\n\
         footprint = {{ shape = \"disc\", radius = \"10 mm\" }}\nlaw = {{ cosine = 1.0 }}\noutput = {{ atoms_per_second = {rate:e} }}\n\
         [[part]]\nname = \"block\"\nmesh = \"part.stl\"\nunit = \"m\"\nat = [\"0 m\", \"0 m\", \"0 m\"]\n{coupons}[[step]]\nlasts = \"10 min\"\n"
    )
}

fn fitted(truth: (f64, f64)) -> Tuned {
    let read = |text: &str| {
        plan::read_text(Path::new("check.toml"), text).unwrap_or_else(|e| panic!("{e}"))
    };
    let measured = read(&text(truth.0, truth.1));
    let scene = scene::lower(Arc::new(measured), &meshes()).unwrap_or_else(|e| panic!("{e}"));
    let asked = transport::RunSettings {
        method: Method::Fire,
        atoms: Some(6_000_000),
        ..settings(77)
    };
    let rates = transport::calibrate(&scene, &asked).unwrap();
    let tally = transport::run(&scene, &rates, &asked, &Unwatched);
    let readings: Vec<Reading> = COUPONS
        .iter()
        .zip(&tally.coupons_m)
        .map(|((name, _), (film, _))| Reading {
            coupon: (*name).to_owned(),
            thickness_m: *film,
            error: 0.02,
        })
        .collect();
    let began = std::time::Instant::now();
    let tuned = tuned_of(&read(&text(1e18, 60.0)), &readings).unwrap();
    println!(
        "fitted in {:.0} s: {tuned:#?}",
        began.elapsed().as_secs_f64()
    );
    tuned
}

#[test]
fn free_path_of_another_gas_is_found() {
    let tuned = fitted((1.2e18, 90.0));
    let path = tuned.free_path_mm.expect("six coupons tell it");
    assert!(
        path.from_to[0] <= 90.0 && path.from_to[1] >= 90.0,
        "{path:?}"
    );
    // and the plan's own, 60 mm, is ruled out
    assert!(path.from_to[0] > 60.0, "{path:?}");
    assert!(
        tuned.rate.from_to[0] <= 1.2 && tuned.rate.from_to[1] >= 1.2,
        "{:?}",
        tuned.rate
    );
}
