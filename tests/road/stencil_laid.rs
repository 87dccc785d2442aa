//! Stencils wrapped round a cylinder and pushed onto a dome, coated: the film across a slot and in a hole against integrals
//! of the same geometry that know nothing of meshes.

use evenfall_tests::bench::{Asked, Bench, Coated, Head};
use evenfall_tests::solids::rings;
use glam::{DVec2, DVec3};
use std::f64::consts::{PI, TAU};

/// Radius of the cylinder and of the dome, m.
const RADIUS: f64 = 0.025;

/// Flux per emitted atom at a point, 1/m²: mean over an even cosine disc of cos θ cos β V/π r², on a grid of even areas.
fn flux(
    (centre, facing, radius): (DVec3, DVec3, f64),
    (p, normal): (DVec3, DVec3),
    clear: impl Fn(DVec3) -> bool,
) -> f64 {
    let (along, across) = facing.any_orthonormal_pair();
    let count = 400;
    let mut sum = 0.0;
    for (i, j) in (0..count).flat_map(|i| (0..count).map(move |j| (i, j))) {
        let [u, v] = [i, j].map(|k| (f64::from(k) + 0.5) / f64::from(count));
        let at = DVec2::from_angle(TAU * v) * radius * u.sqrt();
        let y = centre + along * at.x + across * at.y;
        let span = y - p;
        let (cosine, emitted) = (span.dot(normal), -span.dot(facing));
        if cosine > 0.0 && emitted > 0.0 && clear(y) {
            sum += cosine * emitted / (PI * span.length_squared().powi(2));
        }
    }
    sum / f64::from(count * count)
}

/// Largest error of a point of the probe, as a share of the open film.
fn worst(found: &Coated, exact: &dyn Fn(DVec3) -> (f64, f64)) -> f64 {
    let points = found.tally.probes[0].iter().enumerate();
    let off = points.map(|(k, point)| {
        let (reference, open) = exact(point.position_m);
        let (flux, std_error) = found.probe_flux(0, k);
        assert!(std_error < 0.004 * open, "{std_error:e} of {open:e}");
        let off = (flux - reference).abs() / open;
        if off > 0.01 {
            println!(
                "{}: {:.4} of open, exactly {:.4}",
                point.position_m,
                flux / open,
                reference / open
            );
        }
        off
    });
    off.fold(0.0, f64::max)
}

/// Half the width of the slot, m along the cylinder's round.
const SLOT: f64 = 1.5e-3;

/// A cylinder about z with a slot along it on its −y side, over a disc at −y.
fn cylinder(sheet: f64, lift: f64) -> Coated {
    let wall = rings(&[(RADIUS, -0.02), (RADIUS, 0.02)], 1440);
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="3mm" height="80mm" viewBox="-1.5 -40 3 80">
        <rect x="-1.5" y="-40" width="3" height="80"/></svg>"#;
    let lines = format!(
        "sheet = \"{sheet:?} m\"\nlift = \"{lift:?} m\"\nwrap = \"{RADIUS:?} m\"\n\
         at = [\"0 m\", \"{:?} m\", \"0 m\"]\nturn = [\"90 deg\", \"0 deg\", \"0 deg\"]\n",
        -RADIUS
    );
    let ends = [-3e-3, 3e-3].map(|x| DVec3::new(x, -RADIUS, 0.003));
    Bench::new()
        .source(&DISC)
        .part("cylinder", wall)
        .mask("cylinder", svg, &lines)
        .probe("cylinder", ends, 41)
        .step(1.0, "")
        .coat(&Asked::gather(0.1))
}

const DISC: Head<'_> = Head {
    footprint: "{ shape = \"disc\", radius = \"20 mm\" }",
    cosine: 1.0,
    at: DVec3::new(0.01, -0.085, 0.0),
    facing: DVec3::Y,
    along: None,
};

/// The same, exactly: in the cross-section a line is clear if it is within the slot's angles at both radii of the sheet.
fn cylinder_exact(sheet: f64, lift: f64, p: DVec3) -> (f64, f64) {
    let normal = DVec3::new(p.x, p.y, 0.0).normalize();
    let p = DVec3::new(RADIUS * normal.x, RADIUS * normal.y, p.z);
    let within = |y: DVec3, radius: f64| {
        let (from, way) = (p.truncate(), (y - p).truncate());
        let (a, b) = (way.length_squared(), from.dot(way));
        let c = from.length_squared() - radius * radius;
        let t = (-b + (b * b - a * c).max(0.0).sqrt()) / a;
        let there = from + way * t;
        (there.x.atan2(-there.y) * RADIUS).abs() < SLOT
    };
    let clear = |y: DVec3| within(y, RADIUS + lift) && within(y, RADIUS + lift + sheet);
    let disc = (DISC.at, DISC.facing, 0.02);
    (
        flux(disc, (p, normal), clear),
        flux(disc, (p, normal), |_| true),
    )
}

#[test]
fn a_slot_in_a_sheet_round_a_cylinder_lets_its_exact_film_through() {
    for (sheet, lift) in [(2e-4, 0.0), (1e-4, 5e-4)] {
        let coated = cylinder(sheet, lift);
        let off = worst(&coated, &|p| cylinder_exact(sheet, lift, p));
        assert!(off < 0.01, "{:.2} % of open", off * 100.0);
    }
}

#[test]
fn wrapped_sheets_notice_a_fifth_more_lift() {
    let coated = cylinder(1e-4, 5e-4);
    let off = worst(&coated, &|p| cylinder_exact(1e-4, 6e-4, p));
    assert!(off > 0.02, "{:.2} % of open", off * 100.0);
}

/// Middle of the hole beside the top of the dome, and its radius, seen from above, m.
const HOLE: (DVec2, f64) = (DVec2::new(6e-3, 0.0), 0.5e-3);

const OVER: Head<'_> = Head {
    footprint: "{ shape = \"disc\", radius = \"20 mm\" }",
    cosine: 1.0,
    at: DVec3::new(0.0, 0.0, 0.085),
    facing: DVec3::NEG_Z,
    along: None,
};

/// A dome with a round hole pushed onto it from above, the plane of its artwork 10 mm over the top.
fn dome(sheet: f64) -> Coated {
    let steps = 60;
    let profile: Vec<(f64, f64)> = (0..=steps)
        .map(|k| {
            let angle = 0.5 * f64::from(steps - k) / f64::from(steps);
            (RADIUS * angle.sin(), RADIUS * angle.cos())
        })
        .collect();
    let cap = rings(&profile, 240);
    let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="30mm" viewBox="-15 -15 30 30">
        <circle cx="6" cy="0" r="0.5"/></svg>"#;
    let lines = format!(
        "sheet = \"{sheet:?} m\"\nconform = [0, 0, -1]\nat = [\"0 m\", \"0 m\", \"{:?} m\"]\n",
        RADIUS + 0.01
    );
    let ends = [-0.45e-3, 0.45e-3].map(|x| {
        let x = HOLE.0.x + x;
        DVec3::new(x, 0.0, (RADIUS * RADIUS - x * x).sqrt())
    });
    Bench::new()
        .source(&OVER)
        .part("dome", cap)
        .mask("dome", svg, &lines)
        .probe("dome", ends, 21)
        .step(1.0, "")
        .coat(&Asked::gather(0.2))
}

/// The same, exactly: walls stand square on the dome, so a line is clear if it leaves the sheet over the hole.
fn dome_exact(sheet: f64, p: DVec3) -> (f64, f64) {
    let normal = p.normalize();
    let p = normal * RADIUS;
    let clear = |y: DVec3| {
        let (way, outer) = (y - p, RADIUS + sheet);
        let (a, b) = (way.length_squared(), p.dot(way));
        let c = RADIUS * RADIUS - outer * outer;
        let there = p + way * ((-b + (b * b - a * c).sqrt()) / a);
        (there * (RADIUS / outer)).truncate().distance(HOLE.0) < HOLE.1
    };
    let disc = (OVER.at, OVER.facing, 0.02);
    (
        flux(disc, (p, normal), clear),
        flux(disc, (p, normal), |_| true),
    )
}

#[test]
fn a_hole_in_a_sheet_pushed_onto_a_dome_lets_its_exact_film_through() {
    let coated = dome(1e-3);
    let off = worst(&coated, &|p| dome_exact(1e-3, p));
    assert!(off < 0.015, "{:.2} % of open", off * 100.0);
}

#[test]
fn pushed_sheets_notice_another_thickness() {
    let coated = dome(1e-3);
    let off = worst(&coated, &|p| dome_exact(1.1e-3, p));
    assert!(off > 0.03, "{:.2} % of open", off * 100.0);
}
