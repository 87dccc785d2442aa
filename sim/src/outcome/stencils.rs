//! What is told of stencils: edges, the finest that still reaches what is wanted, where it falls short, the correction.
//!
//! In: [`StencilFilm`]s of the tally and what the plan wants. Out: [`StencilSummary`] per stencil, and the files
//! `stencil-NAME.csv` and `corrected-NAME.svg`.

mod files;
mod short;

pub(super) use files::files;

use super::assemble::CAUSES;
use crate::plan::model::Want;
use crate::scene::Scene;
use crate::stencil::Vanished;
use crate::transport::Tally;
use crate::transport::corrected::StencilFilm;
use crate::transport::edges::EdgeProfile;
use crate::units::mm;
use serde::{Deserialize, Serialize};

/// Places that fall short which are told one by one.
const TOLD: usize = 8;

/// A stencil in numbers and in words.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct StencilSummary {
    /// Name: that of its artwork.
    pub name: String,
    /// Part it lies on.
    pub part: String,
    /// Thickness of the sheet, m.
    pub sheet_m: f64,
    /// How far over the part it lies, m.
    pub lift_m: f64,
    /// Length of cut edge that was looked at, m.
    pub edge_length_m: f64,
    /// Median width over which the film rises at an edge, m.
    pub penumbra_m: f64,
    /// Share of the edge length along which half the open film ends where it was drawn.
    pub true_share: f64,
    /// Median of how far half the open film ends from where it was drawn, into the opening, m.
    pub off_m: f64,
    /// Narrowest line that reaches the wanted thickness in its middle, as wide as it mostly is.
    pub narrowest_line: Option<Finest>,
    /// Widest line that does not.
    pub widest_short_line: Option<Finest>,
    /// Smallest dot that reaches it.
    pub smallest_dot: Option<Finest>,
    /// Largest dot that does not.
    pub largest_short_dot: Option<Finest>,
    /// Where the middle of an opening falls short of it, largest first.
    pub short: Vec<Short>,
    /// Places that fall short beyond those.
    pub more_short: usize,
    /// The correction.
    pub corrected: Option<CorrectedSummary>,
    /// The same as sentences.
    pub sentences: Vec<String>,
}

/// An opening at one place.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Finest {
    /// Width of the line, or diameter of the dot, m.
    pub width_m: f64,
    /// Thickness in its middle, m.
    pub thickness_m: f64,
    /// Where, part's coordinates, m.
    pub at_m: [f64; 3],
}

/// A place that falls short.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Short {
    /// Area of opening that it stands for, m².
    pub area_m2: f64,
    /// Least thickness there, m.
    pub thickness_m: f64,
    /// Its standard error, m.
    pub std_error_m: f64,
    /// Where that is, part's coordinates, m.
    pub at_m: [f64; 3],
    /// Width of the opening there, m.
    pub width_m: f64,
    /// What takes most: one of the causes, or "open" if the film falls short without the stencil too.
    pub cause: String,
}

/// A correction in numbers.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CorrectedSummary {
    /// Name of the file.
    pub file: String,
    /// Share of the edge length that is true once it is cut so.
    pub true_share: f64,
    /// Largest move of an edge, m.
    pub most_m: f64,
    /// Middles of openings that closed, mm, plane of the artwork.
    pub closed_mm: Vec<[f64; 2]>,
    /// Middles of openings that ran into one another: the bridge between them is gone, mm.
    pub merged_mm: Vec<[f64; 2]>,
    /// Islands of sheet that are gone.
    pub islands: usize,
}

/// Tells of all stencils.
pub(super) fn tell(scene: &Scene, tally: &Tally) -> Vec<StencilSummary> {
    let want_m = scene.plan.film.as_ref().map(|film| match &film.want {
        Want::Total(want_m) => *want_m,
        Want::PerMetal(wants) => wants.values().sum(),
    });
    let names = files::names(scene);
    let films = scene.stencils.iter().zip(&tally.stencils).zip(names);
    films
        .zip(&scene.plan.masks)
        .map(|(((stencil, film), name), mask)| {
            let corrected = film.corrected.as_ref().map(|corrected| {
                let share = corrected.edges.true_share();
                let file = format!("corrected-{name}.svg");
                CorrectedSummary::of(file, share, corrected.most_m, &corrected.vanished)
            });
            let mut summary = StencilSummary {
                part: scene.plan.parts[stencil.part].name.clone(),
                sheet_m: mask.sheet_m,
                lift_m: mask.lift_m,
                name,
                corrected,
                ..numbers(film)
            };
            if let Some(want_m) = want_m {
                short::tell(film, &stencil.artwork.shapes, want_m, &mut summary);
            }
            summary.sentences = sentences(&summary, want_m);
            summary
        })
        .collect()
}

fn numbers(film: &StencilFilm) -> StencilSummary {
    let median = |of: &dyn Fn(&EdgeProfile) -> Option<f64>| {
        let along = film
            .edges
            .profiles
            .iter()
            .filter(|profile| !profile.station.is_at_corner);
        let mut values: Vec<f64> = along.filter_map(of).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied().unwrap_or(0.0)
    };
    StencilSummary {
        edge_length_m: film.edges.length_m(),
        penumbra_m: median(&|p| Some(p.penumbra_m)),
        true_share: film.edges.true_share(),
        off_m: median(&|p| p.half_m.map(f64::abs)),
        ..StencilSummary::default()
    }
}

/// The same as sentences.
fn sentences(summary: &StencilSummary, want_m: Option<f64>) -> Vec<String> {
    let mut said = vec![format!(
        "{} of cut edge; the film rises over {} at an edge (median), and half of the open film ends {} from the drawn \
         edge (median), within tolerance on {:.0} % of the length",
        mm(summary.edge_length_m),
        length(summary.penumbra_m),
        length(summary.off_m),
        100.0 * summary.true_share
    )];
    if let Some(want_m) = want_m {
        let want = format!("{} nm", super::figures::three(want_m * 1e9));
        let mut finest = |what: &str, reaches: &Option<Finest>, fails: &Option<Finest>| {
            match (reaches, fails) {
                (Some(yes), Some(no)) => said.push(format!(
                    "the {what} that still reaches {want} in its middle is {} wide; the widest that does not is {}",
                    length(yes.width_m),
                    length(no.width_m)
                )),
                (Some(yes), None) => said.push(format!(
                    "every {} of the artwork reaches {want} in its middle, down to {}",
                    what.rsplit(' ').next().unwrap_or(what),
                    length(yes.width_m)
                )),
                (None, Some(no)) => said.push(format!(
                    "no {} of the artwork reaches {want} in its middle, up to {}",
                    what.rsplit(' ').next().unwrap_or(what),
                    length(no.width_m)
                )),
                (None, None) => {}
            }
        };
        finest(
            "narrowest line",
            &summary.narrowest_line,
            &summary.widest_short_line,
        );
        finest(
            "smallest dot",
            &summary.smallest_dot,
            &summary.largest_short_dot,
        );
        if let Some(first) = summary.short.first() {
            let all = summary.short.len() + summary.more_short;
            said.push(format!(
                "{all} places, narrow ends of lines among them, fall short of {want}; the largest, {} and {} wide at \
                 ({}) of the part, {}",
                area(first.area_m2),
                length(first.width_m),
                place(first.at_m),
                cause_in_words(&first.cause)
            ));
        }
    }
    if let Some(corrected) = &summary.corrected {
        let moved = length(corrected.most_m);
        let (before, after) = (100.0 * summary.true_share, 100.0 * corrected.true_share);
        said.push(format!(
            "{} moves edges by up to {moved}: cut so and coated again, half of the open film ends where it was drawn on \
             {after:.0} % of the length, instead of {before:.0} %",
            corrected.file
        ));
        if !corrected.merged_mm.is_empty() || corrected.islands > 0 {
            said.push(format!(
                "in {} bridges vanish: {} openings run into others and {} islands of sheet are gone; widen the bridges \
                 in the drawing, or keep the edges there as drawn",
                corrected.file,
                corrected.merged_mm.len(),
                corrected.islands
            ));
        }
        if !corrected.closed_mm.is_empty() {
            said.push(format!(
                "in {} {} openings close altogether",
                corrected.file,
                corrected.closed_mm.len()
            ));
        }
    }
    said
}

impl CorrectedSummary {
    fn of(file: String, true_share: f64, most_m: f64, vanished: &Vanished) -> Self {
        let in_mm = |all: &[glam::DVec2]| all.iter().map(|p| (*p * 1e3).to_array()).collect();
        Self {
            file,
            true_share,
            most_m,
            closed_mm: in_mm(&vanished.closed_m),
            merged_mm: in_mm(&vanished.merged_m),
            islands: vanished.islands,
        }
    }
}

/// A small length with the unit that suits it.
pub(super) fn length(length_m: f64) -> String {
    if length_m < 1e-3 {
        format!("{} um", significant(length_m * 1e6))
    } else {
        mm(length_m)
    }
}

/// A small area.
fn area(area_m2: f64) -> String {
    format!("{} mm²", significant(area_m2 * 1e6))
}

/// Two digits that count.
fn significant(x: f64) -> f64 {
    if x <= 0.0 || !x.is_finite() {
        return 0.0;
    }
    let scale = 10_f64.powf(1.0 - x.log10().floor());
    (x * scale).round() / scale
}

fn place(at_m: [f64; 3]) -> String {
    at_m.map(|x| format!("{:.2}", x * 1e3)).join(", ") + " mm"
}

/// What takes most, as the end of a sentence.
fn cause_in_words(cause: &str) -> &'static str {
    match cause {
        "open" => "gets too little even without the stencil",
        "facing" => "faces away from the source",
        "self" => "lies in the part's own shadow",
        "fixtures" => "lies in the shadow of something else",
        "shutter" => "lies behind the shutter",
        "gas" => "loses most to gas",
        _ => "is hidden by the sheet: too narrow for its thickness and lift",
    }
}

/// The name of the share that takes most.
fn largest(shares: &[f64; 7]) -> &'static str {
    let taken = CAUSES.iter().zip(&shares[1..]);
    let most = taken.max_by(|a, b| a.1.total_cmp(b.1));
    most.map_or("mask", |(name, _)| *name)
}
