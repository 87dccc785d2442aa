//! Pictures of verdicts that vary over a part: light, resistance, pieces, lean.
//!
//! In: the stage, what the film is worth by facet. Out: which verdicts get a picture, seen from the side with most film,
//! and what makes their pictures readable.

use super::super::figures::percent;
use super::super::model::Outcome;
use super::super::worth::map::Verdict;
use super::camera::Camera;
use super::canvas::{Canvas, Frame, Hang, INK, floor, fonts};
use super::furniture::COLUMN;
use super::paint::Colours;
use super::stage::Stage;
use super::{Sheet, View, lower_first};
use crate::stats::weighted_quantiles;

/// A verdict varies where nine tenths of the area take more than this share of the scale.
const VARIES: f64 = 0.04;
/// Area on which nothing can be said that makes a picture worth its place.
const SILENT: f64 = 0.01;

/// A verdict that gets a picture.
pub(super) struct Told {
    verdict: Verdict,
    /// Its value on each facet of the part.
    values: Vec<f64>,
    /// Number of the part's first patch.
    first: usize,
}

/// The verdicts that vary over a part.
pub(super) fn told(stage: &Stage<'_>, part: usize) -> Vec<Told> {
    let drawn = drawn(stage.outcome, part).into_iter();
    let all = drawn.filter_map(|verdict| {
        let values = verdict.values(stage.outcome, part)?;
        varies(stage, part, (verdict, &values)).then(|| Told {
            verdict,
            values,
            first: stage.survey.first_of_part[part],
        })
    });
    all.collect()
}

impl Told {
    /// What stands above the picture.
    pub fn title(&self) -> &'static str {
        self.verdict.name()
    }

    /// What its colours mean.
    pub fn colours(&self) -> Colours<'_> {
        Colours::Worth {
            verdict: self.verdict,
            values: &self.values,
            first: self.first,
        }
    }

    /// The picture, once its sheet is painted.
    ///
    /// - `part`: name of the part, and what stands for it in names of files
    pub fn finish(&self, mut sheet: Sheet, camera: &Camera, (part, stem): (&str, &str)) -> View {
        let verdict = self.verdict;
        sheet.finish(camera, camera.middle_m, "");
        bar(&mut sheet.canvas, verdict);
        View {
            file: format!("view-{stem}-{}.png", ending(verdict)),
            title: format!("{part}: {}", lower_first(verdict.name())),
            caption: caption(verdict, &self.values),
            png: sheet.canvas.png(),
        }
    }
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
