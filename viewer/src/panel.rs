//! The panels: plain functions of the state that return what is to be done. They compute nothing.

mod advice;
mod findings;
mod setup;
mod stage;
mod strip;
mod top;

#[cfg(test)]
pub use stage::find;
pub use stage::{PLACE, figure};

use crate::app::settings::{Settings, zoomed};
use crate::app::{Action, State, Taken, UNITS};
use egui::{CentralPanel, Frame, Panel, Ui};
use evenfall_sim::units::significant;

/// Lays out everything; returns what is to be done.
///
/// - `picture`: the stage as drawn, if it was
pub fn all(ui: &mut Ui, state: &State, picture: Option<egui::TextureId>) -> Vec<Action> {
    let mut actions = Vec::new();
    let wanted = &mut actions;
    Panel::top("top").show(ui, |ui| top::show(ui, state, wanted));
    Panel::bottom("time strip").show(ui, |ui| strip::show(ui, state, wanted));
    let room = ui.available_width();
    if room >= NARROW {
        Panel::left("setup")
            .default_size(300.0)
            .min_size(270.0)
            .show(ui, |ui| setup::show(ui, state, wanted));
        Panel::right("findings")
            .default_size(300.0)
            .show(ui, |ui| findings::show(ui, state, wanted));
    } else {
        Panel::right("setup or findings")
            .default_size(0.5 * room)
            .size_range(200.0..=0.6 * room)
            .show(ui, |ui| either(ui, state, wanted));
    }
    CentralPanel::default()
        .frame(Frame::NONE)
        .show(ui, |ui| stage::show(ui, state, picture, wanted));
    ask(ui, state, wanted);
    offer(ui, state, wanted);
    keys(ui, state, wanted);
    actions
}

/// With less room the two side panels share one place, points.
const NARROW: f32 = 860.0;

/// Which side panel is seen where there is room for one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Seen {
    Setup,
    #[default]
    Findings,
}

/// Its key in egui's memory.
pub const SEEN: &str = "the side panel that is seen";

/// One of the two side panels.
fn either(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    let id = egui::Id::unique(SEEN);
    let mut seen: Seen = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    ui.horizontal(|ui| {
        ui.selectable_value(&mut seen, Seen::Setup, "Setup");
        ui.selectable_value(&mut seen, Seen::Findings, "Findings");
    });
    ui.data_mut(|data| data.insert_temp(id, seen));
    match seen {
        Seen::Setup => setup::show(ui, state, wanted),
        Seen::Findings => findings::show(ui, state, wanted),
    }
}

/// Asks for the unit of a mesh, showing what size each would give.
fn ask(ui: &Ui, state: &State, wanted: &mut Vec<Action>) {
    let Some(asked) = &state.asked else { return };
    egui::Window::new("Which unit are its numbers in?")
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
        .show(ui.ctx(), |ui| {
            ui.label(format!("{} does not say it.", asked.path.display()));
            for (unit, metres) in UNITS {
                let size = |per_m: f64, name: &str| {
                    let sides = (asked.extent * metres * per_m).to_array();
                    let sides = sides.map(|side| significant(side, 3)).join(" × ");
                    format!("{sides} {name}")
                };
                let text = format!("{unit}: {} ({})", size(1e3, "mm"), size(1.0 / 0.0254, "in"));
                if ui.button(text).clicked() {
                    wanted.push(Action::Unit(Some(unit)));
                }
            }
            if ui.button("Open nothing").clicked() {
                wanted.push(Action::Unit(None));
            }
        });
}

/// Offers edits that an earlier session left unsaved.
fn offer(ui: &Ui, state: &State, wanted: &mut Vec<Action>) {
    if state.left.is_none() {
        return;
    }
    egui::Window::new("Edits that were never saved")
        .collapsible(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
        .show(ui.ctx(), |ui| {
            ui.label("Edits of this plan were made and never saved.");
            for (name, taken) in [
                ("Take them over", Taken::Over),
                ("Throw them away", Taken::Away),
            ] {
                if ui.button(name).clicked() {
                    wanted.push(Action::TakeLeft(taken));
                }
            }
        });
}

/// Keys that work wherever nobody types.
fn keys(ui: &Ui, state: &State, wanted: &mut Vec<Action>) {
    use crate::stage::orbit::Side;
    use egui::{Key, KeyboardShortcut, Modifiers};
    let pressed = |modifiers: Modifiers, key: Key| {
        ui.input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(modifiers, key)))
    };
    if pressed(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z) || pressed(Modifiers::COMMAND, Key::Y)
    {
        wanted.push(Action::Redo);
    }
    if pressed(Modifiers::COMMAND, Key::Z) {
        wanted.push(Action::Undo);
    }
    if pressed(Modifiers::COMMAND, Key::S) {
        wanted.push(Action::Save);
    }
    if pressed(Modifiers::COMMAND, Key::O) {
        wanted.push(Action::Browse);
    }
    let sizes = [
        (Key::Minus, -1),
        (Key::Num0, 0),
        (Key::Plus, 1),
        (Key::Equals, 1),
    ];
    for (key, step) in sizes {
        if pressed(Modifiers::COMMAND, key) {
            wanted.push(Action::Set(Settings {
                zoom: zoomed(state.settings.zoom, step),
                ..state.settings
            }));
        }
    }
    // a text field keeps its keys, and what Esc closes takes the press with it
    let typing = egui::Id::unique("somebody typed or chose a moment ago");
    let types = ui.ctx().text_edit_focused() || egui::Popup::is_any_open(ui.ctx());
    let typed = ui.data_mut(|data| {
        let before = data.get_temp::<bool>(typing).unwrap_or(false);
        data.insert_temp(typing, types);
        before
    });
    if types || typed {
        return;
    }
    let digits = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5];
    for (key, side) in digits.into_iter().zip(Side::ALL) {
        if pressed(Modifiers::NONE, key) {
            wanted.push(Action::LookFrom(side));
        }
    }
    if pressed(Modifiers::NONE, Key::M) {
        wanted.push(Action::Grips(!state.grips));
    }
    if pressed(Modifiers::NONE, Key::F) {
        wanted.push(Action::Fit);
    }
    if pressed(Modifiers::NONE, Key::Escape) {
        wanted.push(if state.is_running() || state.is_opening() {
            Action::Cancel
        } else {
            Action::Pin(None)
        });
    }
}

#[cfg(test)]
pub mod tests;
