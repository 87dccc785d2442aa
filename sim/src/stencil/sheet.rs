//! The sheet in its plane: triangles between the outlines, and the rim that its side walls stand on.
//!
//! In: the area of the sheet as [`Outlines`]. Out: [`Sheet`]. Constrained Delaunay triangulation on whole nanometres,
//! so that no two outlines cross by rounding.

use super::artwork::Artwork;
use super::error::{ArtworkPlace, ArtworkProblem, Fault};
use super::outline::{NM_M, Outlines, in_metres};
use glam::DVec2;
use i_overlay::i_float::int::point::IntPoint;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};
use std::collections::BTreeMap;

/// A flat sheet without thickness.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sheet {
    /// Corners, m.
    pub points_m: Vec<DVec2>,
    /// Triangles, counter-clockwise.
    pub triangles: Vec<[u32; 3]>,
    /// Edges with sheet on their left and none on their right.
    pub rim: Vec<[u32; 2]>,
}

/// The area of the sheet: what is cut away is the artwork's shapes, or all else.
///
/// - `ground_m`: lowest and highest corner of what the sheet covers where shapes are open
///
/// # Errors
/// If it reaches farther than a sheet can.
pub fn sheet_area(
    artwork: &Artwork,
    ground_m: [DVec2; 2],
    opens: Opens,
) -> Result<Outlines, ArtworkProblem> {
    match opens {
        Opens::Ground => Ok(artwork.shapes.clone()),
        Opens::Shapes => {
            let ground = Outlines::rectangle(ground_m[0], ground_m[1]);
            Ok(ground?.without(&artwork.shapes))
        }
    }
}

/// What of an artwork is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Opens {
    /// Its filled shapes.
    Shapes,
    /// All but its filled shapes.
    Ground,
}

/// Triangulates the area of a sheet.
///
/// # Errors
/// Where outlines cross each other, which those that come out of a union or a difference do not.
pub fn cut(area: &Outlines) -> Result<Sheet, ArtworkProblem> {
    triangulated(area).map_err(|fault| fault.problem)
}

fn triangulated(area: &Outlines) -> Result<Sheet, Fault> {
    let mut numbers: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    let mut corners: Vec<IntPoint<i64>> = Vec::new();
    let mut edges = Vec::new();
    for contour in area.shapes.iter().flatten() {
        let mut number = |point: &IntPoint<i64>| {
            *numbers.entry((point.x, point.y)).or_insert_with(|| {
                corners.push(*point);
                corners.len() - 1
            })
        };
        let ring: Vec<usize> = contour.iter().map(&mut number).collect();
        let next = ring.iter().cycle().skip(1);
        edges.extend(
            ring.iter()
                .zip(next)
                .map(|(&a, &b)| [a, b])
                .filter(|[a, b]| a != b),
        );
    }
    let points = corners.iter().map(|corner| {
        let at = in_metres(*corner) / NM_M;
        Point2::new(at.x.round(), at.y.round())
    });
    let mut crossing = None;
    let built = ConstrainedDelaunayTriangulation::<Point2<f64>>::try_bulk_load_cdt(
        points.collect(),
        edges,
        |[a, _]| crossing = crossing.or(Some(a)),
    );
    let tangled = |corner: Option<usize>| Fault {
        place: corner.map_or(ArtworkPlace::Whole, |c| ArtworkPlace::at(corners[c])),
        problem: ArtworkProblem::Tangled,
    };
    let cdt = built.map_err(|_| tangled(None))?;
    if crossing.is_some() {
        return Err(tangled(crossing));
    }
    Ok(between_outlines(&cdt))
}

/// The triangles that an odd number of outlines parts from the outside.
fn between_outlines(cdt: &ConstrainedDelaunayTriangulation<Point2<f64>>) -> Sheet {
    let mut inside: Vec<Option<bool>> = vec![None; cdt.num_all_faces()];
    let outer = cdt.outer_face().fix().index();
    inside[outer] = Some(false);
    let mut stack = Vec::new();
    for edge in cdt.directed_edges() {
        if edge.face().fix().index() == outer {
            let face = edge.rev().face();
            if inside[face.fix().index()].is_none() {
                inside[face.fix().index()] = Some(edge.is_constraint_edge());
                stack.push(face);
            }
        }
    }
    while let Some(face) = stack.pop() {
        let here = inside[face.fix().index()] == Some(true);
        let Some(face) = face.as_inner() else {
            continue;
        };
        for edge in face.adjacent_edges() {
            let beyond = edge.rev().face();
            let known = &mut inside[beyond.fix().index()];
            if known.is_none() {
                *known = Some(here != edge.is_constraint_edge());
                stack.push(beyond);
            }
        }
    }
    let is_inside = |face: usize| inside[face] == Some(true);
    let mut sheet = Sheet {
        points_m: cdt
            .vertices()
            .map(|vertex| DVec2::new(vertex.position().x, vertex.position().y) * NM_M)
            .collect(),
        ..Sheet::default()
    };
    for face in cdt.inner_faces() {
        if !is_inside(face.fix().index()) {
            continue;
        }
        sheet
            .triangles
            .push(face.vertices().map(|vertex| number(vertex.fix().index())));
        for edge in face.adjacent_edges() {
            if !is_inside(edge.rev().face().fix().index()) {
                let ends = [edge.from(), edge.to()];
                sheet
                    .rim
                    .push(ends.map(|vertex| number(vertex.fix().index())));
            }
        }
    }
    sheet
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "an artwork has at most two million corners"
)]
pub(super) fn number(index: usize) -> u32 {
    index as u32
}
