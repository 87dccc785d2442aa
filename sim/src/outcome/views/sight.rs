//! Rays through a frame of the sheet, followed in bands of a few rows.
//!
//! In: a [`Stage`] and a [`Shot`]. Out: what the rays of a band met.

use super::canvas::{Frame, floor};
use super::stage::{Sample, Shot, Stage};

/// Rays per pixel along each side.
pub const FINE: usize = 2;
/// Rows of rays beyond a band that its edges look at.
const BEYOND: usize = 2;

/// What is looked at, through which frame of the canvas.
pub struct Sight<'a> {
    /// Rays side by side, and one below the other.
    pub columns: usize,
    pub rows: usize,
    pub frame: Frame,
    pub stage: &'a Stage<'a>,
    pub shot: &'a Shot,
}

impl<'a> Sight<'a> {
    /// Through a frame.
    pub fn new(frame: Frame, stage: &'a Stage<'a>, shot: &'a Shot) -> Self {
        Self {
            columns: FINE * start(frame.width),
            rows: FINE * start(frame.height),
            frame,
            stage,
            shot,
        }
    }

    /// Follows the rays of so many rows from one on, and of those below that edges look at, as far as there are.
    pub fn band<'b>(&'b self, first: usize, rows: usize, room: &'b mut Vec<Sample>) -> Grid<'b> {
        room.clear();
        for row in first..(first + rows + BEYOND).min(self.rows) {
            let along = (0..self.columns).map(|column| self.look(column, row));
            room.extend(along);
        }
        Grid {
            sight: self,
            first,
            samples: room,
        }
    }

    fn look(&self, column: usize, row: usize) -> Sample {
        self.stage.look(self.shot, spot(self.frame, column, row))
    }
}

/// What the rays of a band met.
pub struct Grid<'a> {
    sight: &'a Sight<'a>,
    /// Its first row of rays.
    first: usize,
    samples: &'a [Sample],
}

impl Grid<'_> {
    /// What the ray of a column and a row met; beyond the last, what the last met.
    pub fn at(&self, column: usize, row: usize) -> &Sample {
        let Sight { columns, rows, .. } = self.sight;
        &self.samples[(row.min(rows - 1) - self.first) * columns + column.min(columns - 1)]
    }
}

/// The spot of the sheet that the ray of a column and a row goes through.
pub fn spot(frame: Frame, column: usize, row: usize) -> (f64, f64) {
    let at = |k: usize| (k as f64 + 0.5) / FINE as f64;
    (frame.left + at(column), frame.top + at(row))
}

/// A pixel coordinate of a frame as an index.
pub fn start(coordinate: f64) -> usize {
    usize::try_from(floor(coordinate)).unwrap_or(0)
}
