//! Advice where gas scatters, on one small scene.
//!
//! In: a plate over a head in argon. Out: the height that simulations of every height find best.

use super::{advised, rings};
use evenfall_sim::transport::{Unwatched, run};
use evenfall_sim::{film, plan, scene, transport};
use std::path::Path;
use std::sync::Arc;

fn text(height_mm: f64) -> String {
    format!(
        "[chamber]\nshape = \"cylinder\"\ndiameter = \"300 mm\"\nheight = \"300 mm\"\n[gas]\nspecies = \"argon\"\npressure = \"0.6 Pa\"\n\
         [[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\nat = [\"0 mm\", \"0 mm\", \"40 mm\"]\nfacing = [0, 0, 1]\n\
         footprint = {{ shape = \"ring\", inner_radius = \"18 mm\", outer_radius = \"22 mm\" }}\noutput = {{ atoms_per_second = 2.0e17 }}\n\
         [[part]]\nname = \"plate\"\nmesh = \"part.stl\"\nunit = \"m\"\nat = [\"0 mm\", \"0 mm\", \"{height_mm} mm\"]\n\
         [[rotation]]\naxis = [0, 0, 1]\nspeed = \"60 rpm\"\n[[step]]\nlasts = \"30 min\"\n[film]\nwant = \"100 nm\"\non = \"95 %\"\n"
    )
}

/// Open time that a plate at a height needs, s, by a run of its own.
fn needs_s(height_mm: f64) -> f64 {
    let plan = plan::read_text(Path::new("check.toml"), &text(height_mm)).unwrap();
    let mut meshes = scene::Meshes::default();
    meshes.insert("part.stl", plate().mesh());
    let scene = scene::lower(Arc::new(plan), &meshes).unwrap();
    let settings = transport::RunSettings {
        atoms: None,
        ..super::settings(0.03, 99)
    };
    let rates = transport::calibrate(&scene, &settings).unwrap();
    let tally = run(&scene, &rates, &settings, &Unwatched);
    let film = film::grow(&scene, &tally);
    let areas = scene.receivers.iter().map(|receiver| receiver.area_m2);
    let mut facets: Vec<(f64, f64)> = film
        .facets
        .iter()
        .map(|f| f.thickness_m)
        .zip(areas)
        .collect();
    facets.sort_by(|a, b| b.0.total_cmp(&a.0));
    let area: f64 = facets.iter().map(|(_, area)| area).sum();
    let mut passed = 0.0;
    let decides = facets.iter().find(|(_, of_facet)| {
        passed += of_facet;
        passed >= 0.95 * area
    });
    1800.0 * 100e-9 / decides.unwrap().0
}

fn plate() -> evenfall_tests::solids::Sheet {
    let profile: Vec<(f64, f64)> = (0..=6).map(|k| (0.005 * f64::from(k), 0.0)).collect();
    rings(&profile, 24)
}

#[test]
fn advice_in_gas_finds_the_height_that_runs_of_every_height_find() {
    let began = std::time::Instant::now();
    let vary = "[advise]\nminimise = \"time\"\n[[advise.vary]]\nkey = \"part.plate.at.z\"\nfrom = \"60 mm\"\nto = \"140 mm\"\n";
    let found = advised(&(text(100.0) + vary), &plate());
    let best = &found.advice.candidates[0];
    println!(
        "{:.0} s, {} candidates, {:.2e} rays: {best:?}",
        began.elapsed().as_secs_f64(),
        found.advice.tried,
        found.advice.rays as f64
    );
    let by_hand: Vec<f64> = (0..3)
        .map(|k| needs_s(60.0 + 40.0 * f64::from(k)))
        .collect();
    println!("60, 100 and 140 mm need {by_hand:?} s");
    let least = by_hand.iter().copied().fold(f64::INFINITY, f64::min);
    // runs at 3 %, a quantile over some hundred facets
    assert!(
        (best.open_time_s / least - 1.0).abs() < 0.05,
        "{} {least}",
        best.open_time_s
    );
    let most = by_hand.iter().copied().fold(0.0, f64::max);
    assert!(most > 1.1 * best.open_time_s, "{most}");
}
