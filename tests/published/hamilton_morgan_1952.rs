//! Rectangles that face each other or share an edge: Hamilton and Morgan, NACA TN 2836 (1952), with the
//! corner of a rectangle and the endless strips of Howell's catalogue.

use crate::values;
use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, Spread, judge};
use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::forms::view_factors::{
    element_under_corner, opposed_rectangles, opposed_strips, rectangles_with_common_edge,
};
use evenfall_tests::solids::Sheet;
use glam::DVec3;

/// Unit of length, m.
const UNIT: f64 = 0.02;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("hamilton_morgan_1952");
    table
        .quantity("opposed rectangles")
        .check(|of| opposed_rectangles(of("x"), of("y")));
    let common = table.quantity("rectangles with a common edge");
    common.check(|of| rectangles_with_common_edge(of("h"), of("w")));
}

#[test]
fn six_faces_of_a_cube_share_everything() {
    let around = 4.0 * rectangles_with_common_edge(1.0, 1.0);
    assert!((opposed_rectangles(1.0, 1.0) + around - 1.0).abs() < 1e-14);
}

/// An emitting rectangle of `width` × `depth` units, centred, facing up.
fn rectangle(width: f64, depth: f64, cosine: f64) -> Bench {
    let [w, d] = [width * UNIT, depth * UNIT];
    let footprint =
        format!("{{ shape = \"rectangle\", width = \"{w:?} m\", depth = \"{d:?} m\" }}");
    Bench::new().source(&Head {
        footprint: &footprint,
        cosine,
        at: DVec3::ZERO,
        facing: DVec3::Z,
        along: Some(DVec3::X),
    })
}

/// A rectangle of `width` × `depth` units centred at height `h`, facing down, in cells.
fn ceiling(width: f64, depth: f64, h: f64, cells: [u32; 2]) -> Sheet {
    let mut sheet = Sheet::default();
    let corner = DVec3::new(-0.5 * width, -0.5 * depth, h) * UNIT;
    let edges = [DVec3::Y * depth * UNIT, DVec3::X * width * UNIT];
    sheet.grid(corner, edges, cells);
    sheet
}

/// Share of the emission that a range of receivers catches, with its error.
fn caught(coated: &Coated, range: std::ops::Range<usize>) -> (f64, f64) {
    range.fold((0.0, 0.0), |(sum, error), receiver| {
        let area = coated.area_m2(receiver);
        let (flux, std_error) = coated.flux(receiver);
        (sum + area * flux, f64::hypot(error, area * std_error))
    })
}

fn share(name: String, (found, std_error): (f64, f64), reference: f64) -> Comparison {
    Comparison {
        name,
        found,
        std_error,
        reference,
        bias: 1e-5 * reference,
    }
}

/// Rectangles that face each other, and all five faces of a cube around the sixth.
fn rectangles(cosine: f64) -> Result<(), Disagreement> {
    let table = values!("hamilton_morgan_1952");
    let mut all = Vec::new();
    for row in &table.quantity("opposed rectangles").rows {
        let [x, y] = [row["x"], row["y"]];
        let part = ceiling(x, y, 1.0, [8, 8]);
        let coated = rectangle(x, y, cosine).part("ceiling", part).step(1.0, "");
        let coated = coated.coat(&Asked::rows(0.0028));
        let found = caught(&coated, 0..coated.rows());
        all.push(share(format!("opposed {row:?}"), found, row["value"]));
    }
    let beside = table
        .quantity("rectangles with a common edge")
        .at(&[("h", 1.0), ("w", 1.0)]);
    judge(&all, SCRAMBLINGS, 0.003)?;
    let mut walls = Sheet::default();
    for (out, along) in [
        (DVec3::X, DVec3::Y),
        (-DVec3::X, DVec3::Y),
        (DVec3::Y, DVec3::X),
        (-DVec3::Y, DVec3::X),
    ] {
        let mut wall = Sheet::default();
        let corner = (0.5 * out - 0.5 * along) * UNIT;
        wall.grid(corner, [along * UNIT, DVec3::Z * UNIT], [8, 8]);
        let faces_in = along.cross(DVec3::Z).dot(out) < 0.0;
        walls.add(&if faces_in { wall } else { wall.turned_over() });
    }
    walls.add(&ceiling(1.0, 1.0, 1.0, [8, 8]));
    // Walls that touch what emits are fired at: lines gathered across the seam have no finite variance.
    let coated = rectangle(1.0, 1.0, cosine)
        .part("walls", walls)
        .step(1.0, "")
        .coat(&Asked::fire(1_000_000));
    let above = table
        .quantity("opposed rectangles")
        .at(&[("x", 1.0), ("y", 1.0)]);
    let cube: Vec<Comparison> = (0..5)
        .map(|face| {
            let (found, _) = caught(&coated, 128 * face..128 * (face + 1));
            let reference = if face < 4 { beside } else { above };
            let std_error = (reference * (1.0 - reference) / 1e6).sqrt();
            share(
                format!("face {face} of a cube"),
                (found, std_error),
                reference,
            )
        })
        .collect();
    assert_eq!(coated.tally.balance.part, 1_000_000, "a cube is closed");
    judge(&cube, Spread::Known, 0.003)
}

#[test]
fn rectangles_exchange_their_tabulated_shares() {
    rectangles(1.0).unwrap();
}

#[test]
fn rectangles_notice_an_exponent_of_1_03() {
    assert!(rectangles(1.03).unwrap_err().speaks_against());
}

/// Patches of a tenth of a millimetre over a corner of an emitting rectangle, of whose flux per area the
/// factor is the share.
fn corners(lifted: f64) -> Result<(), Disagreement> {
    let table = values!("howell_1982");
    let edge = 0.005 * UNIT;
    let mut all = Vec::new();
    for row in &table
        .quantity("element under the corner of a rectangle")
        .rows
    {
        let [a, b, c] = ["a", "b", "c"].map(|name| row[name]);
        let mut sheet = Sheet::default();
        sheet.patch(
            DVec3::new(0.5 * a, 0.5 * b, c * (1.0 - lifted)) * UNIT,
            -DVec3::Z,
            edge,
        );
        let coated = rectangle(a, b, 1.0)
            .part("patch", sheet)
            .step(1.0, "")
            .coat(&Asked::rows(0.0028));
        let reference = row["value"] / (a * b * UNIT * UNIT);
        let pair = [0, 1].map(|k| coated.against(k, reference));
        all.push(Comparison {
            name: format!("corner {row:?}"),
            found: 0.5 * (pair[0].found + pair[1].found),
            std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
            bias: pair[0].bias + 24.0 * (edge / UNIT).powi(2) * reference,
            ..pair[0].clone()
        });
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn element_under_the_corner_of_a_rectangle_gets_its_tabulated_factor() {
    corners(0.0).unwrap();
}

#[test]
fn element_under_the_corner_of_a_rectangle_notices_it_half_a_percent_nearer() {
    assert!(corners(0.005).unwrap_err().speaks_against());
}

/// The middle of two strips at gap 1 that are 60 times as long as that.
fn strips(cosine: f64) -> Result<(), Disagreement> {
    const LONG: f64 = 60.0;
    let table = values!("howell_1982");
    let mut all = Vec::new();
    for w in [1.0, 2.0] {
        let endless = table.quantity("infinite opposed strips").at(&[("w", w)]);
        let part = ceiling(1.0, w, 1.0, [4, 2]);
        let coated = rectangle(LONG, w, cosine)
            .part("ceiling", part)
            .step(1.0, "");
        let coated = coated.coat(&Asked::rows(0.0028));
        let (found, std_error) = caught(&coated, 0..coated.rows());
        // What the ends lack: the middle sees the strips' ends at half their length.
        let ends = |y: f64, side: f64| {
            element_under_corner(0.5 * LONG + y, side, 1.0) - element_under_corner(1e6, side, 1.0)
        };
        let lacking = 2.0 * (ends(-0.5, w).abs() + ends(0.5, w).abs());
        assert!(lacking < 2e-3 * endless, "{lacking}");
        // Emission per unit of length times the strip's factor lands on a unit of length.
        all.push(Comparison {
            name: format!("strips of width {w}"),
            found,
            std_error,
            reference: endless / LONG,
            bias: (lacking + 1e-5 * endless) / LONG,
        });
        assert!((opposed_strips(w) - endless).abs() < 1e-9);
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn opposed_strips_exchange_their_tabulated_share() {
    strips(1.0).unwrap();
}

#[test]
fn opposed_strips_notice_an_exponent_of_1_03() {
    assert!(strips(1.03).unwrap_err().speaks_against());
}
