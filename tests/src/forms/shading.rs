//! Slots and round holes under a wide-open even flux: how much reaches bottom and walls.
//!
//! Aspect = depth over width (slot) or over diameter (hole). All derived: PHYSICS.md eqs. 42 to 44.

use crate::quadrature::integral;
use std::f64::consts::FRAC_PI_2;

/// Bottom of an endless slot of width 1 at `x` from its middle, Lambert flux: ½ (sin α₁ + sin α₂),
/// α the angles up to the two edges.
pub fn slot_bottom(aspect: f64, x: f64) -> f64 {
    let sine = |reach: f64| reach / reach.hypot(aspect);
    0.5 * (sine(0.5 - x) + sine(0.5 + x))
}

/// Mean over the bottom of an endless slot: √(1 + A²) − A.
pub fn slot_bottom_mean(aspect: f64) -> f64 {
    aspect.hypot(1.0) - aspect
}

/// Wall of an endless slot of width 1 at depth `z`: ½ (1 − z/√(z² + 1)).
pub fn slot_wall(z: f64) -> f64 {
    0.5 * (1.0 - z / z.hypot(1.0))
}

/// Middle of the bottom of a round hole: 1/(1 + 4A²).
pub fn hole_bottom_centre(aspect: f64) -> f64 {
    1.0 / (1.0 + 4.0 * aspect * aspect)
}

/// Middle of a slot's bottom where the flux arrives as cosᵐ per solid angle:
/// ∫₀ᵀ cosᵐ / ∫₀^(π/2) cosᵐ, tan T = 1/(2A).
pub fn slot_bottom_centre_power(m: f64, aspect: f64) -> f64 {
    let law = |angle: f64| angle.cos().powf(m);
    let edge = (0.5 / aspect).atan();
    integral(0.0, edge, 8, law) / integral(0.0, FRAC_PI_2, 64, law)
}

/// Middle of a hole's bottom where the flux arrives as cosᵐ per solid angle: 1 − cosᵐ⁺¹T.
pub fn hole_bottom_centre_power(m: f64, aspect: f64) -> f64 {
    1.0 - (0.5 / aspect).atan().cos().powf(m + 1.0)
}
