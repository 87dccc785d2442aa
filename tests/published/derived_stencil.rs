//! Straight edges, slots and round holes of stencils.

use crate::values;
use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::forms::edge::{Edge, OPEN};
use evenfall_tests::forms::shading::slot_bottom;
use evenfall_tests::forms::view_factors::element_to_polygon;
use evenfall_tests::quadrature::turn_mean;
use evenfall_tests::solids::{Sheet, rings, sphere_profile};
use glam::DVec3;
use std::f64::consts::FRAC_PI_2;

/// Largest error of a point against its exact value, as a share of the open film there.
const ALLOWED: f64 = 0.005;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_stencil");
    for row in &table.quantity("edge under a disc").rows {
        let edge = edge_of(row["height"], row["lift"], row["sheet"]);
        let disc = |x: f64, from: f64| edge.under_disc(x, 0.5 * row["diameter"], [0.0; 2], from);
        let x = row["x"];
        let found = disc(x, edge.sees_from(x)) / disc(0.0, OPEN);
        assert!((found - row["value"]).abs() < 1e-7, "{row:?}: {found}");
    }
    for row in &table.quantity("edge under a thin ring").rows {
        let edge = edge_of(row["height"], row["lift"], 0.0);
        let ring = |x: f64, from: f64| edge.under_thin_ring(x, row["radius"], from);
        let x = row["x"];
        let found = ring(x, edge.sees_from(x)) / ring(0.0, OPEN);
        // at its ends the profile is as steep as a square root, and x has ten digits
        assert!((found - row["value"]).abs() < 1e-5, "{row:?}: {found}");
    }
    let edge = edge_of(60.0, 1.0, 0.0);
    let wide = edge.under_ring(0.1, [19.99, 20.01], edge.sees_from(0.1));
    let thin = edge.under_thin_ring(0.1, 20.0, edge.sees_from(0.1));
    assert!((wide / thin - 1.0).abs() < 1e-5);
}

fn edge_of(height: f64, lift: f64, sheet: f64) -> Edge {
    Edge {
        height,
        lift,
        sheet,
    }
}

/// What stands over an edge.
struct Case {
    footprint: &'static str,
    /// Inner and outer radius, mm.
    radii: [f64; 2],
    edge: Edge,
    /// Middle of the source beside the middle of the edge, mm.
    beside: f64,
    turning: bool,
}

/// A thickness as good as none, mm: below what f32 keeps of a place.
const THIN: f64 = 1e-5;

/// The part's plate lies at `height`, coated side down; the artwork's x-y plane is the chamber's, turned over about x.
fn coated(case: &Case, (sheet, lift): (f64, f64), xs: &[f64]) -> Coated {
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * case.edge.height * 1e-3, -DVec3::Z, 0.01);
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">
        <rect x="0" y="0" width="50" height="100"/></svg>"#;
    let lines = format!(
        "opens = \"ground\"\nsheet = \"{sheet:?} mm\"\nlift = \"{lift:?} mm\"\n\
         at = [\"0 mm\", \"0 mm\", \"{:?} mm\"]\nturn = [\"180 deg\", \"0 deg\", \"0 deg\"]\n",
        case.edge.height
    );
    let mut bench = Bench::new()
        .source(&Head {
            footprint: case.footprint,
            cosine: 1.0,
            at: DVec3::X * case.beside * 1e-3,
            facing: DVec3::Z,
            along: None,
        })
        .part("plate", plate)
        .mask("plate", svg, &lines);
    let at = |x: f64| DVec3::new(x, 0.0, case.edge.height) * 1e-3;
    let last = xs.len() - 1;
    bench = bench.probe("plate", [at(xs[0]), at(xs[last])], xs.len());
    if case.turning {
        bench = bench.turning(DVec3::Z);
    }
    bench.step(1.0, "").coat(&Asked::gather(0.1))
}

/// Evenly spread points across the penumbra and beyond, mm.
fn across(case: &Case, points: u32) -> Vec<f64> {
    let reach = |level: f64| {
        let over = case.beside + case.radii[1];
        1.25 * over * level / (case.edge.height - level)
    };
    let [low, high] = [
        -reach(case.edge.lift).max(0.02),
        reach(case.edge.lift + case.edge.sheet).max(0.02),
    ];
    let last = f64::from(points - 1);
    (0..points)
        .map(|k| low + (high - low) * f64::from(k) / last)
        .collect()
}

/// Every point of a profile against the exact integral for the edge as it is supposed to be.
fn profile(case: &Case, real: (f64, f64)) -> Result<(), Disagreement> {
    let xs = across(case, 23);
    let found = coated(case, real, &xs);
    let edge = &case.edge;
    let ring = |x: f64, from: f64| edge.under_ring(x, case.radii, from);
    let mut all = Vec::new();
    // the sheet's corners are rounded to f32, 4 nm each, and the profile rises over about half of what is looked at
    let rounding = 2e-5 + 1e-5 / (xs[22] - xs[0]);
    for (k, &x) in xs.iter().enumerate() {
        let [exact, open] = if case.turning {
            let mean = |from: &dyn Fn(f64) -> f64| {
                turn_mean(4096, |phi| {
                    let [u, v] = [phi.cos() * case.beside, phi.sin() * case.beside];
                    edge.under_disc(x, case.radii[1], [u, v], from(x))
                })
            };
            [mean(&|x| edge.sees_from(x)), mean(&|_| OPEN)]
        } else {
            [ring(x, edge.sees_from(x)), ring(x, OPEN)]
        };
        let per_m2 = 1e6; // forms are per mm²
        let (flux, std_error) = found.probe_flux(0, k);
        let off = (flux - exact * per_m2).abs() / (open * per_m2);
        if off > ALLOWED {
            return Err(Disagreement::Far(format!(
                "{:.2} % of open at x = {x:.4} mm",
                off * 100.0
            )));
        }
        assert!(std_error < ALLOWED * open * per_m2 || flux == 0.0);
        all.push(Comparison {
            name: format!("x = {x:.4} mm"),
            found: flux,
            std_error,
            reference: exact * per_m2,
            bias: open * per_m2 * rounding,
        });
    }
    // points in full shadow hold nothing at all, and say so with an error
    let lit = all
        .into_iter()
        .filter(|c| c.reference > 0.05 * all_open(case) * 1e6);
    judge(&lit.collect::<Vec<_>>(), SCRAMBLINGS, 0.05)
}

fn all_open(case: &Case) -> f64 {
    case.edge.under_ring(0.0, case.radii, OPEN)
}

/// Largest error in standard errors where the sheet hides next to nothing, 40 points from there inwards: a share of 7/n
/// goes unseen by n lines once in e⁷.
fn where_next_to_nothing_is_hidden(share_of_error: f64) -> Result<(), Disagreement> {
    let case = disc(0.5, THIN);
    let end = 25.0 * 0.5 / 99.5;
    let xs: Vec<f64> = (0..40)
        .map(|k| end * (1.0 - 0.06 + 0.0015 * f64::from(k)))
        .collect();
    let found = coated(&case, (THIN, 0.5), &xs);
    let mut unseen = 0;
    for (k, &x) in xs.iter().enumerate() {
        let exact = 1e6
            * case
                .edge
                .under_disc(x, 25.0, [0.0; 2], case.edge.sees_from(x));
        let (flux, std_error) = found.probe_flux(0, k);
        let sums = &found.tally.probes[0][k].sums;
        unseen += u32::from(sums.arrived == sums.samples);
        let off = (flux - exact).abs() - 2e-5 * exact;
        if off > 7.0 * share_of_error * std_error {
            let z = off / (share_of_error * std_error);
            return Err(Disagreement::Far(format!("z = {z:.1} at x = {x:.4} mm")));
        }
    }
    assert!(unseen > 5, "{unseen} points without a blocked line");
    Ok(())
}

#[test]
fn points_none_of_whose_lines_was_blocked_claim_no_more_than_their_number_of_lines_can_tell() {
    where_next_to_nothing_is_hidden(1.0).unwrap();
}

#[test]
fn unblocked_points_notice_errors_of_a_tenth_as_bare_spreads_would_be() {
    let found = where_next_to_nothing_is_hidden(0.1).unwrap_err();
    assert!(found.speaks_against());
}

fn disc(lift: f64, sheet: f64) -> Case {
    Case {
        footprint: "{ shape = \"disc\", radius = \"25 mm\" }",
        radii: [0.0, 25.0],
        edge: edge_of(100.0, lift, sheet),
        beside: 0.0,
        turning: false,
    }
}

fn ring(lift: f64, sheet: f64) -> Case {
    Case {
        footprint: "{ shape = \"ring\", inner_radius = \"12 mm\", outer_radius = \"21 mm\" }",
        radii: [12.0, 21.0],
        edge: edge_of(60.0, lift, sheet),
        ..disc(lift, sheet)
    }
}

#[test]
fn a_straight_edge_under_a_disc_casts_its_exact_penumbra() {
    for lift in [0.1, 0.5, 1.0] {
        profile(&disc(lift, THIN), (THIN, lift)).unwrap();
        profile(&disc(lift, 0.5), (0.5, lift)).unwrap();
    }
    profile(&disc(0.0, 0.08), (0.08, 0.0)).unwrap();
}

#[test]
fn a_straight_edge_under_a_ring_casts_its_exact_penumbra() {
    for lift in [0.1, 0.5, 1.0] {
        profile(&ring(lift, THIN), (THIN, lift)).unwrap();
        profile(&ring(lift, 0.5), (0.5, lift)).unwrap();
    }
}

#[test]
fn penumbras_notice_a_sheet_five_hundredths_higher_or_thicker() {
    for real in [(THIN, 0.525), (0.55, 0.5)] {
        let supposed = disc(0.5, if real.0 > 0.1 { 0.5 } else { THIN });
        assert!(profile(&supposed, real).unwrap_err().speaks_against());
    }
}

/// A disc beside the axis about which the plate turns.
fn turning(lift: f64, sheet: f64) -> Case {
    Case {
        footprint: "{ shape = \"disc\", radius = \"10 mm\" }",
        radii: [0.0, 10.0],
        edge: edge_of(80.0, lift, sheet),
        beside: 30.0,
        turning: true,
    }
}

#[test]
fn turning_averages_an_edge_over_the_directions_of_the_source() {
    profile(&turning(0.5, 0.2), (0.2, 0.5)).unwrap();
}

#[test]
fn turning_notices_a_sheet_five_hundredths_higher() {
    let real = (0.2, 0.525);
    assert!(
        profile(&turning(0.5, 0.2), real)
            .unwrap_err()
            .speaks_against()
    );
}

/// Width of slots and diameter of holes, mm.
const WIDTH: f64 = 0.4;
/// Radius of the dome that emits, mm: it stands on the sheet, which reaches 10 mm from the middle.
const DOME: f64 = 9.9;

/// The middle of an opening under a dome that emits evenly, as a share of what it would get without a sheet.
fn middle(opening: &str, aspect: f64) -> (f64, f64) {
    let depth = aspect * WIDTH;
    let mut dome = rings(&sphere_profile(FRAC_PI_2, 0.0, 12), 48).turned_over();
    dome.triangles
        .iter_mut()
        .flatten()
        .for_each(|corner| *corner *= DOME * 1e-3);
    let area: f64 = dome
        .triangles
        .iter()
        .map(|[a, b, c]| 0.5 * (*b - *a).cross(*c - *a).length())
        .sum();
    let mut plate = Sheet::default();
    plate.patch(DVec3::Z * -depth * 1e-3, DVec3::Z, 0.01);
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="80mm" viewBox="-40 -40 80 80">{opening}</svg>"#
    );
    let lines = format!(
        "sheet = \"{depth:?} mm\"\nat = [\"0 mm\", \"0 mm\", \"{:?} mm\"]\n",
        -depth
    );
    let at = |x: f64| DVec3::new(x, 0.0, -depth) * 1e-3;
    let coated = Bench::new()
        .mesh_source(dome, 1.0)
        .part("plate", plate)
        .mask("plate", &svg, &lines)
        .probe("plate", [at(-1e-4), at(1e-4)], 2)
        .step(1.0, "")
        .coat(&Asked::gather(0.1));
    let (flux, std_error) = coated.probe_flux(0, 0);
    (flux * area, std_error * area)
}

/// The middle of the bottom of a slot that ends where the dome does.
fn ended_slot(aspect: f64) -> f64 {
    let [x, y] = [0.5 * WIDTH, DOME];
    let mouth = [[-x, -y], [x, -y], [x, y], [-x, y]];
    let corners = mouth.map(|[x, y]| DVec3::new(x, y, aspect * WIDTH));
    element_to_polygon(DVec3::Z, &corners)
}

/// Slots and holes of real aspects against those supposed.
fn openings(aspects: &[(f64, f64)]) -> Result<(), Disagreement> {
    let table = values!("derived_shading");
    let mut all = Vec::new();
    let slot = format!(
        r#"<rect x="{}" y="-20" width="{WIDTH}" height="40"/>"#,
        -0.5 * WIDTH
    );
    let hole = format!(r#"<circle r="{}"/>"#, 0.5 * WIDTH);
    for &(real, supposed) in aspects {
        let of = |name: &str| table.quantity(name).at(&[("aspect", supposed)]);
        let endless = of("slot bottom centre");
        assert!((endless / slot_bottom(supposed, 0.0) - 1.0).abs() < 1e-8);
        assert!((ended_slot(supposed) / endless - 1.0).abs() < 0.03);
        for (name, opening, reference) in [
            ("slot", &slot, ended_slot(supposed)),
            ("hole", &hole, of("hole bottom centre")),
        ] {
            let (found, std_error) = middle(opening, real);
            let off = (found - reference).abs();
            if off > ALLOWED {
                return Err(Disagreement::Far(format!(
                    "{name}: {:.2} % of open",
                    off * 100.0
                )));
            }
            all.push(Comparison {
                name: format!("{name} of aspect {real}"),
                found,
                std_error,
                reference,
                // a circle of an SVG is round to 3·10⁻⁴ of its radius; the dome is made of flat pieces
                bias: 1e-3 * reference,
            });
        }
    }
    // a hundredth of the open film is known to a few hundredths of itself
    judge(&all, SCRAMBLINGS, 0.03)
}

#[test]
fn the_middle_of_slots_and_holes_gets_its_tabulated_share() {
    openings(&[0.5, 1.0, 2.0, 3.0, 5.0].map(|aspect| (aspect, aspect))).unwrap();
}

#[test]
fn slots_and_holes_notice_another_thickness_of_the_sheet() {
    assert!(openings(&[(0.98, 1.0)]).unwrap_err().speaks_against());
}
