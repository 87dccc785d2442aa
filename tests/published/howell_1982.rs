//! Configuration factors: J. R. Howell's catalogue (1982).

use crate::values;
use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, Spread, judge};
use evenfall_tests::bench::{Asked, Bench, Head};
use evenfall_tests::forms::view_factors::*;
use evenfall_tests::solids::{Sheet, rings};
use glam::DVec3;
use std::f64::consts::{PI, SQRT_2};

/// Unit of length of the tables, m.
const UNIT: f64 = 0.02;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("howell_1982");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("element to coaxial disc", &|of| {
        element_to_parallel_disc(of("r"), of("h"), 0.0)
    });
    check("element to parallel disc, offset", &|of| {
        element_to_parallel_disc(of("r"), of("h"), of("a"))
    });
    check("element at right angles to disc", &|of| {
        element_at_right_angles_to_disc(of("r"), of("h"), of("l"))
    });
    let cap = |of: &dyn Fn(&str) -> f64| {
        element_to_cap((of("r") / of("h")).atan(), of("tilt_deg").to_radians())
    };
    check("tilted element on axis, all visible", &cap);
    check("tilted element on axis, past the horizon", &cap);
    check("tilted element off axis, all visible", &|of| {
        tilted_element_to_disc(of("r"), of("h"), of("a"), tilted(of))
    });
    check("element to sphere", &|of| {
        element_to_cap((1.0 / of("distance")).asin(), of("tilt_deg").to_radians())
    });
    check("coaxial discs", &|of| {
        disc_to_disc(of("r1"), of("r2"), of("h"))
    });
    check("coaxial discs, worked example", &|of| {
        disc_to_disc(of("r1"), of("r2"), of("h"))
    });
    check("disc to sphere", &|of| {
        disc_to_sphere(of("rd"), of("rs"), of("h"))
    });
    check("tube wall to itself", &|of| {
        tube_wall_to_itself(of("length"))
    });
    check("tube wall to one end", &|of| {
        0.5 * (1.0 - tube_wall_to_itself(of("length")))
    });
    check("tube end to wall", &|of| {
        1.0 - disc_to_disc(1.0, 1.0, of("length"))
    });
    check("wall ring to end disc", &|of| wall_ring_to_end(of("x")));
    check("wall ring to wall ring", &|of| wall_ring_to_ring(of("x")));
    check("element under the corner of a rectangle", &|of| {
        element_under_corner(of("a"), of("b"), of("c"))
    });
    check("infinite opposed strips", &|of| opposed_strips(of("w")));
}

#[test]
fn polygon_form_matches_the_corner_of_a_rectangle() {
    let at = |x: f64, y: f64| DVec3::new(x, y, 1.5);
    let corners = [at(0.0, 0.0), at(2.0, 0.0), at(2.0, 0.7), at(0.0, 0.7)];
    let found = element_to_polygon(DVec3::Z, &corners);
    assert!((found - element_under_corner(2.0, 0.7, 1.5)).abs() < 1e-15);
}

/// Normal of a tilted element, in the frame in which the disc lies along +z, its axis towards +x.
fn tilted(of: &dyn Fn(&str) -> f64) -> DVec3 {
    let (sin, cos) = of("tilt_deg").to_radians().sin_cos();
    let (sin_azimuth, cos_azimuth) = of("azimuth_deg").to_radians().sin_cos();
    DVec3::new(sin * cos_azimuth, sin * sin_azimuth, cos)
}

/// An element over a disc: radius and place in units, and the element's normal, pointing down.
struct Element {
    radius: f64,
    at: DVec3,
    normal: DVec3,
    value: f64,
}

/// All elements over discs that the table has.
fn elements() -> Vec<Element> {
    let table = values!("howell_1982");
    let mut all = Vec::new();
    let mut take = |name: &str, place: &dyn Fn(&dyn Fn(&str) -> f64) -> (DVec3, DVec3)| {
        for row in &table.quantity(name).rows {
            let of = |input: &str| row[input];
            let (at, normal) = place(&of);
            all.push(Element {
                radius: of("r"),
                at,
                normal,
                value: of("value"),
            });
        }
    };
    take("element to coaxial disc", &|of| {
        (DVec3::Z * of("h"), -DVec3::Z)
    });
    take("element to parallel disc, offset", &|of| {
        (DVec3::new(of("a"), 0.0, of("h")), -DVec3::Z)
    });
    take("element at right angles to disc", &|of| {
        (DVec3::new(of("l"), 0.0, of("h")), -DVec3::X)
    });
    let on_axis = |of: &dyn Fn(&str) -> f64| {
        let (sin, cos) = of("tilt_deg").to_radians().sin_cos();
        (DVec3::Z * of("h"), DVec3::new(sin, 0.0, -cos))
    };
    take("tilted element on axis, all visible", &on_axis);
    take("tilted element on axis, past the horizon", &on_axis);
    take("tilted element off axis, all visible", &|of| {
        // The table looks up along +z at a disc whose axis is towards +x: mirrored at the plane between.
        let normal = tilted(of);
        (
            DVec3::new(of("a"), 0.0, of("h")),
            DVec3::new(-normal.x, normal.y, -normal.z),
        )
    });
    all
}

/// A small patch over a disc, as configuration factor: flux times the disc's area.
fn patch_over_disc(element: &Element, lifted: f64, cosine: f64) -> Comparison {
    let edge = 0.005 * UNIT;
    let mut sheet = Sheet::default();
    sheet.patch(element.at * UNIT, element.normal, edge);
    let radius = element.radius * UNIT;
    let bench = Bench::new()
        .source(&Head {
            footprint: &format!("{{ shape = \"disc\", radius = \"{radius:?} m\" }}"),
            cosine,
            at: DVec3::Z * lifted * UNIT,
            facing: DVec3::Z,
            along: None,
        })
        .part("patch", sheet)
        .step(1.0, "");
    let coated = bench.coat(&Asked::rows(0.0028));
    let area = PI * radius * radius;
    let pair = [0, 1].map(|k| coated.against(k, element.value / area));
    Comparison {
        name: format!(
            "{} facing {}, r = {}",
            element.at, element.normal, element.radius
        ),
        found: 0.5 * (pair[0].found + pair[1].found),
        std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
        // e²/24 times the curvature of flux; that stays under 12/h² of the flux itself, h ≥ half a unit
        bias: pair[0].bias + 24.0 * (edge / UNIT).powi(2) * pair[0].reference,
        ..pair[0].clone()
    }
}

#[test]
fn elements_over_a_disc_get_their_tabulated_factors() {
    let all: Vec<_> = elements()
        .iter()
        .map(|e| patch_over_disc(e, 0.0, 1.0))
        .collect();
    assert_eq!(all.len(), 33);
    judge(&all, SCRAMBLINGS, 0.003).unwrap();
}

#[test]
fn elements_over_a_disc_notice_it_half_a_percent_nearer() {
    let all: Vec<_> = elements()
        .iter()
        .step_by(3)
        .map(|e| patch_over_disc(e, 0.005 * e.at.z, 1.0))
        .collect();
    assert!(
        judge(&all, SCRAMBLINGS, 0.003)
            .unwrap_err()
            .speaks_against()
    );
}

#[test]
fn elements_over_a_disc_notice_an_exponent_of_1_03() {
    let all: Vec<_> = elements()
        .iter()
        .step_by(3)
        .map(|e| patch_over_disc(e, 0.0, 1.03))
        .collect();
    assert!(
        judge(&all, SCRAMBLINGS, 0.003)
            .unwrap_err()
            .speaks_against()
    );
}

/// Rings of a tube's wall over the disc at its end: patches that touch the wall from inside.
fn wall_rings(cosine: f64) -> Result<(), Disagreement> {
    let table = values!("howell_1982");
    let edge = 0.005 * UNIT;
    let mut all = Vec::new();
    for row in &table.quantity("wall ring to end disc").rows {
        let mut sheet = Sheet::default();
        sheet.patch(DVec3::new(1.0, 0.0, row["x"]) * UNIT, -DVec3::X, edge);
        let coated = disc_source(cosine)
            .part("patch", sheet)
            .step(1.0, "")
            .coat(&Asked::rows(0.0028));
        let value = row["value"] / (PI * UNIT * UNIT);
        let pair = [0, 1].map(|k| coated.against(k, value));
        all.push(Comparison {
            found: 0.5 * (pair[0].found + pair[1].found),
            std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
            bias: pair[0].bias + 24.0 * (edge / UNIT).powi(2) * value,
            ..pair[0].clone()
        });
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

/// A disc of one unit at the origin, facing up.
fn disc_source(cosine: f64) -> Bench {
    Bench::new().source(&Head {
        footprint: &format!("{{ shape = \"disc\", radius = \"{UNIT:?} m\" }}"),
        cosine,
        at: DVec3::ZERO,
        facing: DVec3::Z,
        along: None,
    })
}

#[test]
fn wall_of_a_tube_gets_its_tabulated_factors_from_the_end_disc() {
    wall_rings(1.0).unwrap();
}

#[test]
fn wall_of_a_tube_notices_an_exponent_of_1_03() {
    assert!(wall_rings(1.03).unwrap_err().speaks_against());
}

/// Area mean of the film on all receivers, as flux per emitted atom, with its error.
fn mean_flux(coated: &evenfall_tests::bench::Coated) -> (f64, f64, f64) {
    let (mut caught, mut error, mut area) = (0.0, 0.0_f64, 0.0);
    for receiver in 0..coated.rows() {
        let own = coated.area_m2(receiver);
        let (flux, std_error) = coated.flux(receiver);
        (caught, error, area) = (
            caught + own * flux,
            error.hypot(own * std_error),
            area + own,
        );
    }
    (caught / area, error / area, area)
}

/// Discs that face each other: the coated one is a polygon of 96 corners in 8 rings.
fn discs(cosine: f64) -> Result<(), Disagreement> {
    let table = values!("howell_1982");
    let mut all = Vec::new();
    for row in &table.quantity("coaxial discs").rows {
        let [r1, r2, h] = ["r1", "r2", "h"].map(|name| row[name] / row["r1"]);
        let profile: Vec<(f64, f64)> = (0..=8)
            .map(|k| (r2 * UNIT * f64::from(k) / 8.0, h * UNIT))
            .collect();
        let part = rings(&profile, 96);
        let coated = disc_source(cosine)
            .part("disc", part)
            .step(1.0, "")
            .coat(&Asked::gather(0.05));
        let (found, std_error, area) = mean_flux(&coated);
        // What the polygon lacks lies at the rim; the circle's mean is that much nearer to the rim's flux.
        let circle = PI * (r2 * UNIT).powi(2);
        let rim = element_to_parallel_disc(r1, h, r2) / (PI * UNIT * UNIT);
        let mean = row["value"] / circle;
        let lacking = 1.0 - area / circle;
        all.push(Comparison {
            name: format!("discs {row:?}"),
            found,
            std_error,
            reference: mean + lacking * (mean - rim),
            bias: lacking * lacking * mean + 2e-5 * mean,
        });
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn coaxial_discs_exchange_their_tabulated_share() {
    discs(1.0).unwrap();
}

#[test]
fn coaxial_discs_notice_an_exponent_of_1_03() {
    assert!(discs(1.03).unwrap_err().speaks_against());
}

/// A unit sphere in rings of equal angle, its corners on the sphere.
fn globe(steps: u32) -> Sheet {
    let profile: Vec<(f64, f64)> = (0..=steps)
        .map(|k| PI * f64::from(steps - k) / f64::from(steps))
        .map(|polar| {
            (
                if polar.sin() < 1e-9 { 0.0 } else { polar.sin() },
                polar.cos(),
            )
        })
        .collect();
    rings(&profile, 2 * steps)
}

/// Radius of the largest sphere inside a globe: the least distance of a facet's plane from the middle.
fn inner_radius(globe: &Sheet) -> f64 {
    let distance = |t: &[DVec3; 3]| evenfall_tests::bench::normal_of(*t).dot(t[0]);
    globe
        .triangles
        .iter()
        .map(distance)
        .fold(f64::INFINITY, f64::min)
}

fn scaled(mut sheet: Sheet, factor: f64) -> Sheet {
    sheet
        .triangles
        .iter_mut()
        .flatten()
        .for_each(|corner| *corner *= factor);
    sheet
}

/// Disc to sphere: the sphere is a globe that lies between two spheres, whose factors bound its own.
fn disc_on_sphere(nearer: f64) -> Result<(), Disagreement> {
    let table = values!("howell_1982");
    let globe = globe(48);
    let inner = inner_radius(&globe);
    // Corners half-way out: the globe's mean radius is the sphere's.
    let outer = 2.0 / (1.0 + inner);
    let mut all = Vec::new();
    for row in &table.quantity("disc to sphere").rows {
        let [disc, sphere, h] = ["rd", "rs", "h"].map(|name| row[name] / row["rd"]);
        if row["value"] < 0.1 {
            continue; // small shares take many atoms
        }
        let part = scaled(globe.clone(), outer * sphere * UNIT)
            .moved(DVec3::Z * (h * (1.0 - nearer)) * UNIT);
        let coated = disc_source(1.0)
            .part("globe", part)
            .step(1.0, "")
            .coat(&Asked::fire(enough(row["value"])));
        let balance = &coated.tally.balance;
        let fired = balance.emitted as f64;
        let bound = |radius: f64| disc_to_sphere(disc, sphere * radius, h);
        all.push(Comparison {
            name: format!("disc and sphere {row:?}"),
            found: balance.part as f64 / fired,
            std_error: (row["value"] * (1.0 - row["value"]) / fired).sqrt(),
            reference: row["value"],
            bias: (bound(outer) - row["value"]).max(row["value"] - bound(outer * inner)),
        });
    }
    judge(&all, Spread::Known, 0.003)
}

/// Atoms to fire for a relative error of 0.28 % of a share.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "some millions"
)]
fn enough(share: f64) -> u64 {
    ((1.0 - share) / (share * 0.0028 * 0.0028)) as u64
}

#[test]
fn disc_sends_its_tabulated_share_to_a_sphere() {
    disc_on_sphere(0.0).unwrap();
}

#[test]
fn disc_on_a_sphere_notices_it_two_percent_nearer() {
    assert!(disc_on_sphere(0.02).unwrap_err().speaks_against());
}

/// Elements that see an emitting sphere, past the horizon too.
fn elements_over_sphere(shift: f64) -> Result<(), Disagreement> {
    let table = values!("howell_1982");
    let globe = globe(96);
    let inner = inner_radius(&globe);
    let outer = 2.0 / (1.0 + inner);
    let emitting = scaled(globe, outer * UNIT);
    let emitting_area: f64 = emitting
        .triangles
        .iter()
        .map(|[a, b, c]| 0.5 * (*b - *a).cross(*c - *a).length())
        .sum();
    let edge = 0.005 * UNIT;
    let mut all = Vec::new();
    for row in &table.quantity("element to sphere").rows {
        let [distance, tilt] = [row["distance"], row["tilt_deg"].to_radians()];
        let mut sheet = Sheet::default();
        sheet.patch(
            DVec3::Z * (distance * UNIT * (1.0 - shift)),
            DVec3::new(tilt.sin(), 0.0, -tilt.cos()),
            edge,
        );
        let coated = Bench::new()
            .mesh_source(emitting.clone(), 1.0)
            .part("patch", sheet)
            .step(1.0, "")
            // the mean of the two rows counts
            .coat(&Asked::rows(0.0028 * SQRT_2));
        let pair = [0, 1].map(|k| coated.against(k, row["value"] / emitting_area));
        let bound = |radius: f64| element_to_cap((radius / distance).asin(), tilt) / emitting_area;
        let value = pair[0].reference;
        all.push(Comparison {
            name: format!("sphere {row:?}"),
            found: 0.5 * (pair[0].found + pair[1].found),
            std_error: 0.5 * pair[0].std_error.hypot(pair[1].std_error),
            bias: (bound(outer) - value).max(value - bound(outer * inner)) + pair[0].bias,
            ..pair[0].clone()
        });
    }
    judge(&all, SCRAMBLINGS, 0.003)
}

#[test]
fn elements_over_an_emitting_sphere_get_their_tabulated_factors() {
    elements_over_sphere(0.0).unwrap();
}

#[test]
fn elements_over_an_emitting_sphere_notice_it_half_a_percent_nearer() {
    assert!(elements_over_sphere(0.005).unwrap_err().speaks_against());
}

/// Atoms from the inner wall of a tube, made longer by a factor: back on the wall, on the disc that closes
/// one end, gone.
fn tube_wall(longer: f64) -> Result<(), Disagreement> {
    const SIDES: u32 = 512;
    let table = values!("howell_1982");
    let mut all = Vec::new();
    for row in &table.quantity("tube wall to itself").rows {
        let length = row["length"];
        if length > 5.0 {
            continue; // small shares take many atoms
        }
        let end = table
            .quantity("tube wall to one end")
            .at(&[("length", length)]);
        let wall = rings(&[(UNIT, 0.0), (UNIT, longer * length * UNIT)], SIDES).turned_over();
        let lid = rings(
            &[
                (0.0, longer * length * UNIT),
                (UNIT, longer * length * UNIT),
            ],
            SIDES,
        );
        let coated = Bench::new()
            .mesh_source(wall, 1.0)
            .part("lid", lid)
            .step(1.0, "")
            .coat(&Asked::fire(enough(end.min(row["value"]))));
        let balance = &coated.tally.balance;
        let fired = balance.emitted as f64;
        for (name, count, reference) in [
            ("itself", balance.source, row["value"]),
            ("lid", balance.part, end),
            ("open end", balance.escaped, end),
        ] {
            all.push(Comparison {
                name: format!("wall of length {length} to {name}"),
                found: count as f64 / fired,
                std_error: (reference * (1.0 - reference) / fired).sqrt(),
                reference,
                // a wall of 512 flats is (π/512)²/2 from round
                bias: 4e-5 * reference,
            });
        }
    }
    judge(&all, Spread::Known, 0.003)
}

#[test]
fn atoms_from_the_wall_of_a_tube_end_in_their_tabulated_shares() {
    tube_wall(1.0).unwrap();
}

#[test]
fn atoms_from_the_wall_of_a_tube_notice_it_three_percent_longer() {
    assert!(tube_wall(1.03).unwrap_err().speaks_against());
}
