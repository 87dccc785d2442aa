//! Receivers of film: facets of parts and coupons.
//!
//! In: meshes of parts and bodies of coupons. Out: the list of receivers, grouped by row, and the way
//! back from a hit to its facet.

use super::covered::ALL_LIT;
use super::model::{Body, BodyId, Part, Receiver, Scene, Side};
use super::shapes::number;
use super::subdivide::CutRow;
use crate::geometry::triangle_area_m2;
use crate::mesh::Mesh;
use crate::plan::model::Faces;
use glam::DVec2;
use std::ops::Range;
use std::sync::Arc;

/// A whole triangle as a facet.
pub(super) const WHOLE: [DVec2; 3] = [DVec2::ZERO, DVec2::X, DVec2::Y];

/// One bisection of a facet at the middle of one of its edges.
///
/// The bisections of a row lie in preorder: the first half follows its parent at once, the second half
/// `left_facets` entries after the parent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Bisection {
    /// The edge: from this corner to the next (0, 1 or 2).
    pub edge: u8,
    /// Facets of the first half, the one that keeps the edge's first corner.
    pub left_facets: u32,
}

/// Collects the receivers of a scene.
#[derive(Default)]
pub(super) struct Receivers {
    pub all: Vec<Receiver>,
}

impl Receivers {
    /// Adds the facets of a part.
    ///
    /// - `cut`: per row how it is cut, none for whole rows
    pub fn part(&mut self, part: &mut Part, cut: &[Option<CutRow>]) {
        let mesh = &part.mesh;
        let start = self.all.len();
        let whole = [WHOLE];
        part.first_facet.clear();
        let anything_cut = cut.iter().any(Option::is_some);
        for (row, corners) in mesh.triangles.iter().enumerate() {
            part.first_facet.push(number(self.all.len() - start));
            if mesh.needle[row] {
                continue;
            }
            let area_m2 = triangle_area_m2(corners.map(|corner| mesh.vertices[corner as usize]));
            let cut = cut.get(row).and_then(Option::as_ref);
            let facets = cut.map_or(&whole[..], |cut| &cut.facets);
            self.all.extend(facets.iter().map(|&corners| Receiver {
                body: part.body,
                triangle: number(row),
                side: Side::Front,
                corners,
                area_m2: area_m2 * share_of_row(corners),
                lit: ALL_LIT,
            }));
            if anything_cut {
                // one entry per facet, the last of a row unused: see `Bisection`
                part.bisections
                    .extend(cut.iter().flat_map(|cut| &cut.bisections));
                part.bisections.push(Bisection::default());
            }
        }
        part.first_facet.push(number(self.all.len() - start));
        part.front = start..self.all.len();
        part.back = match part.faces {
            Faces::Outside => part.front.end..part.front.end,
            Faces::Both => self.back_of(part.front.clone()),
        };
    }

    /// Adds the facets of a coupon: its front side only.
    pub fn coupon(&mut self, id: BodyId, body: &Body) -> Range<usize> {
        let start = self.all.len();
        for (row, corners) in body.triangles.iter().enumerate() {
            self.all.push(Receiver {
                body: id,
                triangle: number(row),
                side: Side::Front,
                corners: WHOLE,
                area_m2: triangle_area_m2(corners.map(|corner| body.vertices[corner as usize])),
                lit: ALL_LIT,
            });
        }
        start..self.all.len()
    }

    fn back_of(&mut self, front: Range<usize>) -> Range<usize> {
        let back = front.end..front.end + front.len();
        self.all.extend_from_within(front);
        for receiver in &mut self.all[back.clone()] {
            receiver.side = Side::Back;
        }
        back
    }
}

impl Part {
    /// A part before anything is known of its facets.
    pub(super) fn new(body: BodyId, mesh: &Arc<Mesh>, faces: Faces) -> Self {
        let rows = mesh.triangles.len();
        Self {
            body,
            mesh: Arc::clone(mesh),
            faces,
            front: 0..0,
            back: 0..0,
            first_facet: Vec::new(),
            bisections: Vec::new(),
            unreached: [vec![false; rows], vec![false; rows]],
            dark: [vec![false; rows], vec![false; rows]],
            buried: vec![false; rows],
            regions: vec![0; rows],
        }
    }

    /// The facet of a row that holds a point, counted from the row's first facet.
    ///
    /// Walks the bisections from the whole row down; each line of bisection belongs to the first half, so
    /// every point of the row belongs to exactly one facet.
    ///
    /// - `bary`: weights of the row's second and third corner
    /// - returns an index into `front` (or `back`), counted from its start; none for a needle
    pub fn facet_at(&self, row: u32, bary: DVec2) -> Option<usize> {
        let row = row as usize;
        let [first, end] = [self.first_facet[row], self.first_facet[row + 1]].map(|f| f as usize);
        let mut left = end - first;
        if left == 0 {
            return None;
        }
        let (mut facet, mut node) = (first, first);
        let mut corners = WHOLE;
        while left > 1 {
            let bisection = self.bisections[node];
            let left_facets = bisection.left_facets as usize;
            let [first_half, second_half] = bisect(corners, bisection.edge);
            // first half is (a, middle, c): the line from the middle to c has a on its left
            let [_, middle, tip] = first_half;
            if (tip - middle).perp_dot(bary - middle) >= 0.0 {
                corners = first_half;
                left = left_facets;
                node += 1;
            } else {
                corners = second_half;
                facet += left_facets;
                node += left_facets;
                left -= left_facets;
            }
        }
        Some(facet)
    }
}

/// Share of a row's area that a facet has.
fn share_of_row([a, b, c]: [DVec2; 3]) -> f64 {
    (b - a).perp_dot(c - a)
}

/// Halves a triangle at the middle of the edge from corner `edge` (a) to the next (b): (a, m, c), (m, b, c).
pub(super) fn bisect(corners: [DVec2; 3], edge: u8) -> [[DVec2; 3]; 2] {
    let from = usize::from(edge);
    let [a, b, c] = [from, (from + 1) % 3, (from + 2) % 3].map(|corner| corners[corner]);
    let middle = 0.5 * (a + b);
    [[a, middle, c], [middle, b, c]]
}

impl Scene {
    /// The receiver that a hit belongs to; none where nothing is counted (other bodies, sides that do
    /// not count, needles).
    ///
    /// - `triangle`: row of the body
    /// - `bary`: weights of the row's second and third corner
    pub fn receiver_at(
        &self,
        body: BodyId,
        triangle: u32,
        side: Side,
        bary: DVec2,
    ) -> Option<usize> {
        use super::model::BodyKind;
        match self.bodies[body.0 as usize].kind {
            BodyKind::Part(part) => {
                let part = &self.parts[part as usize];
                let facets = match side {
                    Side::Front => &part.front,
                    Side::Back => &part.back,
                };
                let facet = part.facet_at(triangle, bary)?;
                (facet < facets.len()).then(|| facets.start + facet)
            }
            BodyKind::Coupon(coupon) if side == Side::Front => {
                Some(self.coupons[coupon as usize].receivers.start + triangle as usize)
            }
            _ => None,
        }
    }
}
