//! Slots and round holes under a wide-open flux.

use crate::values;
use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Head};
use evenfall_tests::forms::shading::*;
use evenfall_tests::forms::view_factors::element_to_polygon;
use evenfall_tests::quadrature::integral;
use evenfall_tests::solids::{Sheet, rings, sphere_profile};
use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, PI};

/// Width of slots and diameter of holes, m.
const WIDTH: f64 = 0.004;
/// Length of slots in widths.
const LONG: f64 = 40.0;
/// Radius of the emitting dome, m: it stands around the longest slot.
const DOME: f64 = 0.1;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_shading");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("slot bottom centre", &|of| slot_bottom(of("aspect"), 0.0));
    check("slot bottom corner", &|of| slot_bottom(of("aspect"), 0.5));
    check("slot bottom mean", &|of| slot_bottom_mean(of("aspect")));
    check("slot wall, middle", &|of| slot_wall(0.5 * of("aspect")));
    check("slot wall, bottom", &|of| slot_wall(of("aspect")));
    check("hole bottom centre", &|of| hole_bottom_centre(of("aspect")));
    check("slot bottom centre, cosine power", &|of| {
        slot_bottom_centre_power(of("m"), of("aspect"))
    });
    check("hole bottom centre, cosine power", &|of| {
        hole_bottom_centre_power(of("m"), of("aspect"))
    });
}

/// A dome on the plane z = 0 that emits evenly inward: under it every element gets the same per share of
/// its sky (PHYSICS.md eq. 41).
fn dome() -> Sheet {
    let mut dome = rings(&sphere_profile(FRAC_PI_2, 0.0, 12), 48).turned_over();
    dome.triangles
        .iter_mut()
        .flatten()
        .for_each(|corner| *corner *= DOME);
    dome
}

fn area(sheet: &Sheet) -> f64 {
    sheet
        .triangles
        .iter()
        .map(|[a, b, c]| 0.5 * (*b - *a).cross(*c - *a).length())
        .sum()
}

/// Corners of the mouth of a slot that runs along y.
fn mouth() -> [DVec3; 4] {
    let [x, y] = [0.5 * WIDTH, 0.5 * LONG * WIDTH];
    [[-x, -y], [x, -y], [x, y], [-x, y]].map(|[x, y]| DVec3::new(x, y, 0.0))
}

/// Share of its sky that an element sees through the mouth.
fn through_mouth(point: DVec3, normal: DVec3) -> f64 {
    element_to_polygon(normal, &mouth().map(|corner| corner - point))
}

/// A slot of this aspect: bottom, two walls and two ends, facing in, with a measured middle 2 widths
/// long (8 strips of bottom, then 6 strips of wall), and the rest apart.
fn slot(aspect: f64) -> (Sheet, Sheet) {
    let depth = aspect * WIDTH;
    let [x, y, piece] = [0.5 * WIDTH, 0.5 * LONG * WIDTH, WIDTH];
    let [along, up] = [DVec3::Y, DVec3::Z * depth];
    let at = |x: f64, y: f64| DVec3::new(x, y, -depth);
    let mut measured = Sheet::default();
    measured.grid(
        at(-x, -piece),
        [DVec3::X * WIDTH, along * 2.0 * piece],
        [8, 1],
    );
    measured.grid(at(-x, -piece), [along * 2.0 * piece, up], [1, 6]);
    let mut blank = Sheet::default();
    for [from, to] in [[-y, -piece], [piece, y]] {
        blank.grid(
            at(-x, from),
            [DVec3::X * WIDTH, along * (to - from)],
            [1, 1],
        );
        blank.grid(at(-x, from), [along * (to - from), up], [1, 1]);
    }
    blank.grid(at(x, y), [-along * 2.0 * y, up], [1, 1]);
    blank.grid(at(x, -y), [-DVec3::X * WIDTH, up], [1, 1]);
    blank.grid(at(-x, y), [DVec3::X * WIDTH, up], [1, 1]);
    (measured, blank)
}

/// The measured middle of a slot: every facet against the finite slot's exact share, and the figures of
/// the endless one at their places.
fn slot_against(aspect: f64, cosine: f64) -> Result<(), Disagreement> {
    let (measured, blank) = slot(aspect);
    let coated = Bench::new()
        .mesh_source(dome(), cosine)
        .part("slot", measured)
        .fixture("rest", blank)
        .step(1.0, "")
        .coat(&Asked::rows(0.0028));
    let per_sky = 1.0 / area(&dome());
    let all = coated.compare(3, &|p, n| per_sky * through_mouth(p, n));
    judge(&all, SCRAMBLINGS, 0.003)?;
    let table = values!("derived_shading");
    let of = |name: &str| table.quantity(name).at(&[("aspect", aspect)]);
    // Strips of bottom are pairs of facets: the mean over all eight of them.
    let mean = |range: std::ops::Range<usize>| {
        let pick = &all[range];
        let count = pick.len() as f64;
        let sum: f64 = pick.iter().map(|c| c.found).sum();
        let error = pick.iter().map(|c| c.std_error).fold(0.0, f64::hypot);
        (sum / count / per_sky, error / count / per_sky)
    };
    let bottom = mean(0..16);
    let wall = mean(16..28);
    let ends = 0.5 * (slot_bottom(aspect, 0.0) - through_mouth_middle(aspect)).abs() * 4.0;
    let mean_wall = integral(0.0, aspect, 4, slot_wall) / aspect;
    let compare = |name: &str, (found, std_error): (f64, f64), reference: f64| Comparison {
        name: format!("{name}, aspect {aspect}"),
        found,
        std_error,
        reference,
        bias: ends + 1e-4 * reference,
    };
    judge(
        &[
            compare("bottom", bottom, of("slot bottom mean")),
            compare("wall", wall, mean_wall),
        ],
        SCRAMBLINGS,
        0.003,
    )
}

/// What the middle of the bottom of the finite slot sees.
fn through_mouth_middle(aspect: f64) -> f64 {
    through_mouth(DVec3::new(0.0, 0.0, -aspect * WIDTH), DVec3::Z)
}

#[test]
fn slots_shade_their_bottom_and_walls_as_the_closed_form_says() {
    for aspect in [0.5, 1.0, 2.0] {
        slot_against(aspect, 1.0).unwrap();
    }
}

#[test]
fn slots_notice_an_emission_that_is_not_quite_cosine() {
    assert!(slot_against(1.0, 1.03).unwrap_err().speaks_against());
}

/// Points on the bottom and the wall of a slot, at the places of the table.
fn slot_points(aspect: f64, supposed: f64) -> Result<(), Disagreement> {
    let depth = aspect * WIDTH;
    let (measured, blank) = slot(aspect);
    // Corner and lowest wall point lie a 5000th of the width off the seam.
    let off = WIDTH / 5000.0;
    let bottom = [
        DVec3::new(0.0, 1e-5, -depth),
        DVec3::new(-0.5 * WIDTH + off, 1e-5, -depth),
    ];
    let wall = [
        DVec3::new(-0.5 * WIDTH, 1e-5, -0.5 * depth),
        DVec3::new(-0.5 * WIDTH, 1e-5, -depth + off),
    ];
    let bench = Bench::new()
        .mesh_source(dome(), 1.0)
        .part("slot", measured)
        .fixture("rest", blank)
        .probe("slot", bottom, 2)
        .probe("slot", wall, 2)
        .step(1.0, "");
    // Points are asked to be known better than the map.
    let coated = bench.coat(&Asked::gather(0.3));
    let table = values!("derived_shading");
    let of = |name: &str| table.quantity(name).at(&[("aspect", supposed)]) / area(&dome());
    let names = [
        "slot bottom centre",
        "slot bottom corner",
        "slot wall, middle",
        "slot wall, bottom",
    ];
    let ends = (slot_bottom(aspect, 0.0) - through_mouth_middle(aspect)).abs() / area(&dome());
    let all: Vec<Comparison> = names
        .iter()
        .enumerate()
        .map(|(k, name)| {
            let mut comparison = coated.probe_against(k / 2, k % 2, of(name));
            comparison.name = format!("{name}, aspect {aspect}");
            // the ends of the slot, and flux that changes by under 1 per width near the seam
            comparison.bias += ends + 2e-4 / area(&dome());
            comparison
        })
        .collect();
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn points_in_a_slot_get_their_tabulated_shares() {
    for aspect in [0.5, 1.0, 2.0] {
        slot_points(aspect, aspect).unwrap();
    }
}

#[test]
fn points_in_a_slot_notice_another_depth() {
    assert!(slot_points(0.98, 1.0).unwrap_err().speaks_against());
}

/// The middle of the bottom of a round hole of 96 sides under the dome.
fn hole_under_dome(aspect: f64, supposed: f64) -> Result<(), Disagreement> {
    const SIDES: u32 = 96;
    let [radius, depth] = [0.5 * WIDTH, aspect * WIDTH];
    // Corners stand out so that the polygon has the circle's area.
    let turn = PI / f64::from(SIDES);
    let corner_radius = radius * (turn / (turn.sin() * turn.cos())).sqrt();
    let wall = rings(&[(corner_radius, -depth), (corner_radius, 0.0)], SIDES).turned_over();
    let edge = 0.01 * WIDTH;
    let mut patch = Sheet::default();
    patch.patch(DVec3::new(0.0, 0.0, -depth), DVec3::Z, edge);
    let coated = Bench::new()
        .mesh_source(dome(), 1.0)
        .part("patch", patch)
        .fixture("wall", wall)
        .step(1.0, "")
        .coat(&Asked::rows(0.0028));
    let table = values!("derived_shading");
    let reference = table
        .quantity("hole bottom centre")
        .at(&[("aspect", supposed)])
        / area(&dome());
    let pair = [0, 1].map(|k| coated.against(k, reference));
    let all = [Comparison {
        name: format!("hole of aspect {aspect}"),
        found: 0.5 * (pair[0].found + pair[1].found),
        std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
        // Off the middle by a share e of the radius the flux falls by under 4e²; the rim is round to 2e-4.
        bias: pair[0].bias + reference * (4.0 * (0.02_f64).powi(2) / 6.0 + 2e-4),
        ..pair[0].clone()
    }];
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn bottom_of_a_round_hole_gets_its_tabulated_share() {
    for aspect in [0.5, 1.0, 2.0] {
        hole_under_dome(aspect, aspect).unwrap();
    }
}

#[test]
fn bottom_of_a_round_hole_notices_another_depth() {
    assert!(hole_under_dome(0.98, 1.0).unwrap_err().speaks_against());
}

/// The floor under an even opening that emits cosᵐ (PHYSICS.md eq. 44), as share of the emission per area.
fn under_opening(footprint: &str, opening_area: f64, depth: f64, m: f64) -> (f64, f64) {
    let mut floor = Sheet::default();
    floor.patch(DVec3::new(0.0, 0.0, depth), -DVec3::Z, 0.005 * WIDTH);
    let coated = Bench::new()
        .source(&Head {
            footprint,
            cosine: m,
            at: DVec3::ZERO,
            facing: DVec3::Z,
            along: footprint.contains("rectangle").then_some(DVec3::X),
        })
        .part("floor", floor)
        .step(1.0, "")
        .coat(&Asked::rows(0.0012));
    let pair = [0, 1].map(|k| coated.flux(k));
    let found = 0.5 * (pair[0].0 + pair[1].0) * opening_area;
    (found, 0.5 * pair[0].1.hypot(pair[1].1) * opening_area)
}

/// Round openings: real and supposed exponent.
fn holes_of_power(real: impl Fn(f64) -> f64) -> Result<(), Disagreement> {
    let table = values!("derived_shading");
    let hole = table.quantity("hole bottom centre, cosine power");
    let mut all = Vec::new();
    for m in [1.0, 2.0, 3.0, 5.0] {
        for aspect in [0.5, 1.0, 2.0] {
            let radius = 0.5 * WIDTH;
            let footprint = format!("{{ shape = \"disc\", radius = \"{radius:?} m\" }}");
            let opening = PI * radius * radius;
            let (found, std_error) = under_opening(&footprint, opening, aspect * WIDTH, real(m));
            let reference = hole.at(&[("m", m), ("aspect", aspect)]);
            let name = format!("hole, m = {m}, aspect {aspect}");
            // a patch of 0.005 widths in f32; its mean over the flux's curvature of under 40 per width²
            all.push(Comparison {
                name,
                found,
                std_error,
                reference,
                bias: 2e-4 * reference,
            });
        }
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn holes_under_cosine_power_flux_match_the_table() {
    holes_of_power(|m| m).unwrap();
}

#[test]
fn holes_under_cosine_power_flux_notice_three_hundredths_of_an_exponent() {
    assert!(holes_of_power(|m| m + 0.03).unwrap_err().speaks_against());
}

/// Slots: openings 40 widths long, what their ends lack integrated apart.
fn slots_of_power(real: impl Fn(f64) -> f64) -> Result<(), Disagreement> {
    let table = values!("derived_shading");
    let slot = table.quantity("slot bottom centre, cosine power");
    let mut all = Vec::new();
    for m in [1.0, 2.0, 3.0, 5.0] {
        for aspect in [0.5, 1.0] {
            let [long, wide] = [LONG * WIDTH, WIDTH];
            let footprint = format!(
                "{{ shape = \"rectangle\", width = \"{long:?} m\", depth = \"{wide:?} m\" }}"
            );
            let (found, std_error) =
                under_opening(&footprint, long * wide, aspect * WIDTH, real(m));
            let reference = slot.at(&[("m", m), ("aspect", aspect)]);
            let bias = 2e-4 * reference + beyond_ends(m, aspect);
            let name = format!("slot, m = {m}, aspect {aspect}");
            all.push(Comparison {
                name,
                found,
                std_error,
                reference,
                bias,
            });
        }
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

/// What an endless opening would send from beyond the ends of this one, at most: from a strip of width 1
/// beyond y₀ = 20, 2 ∫ (m + 1)/2π · A^(m+1) / y^(m+3) dy, lengths in widths.
fn beyond_ends(m: f64, aspect: f64) -> f64 {
    (m + 1.0) / PI * aspect.powf(m + 1.0) / ((m + 2.0) * (0.5 * LONG).powf(m + 2.0))
}

#[test]
fn slots_under_cosine_power_flux_match_the_table() {
    slots_of_power(|m| m).unwrap();
}

#[test]
fn slots_under_cosine_power_flux_notice_three_hundredths_of_an_exponent() {
    assert!(slots_of_power(|m| m + 0.03).unwrap_err().speaks_against());
}
