//! Film: the tally as metres on triangles, with states and causes.
//!
//! In: [`crate::scene::Scene`] and [`crate::transport::Tally`]. Out: [`Film`]. Next on the road: `outcome`.

use crate::plan::model::Faces;
use crate::scene::{Part, Scene};
use crate::transport::{Sums, Tally};
use glam::DVec3;
use rayon::prelude::*;
use std::ops::Range;

/// Number of mean arrivals below which none is seen with 5 % probability: e⁻³ = 0.0498.
const UNSEEN_AT_95: f64 = 3.0;

/// State of a row or facet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum State {
    /// Film arrives.
    #[serde(rename = "reached")]
    Reached,
    /// No sample arrived; an upper bound is given.
    #[serde(rename = "none seen")]
    NoneSeen,
    /// Proved bare.
    #[serde(rename = "unreached")]
    Unreached,
    /// Inside another solid of the part.
    #[serde(rename = "buried")]
    Buried,
    /// No area.
    #[serde(rename = "needle")]
    Needle,
}

/// Film on all parts and coupons.
#[derive(Debug, Clone, Default)]
pub struct Film {
    /// Per part, per row of the mesh file.
    pub rows: Vec<Vec<RowFilm>>,
    /// Per receiver of the scene.
    pub facets: Vec<FacetFilm>,
}

/// Film on one facet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FacetFilm {
    /// m.
    pub thickness_m: f64,
    /// m.
    pub std_error_m: f64,
    /// Upper bound at 95 % where none was seen, m.
    pub bound_m: Option<f64>,
    /// State.
    pub state: State,
}

/// Film on one row of a part's mesh file (front side; the back beside it).
#[derive(Debug, Clone, PartialEq)]
pub struct RowFilm {
    /// Centroid in the part's coordinates after unit and scale, m.
    pub centroid_m: DVec3,
    /// Area, m².
    pub area_m2: f64,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Standard error, m.
    pub std_error_m: f64,
    /// Back side thickness, m, where both sides count.
    pub back_m: Option<f64>,
    /// Mean incidence, rad, where film arrives.
    pub incidence_rad: Option<f64>,
    /// Share of the film that had collided or bounced before.
    pub scattered: f64,
    /// Visible share of the footprint; NaN where the method does not look.
    pub visible: f64,
    /// State.
    pub state: State,
    /// Shares: direct, facing, self, fixtures, mask, shutter, gas; NaN where the method does not look.
    pub shares: [f64; 7],
    /// Upper bound at 95 % where none was seen, m.
    pub bound_m: Option<f64>,
    /// Thickness per metal, m; empty when there is one.
    pub by_metal_m: Vec<f64>,
}

/// Grows the film: counts become metres on the rows of the part's meshes.
///
/// thickness = atoms per area × atom mass / bulk density, measured along the normal (the tally
/// carries film volume per area already); a row's value is the area mean over its facets.
/// Source: PHYSICS.md "Film".
pub fn grow(scene: &Scene, tally: &Tally) -> Film {
    let facets = (0..scene.receivers.len())
        .into_par_iter()
        .map(|index| {
            let sums = &tally.receivers[index];
            FacetFilm {
                thickness_m: sums.thickness_m,
                std_error_m: sums.std_error_m,
                bound_m: (sums.arrived == 0)
                    .then(|| bound_over(scene, tally, index..index + 1))
                    .flatten(),
                state: state_of(sums),
            }
        })
        .collect();
    let mut film = Film {
        rows: Vec::with_capacity(scene.parts.len()),
        facets,
    };
    for (index, part) in scene.parts.iter().enumerate() {
        mark(scene, part, &mut film.facets);
        film.rows.push(rows(scene, tally, index));
    }
    film
}

fn state_of(sums: &Sums) -> State {
    if sums.arrived == 0 {
        State::NoneSeen
    } else {
        State::Reached
    }
}

/// Marks facets that are proved bare or buried.
fn mark(scene: &Scene, part: &Part, facets: &mut [FacetFilm]) {
    for (range, unreached) in [
        (&part.front, &part.unreached[0]),
        (&part.back, &part.unreached[1]),
    ] {
        for index in range.clone() {
            let receiver = &scene.receivers[index];
            let row = receiver.triangle as usize;
            let state = if part.buried[row] {
                State::Buried
            } else if unreached.get(row).is_some_and(|&bare| bare) || scene.is_covered(receiver) {
                State::Unreached
            } else {
                continue;
            };
            facets[index] = FacetFilm {
                thickness_m: 0.0,
                std_error_m: 0.0,
                bound_m: None,
                state,
            };
        }
    }
}

fn rows(scene: &Scene, tally: &Tally, index: usize) -> Vec<RowFilm> {
    let part = &scene.parts[index];
    let front = ranges(scene, &part.front, part.mesh.triangles.len());
    let both = part.faces == Faces::Both;
    let back = both.then(|| ranges(scene, &part.back, part.mesh.triangles.len()));
    (0..part.mesh.triangles.len())
        .into_par_iter()
        .map(|row| {
            let mut film = bare(scene, tally, part, row);
            if part.mesh.needle[row] {
                film.state = State::Needle;
            } else if part.buried[row] {
                film.state = State::Buried;
            } else if part.unreached[0][row] {
                film.state = State::Unreached;
            } else {
                fill(scene, tally, &mut film, front[row].clone());
                film.std_error_m = tally.row_std_error_m[index][0][row];
                if front[row].len() == 1 {
                    film.std_error_m = tally.receivers[front[row].start].std_error_m;
                }
            }
            film.back_m = back
                .as_ref()
                .map(|back| mean(scene, back[row].clone(), |i| tally.receivers[i].thickness_m));
            film
        })
        .collect()
}

/// A row without film.
fn bare(scene: &Scene, tally: &Tally, part: &Part, row: usize) -> RowFilm {
    let body = &scene.bodies[part.body.0 as usize];
    let [a, b, c] = body.triangles[row].map(|i| body.vertices[i as usize]);
    RowFilm {
        centroid_m: (a + b + c) / 3.0,
        area_m2: 0.5 * (b - a).cross(c - a).length(),
        thickness_m: 0.0,
        std_error_m: 0.0,
        back_m: None,
        incidence_rad: None,
        scattered: 0.0,
        visible: 0.0,
        state: State::Unreached,
        shares: [0.0; 7],
        bound_m: None,
        by_metal_m: vec![0.0; tally.by_metal.len()],
    }
}

/// Means over the facets of a row.
fn fill(scene: &Scene, tally: &Tally, film: &mut RowFilm, facets: Range<usize>) {
    let of = |value: &dyn Fn(&Sums) -> f64| {
        mean(scene, facets.clone(), |index| {
            value(&tally.receivers[index])
        })
    };
    film.thickness_m = of(&|s| s.thickness_m);
    film.visible = of(&|s| s.visible);
    if !tally.scattered.is_empty() && film.thickness_m > 0.0 {
        let scattered = mean(scene, facets.clone(), |index| {
            tally.receivers[index].thickness_m * f64::from(tally.scattered[index])
        });
        film.scattered = scattered / film.thickness_m;
    }
    film.shares = shares(scene, tally, facets.clone());
    for (metal, value) in film.by_metal_m.iter_mut().enumerate() {
        *value = mean(scene, facets.clone(), |i| {
            f64::from(tally.by_metal[metal][i])
        });
    }
    let arrived = facets.clone().any(|i| tally.receivers[i].arrived > 0);
    let mut own = scene.receivers[facets.clone()].iter();
    if !facets.is_empty() && own.all(|receiver| scene.is_covered(receiver)) {
        film.state = State::Unreached;
    } else if arrived {
        film.state = State::Reached;
        let lit = |s: &Sums| {
            if s.thickness_m > 0.0 {
                s.thickness_m * s.incidence_rad
            } else {
                0.0
            }
        };
        film.incidence_rad = Some(of(&lit) / film.thickness_m).filter(|angle| angle.is_finite());
    } else {
        film.state = State::NoneSeen;
        film.bound_m = bound_over(scene, tally, facets);
    }
}

/// Shares of the open flux over several facets, weighted by their open flux.
fn shares(scene: &Scene, tally: &Tally, facets: Range<usize>) -> [f64; 7] {
    let mut sum = [0.0; 7];
    let mut whole = 0.0;
    for index in facets {
        let sums = &tally.receivers[index];
        let weight = scene.receivers[index].area_m2 * sums.open_thickness_m;
        whole += weight;
        for (total, share) in sum.iter_mut().zip(sums.shares) {
            *total += weight * share;
        }
    }
    if whole > 0.0 {
        sum.map(|value| value / whole)
    } else {
        [0.0; 7]
    }
}

/// Upper bound at 95 % over facets where none was seen, m: their samples count together, three of them arrive.
///
/// Gather: 3/n of the open flux. Fire: three atoms' worth.
fn bound_over(scene: &Scene, tally: &Tally, facets: Range<usize>) -> Option<f64> {
    if !tally.per_atom_m.is_empty() {
        let count = facets.len() as f64;
        return Some(UNSEEN_AT_95 / count * mean(scene, facets, |i| tally.per_atom_m[i]));
    }
    let samples: f64 = facets
        .clone()
        .map(|i| f64::from(tally.receivers[i].samples))
        .sum();
    let open = mean(scene, facets, |i| tally.receivers[i].open_thickness_m);
    (samples > 0.0).then(|| UNSEEN_AT_95 / samples * open)
}

fn mean(scene: &Scene, facets: Range<usize>, value: impl Fn(usize) -> f64) -> f64 {
    let (mut sum, mut area) = (0.0, 0.0);
    for index in facets {
        let own = scene.receivers[index].area_m2;
        sum += own * value(index);
        area += own;
    }
    if area > 0.0 { sum / area } else { 0.0 }
}

/// Facets of each row.
fn ranges(scene: &Scene, range: &Range<usize>, rows: usize) -> Vec<Range<usize>> {
    let mut ranges = vec![0..0; rows];
    for index in range.clone() {
        let own = &mut ranges[scene.receivers[index].triangle as usize];
        if own.start == own.end {
            *own = index..index + 1;
        } else {
            own.end = index + 1;
        }
    }
    ranges
}
