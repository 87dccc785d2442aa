//! Grazing growth: how far columns lean when metal arrives aslant.

use std::f64::consts::PI;

/// Mean incidence beyond which films tend to grow dull and porous, rad.
///
/// Common practice, no source: a tendency of films thicker than [`DULL_FROM_M`].
pub const DULL_BEYOND_RAD: f64 = PI / 3.0;

/// Thickness from which that shows, m. Common practice, no source.
pub const DULL_FROM_M: f64 = 300e-9;

/// Tilt of columns by the tangent rule, tan β = tan α / 2, rad.
///
/// - `incidence_rad`: α from the surface normal, 0 to below π/2
///
/// Source: J. M. Nieuwenhuizen, H. B. Haanstra, Philips Tech. Rev. 27, 87 (1966), from memory. Too steep beyond 60°.
pub fn tangent_rule_rad(incidence_rad: f64) -> f64 {
    (0.5 * incidence_rad.tan()).atan()
}

/// Tilt of columns by geometry, β = α − asin((1 − cos α)/2), rad.
///
/// - `incidence_rad`: α from the surface normal, 0 to π/2
///
/// Source: R. N. Tait, T. Smy, M. J. Brett, Thin Solid Films 226, 196 (1993), from memory.
pub fn geometric_rule_rad(incidence_rad: f64) -> f64 {
    incidence_rad - (0.5 * (1.0 - incidence_rad.cos())).asin()
}

/// Least and greatest tilt by the two rules, rad: what a person should expect lies about there.
pub fn tilt_range_rad(incidence_rad: f64) -> [f64; 2] {
    let both = [
        tangent_rule_rad(incidence_rad),
        geometric_rule_rad(incidence_rad),
    ];
    [both[0].min(both[1]), both[0].max(both[1])]
}
