//! Points that are one: corners of triangles that lie nearly in the same place.
//!
//! In: places. Out: numbers of points.

use glam::DVec3;
use rustc_hash::FxHashMap as HashMap;

/// Points that lie nearly where another lies are that one.
pub(super) struct Weld {
    same_m: f64,
    /// A point in each cell that has one.
    cells: HashMap<[i64; 3], u32>,
    /// By their very bits, places that are a point which lies beside them: they stay that, whatever comes later.
    beside: HashMap<[u64; 3], u32>,
}

impl Weld {
    pub fn of(same_m: f64) -> Self {
        Self {
            same_m: same_m.max(f64::MIN_POSITIVE),
            cells: HashMap::default(),
            beside: HashMap::default(),
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "a coordinate over a ten-millionth of the extent fits; beyond it casts saturate"
    )]
    fn cell(&self, at: DVec3, off: f64) -> [i64; 3] {
        (at / self.same_m + off)
            .to_array()
            .map(|x| x.round() as i64)
    }

    /// The point within a quarter of the cell of a place.
    pub fn find(&self, at: DVec3, points: &[DVec3]) -> Option<u32> {
        let own = self.cell(at, 0.0);
        let found = self.cells.get(&own).copied();
        if found.is_some_and(|point| points[point as usize] == at) {
            return found;
        }
        let (low, high) = (self.cell(at, -0.25), self.cell(at, 0.25));
        (0..8_u32).find_map(|corner| {
            let high_of = |axis: usize| corner >> axis & 1 != 0;
            // along an axis on which both are one cell it is looked at once
            if (0..3).any(|axis| high_of(axis) && low[axis] == high[axis]) {
                return None;
            }
            let cell = std::array::from_fn(|axis| if high_of(axis) { high } else { low }[axis]);
            if cell == own {
                return found;
            }
            self.cells.get(&cell).copied()
        })
    }

    /// The point that a place is, a new one where none lies near.
    pub fn number(&mut self, at: DVec3, points: &mut Vec<DVec3>) -> u32 {
        let bits = at.to_array().map(f64::to_bits);
        if let Some(&point) = self.beside.get(&bits) {
            return point;
        }
        if let Some(point) = self.find(at, points) {
            if points[point as usize] != at {
                self.beside.insert(bits, point);
            }
            return point;
        }
        points.push(at);
        let number = u32::try_from(points.len() - 1).unwrap_or(u32::MAX);
        self.cells.insert(self.cell(at, 0.0), number);
        number
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_stays_the_point_that_it_was_made() {
        // cells of 10 nm; the second place lies in the cell beside the first, the third in the second's
        let [p, a, q] = [70.000_572_20, 70.000_564_58, 70.000_556_95].map(|x| DVec3::X * x * 1e-3);
        let (mut weld, mut points) = (Weld::of(1e-8), Vec::new());
        let numbers = [p, a, q, a].map(|at| weld.number(at, &mut points));
        assert_eq!(numbers, [0, 0, 1, 0]);
    }

    #[test]
    fn places_are_one_point_up_to_a_quarter_of_a_cell() {
        let (mut weld, mut points) = (Weld::of(1.0), Vec::new());
        let at = DVec3::new(3.0, -2.0, 7.0);
        let mut number = |at| weld.number(at, &mut points);
        assert_eq!(number(at), 0);
        // beyond the cell's half and a quarter more it is another
        for (off, expected) in [(0.7, 0), (-0.7, 0), (0.8, 1), (-0.8, 2)] {
            assert_eq!(number(at + DVec3::Y * off), expected, "{off}");
        }
    }
}
