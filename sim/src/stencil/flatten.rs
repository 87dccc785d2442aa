//! Curves cut into straight lines.
//!
//! In: lines, Bézier curves and arcs in metres. Out: corners no farther than [`FLAT_M`] from the curve.

use super::error::{ArtworkProblem, Fault};
use glam::DVec2;

/// How far a straight piece may stray from its curve, m.
pub const FLAT_M: f64 = 0.5e-6;

/// Most corners of one artwork.
pub(super) const MOST_CORNERS: usize = 2_000_000;

/// Most pieces of one curve.
const MOST_PIECES: f64 = 100_000.0;

/// Collects the corners of one contour; counts those of all.
#[derive(Debug, Default)]
pub(super) struct Pen {
    pub corners: Vec<DVec2>,
    drawn: usize,
}

impl Pen {
    /// Where the pen stands.
    pub fn here(&self) -> DVec2 {
        self.corners.last().copied().unwrap_or_default()
    }

    /// Takes what was drawn since the last time.
    pub fn lift(&mut self) -> Vec<DVec2> {
        std::mem::take(&mut self.corners)
    }

    /// A straight line.
    pub fn line(&mut self, to: DVec2) -> Result<(), Fault> {
        self.drawn += 1;
        if self.drawn > MOST_CORNERS {
            return Err(ArtworkProblem::TooMany { most: MOST_CORNERS }.into());
        }
        self.corners.push(to);
        Ok(())
    }

    /// A cubic Bézier curve; cut evenly, an arc of parameter length h strays at most h²/8 · max|B″|.
    pub fn cubic(&mut self, b: DVec2, c: DVec2, d: DVec2) -> Result<(), Fault> {
        let a = self.here();
        let bend = 6.0 * (a - 2.0 * b + c).length().max((b - 2.0 * c + d).length());
        self.curve(bend, |t| {
            let s = 1.0 - t;
            a * (s * s * s) + b * (3.0 * s * s * t) + c * (3.0 * s * t * t) + d * (t * t * t)
        })?;
        self.end_at(d)
    }

    /// A quadratic Bézier curve.
    pub fn quadratic(&mut self, b: DVec2, c: DVec2) -> Result<(), Fault> {
        let a = self.here();
        let bend = 2.0 * (a - 2.0 * b + c).length();
        self.curve(bend, |t| {
            let s = 1.0 - t;
            a * (s * s) + b * (2.0 * s * t) + c * (t * t)
        })?;
        self.end_at(c)
    }

    /// A parametrised curve from 0 to 1 whose second derivative is at most `bend`, without its start.
    pub fn curve(&mut self, bend: f64, at: impl Fn(f64) -> DVec2) -> Result<(), Fault> {
        let pieces = (bend / (8.0 * FLAT_M)).sqrt().ceil();
        if pieces.is_nan() || pieces > MOST_PIECES {
            return Err(ArtworkProblem::TooMany { most: MOST_CORNERS }.into());
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between 1 and 100 000"
        )]
        let pieces = pieces.max(1.0) as u32;
        for i in 1..=pieces {
            self.line(at(f64::from(i) / f64::from(pieces)))?;
        }
        Ok(())
    }

    /// Puts the last corner exactly where the curve ends.
    fn end_at(&mut self, end: DVec2) -> Result<(), Fault> {
        if let Some(last) = self.corners.last_mut() {
            *last = end;
        }
        Ok(())
    }
}
