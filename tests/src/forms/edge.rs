//! Film beside the straight edge of a sheet (PHYSICS.md section 15).
//!
//! Sheet on x < 0 from `lift` to `lift + sheet` over a plane at z = 0; emission by the cosine law, evenly over a disc or
//! ring parallel to the plane at `height` over it. All lengths in one unit; flux per unit of emission.

use crate::quadrature::integral;
use std::f64::consts::{FRAC_PI_2, PI};

/// A sheet and how far the source is.
#[derive(Debug, Clone, Copy)]
pub struct Edge {
    /// Source over the plane.
    pub height: f64,
    /// Sheet over the plane.
    pub lift: f64,
    /// Thickness of the sheet.
    pub sheet: f64,
}

impl Edge {
    /// Least x of the source that a point sees past the edge.
    ///
    /// A line from (x, 0) to (X, height) must pass the edge at x = 0 above its top, where it leans over the sheet, or
    /// below its bottom … never: for x < 0 it must be out from under the bottom edge, X ≥ −x (height − lift)/lift;
    /// for x > 0 clear of the top edge, X ≥ −x (height − lift − sheet)/(lift + sheet).
    pub fn sees_from(&self, x: f64) -> f64 {
        let level = if x < 0.0 {
            self.lift
        } else {
            self.lift + self.sheet
        };
        if level <= 0.0 {
            return if x < 0.0 {
                f64::INFINITY
            } else {
                f64::NEG_INFINITY
            };
        }
        -x * (self.height - level) / level
    }

    /// Under an even disc of a radius whose middle stands over (u, v); `open`: without the sheet.
    ///
    /// H²/(π²a²) ∫ dX [A(y)] over the chord, A(y) = y/(2q²(q² + y²)) + atan(y/q)/(2q³), q² = (X − x)² + H², which is
    /// ∫ dy/(q² + y²)².
    pub fn under_disc(&self, x: f64, radius: f64, [u, v]: [f64; 2], from: f64) -> f64 {
        let h = self.height;
        let low = ((from - u) / radius).clamp(-1.0, 1.0).asin();
        let strip = |phi: f64| {
            let (sine, cosine) = phi.sin_cos();
            let q = ((u + radius * sine - x).powi(2) + h * h).sqrt();
            let to =
                |y: f64| y / (2.0 * q * q * (q * q + y * y)) + (y / q).atan() / (2.0 * q.powi(3));
            (to(v + radius * cosine) - to(v - radius * cosine)) * radius * cosine
        };
        h * h / (PI * PI * radius * radius) * integral(low, FRAC_PI_2, 8, strip)
    }

    /// Under an even disc at the corner of two such sheets, which leave the quarter x > 0, y > 0 open; without thickness.
    ///
    /// The same chords, cut off below by what the second sheet hides.
    pub fn under_disc_at_corner(&self, [x, y]: [f64; 2], radius: f64) -> f64 {
        let [from, low] = [x, y].map(|at| self.sees_from(at));
        self.quarter([x, y], radius, [from, low])
    }

    /// The same where one sheet covers the quarter x < 0, y < 0 alone: what it hides is seen from the turned corner.
    pub fn under_disc_at_outer_corner(&self, [x, y]: [f64; 2], radius: f64) -> f64 {
        let hidden = [-x, -y].map(|at| self.sees_from(at));
        let open = self.under_disc(x, radius, [0.0; 2], OPEN);
        open - self.quarter([-x, -y], radius, hidden)
    }

    fn quarter(&self, [x, y]: [f64; 2], radius: f64, [from, low]: [f64; 2]) -> f64 {
        let h = self.height;
        let begin = (from / radius).clamp(-1.0, 1.0).asin();
        let strip = |phi: f64| {
            let (sine, cosine) = phi.sin_cos();
            let q = ((radius * sine - x).powi(2) + h * h).sqrt();
            let to =
                |y: f64| y / (2.0 * q * q * (q * q + y * y)) + (y / q).atan() / (2.0 * q.powi(3));
            let chord = radius * cosine;
            let bottom = low.clamp(-chord, chord);
            (to(chord - y) - to(bottom - y)) * radius * cosine
        };
        h * h / (PI * PI * radius * radius) * integral(begin, FRAC_PI_2, 64, strip)
    }

    /// Under an even ring between two radii.
    pub fn under_ring(&self, x: f64, [inner, outer]: [f64; 2], from: f64) -> f64 {
        let disc = |radius: f64| match radius {
            r if r > 0.0 => r * r * self.under_disc(x, r, [0.0, 0.0], from),
            _ => 0.0,
        };
        (disc(outer) - disc(inner)) / (outer * outer - inner * inner)
    }

    /// Under a ring without width: the mean of H²/(π r⁴) over the arc that is seen.
    pub fn under_thin_ring(&self, x: f64, radius: f64, from: f64) -> f64 {
        let h = self.height;
        let half = (from / radius).clamp(-1.0, 1.0).acos();
        let at = |phi: f64| {
            let r2 = h * h + x * x + radius * radius - 2.0 * x * radius * phi.cos();
            h * h / (PI * r2 * r2)
        };
        integral(0.0, half, 8, at) / PI
    }
}

/// Everything is seen.
pub const OPEN: f64 = f64::NEG_INFINITY;
