//! Setup: every value of the plan, as typed, with what is wrong beside it; keys and tables come and go.

use crate::app::document::{Change, Document, Field, Section, Step};
use crate::app::{Action, State, Trouble};
use egui::{CollapsingHeader, ComboBox, Id, RichText, ScrollArea, TextEdit, Ui};
use evenfall_sim::plan::offers::{self, Names, Offer};

/// Width of a value, points.
const VALUE: f32 = 118.0;

/// Key of the section to go to in egui's memory.
const GO_TO: &str = "section to go to";

/// Shows the panel.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    // a panel is as wide as what is in it
    ui.set_min_width(ui.available_width());
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
    ui.horizontal(|ui| {
        go_to(ui, sections);
        tables(ui, document, wanted);
    });
    let names = document.names();
    ScrollArea::vertical().show(ui, |ui| {
        for section in sections {
            show_section(ui, section, (document, &names, &state.trouble), wanted);
        }
    });
}

/// A list of the sections, to go to one.
fn go_to(ui: &mut Ui, sections: &[Section]) {
    let combo = ComboBox::from_id_salt(GO_TO)
        .selected_text("Go to")
        .width(110.0)
        .height(480.0)
        .show_ui(ui, |ui| {
            for section in sections {
                if ui.selectable_label(false, &section.title).clicked() {
                    let id = Id::unique(GO_TO);
                    ui.data_mut(|data| data.insert_temp(id, section.title.clone()));
                }
            }
        });
    combo.response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::Role::ComboBox, true, "Go to a section of the plan")
    });
}

/// Tables that the plan may get.
fn tables(ui: &mut Ui, document: &Document, wanted: &mut Vec<Action>) {
    ui.menu_button("Add to the plan", |ui| {
        let has: Vec<&str> = document
            .sections()
            .iter()
            .map(|section| section.table.as_str())
            .collect();
        for offer in offers::tables(&has, &document.names()) {
            if ui.button(&offer.name).on_hover_text(offer.help).clicked() {
                wanted.push(Action::Edit(Change::Append(offer.toml)));
                ui.close();
            }
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

fn show_section(
    ui: &mut Ui,
    section: &Section,
    (document, names, trouble): (&Document, &Names, &[Trouble]),
    wanted: &mut Vec<Action>,
) {
    let id = Id::unique(GO_TO);
    let goes = ui.data(|data| data.get_temp::<String>(id)) == Some(section.title.clone());
    let header = CollapsingHeader::new(RichText::new(&section.title).strong())
        .default_open(true)
        .open(goes.then_some(true))
        .show(ui, |ui| {
            for field in &section.fields {
                show_field(ui, section, field, wanted);
                for trouble in trouble.iter().filter(|t| belongs(t, &field.key)) {
                    ui.colored_label(ui.visuals().error_fg_color, &trouble.message);
                }
            }
            if section.table == "part" {
                riders(ui, document);
            }
            let title = format!("Keys of {}", section.title);
            ui.menu_button(title, |ui| change_keys(ui, section, names, wanted));
        });
    if goes {
        header.header_response.scroll_to_me(Some(egui::Align::Min));
        ui.data_mut(|data| data.remove_temp::<String>(id));
    }
}

/// Says which fixtures turn with the part but are placed by themselves.
fn riders(ui: &mut Ui, document: &Document) {
    let fixtures = document
        .sections()
        .iter()
        .filter(|section| section.table == "fixture");
    let value = |section: &Section, name: &str| {
        let mut fields = section.fields.iter();
        fields
            .find(|field| field.name == name)
            .map(|field| field.text.clone())
    };
    let riding = fixtures.filter(|section| value(section, "rides").as_deref() == Some("part"));
    let names: Vec<String> = riding
        .filter_map(|section| value(section, "name"))
        .collect();
    if !names.is_empty() {
        ui.label(RichText::new(format!(
            "{} turns along with the part but has a place of its own: move or tilt it too.",
            names.join(", ")
        )));
    }
}

/// Keys that a section may get, other forms of its values, and what can go.
fn change_keys(ui: &mut Ui, section: &Section, names: &Names, wanted: &mut Vec<Action>) {
    let mut has: Vec<&str> = Vec::new();
    for field in &section.fields {
        if let Some(&first) = field.path().first()
            && !has.contains(&first)
        {
            has.push(first);
        }
    }
    let shape = section.fields.iter().find(|field| field.name == "shape");
    let tag = shape.map(|field| field.text.as_str());
    let offers = offers::keys(&section.table, tag, names);
    let mut put = |ui: &mut Ui, label: &str, key: &str, offer: &Offer| {
        if ui.button(label).on_hover_text(offer.help).clicked() {
            let (way, key) = (section.way.clone(), key.to_owned());
            wanted.push(Action::Edit(Change::Put(way, key, offer.toml.clone())));
            ui.close();
        }
    };
    for offer in offers.iter().filter(|o| !has.contains(&o.name.as_str())) {
        put(ui, &format!("Add {}", offer.name), &offer.name, offer);
    }
    for key in &has {
        let forms = offers::forms(&section.table, key, names);
        for form in forms {
            put(ui, &format!("Make {key} a {}", form.name), key, &form);
        }
    }
    ui.separator();
    let mut remove = |ui: &mut Ui, label: String, way: Vec<Step>| {
        if ui.button(label).clicked() {
            wanted.push(Action::Edit(Change::Remove(way)));
            ui.close();
        }
    };
    for key in &has {
        let required = offers.iter().any(|o| o.name == *key && o.required);
        if !required {
            let mut way = section.way.clone();
            way.push(Step::Key((*key).to_owned()));
            remove(ui, format!("Take {key} out"), way);
        }
    }
    if !section.way.is_empty() {
        let label = format!("Take {} out of the plan", section.title);
        remove(ui, label, section.way.clone());
    }
}

fn show_field(ui: &mut Ui, section: &Section, field: &Field, wanted: &mut Vec<Action>) {
    ui.horizontal(|ui| {
        let name = (ui.available_width() - VALUE - 12.0).max(80.0);
        let label = ui
            .scope(|ui| {
                ui.set_width(name);
                ui.add(egui::Label::new(&field.name).truncate())
            })
            .inner;
        let label = match offers::help(&section.table, &field.path()) {
            Some(help) => label.on_hover_text(format!("{}: {help}", field.name)),
            None => label,
        };
        let id = Id::unique(("field", &field.steps));
        // While somebody types, their text stands; otherwise the plan's.
        let typed = ui.data_mut(|data| data.get_temp::<String>(id));
        let mut text = typed.unwrap_or_else(|| field.text.clone());
        let edit = TextEdit::singleline(&mut text).id(id).desired_width(VALUE);
        let response = ui.add(edit).labelled_by(label.id);
        if response.lost_focus() {
            let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
            if text != field.text && !given_up {
                wanted.push(Action::Edit(Change::Set(field.steps.clone(), text)));
            }
            ui.data_mut(|data| data.remove_temp::<String>(id));
        } else if response.has_focus() {
            ui.data_mut(|data| data.insert_temp(id, text));
        }
    });
}
