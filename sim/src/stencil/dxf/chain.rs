//! Loose lines and arcs joined end to end.
//!
//! In: pieces of lines in metres. Out: closed contours, or the first chain that does not close, with its end.

use super::super::error::{ArtworkPlace, ArtworkProblem, Fault};
use glam::DVec2;
use std::collections::BTreeMap;

/// Ends nearer than this are taken for one, m: below what a blade or a laser can follow.
const JOIN_M: f64 = 10e-6;

/// Pieces by the cell of the plane in which they end.
#[derive(Debug, Default)]
pub(super) struct Chains {
    closed: Vec<Vec<DVec2>>,
    open: Vec<Vec<DVec2>>,
    widest_m: f64,
    joined: usize,
}

impl Chains {
    /// Adds a piece.
    pub fn add(&mut self, corners: Vec<DVec2>, is_closed: bool) {
        let (Some(&first), Some(&last)) = (corners.first(), corners.last()) else {
            return;
        };
        if is_closed || corners.len() > 2 && first.distance(last) <= JOIN_M {
            self.closed.push(corners);
        } else if first.distance(last) > 0.0 {
            self.open.push(corners);
        }
    }

    /// All contours, and what was mended.
    pub fn closed(mut self) -> Result<(Vec<Vec<DVec2>>, Vec<String>), Fault> {
        let mut ends: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
        for (piece, corners) in self.open.iter().enumerate() {
            for end in [corners.first(), corners.last()].into_iter().flatten() {
                ends.entry(cell(*end)).or_default().push(piece);
            }
        }
        let mut used = vec![false; self.open.len()];
        for start in 0..self.open.len() {
            if std::mem::replace(&mut used[start], true) {
                continue;
            }
            let mut chain = self.open[start].clone();
            while let (Some(&first), Some(&here)) = (chain.first(), chain.last()) {
                if chain.len() > 2 && first.distance(here) <= JOIN_M {
                    self.widest_m = self.widest_m.max(first.distance(here));
                    self.closed.push(chain);
                    break;
                }
                let Some((next, is_turned)) = self.next(here, &ends, &used) else {
                    return Err(Fault {
                        place: ArtworkPlace::Point((here * 1e3).to_array()),
                        problem: ArtworkProblem::Open {
                            gap_mm: first.distance(here) * 1e3,
                        },
                    });
                };
                used[next] = true;
                self.joined += 1;
                let piece = &self.open[next];
                let gap_m = if is_turned {
                    piece.last()
                } else {
                    piece.first()
                }
                .map_or(0.0, |end| end.distance(here));
                self.widest_m = self.widest_m.max(gap_m);
                if is_turned {
                    chain.extend(piece.iter().rev().skip(1));
                } else {
                    chain.extend(piece.iter().skip(1));
                }
            }
        }
        let mut findings = Vec::new();
        if self.widest_m > 1e-9 {
            findings.push(format!(
                "ends of lines up to {:.2} um apart were joined",
                self.widest_m * 1e6
            ));
        }
        Ok((self.closed, findings))
    }

    /// The nearest unused piece that ends here, and whether it runs the other way.
    fn next(
        &self,
        here: DVec2,
        ends: &BTreeMap<(i64, i64), Vec<usize>>,
        used: &[bool],
    ) -> Option<(usize, bool)> {
        let (x, y) = cell(here);
        let mut best: Option<(f64, usize, bool)> = None;
        for near in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (x + dx, y + dy))) {
            for &piece in ends.get(&near).into_iter().flatten().filter(|&&p| !used[p]) {
                let corners = &self.open[piece];
                for (end, is_turned) in [(corners.first(), false), (corners.last(), true)] {
                    let apart = end.map_or(f64::INFINITY, |end| end.distance(here));
                    if apart <= JOIN_M && best.is_none_or(|(known, ..)| apart < known) {
                        best = Some((apart, piece, is_turned));
                    }
                }
            }
        }
        best.map(|(_, piece, is_turned)| (piece, is_turned))
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a float that is too large becomes the largest number, and the grid refuses it later"
)]
fn cell(at: DVec2) -> (i64, i64) {
    let cell = |x: f64| ((x / JOIN_M).floor() as i64).clamp(i64::MIN / 4, i64::MAX / 4);
    (cell(at.x), cell(at.y))
}
