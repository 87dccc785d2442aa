//! Spheres coated from a small source, inside and outside.

use crate::quadrature::integral;
use std::f64::consts::PI;

/// Flux over its mean Q/(4πR²) inside a sphere, from a small cosⁿ source on its wall:
/// (n + 1)/2 · cosⁿ⁻¹θ, θ the emission angle; 1 everywhere for the cosine law.
///
/// Source: M. Knudsen (1915), from memory, and derived: PHYSICS.md eq. 38.
pub fn inside_over_mean(exponent: f64, emission_angle_rad: f64) -> f64 {
    0.5 * (exponent + 1.0) * emission_angle_rad.cos().powf(exponent - 1.0)
}

/// Flux on a unit sphere at a polar angle from its axis, from a small cosine source on the axis at
/// `distance` from the centre, facing it: (D − cos ψ)(D cos ψ − 1)/(π d⁴), d² = D² + 1 − 2D cos ψ.
///
/// Source: derived, PHYSICS.md eq. 39.
pub fn outside_flux(distance: f64, polar_rad: f64) -> f64 {
    let cos = polar_rad.cos();
    let squared = distance * distance + 1.0 - 2.0 * distance * cos;
    ((distance - cos) * (distance * cos - 1.0)).max(0.0) / (PI * squared * squared)
}

/// Share of a small cosine source's emission that a unit sphere catches: 1/D².
pub fn outside_caught(distance: f64) -> f64 {
    1.0 / (distance * distance)
}

/// Polar angle of the horizon on a unit sphere, rad: acos(1/D).
pub fn horizon_rad(distance: f64) -> f64 {
    (1.0 / distance).acos()
}

/// Share of a cosⁿ emission that passes through a rim: a regular polygon of `corners` corners, centred on
/// the axis, its corners at emission angle `rim_rad`.
///
/// Mean over |φ| ≤ π/N of 1 − cosⁿ⁺¹θ(φ), tan θ(φ) = tan θ_rim cos(π/N)/cos φ. Source: derived,
/// PHYSICS.md eq. 39.
pub fn caught_inside_rim(exponent: f64, rim_rad: f64, corners: u32) -> f64 {
    let half = PI / f64::from(corners);
    let share = |phi: f64| {
        let tan = rim_rad.tan() * half.cos() / phi.cos();
        -(-0.5 * (exponent + 1.0) * (tan * tan).ln_1p()).exp_m1()
    };
    integral(0.0, half, 1, share) / half
}
