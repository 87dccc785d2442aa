//! Setup: every value of the plan, as typed, with what is wrong beside it.

use crate::app::document::{Field, Section};
use crate::app::{Action, State, Trouble};
use egui::{CollapsingHeader, Id, RichText, ScrollArea, TextEdit, Ui};

/// Width of the names, points.
const LABEL: f32 = 112.0;

/// Shows the panel.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.heading("Setup");
    let Some(document) = &state.document else {
        ui.label(if state.shown.is_some() {
            "An outcome is looked at. Open its plan to change something."
        } else {
            "Open a plan to see its values here."
        });
        return;
    };
    let sections = document.sections();
    let keys: Vec<&str> = sections
        .iter()
        .flat_map(|section| section.fields.iter().map(|field| field.key.as_str()))
        .collect();
    // what belongs to no field stands above
    for trouble in state
        .trouble
        .iter()
        .filter(|t| !keys.iter().any(|k| belongs(t, k)))
    {
        ui.colored_label(ui.visuals().error_fg_color, &trouble.message);
    }
    ScrollArea::vertical().show(ui, |ui| {
        for section in sections {
            show_section(ui, section, &state.trouble, wanted);
        }
    });
}

/// True when a diagnostic speaks of a field, or of a list or table that the field is part of.
fn belongs(trouble: &Trouble, key: &str) -> bool {
    !trouble.key.is_empty()
        && (key == trouble.key
            || key
                .strip_prefix(&trouble.key)
                .is_some_and(|rest| rest.starts_with('.')))
}

fn show_section(ui: &mut Ui, section: &Section, trouble: &[Trouble], wanted: &mut Vec<Action>) {
    CollapsingHeader::new(RichText::new(&section.title).strong())
        .default_open(true)
        .show(ui, |ui| {
            for field in &section.fields {
                show_field(ui, field, wanted);
                for trouble in trouble.iter().filter(|t| belongs(t, &field.key)) {
                    ui.colored_label(ui.visuals().error_fg_color, &trouble.message);
                }
            }
        });
}

fn show_field(ui: &mut Ui, field: &Field, wanted: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        let label = ui
            .scope(|ui| {
                ui.set_width(LABEL);
                ui.add(egui::Label::new(&field.name).truncate())
            })
            .inner;
        let id = Id::unique(("field", &field.steps));
        // While somebody types, their text stands; otherwise the plan's.
        let typed = ui.data_mut(|data| data.get_temp::<String>(id));
        let mut text = typed.unwrap_or_else(|| field.text.clone());
        let edit = TextEdit::singleline(&mut text).id(id).desired_width(130.0);
        let response = ui.add(edit).labelled_by(label.id);
        if response.lost_focus() {
            let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
            if text != field.text && !given_up {
                wanted.push(Action::Edit(field.steps.clone(), text));
            }
            ui.data_mut(|data| data.remove_temp::<String>(id));
        } else if response.has_focus() {
            ui.data_mut(|data| data.insert_temp(id, text));
        }
    });
}
