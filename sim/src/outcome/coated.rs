//! The coated parts as one mesh: facets as refined, corners shared, placed in the chamber at angles 0.
//!
//! In: an [`Outcome`]. Out: corners and faces for the writers of `coat.ply`, `coat.vtu` and `coat.glb`.

use super::model::{Facet, Outcome, PartOutcome};
use crate::film::State;
use glam::DVec3;
use std::collections::HashMap;

/// The parts as refined.
#[derive(Debug, Default)]
pub struct Coated<'a> {
    /// Distinct corners, chamber frame, m, in order of first use.
    pub corners_m: Vec<DVec3>,
    /// Faces: parts in order, each front then back.
    pub faces: Vec<Face<'a>>,
}

/// A face.
#[derive(Debug, Clone, Copy)]
pub struct Face<'a> {
    /// Corners; a face of the back runs the other way round, so that its normal points to its film.
    pub corners: [u32; 3],
    /// Index of the part.
    pub part: usize,
    /// Its facet's number within the part, front side first: index into the part's `by_step_m` and `by_metal_m`.
    pub number: usize,
    /// Its film.
    pub facet: &'a Facet,
}

/// More corners than the file formats can number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "the parts have more than {} corners after refining (the mesh formats cannot number them); leave mesh out of --write",
    i32::MAX
)]
pub struct TooManyCorners;

/// Code of a state in binary files.
pub fn state_code(state: State) -> u8 {
    match state {
        State::Reached => 0,
        State::NoneSeen => 1,
        State::Unreached => 2,
        State::Buried => 3,
        State::Needle => 4,
    }
}

/// State of a code.
pub fn state_of(code: u8) -> Option<State> {
    let states = [
        State::Reached,
        State::NoneSeen,
        State::Unreached,
        State::Buried,
        State::Needle,
    ];
    states.into_iter().find(|&state| state_code(state) == code)
}

impl<'a> Coated<'a> {
    /// Joins the facets of all parts.
    ///
    /// # Errors
    /// When there are more corners than a signed 32-bit number counts.
    pub fn of(outcome: &'a Outcome) -> Result<Self, TooManyCorners> {
        let mut coated = Self::default();
        for (index, part) in outcome.parts.iter().enumerate() {
            coated.add(index, part)?;
        }
        Ok(coated)
    }

    fn add(&mut self, index: usize, part: &'a PartOutcome) -> Result<(), TooManyCorners> {
        // Looked up, never walked through: order comes from the facets.
        let mut known: HashMap<[u64; 3], u32> = HashMap::with_capacity(part.vertices_m.len());
        let front = part.facets.len();
        let facets = part.facets.iter().chain(&part.back_facets);
        for (number, facet) in facets.enumerate() {
            let mut corners = [0; 3];
            for (corner, place_m) in corners.iter_mut().zip(facet.corners_m) {
                let key = place_m.to_array().map(f64::to_bits);
                *corner = match known.get(&key) {
                    Some(&found) => found,
                    None => {
                        let new =
                            i32::try_from(self.corners_m.len()).map_err(|_| TooManyCorners)?;
                        let new = new.unsigned_abs();
                        self.corners_m
                            .push(part.chamber_from_part.transform_point3(place_m));
                        known.insert(key, new);
                        new
                    }
                };
            }
            if number >= front {
                corners.swap(1, 2);
            }
            self.faces.push(Face {
                corners,
                part: index,
                number,
                facet,
            });
        }
        Ok(())
    }
}
