//! A source so small that it is a point with a normal, emitting cosⁿ.

use glam::DVec3;
use std::f64::consts::TAU;

/// A small cosⁿ source.
#[derive(Debug, Clone, Copy)]
pub struct SmallSource {
    /// Position.
    pub at: DVec3,
    /// Unit normal.
    pub facing: DVec3,
    /// n.
    pub exponent: f64,
}

impl SmallSource {
    /// Flux on a surface element: (n + 1)/2π · cosⁿθ · cos β / r², per unit emission.
    pub fn flux(&self, point: DVec3, normal: DVec3) -> f64 {
        let way = point - self.at;
        let distance = way.length();
        let leaving = way.dot(self.facing) / distance;
        let landing = -way.dot(normal) / distance;
        if leaving <= 0.0 || landing <= 0.0 {
            return 0.0;
        }
        (self.exponent + 1.0) / TAU * leaving.powf(self.exponent) * landing / (distance * distance)
    }
}

/// Flux on a parallel plate: (n + 1)/(2π h²) · (1 + (x/h)²)^−(n+3)/2.
///
/// Source: Holland and Steckelmacher (1952), from memory and derived (PHYSICS.md eq. 33).
pub fn flux_on_plate(exponent: f64, height: f64, x: f64) -> f64 {
    (exponent + 1.0) / (TAU * height * height) * relative_on_plate(exponent, x / height)
}

/// Thickness over that on the axis: (1 + (x/h)²)^−(n+3)/2.
pub fn relative_on_plate(exponent: f64, x_over_h: f64) -> f64 {
    (1.0 + x_over_h * x_over_h).powf(-0.5 * (exponent + 3.0))
}

/// Share of the emission that lands within x of the axis: 1 − (1 + (x/h)²)^−(n+1)/2.
pub fn caught_fraction(exponent: f64, x_over_h: f64) -> f64 {
    -(-0.5 * (exponent + 1.0) * (x_over_h * x_over_h).ln_1p()).exp_m1()
}

/// Distance over height at which the thickness has dropped to a share: √(share^(−2/(n+3)) − 1).
pub fn drop_radius(exponent: f64, share: f64) -> f64 {
    (share.powf(-2.0 / (exponent + 3.0)) - 1.0).sqrt()
}
