//! Corners of stencils: the film beside them, and how finely it is looked at.
//!
//! Exact: PHYSICS.md (70) with chords cut off by the second side (`forms::edge`), derived there; the corner itself sees a
//! quarter of an even, symmetric source, or three quarters.

use evenfall_sim::transport::edges::EdgeProfile;
use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::forms::edge::{Edge, OPEN};
use evenfall_tests::solids::Sheet;
use glam::DVec3;

/// A thickness as good as none, mm.
const THIN: f64 = 1e-5;

/// A sheet without thickness, so high (mm) over a part under a source 100 mm away.
fn lifted(lift: f64) -> Edge {
    Edge {
        height: 100.0,
        lift,
        sheet: 0.0,
    }
}

/// Half the penumbra of a sheet 1 mm over the part under a disc of 25 mm radius 100 mm away, mm.
const HALF: f64 = 25.0 / 99.0;

/// A sheet that leaves a quarter of the part open, or covers a quarter of it.
fn cornered(opens: &str) -> Coated {
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * 0.1, -DVec3::Z, 0.01);
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="-50 -50 100 100">
        <rect x="0" y="-50" width="50" height="50"/></svg>"#;
    let lines = format!(
        "opens = \"{opens}\"\nsheet = \"{THIN:?} mm\"\nlift = \"1 mm\"\n\
         at = [\"0 mm\", \"0 mm\", \"100 mm\"]\nturn = [\"180 deg\", \"0 deg\", \"0 deg\"]\n"
    );
    Bench::new()
        .source(&Head {
            footprint: "{ shape = \"disc\", radius = \"25 mm\" }",
            cosine: 1.0,
            at: DVec3::ZERO,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .mask("plate", svg, &lines)
        .step(1.0, "")
        .coat(&Asked::gather(0.1))
}

/// The film at a point of the artwork's plane beside a corner, mm.
fn at_corner(opens: &str, p: [f64; 2], lift: f64) -> f64 {
    let edge = lifted(lift);
    match opens {
        "shapes" => edge.under_disc_at_corner(p, 25.0),
        _ => edge.under_disc_at_outer_corner(p.map(|x| -x), 25.0),
    }
}

/// Profiles beside the corner in the middle of the part, along the side y = 0: place along it and profile, in order.
fn beside_corner(coated: &Coated) -> Vec<(f64, &EdgeProfile)> {
    let profiles = coated.tally.stencils[0].edges.profiles.iter();
    let mut beside: Vec<(f64, &EdgeProfile)> = profiles
        .map(|p| (p.station.at_m * 1e3, p))
        .filter(|(at, _)| at.y.abs() < 1e-9 && at.x < 5.0 * HALF)
        .map(|(at, p)| (at.x, p))
        .collect();
    beside.sort_by(|a, b| a.0.total_cmp(&b.0));
    beside
}

/// Every point of every profile beside a corner against the exact integral with a lift.
fn corner(opens: &str, lift: f64) -> Result<(), Disagreement> {
    let coated = cornered(opens);
    let all_open = at_corner("shapes", [10.0, 10.0], 1.0);
    let mut all = Vec::new();
    for (_, profile) in beside_corner(&coated) {
        for point in &profile.points {
            let p = (profile.station.across(point.x_m) * 1e3).to_array();
            let reference = at_corner(opens, p, lift) * 1e6;
            let (found, std_error) = coated.per_atom(point.thickness_m, point.std_error_m);
            if (0.05..0.95).contains(&(reference / (all_open * 1e6))) {
                all.push(Comparison {
                    name: format!("{opens} at {p:?} mm"),
                    found,
                    std_error,
                    reference,
                    bias: 1e-4 * all_open * 1e6,
                });
            }
        }
    }
    assert!(all.len() > 60, "{}", all.len());
    judge(&all, SCRAMBLINGS, 0.3)
}

#[test]
fn corners_of_an_opening_and_of_a_sheet_get_their_exact_film() {
    // the corner itself sees a quarter of an even, symmetric source, or three quarters
    for (opens, share) in [("shapes", 0.25), ("ground", 0.75)] {
        let open = at_corner("shapes", [10.0, 10.0], 1.0);
        let there = at_corner(opens, [0.0; 2], 1.0);
        let whole = lifted(1.0).under_disc(0.0, 25.0, [0.0; 2], OPEN);
        assert!((there / whole - share).abs() < 1e-6, "{}", there / open);
        corner(opens, 1.0).unwrap();
    }
}

#[test]
fn corners_notice_a_sheet_a_fifth_higher() {
    for opens in ["shapes", "ground"] {
        assert!(corner(opens, 1.2).unwrap_err().speaks_against());
    }
}

/// Largest error of a straight line between neighbouring profiles beside a corner, as a share of the open film, if the
/// profiles themselves were exact.
fn between_profiles(opens: &str, profiles: &[f64]) -> f64 {
    let open = at_corner("shapes", [10.0, 10.0], 1.0);
    let at = |x: f64, y: f64| at_corner(opens, [x, y], 1.0) / open;
    let pairs = profiles.windows(2).flat_map(|pair| {
        [-0.5, 0.0, 0.5].map(|across| {
            let y = across * HALF;
            let between = 0.5 * (at(pair[0], y) + at(pair[1], y));
            (between - at(0.5 * (pair[0] + pair[1]), y)).abs()
        })
    });
    pairs.fold(0.0, f64::max)
}

#[test]
fn the_film_beside_corners_is_resolved_to_a_tenth_of_the_penumbra() {
    for opens in ["shapes", "ground"] {
        let coated = cornered(opens);
        let all = beside_corner(&coated);
        let width = 1e3 * all[0].1.penumbra_m;
        assert!((width / (2.0 * HALF) - 1.0).abs() < 0.01, "{width}");
        let near: Vec<f64> = all.iter().map(|(x, _)| *x).collect();
        // the first half step is the corner's own
        assert!(near[0] <= 0.05 * width * 1.01, "{}", near[0]);
        let inside = near.windows(2).filter(|pair| pair[1] < 0.5 * width);
        for pair in inside {
            assert!(pair[1] - pair[0] <= 0.1 * width * 1.01, "{pair:?}");
        }
        assert!(between_profiles(opens, &near) < 0.01);
        // as it would be without those beside corners
        let even: Vec<f64> = all
            .iter()
            .filter(|(_, p)| !p.station.is_at_corner)
            .map(|(x, _)| *x)
            .collect();
        let from_corner = [&[0.0], &even[..]].concat();
        assert!(between_profiles(opens, &from_corner) > 0.03);
    }
}
