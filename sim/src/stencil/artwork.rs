//! Artwork: the filled shapes of a drawing, in metres and free of crossings.
//!
//! In: an SVG or a DXF file and the plan's unit. Out: [`Artwork`], with what was mended on the way.

use super::error::{ArtworkError, ArtworkProblem, Fault};
use super::outline::{Contour, Fill, Outlines, in_metres, on_grid};
use super::{dxf, svg};
use glam::DVec2;
use std::collections::BTreeMap;
use std::path::Path;

/// Longest file that is read, bytes.
const MOST_BYTES: u64 = 64 << 20;

/// Gaps up to this are closed without a word about each, m.
pub(super) const CLOSED_M: f64 = 1e-6;

/// Contours of less area than this are left out, m²: (1 µm)².
const SPECK_M2: f64 = 1e-12;

/// A drawing as a cutter sees it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Artwork {
    /// The filled shapes; y up, origin in the middle of an SVG's page or at a DXF's origin.
    pub shapes: Outlines,
    /// Width and height of an SVG's page, m.
    pub page_m: Option<DVec2>,
    /// What was mended or left out, in words.
    pub findings: Vec<String>,
}

/// Reads an artwork file.
///
/// - `unit_m`: metres per unit of a DXF, or per px of an SVG without physical size
///
/// # Errors
/// Whatever keeps the file from being a drawing of closed shapes with a size, with its place and a remedy.
pub fn read_artwork(path: &Path, unit_m: Option<f64>) -> Result<Artwork, ArtworkError> {
    let name = path.display().to_string();
    let bytes = read_file(path).map_err(|fault| fault.in_file(&name))?;
    read_artwork_bytes(&name, &bytes, unit_m)
}

/// Reads an artwork from bytes, as [`read_artwork`] does from a file of that name.
///
/// # Errors
/// As [`read_artwork`].
pub fn read_artwork_bytes(
    name: &str,
    bytes: &[u8],
    unit_m: Option<f64>,
) -> Result<Artwork, ArtworkError> {
    let is_dxf = Path::new(name)
        .extension()
        .is_some_and(|extension| extension.eq_ignore_ascii_case("dxf"));
    let read = || {
        if let Some(unit_m) = unit_m.filter(|unit_m| !(*unit_m > 0.0 && unit_m.is_finite())) {
            return Err(ArtworkProblem::Unit { unit_m }.into());
        }
        if is_dxf {
            dxf::read(bytes, unit_m)
        } else {
            svg::read(bytes, unit_m)
        }
    };
    read().map_err(|fault: Fault| fault.in_file(name))
}

fn read_file(path: &Path) -> Result<Vec<u8>, Fault> {
    let about = std::fs::metadata(path)?;
    if !about.is_file() {
        return Err(ArtworkProblem::NotAFile.into());
    }
    if about.len() > MOST_BYTES {
        return Err(ArtworkProblem::TooLong {
            bytes: about.len(),
            most: MOST_BYTES,
        }
        .into());
    }
    Ok(std::fs::read(path)?)
}

/// Gathers contours, tells what is odd about them, and fills them.
#[derive(Debug, Default)]
pub(super) struct Collected {
    /// Contours of all elements, each element without crossings: outer ones counter-clockwise, holes clockwise.
    elements: Vec<Contour>,
    seen: BTreeMap<Vec<(i64, i64)>, usize>,
    duplicates: usize,
    specks: usize,
    crossing: Vec<DVec2>,
    pub findings: Vec<String>,
}

impl Collected {
    /// Adds the contours of one element, which are filled together by one rule.
    pub fn fill(&mut self, contours: &[Vec<DVec2>], fill: Fill) -> Result<(), Fault> {
        let mut element = Vec::new();
        for corners in contours {
            let mut contour: Contour = corners
                .iter()
                .map(|&c| on_grid(c))
                .collect::<Result<_, _>>()?;
            contour.dedup();
            while contour.len() > 1 && contour.first() == contour.last() {
                contour.pop();
            }
            let area_m2 = area_m2(&contour).abs();
            if contour.len() < 3 || area_m2 < SPECK_M2 && !crosses_itself(&contour) {
                self.specks += 1;
                continue;
            }
            let number = self.seen.entry(key(&contour)).or_insert(0);
            *number += 1;
            self.duplicates += usize::from(*number > 1);
            if *number == 1 || fill != Fill::Lines {
                element.push(contour);
            }
        }
        for contour in &element {
            let alone = Outlines::filled(std::slice::from_ref(contour), Fill::EvenOdd);
            if (alone.area_m2() - area_m2(contour).abs()).abs() > 1e-3 * alone.area_m2() + SPECK_M2
            {
                self.crossing.push(in_metres(contour[0]));
            }
        }
        let filled = Outlines::filled(&element, fill);
        self.elements.extend(filled.shapes.into_iter().flatten());
        Ok(())
    }

    /// The artwork, if there is any.
    pub fn finish(
        mut self,
        page_m: Option<DVec2>,
        instead: &'static str,
    ) -> Result<Artwork, Fault> {
        // together at once: one by one takes the square of their number
        let mut filled = Outlines::filled(&self.elements, Fill::Positive);
        let specks = filled.shapes.len();
        filled.shapes.retain(|shape| {
            shape
                .first()
                .is_some_and(|outer| area_m2(outer).abs() >= SPECK_M2)
        });
        self.specks += specks - filled.shapes.len();
        if self.specks > 0 {
            self.findings.push(format!(
                "{} contours enclose nothing (under 1 um across) and are left out",
                self.specks
            ));
        }
        if self.duplicates > 0 {
            self.findings.push(format!(
                "{} contours are drawn more than once; a double counts once, except inside one SVG path with the even-odd \
                 rule, where two make nothing: check them",
                self.duplicates
            ));
        }
        if let Some(first) = self.crossing.first() {
            self.findings.push(format!(
                "{} contours cross themselves, the first near ({:.3}, {:.3}) mm; what counts as inside follows the fill rule",
                self.crossing.len(),
                first.x * 1e3,
                first.y * 1e3
            ));
        }
        if filled.shapes.is_empty() {
            let found = if self.findings.is_empty() {
                "no path at all".to_owned()
            } else {
                format!("as {}", self.findings.join("; "))
            };
            return Err(ArtworkProblem::Empty { found, instead }.into());
        }
        Ok(Artwork {
            shapes: filled,
            page_m,
            findings: self.findings,
        })
    }
}

/// Signed area, m²; a contour that crosses itself counts what it goes round twice double.
pub(super) fn area_m2(contour: &Contour) -> f64 {
    let next = contour.iter().cycle().skip(1);
    let sides = contour.iter().zip(next);
    0.5 * sides
        .map(|(a, b)| in_metres(*a).perp_dot(in_metres(*b)))
        .sum::<f64>()
}

fn crosses_itself(contour: &Contour) -> bool {
    let alone = Outlines::filled(std::slice::from_ref(contour), Fill::EvenOdd);
    alone.area_m2() >= SPECK_M2
}

/// A contour as a key: the same from whichever corner and whichever way it is drawn.
fn key(contour: &Contour) -> Vec<(i64, i64)> {
    let points: Vec<(i64, i64)> = contour.iter().map(|p| (p.x, p.y)).collect();
    let rotated = |points: Vec<(i64, i64)>| {
        let first = (0..points.len()).min_by_key(|&i| points[i]).unwrap_or(0);
        let mut points = points;
        points.rotate_left(first);
        points
    };
    let back = rotated(points.iter().rev().copied().collect());
    rotated(points).min(back)
}
