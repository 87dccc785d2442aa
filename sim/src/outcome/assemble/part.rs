//! A part of the outcome: its film, facet by facet and row by row.
//!
//! In: scene, tally and film. Out: a [`PartOutcome`]; `assemble` sums it up.

use crate::film::{FacetFilm, RowFilm};
use crate::outcome::model::{Facet, PartOutcome};
use crate::outcome::surroundings::{body, pose};
use crate::plan::model::Faces;
use crate::scene::Scene;
use crate::transport::Tally;
use rayon::prelude::*;
use std::ops::Range;

/// One part with its film, facet by facet and row by row.
pub(super) fn part(
    scene: &Scene,
    tally: &Tally,
    (rows, film): (Vec<RowFilm>, &[FacetFilm]),
    index: usize,
) -> PartOutcome {
    let placed = &scene.parts[index];
    let body = body(scene, placed.body);
    let facets = |receivers: &Range<usize>| -> Vec<Facet> {
        let receivers = receivers.clone().into_par_iter();
        receivers
            .map(|receiver| facet(scene, tally, &film[receiver], (index, receiver)))
            .collect()
    };
    let receivers = || placed.front.clone().chain(placed.back.clone());
    let chosen = |sums: &Vec<Vec<f32>>| -> Vec<Vec<f32>> {
        sums.iter()
            .map(|of_one| receivers().map(|receiver| of_one[receiver]).collect())
            .collect()
    };
    PartOutcome {
        name: body.name.clone(),
        vertices_m: body.vertices.to_vec(),
        triangles: body.triangles.to_vec(),
        rows: with_each_metal(rows, scene.metals.len()),
        facets: facets(&placed.front),
        back_facets: facets(&placed.back),
        by_step_m: chosen(&tally.by_step),
        by_metal_m: chosen(&tally.by_metal),
        chamber_from_part: pose(scene, placed.body),
        both_sides: placed.faces == Faces::Both,
        health: placed.mesh.health.clone(),
        material: scene.plan.parts[index].material.clone(),
    }
}

/// Rows of a part; where there are several metals every row says each of them.
fn with_each_metal(mut rows: Vec<RowFilm>, metals: usize) -> Vec<RowFilm> {
    for row in &mut rows {
        row.by_metal_m
            .resize(if metals > 1 { metals } else { 0 }, 0.0);
    }
    rows
}

fn facet(scene: &Scene, tally: &Tally, film: &FacetFilm, (part, index): (usize, usize)) -> Facet {
    let receiver = &scene.receivers[index];
    let body = body(scene, receiver.body);
    let [a, b, c] =
        body.triangles[receiver.triangle as usize].map(|corner| body.vertices[corner as usize]);
    let sums = &tally.receivers[index];
    Facet {
        row: receiver.triangle,
        corners_m: receiver
            .corners
            .map(|weights| a * (1.0 - weights.x - weights.y) + b * weights.x + c * weights.y),
        thickness_m: film.thickness_m,
        std_error_m: film.std_error_m,
        incidence_rad: if film.thickness_m > 0.0 {
            sums.incidence_rad
        } else {
            f64::NAN
        },
        state: film.state,
        shares: sums.shares.map(narrow),
        regions: scene.parts[part].regions[receiver.triangle as usize],
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "shares lie in 0..=1, seven digits are enough for pictures"
)]
fn narrow(share: f64) -> f32 {
    share as f32
}
