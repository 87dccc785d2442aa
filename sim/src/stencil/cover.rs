//! What a sheet covers: proofs that a disc in the plane of the artwork lies wholly on the sheet, or wholly off it.
//!
//! In: the area of a sheet. Out: [`Cover`], asked disc by disc. Its outlines lie in a grid, so that a question looks at
//! few of them.

use super::outline::Outlines;
use glam::DVec2;

/// Cells of the grid along the longer side of the area.
const CELLS: f64 = 256.0;

/// The area of a sheet, ready for questions.
#[derive(Debug, Clone)]
pub(crate) struct Cover {
    low_m: DVec2,
    cell_m: f64,
    /// Cells along x and y.
    count: [usize; 2],
    /// Per cell, row by row: the sides that may touch it.
    cells: Vec<Vec<u32>>,
    /// Per row of cells: the sides that reach into it.
    rows: Vec<Vec<u32>>,
    sides_m: Vec<[DVec2; 2]>,
    /// Middle and half the length of every side.
    balls_m: Vec<(DVec2, f64)>,
    /// Per cell: whether its [`Cover::mark_m`] is sheet; none where that lies on an outline.
    marks: Vec<Option<bool>>,
}

/// Nearer than this to an outline a point is not told to be on either side, m: far below a nanometre.
const ON_M: f64 = 1e-13;

/// What of a disc is sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Covered {
    /// All of it.
    Wholly,
    /// Nothing.
    Not,
    /// An outline crosses it, or may.
    Partly,
}

impl Cover {
    /// Sorts the outlines of a sheet into a grid.
    pub fn of(area: &Outlines) -> Self {
        let [low_m, high_m] = area.bounds_m().unwrap_or_default();
        let extent_m = (high_m - low_m).max_element();
        let cell_m = (extent_m / CELLS).max(f64::MIN_POSITIVE);
        let mut cover = Self {
            low_m,
            cell_m,
            count: [high_m.x - low_m.x, high_m.y - low_m.y].map(|x| floor(x / cell_m) + 1),
            cells: Vec::new(),
            rows: Vec::new(),
            sides_m: area.sides_m().collect(),
            balls_m: area
                .sides_m()
                .map(|[a, b]| (0.5 * (a + b), 0.5 * a.distance(b)))
                .collect(),
            marks: Vec::new(),
        };
        let [across, up] = cover.count;
        cover.cells.resize(across * up, Vec::new());
        cover.rows.resize(up, Vec::new());
        for (number, [a, b]) in (0..).zip(cover.sides_m.clone()) {
            let [xs, ys] = cover.range(a.min(b), a.max(b));
            for y in ys {
                cover.rows[y].push(number);
                for x in xs.clone() {
                    cover.cells[y * across + x].push(number);
                }
            }
        }
        cover.marks = (0..across * up)
            .map(|cell| {
                let mark_m = cover.mark_m(cell);
                let mut sides = cover.cells[cell].iter();
                let clear =
                    sides.all(|s| squared_m2(mark_m, cover.sides_m[*s as usize]) > ON_M * ON_M);
                clear.then(|| cover.holds(mark_m))
            })
            .collect();
        cover
    }

    /// A point inside a cell, on no line that a drawing is likely to have.
    fn mark_m(&self, cell: usize) -> DVec2 {
        let at = [cell % self.count[0], cell / self.count[0]].map(|k| k as f64);
        self.low_m + (DVec2::from_array(at) + DVec2::new(0.513_707, 0.486_159)) * self.cell_m
    }

    /// Columns and rows of the grid that a box reaches into.
    fn range(&self, low_m: DVec2, high_m: DVec2) -> [std::ops::Range<usize>; 2] {
        let at = |x: f64, axis: usize| floor((x - self.low_m[axis]) / self.cell_m);
        [0, 1].map(|axis| {
            let last = self.count[axis];
            let from = at(low_m[axis], axis).min(last);
            from..(at(high_m[axis], axis) + 1).min(last)
        })
    }

    /// What of a disc is sheet.
    pub fn of_disc(&self, middle_m: DVec2, radius_m: f64) -> Covered {
        let reach = DVec2::splat(radius_m);
        // one cell more on either side, against rounding at their borders
        let wide = reach + DVec2::splat(0.01 * self.cell_m);
        let [xs, ys] = self.range(middle_m - wide, middle_m + wide);
        for y in ys {
            for cell in &self.cells[y * self.count[0]..][..self.count[0]][xs.clone()] {
                let near = |side: &u32| {
                    let (at, half) = self.balls_m[*side as usize];
                    at.distance_squared(middle_m) <= (radius_m + half).powi(2)
                        && squared_m2(middle_m, self.sides_m[*side as usize]) <= radius_m * radius_m
                };
                if cell.iter().any(near) {
                    return Covered::Partly;
                }
            }
        }
        if self.is_sheet(middle_m) {
            Covered::Wholly
        } else {
            Covered::Not
        }
    }

    /// Whether a point that lies on no outline is sheet: outlines between it and the mark of its cell, counted.
    fn is_sheet(&self, p: DVec2) -> bool {
        let [x, y] = [0, 1].map(|axis| (p[axis] - self.low_m[axis]) / self.cell_m);
        if x < 0.0 || y < 0.0 || floor(x) >= self.count[0] || floor(y) >= self.count[1] {
            return false;
        }
        let cell = floor(y) * self.count[0] + floor(x);
        let Some(marked) = self.marks[cell] else {
            return self.holds(p);
        };
        let mark_m = self.mark_m(cell);
        let parts = |[a, b]: [DVec2; 2], [p, q]: [DVec2; 2]| {
            ((b - a).perp_dot(p - a) > 0.0) != ((b - a).perp_dot(q - a) > 0.0)
        };
        let crossed = self.cells[cell].iter().filter(|side| {
            let side = self.sides_m[**side as usize];
            parts(side, [mark_m, p]) && parts([mark_m, p], side)
        });
        marked != (crossed.count() % 2 == 1)
    }

    /// Whether a point is sheet: outlines to the right of it, counted.
    fn holds(&self, p: DVec2) -> bool {
        let row = (p.y - self.low_m.y) / self.cell_m;
        if row < 0.0 {
            return false;
        }
        let sides = self.rows.get(floor(row)).into_iter().flatten();
        let crossed = sides.filter(|side| {
            let [a, b] = self.sides_m[**side as usize];
            (a.y > p.y) != (b.y > p.y) && a.x + (p.y - a.y) * (b.x - a.x) / (b.y - a.y) > p.x
        });
        crossed.count() % 2 == 1
    }
}

/// Square of the distance of a point from a side, m².
fn squared_m2(p: DVec2, [a, b]: [DVec2; 2]) -> f64 {
    let along = b - a;
    let share = (p - a).dot(along) / along.length_squared().max(f64::MIN_POSITIVE);
    p.distance_squared(a + along * share.clamp(0.0, 1.0))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "cut off below 0; cells are few"
)]
fn floor(x: f64) -> usize {
    x.max(0.0) as usize
}

#[cfg(test)]
mod tests {
    use super::super::{Opens, read_artwork_bytes, sheet_area};
    use super::*;

    /// A sheet of 30 mm with a round hole of 3 mm radius at (4, 2) mm and a square one about (-6, -6) mm.
    fn sheet() -> Cover {
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="-10 -10 20 20">
            <circle cx="4" cy="-2" r="3"/><rect x="-8" y="4" width="4" height="4"/></svg>"#;
        let artwork = read_artwork_bytes("a.svg", svg.as_bytes(), None).unwrap();
        let ground = [DVec2::splat(-0.015), DVec2::splat(0.015)];
        Cover::of(&sheet_area(&artwork, ground, Opens::Shapes).unwrap())
    }

    #[test]
    fn discs_are_covered_as_their_distance_from_a_circle_a_square_and_the_rim_says() {
        let cover = sheet();
        let mut seen = [0; 3];
        for k in 0..4000_u32 {
            // points of a lattice that hits no outline exactly
            let [u, v] = [0.618_034, 0.754_878].map(|step| (f64::from(k) * step).fract());
            let p = DVec2::new(u - 0.5, v - 0.5) * 0.034;
            let round = p.distance(DVec2::new(4e-3, 2e-3)) - 3e-3;
            let outside = |low: DVec2, high: DVec2| {
                let away = (low - p).max(p - high);
                away.max(DVec2::ZERO).length() + away.max_element().min(0.0)
            };
            let square = outside(DVec2::splat(-8e-3), DVec2::splat(-4e-3));
            let rim = -outside(DVec2::splat(-0.015), DVec2::splat(0.015));
            // above 0 on the sheet
            let off = round.min(square).min(rim);
            let radius = [1e-4, 1e-3][k as usize % 2];
            let wanted = match off {
                off if off > radius => Covered::Wholly,
                off if off < -radius => Covered::Not,
                _ => Covered::Partly,
            };
            if (off.abs() - radius).abs() > 2e-6 {
                assert_eq!(cover.of_disc(p, radius), wanted, "{p} {radius} {off}");
                seen[wanted as usize] += 1;
            }
        }
        assert!(seen.iter().all(|count| *count > 300), "{seen:?}");
    }
}
