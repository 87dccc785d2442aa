//! The bar above: what is open, undo and redo, how far the run is.

use crate::app::settings::{Colours, Pointer, zoomed};
use crate::app::{Action, Running, State};
use egui::{Button, Ui};
use evenfall_sim::outcome::figures;
use evenfall_sim::outcome::reading::{FilmUnit, LengthUnit};

/// Maps less accurate than this are called sketches.
const SKETCHY: f64 = 0.1;

/// Width that what is said needs; with less it has a row of its own, points.
const SAYING: f32 = 460.0;

/// Shows the bar.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    let mut has_room = true;
    ui.horizontal_wrapped(|ui| {
        if ui.button("Open…").on_hover_text("Ctrl+O").clicked() {
            wanted.push(Action::Browse);
        }
        path_field(ui, state, wanted);
        let document = state.document.as_ref();
        let mut button = |ui: &mut Ui, name: &str, on: bool, tip: &str, action: Action| {
            let pressed = ui.add_enabled(on, Button::new(name)).on_hover_text(tip);
            if pressed.clicked() {
                wanted.push(action);
            }
        };
        let can = |holds: fn(&crate::app::document::Document) -> bool| document.is_some_and(holds);
        button(ui, "Undo", can(|d| d.can_undo()), "Ctrl+Z", Action::Undo);
        button(
            ui,
            "Redo",
            can(|d| d.can_redo()),
            "Ctrl+Shift+Z",
            Action::Redo,
        );
        let name = if can(|d| d.is_unsaved()) {
            "Save plan *"
        } else {
            "Save plan"
        };
        button(ui, name, can(|d| d.is_unsaved()), "Ctrl+S", Action::Save);
        let tip = "Under the next free name, as horn-2.toml; that one is edited from then on";
        button(ui, "Save a copy", document.is_some(), tip, Action::SaveCopy);
        let finished = state.shown.as_ref().is_some_and(|shown| !shown.is_sketch());
        let whole = finished && document.is_some() && !state.is_running() && !state.is_writing();
        let tip = "The folder that `evenfall coat` writes, with report and bench card";
        button(ui, "Write outcome", whole, tip, Action::Write);
        settings(ui, state, wanted);
        has_room = ui.available_size_before_wrap().x >= SAYING;
        if has_room {
            ui.separator();
            // what is said is cut off at the end of the row, it never wraps into another
            let room = egui::vec2(
                ui.available_size_before_wrap().x,
                ui.spacing().interact_size.y,
            );
            ui.allocate_ui(room, |ui| ui.horizontal(|ui| saying(ui, state, wanted)));
        }
    });
    if !has_room {
        ui.horizontal(|ui| saying(ui, state, wanted));
    }
}

/// How far the run is, and the last thing done.
fn saying(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    if state.is_running() || state.is_opening() {
        if ui.button("Stop").on_hover_text("Esc").clicked() {
            wanted.push(Action::Cancel);
        }
    } else if state.document.is_some() && ui.button("Run again").clicked() {
        wanted.push(Action::Run);
    }
    // one line, whatever is said: nothing below may jump while somebody clicks there
    let progress = progress(state);
    let said = match &state.note {
        Some(note) => format!("{progress}  |  {note}"),
        None => progress,
    };
    ui.add(egui::Label::new(&said).truncate())
        .on_hover_text(&said);
}

/// Colours, size of the panels, the pointer's buttons.
fn settings(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.menu_button("View", |ui| {
        let mut settings = state.settings;
        ui.label("Colours");
        for (colours, name) in Colours::ALL {
            ui.radio_value(&mut settings.colours, colours, name);
        }
        ui.separator();
        ui.label("Size of the panels");
        ui.horizontal(|ui| {
            for (name, step) in [("Smaller", -1), ("As the screen", 0), ("Larger", 1)] {
                if ui.button(name).clicked() {
                    settings.zoom = zoomed(settings.zoom, step);
                }
            }
            ui.label(format!("{:.0} %", 100.0 * settings.zoom));
        });
        ui.separator();
        ui.label("Units of what is shown (the plan keeps its own)");
        ui.horizontal(|ui| {
            let film = &mut settings.reading.film;
            ui.radio_value(film, FilmUnit::Nanometre, "nm");
            ui.radio_value(film, FilmUnit::Angstrom, "Å");
            ui.separator();
            let length = &mut settings.reading.length;
            ui.radio_value(length, LengthUnit::Millimetre, "mm");
            ui.radio_value(length, LengthUnit::Inch, "in");
        });
        ui.separator();
        ui.label("Pointer");
        for (pointer, name) in Pointer::ALL {
            ui.radio_value(&mut settings.pointer, pointer, name);
        }
        if settings != state.settings {
            wanted.push(Action::Set(settings));
        }
    });
}

/// Where a plan or an outcome is typed in; files can be dropped on the window too.
fn path_field(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    let id = egui::Id::unique("path to open");
    let mut text = ui.data_mut(|data| data.get_temp::<String>(id).unwrap_or_default());
    let label = ui.label("Path");
    let field = egui::TextEdit::singleline(&mut text)
        .hint_text(state.document.as_ref().map_or_else(
            || "plan, outcome or mesh, Enter".to_owned(),
            |document| {
                document
                    .path
                    .file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned()
            },
        ))
        .desired_width(170.0);
    let field = ui.add(field).labelled_by(label.id);
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
    if entered && !text.trim().is_empty() {
        wanted.push(Action::Open(text.trim().into()));
        text.clear();
    }
    ui.data_mut(|data| data.insert_temp(id, text));
}

/// How far the run is, and what is done beside it.
fn progress(state: &State) -> String {
    let reached = state.shown.as_ref().map(|shown| {
        let reached = shown.outcome.summary.accuracy_reached;
        if reached > SKETCHY {
            "a sketch of the map".to_owned()
        } else {
            format!("map good to {}", figures::percent(reached))
        }
    });
    let beside = state.doing();
    let of_the_run = match (&state.running, reached) {
        (Running::Busy(stage, done), Some(reached)) => {
            format!("{}, {reached} so far", doing(stage, *done))
        }
        (Running::Busy(stage, done), None) => doing(stage, *done),
        (Running::Cancelled, Some(reached)) => format!("stopped; {reached}"),
        (Running::Cancelled, None) => "stopped".to_owned(),
        (Running::Idle, Some(reached)) => reached,
        (Running::Idle, None) if beside.is_empty() => "nothing open".to_owned(),
        (Running::Idle, None) => String::new(),
    };
    let both = std::iter::once(of_the_run).chain(beside);
    let said: Vec<String> = both.filter(|words| !words.is_empty()).collect();
    said.join("; ")
}

/// What the run does, for people; how much of it is done where that says something.
fn doing(stage: &str, done: f64) -> String {
    match stage {
        "gather" => format!("computing the map, {:.0} %", 100.0 * done),
        "fire" => format!("firing atoms, {:.0} % of those needed", 100.0 * done),
        "audit" => "firing test atoms".to_owned(),
        "causes" => "looking for causes".to_owned(),
        "pilot" => "trying how many lines it takes".to_owned(),
        "probes" => "following the probes".to_owned(),
        other => other.to_owned(),
    }
}
