//! Advice: a search for a better pose, what can be traded for what, and taking one of its plans over.
//!
//! Shown where the plan has `[advise]`. In: the state. Out: actions; nothing is computed here.

use crate::app::{Action, Advising, State};
use egui::{Button, RichText, Ui};
use egui_plot::{Plot, PlotPoints, Points};
use evenfall_sim::advise::{Advised, FrontPoint, values_in_words};
use evenfall_sim::outcome::figures::{lasting, percent, three, trimmed, with_error};

/// Shows the section.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    let document = state.document.as_ref();
    let asks = |table: &str| table == "advise" || table.starts_with("advise.");
    if !document.is_some_and(|d| d.sections().iter().any(|s| asks(&s.table))) {
        return;
    }
    ui.separator();
    ui.label(RichText::new("Advice").strong());
    match &state.advising {
        Advising::Idle => search(ui, "Search for advice", wanted),
        Advising::Busy(stage, done) => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label(format!("{stage}, {}", percent(*done)));
                let tip = "What was found until then stays";
                if ui.button("Stop the search").on_hover_text(tip).clicked() {
                    wanted.push(Action::AdviseNoMore);
                }
            });
        }
        Advising::Refused(why) => {
            ui.colored_label(ui.visuals().error_fg_color, why);
            search(ui, "Search again", wanted);
        }
        Advising::Found(found, of) => {
            told(ui, state, found, wanted);
            let now = document.map_or("", |document| document.text());
            if of != now {
                ui.label("This is of the plan as it was when the search began.");
            }
            search(ui, "Search again", wanted);
        }
    }
}

fn search(ui: &mut Ui, name: &str, wanted: &mut Vec<Action>) {
    let tip = "Varies what [advise] frees; the map goes on meanwhile";
    if ui.button(name).on_hover_text(tip).clicked() {
        wanted.push(Action::Advise);
    }
}

fn told(ui: &mut Ui, state: &State, found: &Advised, wanted: &mut Vec<Action>) {
    let advice = &found.advice;
    if advice.stopped {
        ui.label("The search was stopped; this is what it had found.");
    }
    match (advice.candidates.first(), &found.text) {
        (Some(best), Some(text)) => {
            let reached = best.reached.map_or_else(String::new, |known| {
                let share = with_error(100.0 * known.value, 100.0 * known.stderr);
                format!(", wanted film on {share} %")
            });
            ui.label(format!(
                "Best, simulated again: {}: open {}, {} mg{reached}",
                values_in_words(&best.values),
                lasting(best.open_time_s),
                three(best.metal_mg)
            ));
            take(ui, state, ("Put the best into the plan", text), wanted);
        }
        _ if advice.front.is_empty() => {
            ui.label(format!(
                "Nothing within the bounds does: {} candidates were tried",
                advice.tried
            ));
        }
        _ => {}
    }
    front(ui, state, found, wanted);
    if let Some(turning) = &advice.turning {
        ui.label(format!("Turning: {}", turning.sentence));
    }
    for row in advice.card.iter().filter(|_| advice.stops.is_some()) {
        ui.label(format!("{}: {}", lasting(row.lasts_s), row.what));
    }
    for limit in &advice.limits {
        ui.label(format!("Limit: {limit}"));
    }
    for warning in &advice.warnings {
        ui.label(format!("Warning: {warning}"));
    }
}

/// A button that puts a plan into the window.
fn take(ui: &mut Ui, state: &State, (name, text): (&str, &String), wanted: &mut Vec<Action>) {
    let now = state.document.as_ref().map(|document| document.text());
    let is_there = now == Some(text.as_str());
    let button = ui.add_enabled(!is_there, Button::new(name));
    if button
        .on_hover_text("One edit, which Undo takes back")
        .clicked()
    {
        wanted.push(Action::TakePlan(text.clone()));
    }
}

/// What can be traded: a diagram, and for each point its pose, what it brings, and a button.
fn front(ui: &mut Ui, state: &State, found: &Advised, wanted: &mut Vec<Action>) {
    let points = &found.advice.front;
    if points.is_empty() {
        return;
    }
    ui.label("What can be traded, as the search saw it:");
    let minutes = |point: &FrontPoint| point.open_time_s / 60.0;
    let uneven = |point: &FrontPoint| 100.0 * point.unevenness.value.max(0.0);
    let places: PlotPoints<'_> = points.iter().map(|p| [minutes(p), uneven(p)]).collect();
    Plot::new("front of advice")
        .height(140.0)
        .show_axes(true)
        .x_axis_label("open, minutes")
        .y_axis_label("unevenness, %")
        .allow_zoom(false)
        .allow_drag(false)
        .allow_scroll(false)
        .include_y(0.0)
        .y_axis_formatter(|mark, _| trimmed(mark.value))
        .y_grid_spacer(super::findings::marks(2.0))
        .show(ui, |plot| {
            plot.points(Points::new("front", places).radius(4.0));
        });
    for (number, point) in points.iter().enumerate() {
        ui.separator();
        ui.horizontal_wrapped(|ui| {
            if let Some(text) = found.front_texts.get(number).and_then(Option::as_ref) {
                take(ui, state, (&format!("Take {}", number + 1), text), wanted);
            }
            ui.label(values_in_words(&point.values));
        });
        ui.label(format!(
            "open {}, uneven {}, {} mg, bare {}, heat ×{}",
            lasting(point.open_time_s.ceil()),
            percent(point.unevenness.value.max(0.0)),
            three(point.metal_mg),
            percent(point.not_reached),
            three(point.heat)
        ));
    }
}
