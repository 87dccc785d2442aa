//! Rings, annuli and discs over a plate, and plates turning over a small source off the axis.

use super::view_factors::element_to_parallel_disc;
use crate::quadrature::turn_mean;
use std::f64::consts::{PI, TAU};

/// Flux from a thin cosⁿ ring of radius `a` on a parallel plate, or the mean over a turn of a plate
/// that turns about its axis over a small source at distance `a` from it.
///
/// A = h² + a² + ρ², B = 2aρ, D = √(A² − B²), m = (n + 3)/2:
/// (n + 1)/2π · h^(n+1) · D^−m · P_{m−1}(A/D).
///
/// Source: derived, PHYSICS.md eq. 34.
pub fn ring_flux(exponent: f64, a: f64, height: f64, rho: f64) -> f64 {
    let sum = height * height + a * a + rho * rho;
    let d = (sum * sum - 4.0 * a * a * rho * rho).sqrt();
    let m = 0.5 * (exponent + 3.0);
    let rise = height.powf(exponent + 1.0) / d.powf(m);
    (exponent + 1.0) / TAU * rise * legendre(m - 1.0, sum / d)
}

/// Numbers of steps to choose from.
const STEPS: [u32; 6] = [16, 32, 64, 128, 256, 1024];

/// Legendre function P_ν(x) for x ≥ 1 by Laplace's integral, mean over a turn of (x + √(x²−1) cos φ)^ν.
///
/// Source: NIST Digital Library of Mathematical Functions 14.12.7 (from memory).
fn legendre(nu: f64, x: f64) -> f64 {
    let side = (x * x - 1.0).max(0.0).sqrt();
    // The equal-step rule with N steps is off by about e^(−N acosh(x/side)).
    let steps = 40.0 / (x / side.max(1e-9)).acosh();
    turn_mean(
        STEPS
            .into_iter()
            .find(|&n| f64::from(n) > steps)
            .unwrap_or(8192),
        |phi| (x + side * phi.cos()).powf(nu),
    )
}

/// Flux from an even cosine disc of radius `radius` on a parallel plate: F/(π r²).
pub fn disc_flux(radius: f64, height: f64, rho: f64) -> f64 {
    element_to_parallel_disc(radius, height, rho) / (PI * radius * radius)
}

/// Flux from an even cosine annulus on a parallel plate: difference of two discs.
pub fn annulus_flux(inner: f64, outer: f64, height: f64, rho: f64) -> f64 {
    let whole = element_to_parallel_disc(outer, height, rho);
    let hole = element_to_parallel_disc(inner, height, rho);
    (whole - hole) / (PI * (outer - inner) * (outer + inner))
}

/// Flux, mean over a turn, from a small cosine source at distance `a` from the axis, tilted by
/// `tilt_rad` towards it: (h/π) [(h cos α + a sin α) A − ρ sin α · B] / D³.
///
/// Valid while the whole orbit is in front of the source. Source: derived, PHYSICS.md eq. 36.
pub fn tilted_offset_flux(a: f64, height: f64, tilt_rad: f64, rho: f64) -> f64 {
    let sum = height * height + a * a + rho * rho;
    let b = 2.0 * a * rho;
    let d = (sum * sum - b * b).sqrt();
    let (sin, cos) = tilt_rad.sin_cos();
    height / PI * ((height * cos + a * sin) * sum - rho * sin * b) / d.powi(3)
}

/// (max − min)/(max + min) of [`ring_flux`] with a = 1 over 0 ≤ ρ ≤ `radius`.
pub fn unevenness(exponent: f64, height: f64, radius: f64) -> f64 {
    let flux = |rho: f64| ring_flux(exponent, 1.0, height, rho);
    let steps = 200;
    let mut low = f64::INFINITY;
    let (mut high, mut at) = (0.0, 0.0);
    for k in 0..=steps {
        let rho = radius * f64::from(k) / f64::from(steps);
        let here = flux(rho);
        low = low.min(here);
        if here > high {
            (high, at) = (here, rho);
        }
    }
    // One step of a parabola through the highest sample and its neighbours.
    let step = radius / f64::from(steps);
    if at > step && at < radius - step {
        let [left, right] = [flux(at - step), flux(at + step)];
        let bend = left - 2.0 * high + right;
        high -= (right - left) * (right - left) / (8.0 * bend);
    }
    (high - low) / (high + low)
}

/// Height at which [`unevenness`] is least, by golden section.
pub fn best_height(exponent: f64, radius: f64) -> f64 {
    let ratio = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut low, mut high) = (0.6, 2.2);
    for _ in 0..45 {
        let [left, right] = [high - ratio * (high - low), low + ratio * (high - low)];
        if unevenness(exponent, left, radius) < unevenness(exponent, right, radius) {
            high = right;
        } else {
            low = left;
        }
    }
    0.5 * (low + high)
}

/// Height over `a` at which the profile of a turning plate is flat to second order: √((n + 3)/2).
pub fn flat_height(exponent: f64) -> f64 {
    (0.5 * (exponent + 3.0)).sqrt()
}
