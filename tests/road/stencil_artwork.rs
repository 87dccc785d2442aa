//! What is said of stencils: bridges that a correction would cut through, the finest line, names.

use evenfall_sim::outcome;
use evenfall_sim::outcome::stencils::{Finest, StencilSummary};
use evenfall_sim::transport::{Method, RunSettings};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::Sheet;
use glam::DVec3;
use std::collections::BTreeSet;

/// A plate of 20 mm, coated side down, under a sheet of 0.1 mm, 80 mm over a small disc that stands 0.1 m aside.
fn bench(part: &str, inside: &str, more: &str) -> Bench {
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * 0.08, -DVec3::Z, 0.02);
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"20mm\" height=\"20mm\" viewBox=\"-10 -10 20 20\">{inside}</svg>"
    );
    let lines = "sheet = \"0.1 mm\"\nat = [\"0 mm\", \"0 mm\", \"80 mm\"]\nturn = [\"180 deg\", \"0 deg\", \"0 deg\"]\n";
    Bench::new()
        .source(&Head {
            footprint: "{ shape = \"disc\", radius = \"8 mm\" }",
            cosine: 1.0,
            at: DVec3::X * 0.1,
            facing: DVec3::Z,
            along: None,
        })
        .part(part, plate)
        .mask(part, &svg, lines)
        .step(1.0, "")
        .with(more)
}

fn summary(coated: &Coated) -> StencilSummary {
    let settings = RunSettings {
        method: Method::Gather,
        accuracy: 0.2,
        time: None,
        atoms: Some(1000),
        seed: 1,
        threads: 0,
    };
    let (scene, film) = (&coated.scene, coated.film.clone());
    let outcome = outcome::assemble(scene, &coated.rates, &coated.tally, film, &settings);
    outcome.summary.stencils[0].clone()
}

/// Two windows of 4 mm with a bridge so wide between them, mm; the source stands aside along x.
fn bridged(bridge: f64) -> Coated {
    let inside = format!(
        "<rect x=\"-5\" y=\"-4\" width=\"5\" height=\"8\"/><rect x=\"{bridge}\" y=\"-4\" width=\"5\" height=\"8\"/>"
    );
    bench("plate", &inside, "").coat(&Asked::gather(0.2))
}

#[test]
fn a_bridge_narrower_than_its_shadow_vanishes_from_the_corrected_artwork_and_a_warning_says_so() {
    // the upper edge shades 0.1 mm · (0.1 m / 0.08 m) = 0.125 mm: the edge must be cut back by about that
    let narrow = summary(&bridged(0.08));
    let corrected = narrow.corrected.as_ref().unwrap();
    assert_eq!(corrected.merged_mm.len(), 2, "{corrected:?}");
    let said = narrow.sentences.join("\n");
    assert!(
        said.contains("bridges vanish: 2 openings run into others"),
        "{said}"
    );
    assert!(said.contains("widen the bridges"), "{said}");
    // a wide one stays, and nothing is said
    let wide = summary(&bridged(1.0));
    let corrected = wide.corrected.as_ref().unwrap();
    assert!(corrected.merged_mm.is_empty() && corrected.closed_mm.is_empty());
    assert!(
        (corrected.most_m - 1.25e-4).abs() < 3e-5,
        "{}",
        corrected.most_m
    );
    let said = wide.sentences.join("\n");
    assert!(!said.contains("bridges vanish"), "{said}");
}

/// Lines of 0.3 and 0.6 mm by 9 mm, and one that runs from 1.2 mm to a point.
const LINES: &str = r#"<rect x="-8" y="-6" width="9" height="0.3"/><rect x="-8" y="-3" width="9" height="0.6"/>
    <path d="M-8 0L6 0.6L-8 1.2Z"/>"#;

fn lines(want: &str) -> StencilSummary {
    let film = format!("[film]\nwant = \"{want}\"\n");
    summary(&bench("plate", LINES, &film).coat(&Asked::gather(0.2)))
}

#[test]
fn the_narrowest_line_is_as_wide_as_it_was_drawn_whatever_its_ends() {
    let drawn = |found: Option<Finest>| found.unwrap().width_m;
    let little = lines("0.01 nm");
    assert!(
        (drawn(little.narrowest_line) - 0.3e-3).abs() < 2e-6,
        "{little:?}"
    );
    assert!(little.widest_short_line.is_none(), "{little:?}");
    // but for the pointed end, where nothing arrives
    assert!(little.short.iter().all(|place| place.width_m < 2e-4));
    let much = lines("1 um");
    assert!(much.narrowest_line.is_none());
    // half way along, the pointed one is 0.6 mm wide; its median place is measured across its slant
    let widest = drawn(much.widest_short_line);
    assert!((0.55e-3..0.65e-3).contains(&widest), "{widest}");
}

#[test]
fn a_stencil_that_is_named_like_its_part_is_told_apart_from_it() {
    let post = "[[fixture]]\nname = \"post\"\nat = [\"0 mm\", \"60 mm\", \"40 mm\"]\n\
                body = { shape = \"plate\", size = [\"5 mm\", \"5 mm\", \"5 mm\"] }\n";
    // the bench names artworks by their number
    let plan = bench(
        "artwork 0",
        r#"<rect x="-4" y="-4" width="8" height="8"/>"#,
        post,
    );
    let scene = plan.turning(DVec3::Z).coat(&Asked::gather(0.5)).scene;
    let all = scene.facts.clearances.iter();
    let pairs: Vec<(String, String)> = all.map(|c| (c.riding.clone(), c.still.clone())).collect();
    let apart: BTreeSet<_> = pairs.iter().collect();
    assert!(pairs.len() >= 2, "{pairs:?}");
    assert_eq!(apart.len(), pairs.len(), "{pairs:?}");
    assert!(pairs.iter().any(|(riding, _)| riding == "artwork 0"));
    assert!(
        pairs
            .iter()
            .any(|(riding, _)| riding == "stencil artwork 0")
    );
}
