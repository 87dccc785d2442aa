//! Stencils in gas: haze creeps under a lifted edge, by the default method as by firing.

use evenfall_sim::scene::Scene;
use evenfall_sim::transport::{Method, Tally};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::Sheet;
use glam::DVec3;
use std::ops::Range;

/// Where the plate lies, m.
const HEIGHT: f64 = 0.06;

/// Half the edge of the window, m.
const WINDOW: f64 = 4e-3;

/// Distances from the window's edge under the sheet, m.
const ZONES: [Range<f64>; 3] = [0.3e-3..0.8e-3, 0.8e-3..1.5e-3, 1.5e-3..3e-3];

/// A plate of 20 mm under a sheet of 0.1 mm with a window of 8 by 8 mm, 1 mm over it, straight over a disc.
fn bench(gas: &str) -> Bench {
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

const GAS: &str = "[gas]\npressure = \"1 Pa\"\nfree_path = \"10 mm\"\n";

/// Mean film of a zone, m.
fn zone(scene: &Scene, tally: &Tally, zone: &Range<f64>) -> f64 {
    let body = &scene.bodies[scene.parts[0].body.0 as usize];
    let (mut volume, mut area) = (0.0, 0.0);
    for index in scene.parts[0].front.clone() {
        let receiver = &scene.receivers[index];
        let [a, b, c] = body.corners(receiver.triangle);
        let at = |w: glam::DVec2| a + (b - a) * w.x + (c - a) * w.y;
        let middle = receiver.corners.map(at).iter().sum::<DVec3>() / 3.0;
        let away = middle.truncate().abs().max_element() - WINDOW;
        if zone.contains(&away) {
            volume += receiver.area_m2 * tally.receivers[index].thickness_m;
            area += receiver.area_m2;
        }
    }
    volume / area
}

fn runs(gas: &str, method: Method, atoms: u64) -> Vec<Coated> {
    (1..=4)
        .map(|seed| {
            let asked = match method {
                Method::Fire => Asked::fire(atoms),
                _ => Asked {
                    method,
                    atoms,
                    ..Asked::gather(0.1)
                },
            };
            bench(gas).coat(&Asked { seed, ..asked })
        })
        .collect()
}

/// Mean over runs and its standard error.
fn mean(runs: &[Coated], range: &Range<f64>) -> (f64, f64) {
    let values = runs.iter().map(|run| zone(&run.scene, &run.tally, range));
    let spread: evenfall_sim::stats::Running = values.collect();
    (spread.mean(), spread.std_error().unwrap())
}

#[test]
fn haze_under_a_lifted_edge_is_the_same_by_auto_as_by_firing_and_there_is_none_without_gas() {
    let auto = runs(GAS, Method::Auto, 200_000);
    let fire = runs(GAS, Method::Fire, 400_000);
    let bare = bench("").coat(&Asked::gather(0.05));
    let open = zone(&bare.scene, &bare.tally, &(-4e-3..-1e-3));
    for range in &ZONES {
        let ((by_auto, auto_error), (by_fire, fire_error)) =
            (mean(&auto, range), mean(&fire, range));
        let error = auto_error.hypot(fire_error);
        // four runs each: a spread of six degrees of freedom, z = 6 once in a thousand
        assert!(
            (by_auto - by_fire).abs() < 6.0 * error,
            "{range:?}: {by_auto:e} ± {auto_error:e} by auto, {by_fire:e} ± {fire_error:e} by firing"
        );
        assert!(error < 0.1 * by_fire, "{range:?}: {error:e} of {by_fire:e}");
        let straight = zone(&bare.scene, &bare.tally, range);
        println!(
            "{range:?}: auto {by_auto:e} ± {auto_error:e}, fire {by_fire:e} ± {fire_error:e}, bare {straight:e}, open {open:e}"
        );
        // straight lines reach 1 mm · (15 + 4)/39 = 0.5 mm under the sheet at most
        if range.start > 0.5e-3 {
            assert_eq!(straight, 0.0);
            assert!(
                by_auto.min(by_fire) > 6.0 * error,
                "{range:?}: {by_auto:e} ± {error:e}"
            );
        }
    }
}
