//! Resistance of thin sheets between contacts: closed forms of steady currents in two dimensions.
//!
//! Each formula follows in a line from Ohm's law on a sheet (E = ρ j, I = ∮ j): strip R = ρ L/W; ring ρ ln(b/a)/2π; two
//! equal discs far from any rim (ρ/π) arcosh(d/2a), which is (ρ/π) ln(d/a) for small ones; closed sphere between caps about
//! its poles (ρ/π) ln cot(θ/2). Four contacts on the rim: L. J. van der Pauw, Philips Res. Rep. 13, 1 (1958), from memory.
//!
//! Contacts that are not round are strips that conduct a million times better, with a round contact on them.

use evenfall_sim::worth::resistance::{Contact, NoPath, Sheet, resistance_ohm, resistance_on_ohm};
use glam::DVec3;
use std::f64::consts::{PI, TAU};

/// Conductance of a square, S; and of what stands for a contact.
const SQUARE_S: f64 = 2.0;
const SHORT_S: f64 = 2e6;

fn contact(x: f64, y: f64, radius_m: f64) -> Contact {
    Contact {
        at_m: DVec3::new(x, y, 0.0),
        radius_m,
    }
}

/// A sheet of quadrilaterals between rows of points.
fn woven(rows: &[Vec<DVec3>], square_s: impl Fn(DVec3) -> f64) -> Sheet {
    let mut sheet = Sheet::default();
    for pair in rows.windows(2) {
        for k in 0..pair[0].len() - 1 {
            let [a, b, c, d] = [pair[0][k], pair[0][k + 1], pair[1][k + 1], pair[1][k]];
            for corners in [[a, b, c], [a, c, d]] {
                let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
                sheet.corners_m.push(corners);
                sheet.square_s.push(square_s(middle));
            }
        }
    }
    sheet
}

fn grid(xs: &[f64], ys: &[f64], square_s: impl Fn(DVec3) -> f64) -> Sheet {
    let rows = ys
        .iter()
        .map(|&y| xs.iter().map(|&x| DVec3::new(x, y, 0.0)).collect());
    woven(&rows.collect::<Vec<Vec<DVec3>>>(), square_s)
}

fn even(from: f64, to: f64, count: u32) -> Vec<f64> {
    let at = |k: u32| from + (to - from) * f64::from(k) / f64::from(count);
    (0..=count).map(at).collect()
}

/// Rings of points about the z axis; the points of a ring are those of a full turn, the first again last.
fn rings(radii: &[f64], count: u32) -> Vec<Vec<DVec3>> {
    let ring = |radius: &f64| {
        let at = |k: u32| {
            let angle = TAU * f64::from(k % count) / f64::from(count);
            DVec3::new(radius * angle.cos(), radius * angle.sin(), 0.0)
        };
        (0..=count).map(at).collect()
    };
    radii.iter().map(ring).collect()
}

/// Relative deviation.
fn off(found: f64, wanted: f64) -> f64 {
    found / wanted - 1.0
}

#[test]
fn a_strip_has_as_many_squares_as_it_is_long() {
    // 30 mm by 5 mm between ends of 4 mm; the field is even, so that any mesh finds it but for the ends' own 1e-6
    let xs = [-0.004, 0.0, 0.007, 0.012, 0.03, 0.034];
    let ends = |at: DVec3| {
        if (0.0..0.03).contains(&at.x) {
            SQUARE_S
        } else {
            SHORT_S
        }
    };
    let strip = grid(&xs, &[0.0, 0.002, 0.005], ends);
    let contacts = [
        contact(-0.002, 0.0025, 0.001),
        contact(0.032, 0.0025, 0.001),
    ];
    let found = resistance_ohm(&strip, contacts).unwrap();
    assert!(off(found, 6.0 / SQUARE_S).abs() < 1e-5, "{found}");
    // bent at a right angle it is the same strip
    let mut bent = strip;
    for at in bent
        .corners_m
        .iter_mut()
        .flatten()
        .filter(|at| at.x > 0.012)
    {
        *at = DVec3::new(0.012, at.y, at.x - 0.012);
    }
    let up = Contact {
        at_m: DVec3::new(0.012, 0.0025, 0.02),
        radius_m: 0.001,
    };
    let found = resistance_ohm(&bent, [contacts[0], up]).unwrap();
    assert!(off(found, 6.0 / SQUARE_S).abs() < 1e-5, "{found}");
}

#[test]
fn unlike_films_in_a_row_add_and_side_by_side_share() {
    let (xs, ys) = (even(-0.004, 0.034, 19), [0.0, 0.0025, 0.005]);
    let contacts = [
        contact(-0.002, 0.0025, 0.001),
        contact(0.032, 0.0025, 0.001),
    ];
    let ended = |inside: fn(DVec3) -> f64| {
        move |at: DVec3| {
            if (0.0..0.03).contains(&at.x) {
                inside(at)
            } else {
                SHORT_S
            }
        }
    };
    // 3 squares of 1/2 Ω and 3 of 1/8 Ω
    let row = grid(&xs, &ys, ended(|at| if at.x < 0.014 { 2.0 } else { 8.0 }));
    let found = resistance_ohm(&row, contacts).unwrap();
    assert!(
        off(found, 14.0 / 5.0 / 2.0 + 16.0 / 5.0 / 8.0).abs() < 1e-5,
        "{found}"
    );
    let beside = grid(&xs, &ys, ended(|at| if at.y < 0.0025 { 2.0 } else { 8.0 }));
    let found = resistance_ohm(&beside, contacts).unwrap();
    assert!(
        off(found, 1.0 / (2.0 / 12.0 + 8.0 / 12.0)).abs() < 1e-5,
        "{found}"
    );
}

/// A disc of 20 mm with a needle of 1 mm in its middle and a ring of metal about it.
fn ring_ohm(fineness: f64) -> f64 {
    let count = 256;
    let radii = [1e-5, 5e-4, 0.001, 0.002, 0.004, 0.007, 0.012, 0.02, 0.03];
    // a regular polygon of n sides conducts like a circle between the inscribed and the described one
    let sheet = woven(&rings(&radii, count), |at| {
        if at.length() < 0.02 * (PI / f64::from(count)).cos() * 0.999 {
            SQUARE_S
        } else {
            SHORT_S
        }
    });
    let contacts = [contact(0.0, 0.0, 0.001), contact(0.025, 0.0, 0.001)];
    resistance_on_ohm(&sheet, contacts, fineness).unwrap()
}

#[test]
fn a_needle_in_a_ring_sees_the_logarithm_of_their_radii() {
    let wanted = 20.0_f64.ln() / TAU / SQUARE_S;
    let [coarse, fine] = [1.0, 3.0].map(|fineness| off(ring_ohm(fineness), wanted));
    assert!(
        coarse.abs() < 0.01 && fine.abs() < 0.4 * coarse.abs(),
        "{coarse} {fine}"
    );
}

/// Two needles of 1 mm, 10 mm apart, in the middle of a disc of 600 mm.
fn needles_ohm(fineness: f64) -> f64 {
    let radii = [
        1e-4, 0.002, 0.004, 0.007, 0.012, 0.02, 0.04, 0.08, 0.15, 0.3,
    ];
    let sheet = woven(&rings(&radii, 48), |_| SQUARE_S);
    let contacts = [contact(-0.005, 0.0, 0.001), contact(0.005, 0.0, 0.001)];
    resistance_on_ohm(&sheet, contacts, fineness).unwrap()
}

#[test]
fn two_needles_on_a_wide_sheet_see_the_logarithm_of_their_distance() {
    // the rim is 60 distances away: images add 2 · d/2 / (2 R²/d) = 5.6e-4 to arcosh(5) = 2.2924
    let wanted = (5.0_f64.acosh() + 0.5 * 0.01 * 0.01 / 0.09) / PI / SQUARE_S;
    let [coarse, fine] = [1.0, 3.0].map(|fineness| off(needles_ohm(fineness), wanted));
    assert!(
        coarse.abs() < 0.01 && fine.abs() < 0.4 * coarse.abs(),
        "{coarse} {fine}"
    );
}

#[test]
fn the_needles_notice_contacts_of_half_the_size() {
    let wanted = 10.0_f64.acosh() / PI / SQUARE_S;
    assert!(off(needles_ohm(1.0), wanted).abs() > 0.1);
}

/// A sphere of 10 mm between needles at its poles.
fn sphere_ohm(fineness: f64, count: u32) -> f64 {
    let rows = even(1e-3, PI - 1e-3, count).into_iter().map(|polar| {
        let at = |k: u32| {
            let angle = TAU * f64::from(k % (2 * count)) / f64::from(2 * count);
            let (sin, cos) = polar.sin_cos();
            0.01 * DVec3::new(sin * angle.cos(), sin * angle.sin(), cos)
        };
        (0..=2 * count).map(at).collect()
    });
    let sheet = woven(&rows.collect::<Vec<Vec<DVec3>>>(), |_| SQUARE_S);
    let pole = |z: f64| Contact {
        at_m: DVec3::new(0.0, 0.0, z),
        radius_m: 0.001,
    };
    resistance_on_ohm(&sheet, [pole(0.01), pole(-0.01)], fineness).unwrap()
}

#[test]
fn a_closed_sphere_between_its_poles_is_as_the_integral_over_its_circles() {
    // a needle of 1 mm reaches down to a chord of 1 mm: sin(θ/2) = 1/20
    let half = 0.05_f64.asin();
    let wanted = (1.0 / half.tan()).ln() / PI / SQUARE_S;
    let [coarse, fine] = [(1.0, 30), (3.0, 90)].map(|(f, count)| off(sphere_ohm(f, count), wanted));
    assert!(
        coarse.abs() < 0.01 && fine.abs() < 0.4 * coarse.abs(),
        "{coarse} {fine}"
    );
}

/// Needles of 0.5 mm at 16 mm: (a/d)² = 1e-3 is what their size may do to each of the exponents.
const PAUW: f64 = 3e-3;

/// e^(−π R₁₂,₃₄/ρ) + e^(−π R₂₃,₄₁/ρ) of four needles on the rim of a sheet, which is 1 by van der Pauw.
///
/// Four points by pairs: V₃ − V₄ for a current from 1 to 2 is ½ (R₂₃ + R₁₄ − R₁₃ − R₂₄), by superposition.
fn van_der_pauw(sheet: &Sheet, at: [[f64; 2]; 4], radius_m: f64) -> f64 {
    let needle = |k: usize| contact(at[k][0], at[k][1], radius_m);
    let pair = |i: usize, j: usize| resistance_on_ohm(sheet, [needle(i), needle(j)], 2.0).unwrap();
    let (r12, r23, r34) = (pair(0, 1), pair(1, 2), pair(2, 3));
    let (r14, r13, r24) = (pair(0, 3), pair(0, 2), pair(1, 3));
    let first = 0.5 * (r23 + r14 - r13 - r24);
    let second = 0.5 * (r34 + r12 - r24 - r13);
    // the sign says which way the voltage is read
    (-PI * first.abs() * SQUARE_S).exp() + (-PI * second.abs() * SQUARE_S).exp()
}

#[test]
fn four_needles_on_any_rim_obey_van_der_pauw() {
    // a plate with a notch: no formula knows its resistances, the sum of the two exponentials does not care
    let (xs, ys) = (even(0.0, 0.03, 12), even(0.0, 0.02, 8));
    let notched = grid(&xs, &ys, |at| {
        if at.x > 0.0125 && at.x < 0.02 && at.y > 0.0125 {
            0.0
        } else {
            SQUARE_S
        }
    });
    let at = [[0.0, 0.005], [0.02, 0.0], [0.03, 0.015], [0.005, 0.02]];
    let sum = van_der_pauw(&notched, at, 0.0005);
    assert!((sum - 1.0).abs() < PAUW, "{sum}");
}

#[test]
fn van_der_pauw_notices_a_needle_off_the_rim() {
    let sheet = grid(&even(0.0, 0.03, 12), &even(0.0, 0.02, 8), |_| SQUARE_S);
    let at = [[0.0, 0.005], [0.02, 0.004], [0.03, 0.015], [0.005, 0.02]];
    let sum = van_der_pauw(&sheet, at, 0.0005);
    assert!((sum - 1.0).abs() > 3.0 * PAUW, "{sum}");
}

#[test]
fn a_gap_stops_the_current_and_bare_ground_takes_no_contact() {
    let xs = even(0.0, 0.03, 6);
    let parted = grid(&xs, &[0.0, 0.005], |at| {
        if (0.01..0.015).contains(&at.x) {
            0.0
        } else {
            SQUARE_S
        }
    });
    let at = |x: f64| contact(x, 0.0025, 0.001);
    assert_eq!(
        resistance_ohm(&parted, [at(0.005), at(0.025)]),
        Err(NoPath::Parted)
    );
    assert_eq!(
        resistance_ohm(&parted, [at(0.0125), at(0.025)]),
        Err(NoPath::Bare(0))
    );
    assert_eq!(
        resistance_ohm(&parted, [at(0.02), at(0.021)]),
        Err(NoPath::Touching)
    );
    assert!(resistance_ohm(&parted, [at(0.018), at(0.027)]).is_ok());
    // pieces that share a corner alone do not touch
    let chequered = grid(&[0.0, 0.01, 0.02], &[0.0, 0.01, 0.02], |at| {
        if (at.x < 0.01) == (at.y < 0.01) {
            SQUARE_S
        } else {
            0.0
        }
    });
    let ends = [contact(0.004, 0.005, 0.001), contact(0.015, 0.015, 0.001)];
    assert_eq!(resistance_ohm(&chequered, ends), Err(NoPath::Parted));
}

#[test]
fn a_contact_on_a_thin_wall_does_not_reach_through_it() {
    // two faces 0.2 mm apart that meet at one end: 2 · 20 mm of strip 4 mm wide, not a short
    let ys = even(0.0, 0.004, 4);
    let mut sheet = grid(&even(-0.022, 0.02, 42), &ys, |_| SQUARE_S);
    for at in sheet.corners_m.iter_mut().flatten().filter(|at| at.x < 0.0) {
        *at = DVec3::new(-at.x - 0.002, at.y, at.x.max(-0.002) * 0.1);
    }
    let face = contact(0.018, 0.002, 0.001);
    let back = Contact {
        at_m: face.at_m - 2e-4 * DVec3::Z,
        ..face
    };
    let found = resistance_ohm(&sheet, [face, back]).unwrap();
    assert!(found * SQUARE_S > 8.0, "{found}");
}
