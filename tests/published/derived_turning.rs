//! Turning: whole turns, parts of turns, stops, and an opening that lets the beam through.

use crate::values;
use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Coated, Head, normal_of};
use evenfall_tests::forms::turning::*;
use evenfall_tests::solids::{Sheet, rings};
use glam::DVec3;
use std::f64::consts::{FRAC_1_PI, PI, TAU};
use std::fmt::Write as _;

/// Distance of the source, m: its rays meet the part in parallel but for 1e-4.
const FAR: f64 = 50.0;
/// Radius of the turning part, m.
const R: f64 = 0.0025;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_turning");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("peak to valley over mean, rectified cosine", &|of| {
        rectified_unevenness(of("turns"), of("rest"))
    });
    check("worst peak to valley over mean, rectified cosine", &|of| {
        rectified_unevenness(of("turns"), worst_rest(of("turns")))
    });
    check("stops over steady, one stop on axis", &|of| {
        stops_on_axis(of("stops"))
    });
    check("stops over steady, half a stop off", &|of| {
        stops_off_axis(of("stops"))
    });
}

#[test]
fn dose_of_a_turning_wall_has_the_stated_unevenness() {
    for (whole, rest) in [(0.0, 0.1), (1.0, 0.25), (2.0, 0.5), (5.0, 0.75)] {
        let starts = (0..3600).map(|k| TAU * f64::from(k) / 3600.0);
        let doses: Vec<f64> = starts
            .map(|start| rectified_dose(start, whole + rest))
            .collect();
        let [high, low] = ends(&doses);
        let found = (high - low) / (doses.iter().sum::<f64>() / 3600.0);
        assert!(
            (found - rectified_unevenness(whole, rest)).abs() < 1e-6,
            "{whole} + {rest}"
        );
    }
}

/// Largest and smallest value.
fn ends(values: &[f64]) -> [f64; 2] {
    [
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        values.iter().copied().fold(f64::INFINITY, f64::min),
    ]
}

/// A far spot in this direction that faces the origin.
fn beam(from: DVec3) -> Bench {
    Bench::new().source(&Head {
        footprint: "{ shape = \"spot\" }",
        cosine: 1.0,
        at: FAR * from,
        facing: -from,
        along: None,
    })
}

/// The side of a prism of 40 sides that turns about z in a beam along x.
fn prism() -> Sheet {
    rings(&[(R, -R), (R, R)], 40)
}

/// Dose over that of a flat in the beam, by angle of the normal from the beam at the start.
fn doses(coated: &Coated) -> Vec<(f64, f64, f64)> {
    let flat = FRAC_1_PI / (FAR * FAR);
    (0..coated.rows())
        .map(|receiver| {
            let normal = normal_of(coated.corners(receiver));
            let (flux, error) = coated.flux(receiver);
            (normal.y.atan2(normal.x), flux / flat, error / flat)
        })
        .collect()
}

/// Each side of the prism against the dose of its start angle, and the unevenness around it.
fn turned(turns: f64, supposed: f64) -> Result<(), Disagreement> {
    let bench = beam(DVec3::X)
        .part("prism", prism())
        .turning(DVec3::Z)
        .step(turns, "");
    let doses = doses(&bench.coat(&Asked::rows(0.0008)));
    // Rays are parallel to R/FAR, and flux changes by three times that over the prism.
    let bias = 3.0 * R / FAR;
    let all: Vec<Comparison> = doses
        .iter()
        .map(|&(start, found, std_error)| Comparison {
            name: format!("{turns} turns, side at {:.1}°", start.to_degrees()),
            found,
            std_error,
            reference: rectified_dose(start, supposed) / supposed,
            bias,
        })
        .collect();
    judge(&all, SCRAMBLINGS, 0.003)?;
    let [whole, rest] = [supposed.floor(), supposed.fract()];
    if rest < 1e-9 {
        return Ok(());
    }
    let values: Vec<f64> = doses.iter().map(|dose| dose.1).collect();
    let [high, low] = ends(&values);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let worst = doses.iter().map(|dose| dose.2).fold(0.0, f64::max);
    let table = values!("derived_turning");
    let reference = table
        .quantity("peak to valley over mean, rectified cosine")
        .at(&[("turns", whole), ("rest", rest)]);
    let unevenness = Comparison {
        name: format!("unevenness after {turns} turns"),
        found: (high - low) / mean,
        // The highest and lowest of some twenty facets each lie up to 2.5 errors out.
        std_error: 2.0_f64.sqrt() * worst / mean,
        reference,
        bias: 5.0 * worst / mean + 2.0 * bias / mean,
    };
    judge(&[unevenness], SCRAMBLINGS, 0.01)
}

#[test]
fn whole_turns_are_exactly_even() {
    for turns in [1.0, 3.0] {
        turned(turns, turns).unwrap();
    }
}

#[test]
fn last_part_of_a_turn_alone_is_uneven() {
    for turns in [1.25, 2.5, 5.75] {
        turned(turns, turns).unwrap();
    }
}

#[test]
fn parts_of_a_turn_notice_a_hundredth_of_a_turn() {
    assert!(turned(2.51, 2.5).unwrap_err().speaks_against());
    assert!(turned(1.01, 1.0).unwrap_err().speaks_against());
}

/// Sides of a prism of 16 sides in a beam, parked for the same time at each of 8 stops.
fn stopped(stops: u32, late_deg: f64) -> Result<(), Disagreement> {
    let prism = rings(&[(R, -R), (R, R)], 2 * stops);
    // Half a side further, so that normals stand at multiples of half a stop.
    let mut bench = beam(DVec3::X).part("prism", prism).with(&format!(
        "turn = [\"0 deg\", \"0 deg\", \"{:?} deg\"]\n",
        90.0 / f64::from(stops)
    ));
    bench = bench.turning(DVec3::Z);
    for stop in 0..stops {
        let mut more = String::new();
        let late = if stop == 0 { late_deg } else { 0.0 };
        let angle = 360.0 * f64::from(stop) / f64::from(stops) + late;
        let _ = writeln!(more, "hold = [\"{angle:?} deg\"]");
        bench = bench.step(1.0, &more);
    }
    let coated = bench.coat(&Asked::rows(0.0028));
    let table = values!("derived_turning");
    let at = [("stops", f64::from(stops))];
    let on_axis = table
        .quantity("stops over steady, one stop on axis")
        .at(&at);
    let off_axis = table.quantity("stops over steady, half a stop off").at(&at);
    let all: Vec<Comparison> = doses(&coated)
        .iter()
        .map(|&(start, found, std_error)| {
            let stop = (start / TAU * f64::from(stops)).rem_euclid(1.0);
            let near = stop.min(1.0 - stop);
            assert!(
                !(1e-6..=0.5 - 1e-6).contains(&near),
                "normals stand on stops or half-way"
            );
            let reference = FRAC_1_PI * if near < 0.25 { on_axis } else { off_axis };
            let name = format!("side at {:.1}°", start.to_degrees());
            Comparison {
                name,
                found,
                std_error,
                reference,
                bias: 3.0 * R / FAR,
            }
        })
        .collect();
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn stops_leave_the_tabulated_share_of_a_steady_turn() {
    for stops in [4, 8, 12] {
        stopped(stops, 0.0).unwrap();
    }
}

#[test]
fn stops_notice_one_of_them_a_degree_late() {
    assert!(stopped(8, 1.0).unwrap_err().speaks_against());
}

/// Where the patches of the slit's plate lie around it, in turns; far from where their dose has kinks.
fn places() -> Vec<f64> {
    (0..20).map(|k| (f64::from(k) + 0.3) / 20.0).collect()
}

/// Share of an arc of the turn, from `start` on, that lies in the opening from 0 to `opening`, in turns.
fn overlap(start: f64, arc: f64, opening: f64) -> f64 {
    let start = start.rem_euclid(1.0);
    [0.0, 1.0]
        .iter()
        .map(|turn| (start + arc).min(turn + opening) - start.max(*turn))
        .map(|x| x.max(0.0))
        .sum()
}

/// Patches on a plate that turns behind a still sheet with an opening of a quarter turn, in a beam along
/// the axis.
fn through_opening(turns: f64, opening: f64, supposed: f64) -> Result<(), Disagreement> {
    let mut patches = Sheet::default();
    for place in places() {
        let (sin, cos) = (TAU * place).sin_cos();
        patches.patch(DVec3::new(R * cos, R * sin, 0.0), -DVec3::Z, 0.01 * R);
    }
    let mut sheet = Sheet::default();
    let corner = |turn: f64, radius: f64| {
        let (sin, cos) = (TAU * turn).sin_cos();
        DVec3::new(radius * cos, radius * sin, -0.1 * R)
    };
    let steps = 60_u32;
    for k in 0..steps {
        let [from, to] =
            [k, k + 1].map(|k| opening + (1.0 - opening) * f64::from(k) / f64::from(steps));
        let corners = [
            corner(from, 0.5 * R),
            corner(to, 0.5 * R),
            corner(to, 2.0 * R),
            corner(from, 2.0 * R),
        ];
        sheet.quad(corners, -DVec3::Z);
    }
    let bench = beam(-DVec3::Z)
        .part("patches", patches)
        .fixture("sheet", sheet)
        .turning(DVec3::Z)
        .step(turns, "");
    let coated = bench.coat(&Asked::gather(0.0025));
    let flat = FRAC_1_PI / (FAR * FAR);
    let [whole, rest] = [supposed.floor(), supposed.fract()];
    let all: Vec<Comparison> = (0..coated.rows())
        .map(|receiver| {
            let (flux, error) = coated.flux(receiver);
            let place = places()[receiver / 2];
            let dose = (whole * opening + overlap(place, rest, opening)) / supposed;
            Comparison {
                name: format!("{turns} turns, patch at {place:.4} turns"),
                found: flux / flat,
                std_error: error / flat,
                reference: dose,
                // Triangles lie up to 0.0033 R off the place along the circle: 5.3e-4 turns of the opening.
                bias: 5.4e-4 / supposed + 3.0 * R / FAR,
            }
        })
        .collect();
    // The promise of accuracy is for 95 % of the area; the rest has its error bars too.
    let vague = all.iter().filter(|c| c.std_error > 0.003 * c.reference);
    assert!(
        vague.count() <= 2,
        "more than a twentieth of the patches is vague"
    );
    judge(&all, SCRAMBLINGS, 0.2)?;
    // Highest and lowest as the patches with the sharpest error bars show them.
    let sharp = || all.iter().filter(|c| c.std_error < 0.003 * c.reference);
    let pick = |better: &dyn Fn(f64, f64) -> bool| {
        sharp().reduce(|a, b| {
            if better(b.reference, a.reference) {
                b
            } else {
                a
            }
        })
    };
    let (Some(high), Some(low)) = (pick(&|b, a| b > a), pick(&|b, a| b < a)) else {
        panic!("no patch is sharp");
    };
    let unevenness = Comparison {
        name: format!("unevenness after {turns} turns through {opening}"),
        found: (high.found - low.found) / opening,
        std_error: high.std_error.hypot(low.std_error) / opening,
        reference: slit_unevenness(whole, rest, opening),
        bias: (high.bias + low.bias) / opening,
    };
    judge(&[unevenness], SCRAMBLINGS, 0.01)
}

#[test]
fn opening_in_front_of_a_turning_plate_leaves_the_stated_unevenness() {
    for turns in [1.4, 2.6] {
        through_opening(turns, 0.25, turns).unwrap();
    }
}

#[test]
fn opening_in_front_of_a_turning_plate_notices_a_hundredth_of_a_turn() {
    assert!(
        through_opening(1.41, 0.25, 1.4)
            .unwrap_err()
            .speaks_against()
    );
}

/// Half-width of a side of the prism as an angle, so that nobody mistakes corners for normals.
#[test]
fn sides_of_the_prism_face_between_its_corners() {
    let first = normal_of(prism().triangles[0]);
    assert!((first.y.atan2(first.x) - PI / 40.0).abs() < 1e-12);
}
