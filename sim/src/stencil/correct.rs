//! Corrected artwork: outlines moved so that the film ends where they were drawn.
//!
//! In: shapes as drawn, stations on them, and how far each is to be moved into the opening. Out: shapes to cut, what
//! vanished on the way, and the drawing as SVG.

use super::artwork::area_m2;
use super::error::Fault;
use super::outline::{Contour, Fill, Outlines, in_metres, on_grid};
use super::sheet::Opens;
use super::stations::Station;
use glam::DVec2;
use std::fmt::Write as _;

/// Corners move along the bisector of their sides at most so much farther than the sides do.
const MOST_MITRE: f64 = 2.0;

/// Sine of the angle between two sides from which on each keeps its own move up to where they meet.
const CORNER_SINE: f64 = 0.3;

/// Pieces of less area than this come of corners that moved past each other, m²: (5 µm)².
const SPECK_M2: f64 = 25e-12;

/// Moves outlines.
///
/// - `moves_m`: per station, how far its piece of edge goes into the opening, m (below 0: the opening grows)
///
/// # Errors
/// If a corner leaves what a sheet can reach.
pub(crate) fn moved(
    shapes: &Outlines,
    opens: Opens,
    stations: &[Station],
    moves_m: &[f64],
) -> Result<Outlines, super::ArtworkProblem> {
    let mut contours = Vec::new();
    let mut first = 0;
    for (number, contour) in shapes.contours().iter().enumerate() {
        let count = stations[first..]
            .iter()
            .take_while(|s| s.contour == number)
            .count();
        let range = first..first + count;
        first += count;
        let moved = contour_moved(contour, opens, &stations[range.clone()], &moves_m[range]);
        contours.push(moved.map_err(|fault| fault.problem)?);
    }
    let mut cut = Outlines::filled(&contours, Fill::Positive);
    cut.shapes.retain(|shape| {
        shape
            .first()
            .is_some_and(|outer| area_m2(outer).abs() >= SPECK_M2)
    });
    for shape in &mut cut.shapes {
        let mut outer = true;
        shape.retain(|contour| std::mem::take(&mut outer) || area_m2(contour).abs() >= SPECK_M2);
    }
    Ok(cut)
}

/// One contour: its corners and its stations, each moved along its normal; corners to where their two sides then meet,
/// as far as the stations beside them say, by distance along the contour.
fn contour_moved(
    contour: &Contour,
    opens: Opens,
    stations: &[Station],
    moves_m: &[f64],
) -> Result<Contour, Fault> {
    let corners: Vec<DVec2> = contour.iter().map(|corner| in_metres(*corner)).collect();
    let count = corners.len();
    if stations.is_empty() {
        return Ok(contour.clone());
    }
    let way = |side: usize| {
        let left = (corners[(side + 1) % count] - corners[side % count])
            .perp()
            .normalize_or_zero();
        if opens == Opens::Shapes { left } else { -left }
    };
    let mut along_m = vec![0.0];
    for i in 0..count {
        along_m.push(along_m[i] + corners[i].distance(corners[(i + 1) % count]));
    }
    let round_m = along_m[count];
    let place = |station: &Station| {
        let (side, share) = station.side;
        along_m[side] + share * (along_m[side + 1] - along_m[side])
    };
    let known: Vec<(f64, f64)> = stations
        .iter()
        .map(place)
        .zip(moves_m.iter().copied())
        .collect();
    let at = |s_m: f64| between(&known, s_m, round_m);
    let mut points = Vec::new();
    let mut next = 0_usize;
    for side in 0..count {
        let ways = [way(side + count - 1), way(side)];
        let last = next.checked_sub(1).unwrap_or(stations.len() - 1);
        let of = |number: usize, own: usize| {
            let station = stations.get(number).filter(|s| s.side.0 == own);
            station.map_or_else(|| at(along_m[side]), |_| moves_m[number])
        };
        let moves = [of(last, (side + count - 1) % count), of(next, side)];
        points.push(corners[side] + meeting(ways, moves));
        while next < stations.len() && stations[next].side.0 == side {
            // beside corners edges stay straight
            if !stations[next].is_at_corner {
                points.push(stations[next].across(moves_m[next]));
            }
            next += 1;
        }
    }
    let mut moved: Contour = points.into_iter().map(on_grid).collect::<Result<_, _>>()?;
    moved.dedup();
    Ok(moved)
}

/// Where two sides meet, each moved along its normal: from their corner, m.
fn meeting([before, after]: [DVec2; 2], [first_m, second_m]: [f64; 2]) -> DVec2 {
    let sine = before.perp_dot(after);
    let most_m = MOST_MITRE * first_m.abs().max(second_m.abs());
    if sine.abs() > CORNER_SINE {
        let along = DVec2::new(
            first_m * after.y - second_m * before.y,
            second_m * before.x - first_m * after.x,
        );
        return (along / sine).clamp_length_max(most_m);
    }
    let bisector = (before + after).normalize_or(after);
    let mitre = (1.0 / bisector.dot(after).max(1e-3)).min(MOST_MITRE);
    bisector * (0.5 * (first_m + second_m) * mitre)
}

/// Linear between stations, round the contour.
fn between(known: &[(f64, f64)], s_m: f64, round_m: f64) -> f64 {
    let after = known.partition_point(|(at, _)| *at < s_m);
    let (next, before) = (after % known.len(), (after + known.len() - 1) % known.len());
    let (mut from, mut to) = (known[before], known[next]);
    if after == 0 {
        from.0 -= round_m;
    }
    if after == known.len() {
        to.0 += round_m;
    }
    let span = to.0 - from.0;
    let share = if span > 0.0 {
        (s_m - from.0) / span
    } else {
        0.0
    };
    from.1 + (to.1 - from.1) * share
}

/// What a correction does to the pieces of a stencil.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Vanished {
    /// Middles of openings that are gone, m.
    pub closed_m: Vec<DVec2>,
    /// Middles of openings that ran into others: what stood between them is gone, m.
    pub merged_m: Vec<DVec2>,
    /// Holes of shapes (islands of sheet) that are gone.
    pub islands: usize,
}

impl Vanished {
    /// Compares shapes as drawn with shapes to cut.
    pub(crate) fn of(drawn: &Outlines, cut: &Outlines) -> Self {
        let mut found = Self::default();
        let middle = |shape: &Vec<Contour>| {
            let corners = shape.first().into_iter().flatten();
            let count = shape.first().map_or(1, Vec::len) as f64;
            corners.map(|corner| in_metres(*corner)).sum::<DVec2>() / count
        };
        let alone = |shape: &Vec<Contour>| Outlines {
            shapes: vec![shape.clone()],
        };
        let known = drawn.shapes.iter().map(|shape| {
            let one = alone(shape);
            let (bounds, area_m2) = (one.bounds_m().unwrap_or_default(), one.area_m2());
            (one, bounds, area_m2)
        });
        let known: Vec<(Outlines, [DVec2; 2], f64)> = known.collect();
        // a cut shape holds as many drawn ones as it overlaps
        let mut held = vec![0_usize; drawn.shapes.len()];
        for shape in &cut.shapes {
            let cut_one = alone(shape);
            let [low, high] = cut_one.bounds_m().unwrap_or_default();
            let cut_m2 = cut_one.area_m2();
            let mut inside = Vec::new();
            for (number, (one, bounds, area_m2)) in known.iter().enumerate() {
                if low.cmpgt(bounds[1]).any() || bounds[0].cmpgt(high).any() {
                    continue;
                }
                let overlap_m2 = area_m2 - one.without(&cut_one).area_m2();
                // drawn edges may lie in the part of a neighbour that has grown: most of a shape must be there
                if overlap_m2 > 0.5 * area_m2.min(cut_m2) {
                    held[number] += 1;
                    inside.push(number);
                }
            }
            if inside.len() > 1 {
                let middles = inside.iter().map(|&n| middle(&drawn.shapes[n]));
                found.merged_m.extend(middles);
            }
        }
        let gone = drawn
            .shapes
            .iter()
            .zip(&held)
            .filter(|(_, held)| **held == 0);
        found.closed_m = gone.map(|(shape, _)| middle(shape)).collect();
        let holes = |all: &Outlines| {
            all.shapes
                .iter()
                .map(|s| s.len().saturating_sub(1))
                .sum::<usize>()
        };
        found.islands = holes(drawn).saturating_sub(holes(cut));
        found
    }
}

/// A drawing as SVG in millimetres, its origin in the middle of the page as in what was read.
///
/// - `page_m`: width and height of the page, where the drawing had one
pub fn as_svg(shapes: &Outlines, page_m: Option<DVec2>) -> String {
    let [low, high] = shapes.bounds_m().unwrap_or_default();
    let reach = low.abs().max(high.abs()) * 2.0 + DVec2::splat(2e-3);
    let page = page_m.unwrap_or(reach) * 1e3;
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0:.6}mm\" height=\"{1:.6}mm\" viewBox=\"0 0 {0:.6} {1:.6}\">\n",
        page.x, page.y
    );
    for shape in &shapes.shapes {
        if shape
            .first()
            .is_none_or(|outer| area_m2(outer).abs() <= 0.0)
        {
            continue;
        }
        text.push_str("<path fill=\"#000\" fill-rule=\"evenodd\" d=\"");
        for contour in shape {
            for (i, corner) in contour.iter().enumerate() {
                let at = in_metres(*corner) * 1e3;
                let sign = if i == 0 { "M" } else { "L" };
                let _ = write!(
                    text,
                    "{sign}{:.4} {:.4}",
                    at.x + 0.5 * page.x,
                    0.5 * page.y - at.y
                );
            }
            text.push('Z');
        }
        text.push_str("\"/>\n");
    }
    text.push_str("</svg>\n");
    text
}
