//! Spheres coated from a small source, inside and outside.

use std::f64::consts::PI;

/// Flux over its mean Q/(4πR²) inside a sphere, from a small cosⁿ source on its wall:
/// (n + 1)/2 · cosⁿ⁻¹θ, θ the emission angle; 1 everywhere for the cosine law.
///
/// Source: M. Knudsen (1915), from memory, and derived: PHYSICS.md eq. 26.
pub fn inside_over_mean(exponent: f64, emission_angle_rad: f64) -> f64 {
    0.5 * (exponent + 1.0) * emission_angle_rad.cos().powf(exponent - 1.0)
}

/// Flux on a unit sphere at a polar angle from its axis, from a small cosine source on the axis at
/// `distance` from the centre, facing it: (D − cos ψ)(D cos ψ − 1)/(π d⁴), d² = D² + 1 − 2D cos ψ.
///
/// Source: derived, PHYSICS.md eq. 27.
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
