//! The dose of a surface that turns in a steady flux. All derived: PHYSICS.md eqs. 45 to 48.

use std::f64::consts::{PI, TAU};

/// ∫ max(cos φ, 0) dφ / 2π from angle 0 to `angle_rad`.
fn rectified_until(angle_rad: f64) -> f64 {
    let turns = (angle_rad / TAU).floor();
    let rest = angle_rad - TAU * turns;
    let part = if rest <= 0.5 * PI {
        rest.sin()
    } else if rest <= 1.5 * PI {
        1.0
    } else {
        2.0 + rest.sin()
    };
    (2.0 * turns + part) / TAU
}

/// Dose, in full turns of full exposure, of a wall that starts at `start_rad` from the beam and turns
/// on by `turns`, exposed as max(cos φ, 0); a whole turn gives 1/π.
pub fn rectified_dose(start_rad: f64, turns: f64) -> f64 {
    rectified_until(start_rad + TAU * turns) - rectified_until(start_rad)
}

/// (max − min)/mean of that dose around the wall after K whole turns and a rest r: sin(πr)/(K + r).
pub fn rectified_unevenness(whole: f64, rest: f64) -> f64 {
    (PI * rest).sin() / (whole + rest)
}

/// (max − min)/mean for exposure through an opening that takes a share w of the turn:
/// min(r, w, 1 − r, 1 − w)/(w (K + r)).
pub fn slit_unevenness(whole: f64, rest: f64, opening: f64) -> f64 {
    let least = rest.min(opening).min(1.0 - rest).min(1.0 - opening);
    least / (opening * (whole + rest))
}

/// Dose of M equal stops over that of a steady turn, one stop facing the beam (M a multiple of 4).
pub fn stops_on_axis(stops: f64) -> f64 {
    PI / stops / (PI / stops).tan()
}

/// The same with the beam half-way between two stops.
pub fn stops_off_axis(stops: f64) -> f64 {
    PI / stops / (PI / stops).sin()
}

/// Rest r at which [`rectified_unevenness`] is largest: root of π (K + r) = tan(πr).
pub fn worst_rest(whole: f64) -> f64 {
    let (mut low, mut high) = (0.0, 0.5);
    let slope = |r: f64| PI * (whole + r) * (PI * r).cos() - (PI * r).sin();
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if slope(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
