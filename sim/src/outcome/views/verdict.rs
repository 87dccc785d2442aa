//! Pictures of verdicts that vary over a part: light, resistance, pieces, lean.
//!
//! In: the stage, what the film is worth by facet. Out: one picture per verdict, seen from the side with most film.

use super::super::figures::percent;
use super::super::model::Outcome;
use super::super::worth::map::Verdict;
use super::canvas::{Canvas, Frame, Hang, INK, floor, fonts};
use super::furniture::{COLUMN, PICTURE};
use super::paint::{self, Colours};
use super::stage::{Shot, Stage};
use super::{Sheet, View, file_stem, lower_first};
use crate::stats::weighted_quantiles;
use glam::DVec3;

/// A verdict varies where nine tenths of the area take more than this share of the scale.
const VARIES: f64 = 0.04;
/// Area on which nothing can be said that makes a picture worth its place.
const SILENT: f64 = 0.01;

/// Pictures of the verdicts that vary over a part.
///
/// - `seen`: what the part is looked at along: direction and the frame within the picture
pub(super) fn views(stage: &Stage<'_>, part: usize, (forward, inner): (DVec3, Frame)) -> Vec<View> {
    let told = drawn(stage.outcome, part);
    let all = told.into_iter().filter_map(|verdict| {
        let values = verdict.values(stage.outcome, part)?;
        varies(stage, part, (verdict, &values))
            .then(|| draw(stage, part, (verdict, &values), (forward, inner)))
    });
    all.collect()
}

/// Verdicts that are worth a picture on paper; the window paints them all.
fn drawn(outcome: &Outcome, part: usize) -> Vec<Verdict> {
    let name = &outcome.parts[part].name;
    let summary = &outcome.summary;
    let mut told = Vec::new();
    if summary
        .looks
        .get(name)
        .is_some_and(|looks| looks.light_through[1] > 0.01)
    {
        told.push(Verdict::Light);
    }
    match summary.conducts.get(name) {
        Some(conducts) if conducts.pieces > 1 => told.extend([Verdict::Square, Verdict::Piece]),
        Some(_) => told.push(Verdict::Square),
        None => {}
    }
    if summary
        .grows
        .get(name)
        .is_some_and(|grows| grows.grazing_fraction > 0.0)
    {
        told.push(Verdict::Lean);
    }
    told
}

fn varies(stage: &Stage<'_>, part: usize, (verdict, values): (Verdict, &[f64])) -> bool {
    let first = stage.survey.first_of_part[part];
    let patches = &stage.survey.patches[first..];
    let both = || {
        values
            .iter()
            .zip(patches)
            .filter(|(value, _)| !value.is_nan())
    };
    let places: Vec<f64> = both().map(|(value, _)| verdict.place(*value)).collect();
    let areas: Vec<f64> = both().map(|(_, patch)| patch.area_m2).collect();
    let all: f64 = patches
        .iter()
        .take(values.len())
        .map(|patch| patch.area_m2)
        .sum();
    let silent = 1.0 - areas.iter().sum::<f64>() / all;
    match weighted_quantiles(&places, &areas, &[0.05, 0.95]).as_deref() {
        Some([low, high]) => (high - low).abs() > VARIES || silent > SILENT,
        _ => false,
    }
}

fn draw(
    stage: &Stage<'_>,
    part: usize,
    (verdict, values): (Verdict, &[f64]),
    (forward, inner): (DVec3, Frame),
) -> View {
    let name = &stage.outcome.parts[part].name;
    let camera = super::camera::Camera::parallel(forward, &stage.part_box_m(part), inner);
    let shot = Shot {
        camera,
        parts: vec![part],
        bodies: Vec::new(),
        cut_parts: None,
        cut_fixtures: None,
    };
    let mut sheet = Sheet::new(verdict.name(), name);
    let first = stage.survey.first_of_part[part];
    let colours = Colours::Worth {
        verdict,
        values,
        first,
    };
    paint::paint(&mut sheet.canvas, PICTURE, stage, &shot, &colours);
    sheet.finish(&camera, camera.middle_m, "");
    bar(&mut sheet.canvas, verdict);
    View {
        file: format!(
            "view-{}-{}.png",
            file_stem(stage.outcome, part),
            ending(verdict)
        ),
        title: format!("{name}: {}", lower_first(verdict.name())),
        caption: caption(verdict, values),
        png: sheet.canvas.png(),
    }
}

fn ending(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Light => "light",
        Verdict::Square => "square",
        Verdict::Piece => "pieces",
        Verdict::Lean => "lean",
        Verdict::Heat => "heat",
    }
}

fn caption(verdict: Verdict, values: &[f64]) -> String {
    let silent = values.iter().filter(|value| value.is_nan()).count();
    let stripes = match verdict {
        Verdict::Square | Verdict::Piece => "no film, or so thin that it may be islands",
        _ => "no film",
    };
    let mut text = match verdict {
        Verdict::Light => "Share of green light that goes through the film.",
        Verdict::Square => {
            "Resistance of a square of the film, good to a factor of 1.5 either way."
        }
        Verdict::Piece => {
            "Pieces of film that conduct and do not touch each other, coloured by size."
        }
        Verdict::Lean => "How far columns lean, in the middle between two rules.",
        Verdict::Heat => "Heat that arrives in the hottest step, good to a factor of 2 either way.",
    }
    .to_owned();
    if silent > 0 {
        text += &format!(
            " Striped: {stripes} ({} of the facets).",
            percent(silent as f64 / values.len() as f64)
        );
    }
    text
}

/// The colour bar with its ticks; letters that the picture's font has not are written out.
fn bar(canvas: &mut Canvas, verdict: Verdict) {
    let frame = Frame {
        left: COLUMN + 14.0,
        top: 96.0,
        width: 22.0,
        height: 330.0,
    };
    let head = match verdict {
        Verdict::Light => "light, %",
        Verdict::Square => "square, ohm",
        Verdict::Piece => "pieces",
        Verdict::Lean => "lean, deg",
        Verdict::Heat => "mW/cm2",
    };
    let bold = (&fonts::FONT_9X15_BOLD, INK);
    canvas.text((COLUMN, 62.0), Hang::Left, head, bold);
    for y in floor(frame.top)..floor(frame.bottom()) {
        let row = Frame {
            top: f64::from(y),
            height: 1.0,
            ..frame
        };
        let place = (frame.bottom() - f64::from(y) - 0.5) / frame.height;
        canvas.fill(row, super::super::colour::at(place));
    }
    canvas.outline(frame, INK);
    for (place, text) in verdict.ticks() {
        let y = frame.bottom() - frame.height * place;
        canvas.line((frame.right(), y), (frame.right() + 6.0, y), 1.2, INK);
        let small = (&fonts::FONT_9X15, INK);
        canvas.text((frame.right() + 10.0, y), Hang::Left, &text, small);
    }
}
