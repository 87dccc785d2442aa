//! The figure: the stage with its scale, a title and the inputs, for papers and notes.

use super::{draw, legend, marks};
use crate::app::{Action, State};
use crate::stage::grips::Pose;
use crate::stage::{Shown, paint};
use egui::{CentralPanel, Frame, Rect, RichText, Sense, Ui, Vec2};
use evenfall_sim::outcome::figures::{clock, percent, trimmed};
use evenfall_sim::outcome::reading::Reading;
use evenfall_sim::outcome::{SourceOutcome, StepOutcome};

/// Room below the picture for a line of the inputs, points.
const LINE: f32 = 19.0;

/// Lays the figure out.
pub fn figure(ui: &mut Ui, state: &State, picture: Option<egui::TextureId>) -> Vec<Action> {
    let mut wanted = Vec::new();
    let Some(shown) = &state.shown else {
        return wanted;
    };
    let white = Frame::NONE
        .fill(egui::Color32::WHITE)
        .inner_margin(egui::Margin::same(14));
    CentralPanel::default().frame(white).show(ui, |ui| {
        let title = &shown.outcome.summary.title;
        if !title.is_empty() {
            ui.label(RichText::new(title).strong().size(22.0));
        }
        if let Some(sentence) = shown.headline(state.settings.reading).first() {
            ui.label(RichText::new(sentence).size(15.0));
        }
        let inputs = inputs(state, shown);
        let below = LINE * inputs.len() as f32 + 12.0;
        let size = ui.available_size() - Vec2::new(0.0, below);
        let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
        show_stage(ui, state, shown, (rect, picture), &mut wanted);
        for line in inputs {
            ui.label(RichText::new(line).size(13.0));
        }
    });
    wanted
}

fn show_stage(
    ui: &Ui,
    state: &State,
    shown: &Shown,
    (rect, picture): (Rect, Option<egui::TextureId>),
    wanted: &mut Vec<Action>,
) {
    let aspect = f64::from(rect.width() / rect.height().max(1.0));
    if (aspect - state.aspect).abs() > 1e-6 {
        wanted.push(Action::Aspect(aspect));
    }
    draw(ui, rect, picture);
    marks::names(ui, state, shown, rect);
    marks::sight(ui, state, rect);
    marks::pinned(ui, state, shown, rect);
    let scale = paint::paint_legend(&state.look(shown), state.paint);
    legend::show(ui, rect, &scale);
    marks::length_bar(ui, state, rect);
}

/// What the map follows from, in lines.
fn inputs(state: &State, shown: &Shown) -> Vec<String> {
    let outcome = &shown.outcome;
    let reading = state.settings.reading;
    let mut lines = vec![format!("Painted: {}", state.paint.name(shown))];
    lines.extend(outcome.sources.iter().map(|s| source(reading, s)));
    lines.extend(outcome.parts.iter().map(|part| {
        let pose = Pose::of(&part.chamber_from_part);
        let at = pose.at_m.to_array();
        let turn = pose.turn_rad.to_array();
        let turn = turn.map(|angle| trimmed(round(angle.to_degrees())));
        format!(
            "Part {} at {}, turned {}° about x, y, z",
            part.name,
            place(reading, at),
            turn.join(", ")
        )
    }));
    lines.push(schedule(&outcome.steps));
    let mut signs = "Broad stripes: bare; fine stripes: thinner than wanted".to_owned();
    if state.cut.is_some() {
        signs += "; the part is cut open along the line of sight";
    }
    if !shown.regions.is_empty() {
        signs += "; outlines: named regions";
    }
    lines.push(signs);
    let summary = &outcome.summary;
    lines.push(format!(
        "Good to {}, seed {}, Evenfall {}",
        percent(summary.accuracy_reached),
        summary.seed,
        summary.program
    ));
    lines
}

/// Rounding of angles that were turned into matrices and back.
fn round(degrees: f64) -> f64 {
    (degrees * 1e6).round() / 1e6 + 0.0
}

fn place(reading: Reading, at_m: [f64; 3]) -> String {
    let at = at_m.map(|x| trimmed(reading.length(x)));
    format!("{} {}", at.join(", "), reading.length_unit())
}

fn source(reading: Reading, source: &SourceOutcome) -> String {
    format!(
        "Source {}: {}, {}, {}, at {}",
        source.name,
        source.metal,
        source.footprint,
        source.output,
        place(reading, source.at_m)
    )
}

fn schedule(steps: &[StepOutcome]) -> String {
    let sum = |coats: bool| {
        let steps = steps.iter().filter(|step| step.coats() == coats);
        steps.map(|step| step.lasts_s).sum::<f64>()
    };
    let mut line = format!("Open {}, shut {}", clock(sum(true)), clock(sum(false)));
    let turning = steps.iter().find(|step| step.coats());
    for turning in turning.iter().flat_map(|step| &step.turning) {
        line.push_str(", ");
        line.push_str(turning);
    }
    line
}
