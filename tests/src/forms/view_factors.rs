//! Configuration factors: the share of what a Lambert emitter sends out that another surface gets, or,
//! seen from a surface element, the share of its sky that the emitter fills, weighted by cosine.
//!
//! Source: J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors (1982), formulas
//! from memory, each held against a tabulated value that was integrated without it.

use glam::DVec3;
use std::f64::consts::{FRAC_1_PI, PI, TAU};

/// Element to a parallel disc of radius `r` at height `h`, offset `a` from its axis:
/// ½ [1 − (h² + a² − r²)/√((h² + a² + r²)² − 4a²r²)].
pub fn element_to_parallel_disc(r: f64, h: f64, a: f64) -> f64 {
    let sum = h * h + a * a + r * r;
    0.5 * (1.0 - (sum - 2.0 * r * r) / (sum * sum - 4.0 * a * a * r * r).sqrt())
}

/// Element in a plane at right angles to the disc's, at height `h` and offset `l`, facing the axis;
/// the disc wholly in front: (h/2l) [(h² + l² + r²)/√((h² + l² + r²)² − 4l²r²) − 1].
pub fn element_at_right_angles_to_disc(r: f64, h: f64, l: f64) -> f64 {
    let sum = h * h + l * l + r * r;
    0.5 * h / l * (sum / (sum * sum - 4.0 * l * l * r * r).sqrt() - 1.0)
}

/// Tilted element off the axis of a disc that is wholly in front of it: n_z F_parallel + n_x F_across.
///
/// - `normal`: unit normal of the element; the disc lies along +z at `h`, its axis towards +x at `a`
pub fn tilted_element_to_disc(r: f64, h: f64, a: f64, normal: DVec3) -> f64 {
    normal.z * element_to_parallel_disc(r, h, a)
        + normal.x * element_at_right_angles_to_disc(r, h, a)
}

/// Element to a cap of half-angle `half_rad` around a direction `tilt_rad` from its normal (a disc on
/// axis or a sphere), cut by the element's horizon where it reaches below.
pub fn element_to_cap(half_rad: f64, tilt_rad: f64) -> f64 {
    let (sin, cos) = half_rad.sin_cos();
    if tilt_rad + half_rad <= 0.5 * PI {
        return tilt_rad.cos() * sin * sin;
    }
    if tilt_rad - half_rad >= 0.5 * PI {
        return 0.0;
    }
    let s = (sin * sin - tilt_rad.cos().powi(2)).max(0.0).sqrt();
    let edge = (-cos / (tilt_rad.tan() * sin)).clamp(-1.0, 1.0).acos();
    FRAC_1_PI * (tilt_rad.cos() * sin * sin * edge - cos * s + (s / tilt_rad.sin()).asin())
}

/// Disc to a coaxial parallel disc: ½ [S − √(S² − 4(r₂/r₁)²)], S = 1 + (1 + R₂²)/R₁², Rᵢ = rᵢ/h.
pub fn disc_to_disc(r1: f64, r2: f64, h: f64) -> f64 {
    let s = 1.0 + (h * h + r2 * r2) / (r1 * r1);
    0.5 * (s - (s * s - 4.0 * (r2 / r1).powi(2)).sqrt())
}

/// Disc to a coaxial sphere in front of it: 2 (r_s/r_d)² [1 − 1/√(1 + (r_d/h)²)].
pub fn disc_to_sphere(disc: f64, sphere: f64, h: f64) -> f64 {
    2.0 * (sphere / disc).powi(2) * (1.0 - 1.0 / (1.0 + (disc / h).powi(2)).sqrt())
}

/// Inner wall of a tube of radius 1 and length L to itself: 1 + H − √(1 + H²), H = L/2.
pub fn tube_wall_to_itself(length_over_radius: f64) -> f64 {
    let h = 0.5 * length_over_radius;
    1.0 + h - (1.0 + h * h).sqrt()
}

/// Ring of a tube's wall to the disc at its end, `x` radii away: (X² + ½)/√(X² + 1) − X, X = x/2.
pub fn wall_ring_to_end(x_over_radius: f64) -> f64 {
    let x = 0.5 * x_over_radius;
    (x * x + 0.5) / (x * x + 1.0).sqrt() - x
}

/// Ring of a tube's wall to a ring `x` radii away, per length over radius:
/// ½ [1 − (2X³ + 3X)/(2(1 + X²)^3/2)], X = x/2.
pub fn wall_ring_to_ring(x_over_radius: f64) -> f64 {
    let x = 0.5 * x_over_radius;
    0.5 * (1.0 - (2.0 * x.powi(3) + 3.0 * x) / (2.0 * (1.0 + x * x).powf(1.5)))
}

/// Element under the corner of a parallel rectangle a × b at height c.
pub fn element_under_corner(a: f64, b: f64, c: f64) -> f64 {
    let [x, y] = [a / c, b / c];
    let [p, q] = [(1.0 + x * x).sqrt(), (1.0 + y * y).sqrt()];
    (x / p * (y / p).atan() + y / q * (x / q).atan()) / TAU
}

/// Identical parallel rectangles, X = a/c and Y = b/c.
///
/// Source: D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952), from memory.
pub fn opposed_rectangles(x: f64, y: f64) -> f64 {
    let [p, q] = [(1.0 + x * x).sqrt(), (1.0 + y * y).sqrt()];
    let log = (p * p * q * q / (1.0 + x * x + y * y)).sqrt().ln();
    let arcs = x * q * (x / q).atan() + y * p * (y / p).atan() - x * x.atan() - y * y.atan();
    2.0 / (PI * x * y) * (log + arcs)
}

/// Rectangles at right angles with a common edge of length 1: from the one of depth `w` to that of
/// height `h`.
///
/// Source: D. C. Hamilton, W. R. Morgan, NACA TN 2836 (1952), from memory.
pub fn rectangles_with_common_edge(h: f64, w: f64) -> f64 {
    let [hh, ww] = [h * h, w * w];
    let both = hh + ww;
    let arcs =
        w * (1.0 / w).atan() + h * (1.0 / h).atan() - both.sqrt() * (1.0 / both.sqrt()).atan();
    let first = ((1.0 + ww) * (1.0 + hh) / (1.0 + both)).ln();
    let second = ww * (ww * (1.0 + both) / ((1.0 + ww) * both)).ln();
    let third = hh * (hh * (1.0 + both) / ((1.0 + hh) * both)).ln();
    (arcs + 0.25 * (first + second + third)) / (PI * w)
}

/// Infinite opposed strips of width w at gap 1: (√(1 + w²) − 1)/w.
pub fn opposed_strips(w: f64) -> f64 {
    ((1.0 + w * w).sqrt() - 1.0) / w
}

/// Element to a flat polygon wholly in front of it: (1/2π) Σ γᵢ (n · eᵢ), γᵢ the angle that the side
/// subtends and eᵢ the unit normal of the triangle from the element to that side.
///
/// - `corners`: relative to the element, in an order that is left-handed about `normal` as seen from it
///
/// Source: J. H. Lambert, Photometria (1760), from memory; held against the corner formula below.
pub fn element_to_polygon(normal: DVec3, corners: &[DVec3]) -> f64 {
    let sides = corners.iter().zip(corners.iter().cycle().skip(1));
    let sum: f64 = sides
        .map(|(&from, &to)| {
            let across = from.cross(to);
            let angle = across.length().atan2(from.dot(to));
            angle * normal.dot(across) / across.length()
        })
        .sum();
    (sum / TAU).abs()
}
