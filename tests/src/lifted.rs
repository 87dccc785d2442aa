//! A plate in gas under a stencil that is lifted off it: haze creeps in under the edge.
//!
//! In: a gas, a method. Out: runs, and the mean film of zones under the edge.

use crate::bench::{Asked, Bench, Coated, Head};
use crate::solids::Sheet;
use evenfall_sim::scene::Scene;
use evenfall_sim::stats::Running;
use evenfall_sim::transport::{Method, Tally};
use glam::DVec3;
use std::ops::Range;

/// Where the plate lies, m.
const HEIGHT: f64 = 0.06;

/// Half the edge of the window, m.
const WINDOW: f64 = 4e-3;

/// Distances from the window's edge under the sheet, m.
pub const ZONES: [Range<f64>; 3] = [0.3e-3..0.8e-3, 0.8e-3..1.5e-3, 1.5e-3..3e-3];

/// The gas of the runs.
pub const GAS: &str = "[gas]\npressure = \"1 Pa\"\nfree_path = \"10 mm\"\n";

/// A plate of 20 mm under a sheet of 0.1 mm with a window of 8 by 8 mm, 1 mm over it, straight over a disc.
#[must_use]
pub fn lifted(gas: &str) -> Bench {
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * HEIGHT, -DVec3::Z, 0.02);
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="-10 -10 20 20">
        <rect x="-4" y="-4" width="8" height="8"/></svg>"#;
    let lines = "sheet = \"0.1 mm\"\nlift = \"1 mm\"\nat = [\"0 mm\", \"0 mm\", \"60 mm\"]\n\
                 turn = [\"180 deg\", \"0 deg\", \"0 deg\"]\n";
    Bench::new()
        .with("[chamber]\nshape = \"cylinder\"\ndiameter = \"110 mm\"\nheight = \"90 mm\"\n")
        .with(gas)
        .source(&Head {
            footprint: "{ shape = \"disc\", radius = \"15 mm\" }",
            cosine: 1.0,
            at: DVec3::Z * 0.02,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .mask("plate", svg, lines)
        .step(1.0, "")
}

/// The plate's receivers whose middle lies in a zone.
#[must_use]
pub fn receivers_in(scene: &Scene, zone: &Range<f64>) -> Vec<usize> {
    let body = &scene.bodies[scene.parts[0].body.0 as usize];
    let away = |index: usize| {
        let receiver = &scene.receivers[index];
        let [a, b, c] = body.corners(receiver.triangle);
        let at = |w: glam::DVec2| a + (b - a) * w.x + (c - a) * w.y;
        let middle = receiver.corners.map(at).iter().sum::<DVec3>() / 3.0;
        middle.truncate().abs().max_element() - WINDOW
    };
    let front = scene.parts[0].front.clone();
    front.filter(|&index| zone.contains(&away(index))).collect()
}

/// Mean film of a zone, m.
#[must_use]
pub fn zone_m(scene: &Scene, tally: &Tally, zone: &Range<f64>) -> f64 {
    let (mut volume, mut area) = (0.0, 0.0);
    for index in receivers_in(scene, zone) {
        let own = scene.receivers[index].area_m2;
        volume += own * tally.receivers[index].thickness_m;
        area += own;
    }
    volume / area
}

/// So many runs with seeds of their own.
#[must_use]
pub fn runs(gas: &str, asked: Asked, seeds: u64) -> Vec<Coated> {
    let one = |seed| lifted(gas).coat(&Asked { seed, ..asked });
    (1..=seeds).map(one).collect()
}

/// What a run with the default method or by firing asks for.
#[must_use]
pub fn asked(method: Method, atoms: u64) -> Asked {
    match method {
        Method::Fire => Asked::fire(atoms),
        _ => Asked {
            method,
            atoms,
            ..Asked::gather(0.1)
        },
    }
}

/// Mean film of a zone over runs and its standard error by their spread, m; at least two runs.
#[must_use]
pub fn mean_m(runs: &[Coated], range: &Range<f64>) -> (f64, f64) {
    let values = runs.iter().map(|run| zone_m(&run.scene, &run.tally, range));
    let spread: Running = values.collect();
    (spread.mean(), spread.std_error().unwrap_or(f64::INFINITY))
}
