//! Erosion grooves: emission per area that depends on the radius alone.

use super::{EmissionError, GrooveTable, TableKind, check_rows, invert};
use std::f64::consts::TAU;

impl GrooveTable {
    /// Normalises a table of weight per area against radius, linear between rows.
    ///
    /// g(r) = w(r) / ∫ w 2π r dr, the integral in closed form piece by piece.
    ///
    /// - `rows`: (radius m, weight per area in any unit), radii increasing from 0 or more
    ///
    /// Source: PHYSICS.md eq. 8. Neglects: the depth of the groove; atoms leave the flat face.
    ///
    /// # Errors
    ///
    /// If there are fewer than two rows, radii are negative or do not increase, a value is not finite,
    /// a weight is negative, or nothing would leave.
    pub fn new(rows: &[(f64, f64)]) -> Result<Self, EmissionError> {
        let table = TableKind::Groove;
        check_rows(table, rows)?;
        if rows[0].0 < 0.0 {
            return Err(EmissionError::NegativeRadius {
                row: 1,
                radius_m: rows[0].0,
            });
        }
        let radii_m: Vec<f64> = rows.iter().map(|row| row.0).collect();
        let mut cumulative = vec![0.0];
        let mut total = 0.0;
        for pair in rows.windows(2) {
            let width = pair[1].0 - pair[0].0;
            let slope = (pair[1].1 - pair[0].1) / width;
            total += TAU * piece_integral(pair[0].0, [pair[0].1, slope], width);
            cumulative.push(total);
        }
        if !(total > 0.0 && total.is_finite()) {
            return Err(EmissionError::NothingLeaves { table });
        }
        cumulative.iter_mut().for_each(|share| *share /= total);
        let weights = rows.iter().map(|row| row.1 / total).collect();
        Ok(Self {
            radii_m,
            weights,
            cumulative,
        })
    }

    /// Emission density at a radius, per m²; 0 outside the table.
    pub fn density_per_m2(&self, radius_m: f64) -> f64 {
        let after = self.radii_m.partition_point(|&row| row <= radius_m);
        let last = self.radii_m.len() - 1;
        match after.checked_sub(1) {
            Some(piece) if piece < last => {
                let [start, slope] = self.line(piece);
                start + slope * (radius_m - self.radii_m[piece])
            }
            Some(_) if radius_m <= self.radii_m[last] => self.weights[last],
            _ => 0.0,
        }
    }

    /// Radii between which atoms leave, m: rows of weight 0 at either end are left out.
    pub fn emitting_radii_m(&self) -> [f64; 2] {
        let last = self.radii_m.len() - 1;
        let first = self
            .weights
            .iter()
            .position(|&weight| weight > 0.0)
            .unwrap_or(0);
        let end = self
            .weights
            .iter()
            .rposition(|&weight| weight > 0.0)
            .unwrap_or(last);
        [
            self.radii_m[first.saturating_sub(1)],
            self.radii_m[(end + 1).min(last)],
        ]
    }

    /// The radius inside which a share `u` of the atoms leaves, m.
    pub(super) fn radius_m(&self, u: f64) -> f64 {
        let piece = (self.cumulative.partition_point(|&share| share <= u).max(1) - 1)
            .min(self.radii_m.len() - 2);
        let from = self.radii_m[piece];
        let width = self.radii_m[piece + 1] - from;
        let line = self.line(piece);
        let target = (u - self.cumulative[piece]) / TAU;
        let density = |x: f64| (line[0] + line[1] * x) * (from + x);
        from + invert(width, target, |x| piece_integral(from, line, x), density)
    }

    /// Value at the start and slope of the line between two rows.
    fn line(&self, piece: usize) -> [f64; 2] {
        let rise = self.weights[piece + 1] - self.weights[piece];
        let run = self.radii_m[piece + 1] - self.radii_m[piece];
        [self.weights[piece], rise / run]
    }
}

/// ∫₀ˣ (a + b t)(r + t) dt = x [a r + x (a + b r)/2 + b x²/3].
fn piece_integral(from: f64, [a, b]: [f64; 2], x: f64) -> f64 {
    x * (a * from + x * (0.5 * (a + b * from) + b * x / 3.0))
}
