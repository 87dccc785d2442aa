//! Laws of emission: density per steradian about the normal and the draw that follows it.

use super::{EmissionError, EmissionLaw, TableKind, TableLaw, check_rows, invert};
use crate::trig::sin_cos_of_turns;
use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

impl EmissionLaw {
    /// The cosine-power law.
    ///
    /// # Errors
    ///
    /// If the exponent is not finite or not above −1 (the law has no finite total then).
    pub fn cosine_power(exponent: f64) -> Result<Self, EmissionError> {
        if exponent.is_finite() && exponent > -1.0 {
            Ok(Self::CosinePower { exponent })
        } else {
            Err(EmissionError::Exponent { exponent })
        }
    }

    /// Probability density of the direction, per steradian.
    ///
    /// cosⁿ: p(θ) = (n + 1)/2π · cosⁿθ for θ < π/2 · isotropic: 1/4π · table: linear in θ.
    ///
    /// - `cos_theta`: cosine of the angle from the normal, −1 to 1
    /// - returns per steradian; 0 at and behind the face, except for the isotropic law
    ///
    /// Source: PHYSICS.md eqs. 1, 2 and 4.
    pub fn pdf_per_sr(&self, cos_theta: f64) -> f64 {
        match self {
            Self::Isotropic => 0.25 / PI,
            _ if cos_theta <= 0.0 => 0.0,
            Self::CosinePower { exponent } => (exponent + 1.0) / TAU * power(cos_theta, *exponent),
            Self::Table(table) => table.pdf_per_sr_at(cos_theta.min(1.0).acos()),
        }
    }

    /// Draws a direction in the frame of the face: z is the normal, x and y lie in the face.
    ///
    /// The first variate gives the polar angle, growing with it, the second the azimuth 2π·u₂: strata
    /// of the unit square stay strata of the sphere.
    ///
    /// - `u`: uniform variates in [0, 1)
    /// - returns a unit vector, z ≥ 0 except for the isotropic law
    ///
    /// Source: inversion of the marginal in θ, PHYSICS.md eqs. 3 and 5.
    pub fn sample(&self, u: [f64; 2]) -> DVec3 {
        let (cos_theta, sin_theta) = match self {
            Self::CosinePower { exponent } => {
                // 1 − u lies in (0, 1]; ln(1 − u) keeps sin θ exact where cos θ is nearly 1.
                let log_cos = (-u[0]).ln_1p() / (exponent + 1.0);
                (log_cos.exp(), (-(2.0 * log_cos).exp_m1()).sqrt())
            }
            Self::Table(table) => {
                let (sin, cos) = table.angle_rad(u[0]).sin_cos();
                (cos.max(0.0), sin)
            }
            Self::Isotropic => (1.0 - 2.0 * u[0], 2.0 * (u[0] * (1.0 - u[0])).sqrt()),
        };
        let (sin_phi, cos_phi) = sin_cos_of_turns(u[1]);
        DVec3::new(sin_theta * cos_phi, sin_theta * sin_phi, cos_theta)
    }
}

/// cosⁿ with the common small whole exponents spared the logarithm.
#[expect(
    clippy::float_cmp,
    reason = "picks an exactly equal, faster expression"
)]
fn power(cos_theta: f64, exponent: f64) -> f64 {
    if exponent == 1.0 {
        cos_theta
    } else if exponent == 2.0 {
        cos_theta * cos_theta
    } else {
        cos_theta.powf(exponent)
    }
}

impl TableLaw {
    /// Normalises a table of weight per solid angle against angle, linear between rows.
    ///
    /// p(θ) = w(θ) / ∫ w 2π sin θ dθ, the integral in closed form piece by piece.
    ///
    /// - `rows`: (angle rad, weight per solid angle in any unit), angles from 0 to at most π/2
    ///
    /// Source: PHYSICS.md eq. 4. Neglects: anything beyond the last row (nothing leaves there).
    ///
    /// # Errors
    ///
    /// If there are fewer than two rows, angles do not increase from 0 to at most 90°, a value is not
    /// finite, a weight is negative, or nothing would leave.
    pub fn new(rows: &[(f64, f64)]) -> Result<Self, EmissionError> {
        let table = TableKind::Lobe;
        check_rows(table, rows)?;
        if rows[0].0.abs() > 0.0 {
            return Err(EmissionError::NoAxisRow {
                angle_rad: rows[0].0,
            });
        }
        // 90° converted from degrees may lie a rounding above π/2.
        let behind = |angle_rad: f64| angle_rad > FRAC_PI_2 * (1.0 + 4.0 * f64::EPSILON);
        if let Some(index) = rows.iter().position(|row| behind(row.0)) {
            let angle_rad = rows[index].0;
            return Err(EmissionError::BehindFace {
                row: index + 1,
                angle_rad,
            });
        }
        let angles_rad: Vec<f64> = rows.iter().map(|row| row.0.min(FRAC_PI_2)).collect();
        let mut cumulative = vec![0.0];
        let mut total = 0.0;
        for (ends, weights) in angles_rad.windows(2).zip(rows.windows(2)) {
            let width = ends[1] - ends[0];
            let slope = (weights[1].1 - weights[0].1) / width;
            total += TAU * piece_integral(ends[0], [weights[0].1, slope], width);
            cumulative.push(total);
        }
        if !(total > 0.0 && total.is_finite()) {
            return Err(EmissionError::NothingLeaves { table });
        }
        cumulative.iter_mut().for_each(|share| *share /= total);
        let pdf_per_sr = rows.iter().map(|row| row.1 / total).collect();
        Ok(Self {
            angles_rad,
            pdf_per_sr,
            cumulative,
        })
    }

    /// Density per steradian at an angle from the normal, linear between rows, 0 beyond the last.
    pub fn pdf_per_sr_at(&self, angle_rad: f64) -> f64 {
        let after = self.angles_rad.partition_point(|&row| row <= angle_rad);
        let last = self.angles_rad.len() - 1;
        if after > last {
            // At or beyond the last row; 90° itself belongs to the face.
            return if angle_rad > self.angles_rad[last] {
                0.0
            } else {
                self.pdf_per_sr[last]
            };
        }
        let Some(piece) = after.checked_sub(1) else {
            return self.pdf_per_sr[0];
        };
        let [start, slope] = self.line(piece);
        start + slope * (angle_rad - self.angles_rad[piece])
    }

    /// The angle below which a share `u` of the atoms leaves, rad.
    fn angle_rad(&self, u: f64) -> f64 {
        let piece = (self.cumulative.partition_point(|&share| share <= u).max(1) - 1)
            .min(self.angles_rad.len() - 2);
        let from = self.angles_rad[piece];
        let width = self.angles_rad[piece + 1] - from;
        let line = self.line(piece);
        let target = (u - self.cumulative[piece]) / TAU;
        let density = |x: f64| (line[0] + line[1] * x) * (from + x).sin();
        from + invert(width, target, |x| piece_integral(from, line, x), density)
    }

    /// Value at the start and slope of the line between two rows.
    fn line(&self, piece: usize) -> [f64; 2] {
        let rise = self.pdf_per_sr[piece + 1] - self.pdf_per_sr[piece];
        let run = self.angles_rad[piece + 1] - self.angles_rad[piece];
        [self.pdf_per_sr[piece], rise / run]
    }
}

/// ∫₀ˣ (a + b t) sin(θ + t) dt, written so that short pieces lose no digits.
///
/// = a · 2 sin(θ + x/2) sin(x/2) + b · [cos θ (sin x − x cos x) + sin θ (x sin x − 2 sin²(x/2))]
fn piece_integral(from: f64, [a, b]: [f64; 2], x: f64) -> f64 {
    let half = (0.5 * x).sin();
    let level = 2.0 * (from + 0.5 * x).sin() * half;
    let (sin_from, cos_from) = from.sin_cos();
    let ramp = cos_from * sin_minus_x_cos(x) + sin_from * (x * x.sin() - 2.0 * half * half);
    a * level + b * ramp
}

/// sin x − x cos x; by its series where the difference would cancel.
fn sin_minus_x_cos(x: f64) -> f64 {
    if x.abs() > 0.3 {
        return x.sin() - x * x.cos();
    }
    // x³ · Σ (−1)ᵏ (2k + 2)/(2k + 3)! x²ᵏ; the first term left out is below 1e−17 at 0.3
    let q = x * x;
    let tail = 1.0 / 45_360.0 - q * (1.0 / 3_991_680.0 - q / 518_918_400.0);
    x * q * (1.0 / 3.0 - q * (1.0 / 30.0 - q * (1.0 / 840.0 - q * tail)))
}
