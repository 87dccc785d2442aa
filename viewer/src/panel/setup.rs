//! Setup: every value of the plan, as typed, with what is wrong beside it; keys and tables come and go.

use crate::app::document::{Change, Document, Field, Section, Step};
use crate::app::{Action, State, Trouble};
use egui::{CollapsingHeader, ComboBox, Id, RichText, ScrollArea, TextEdit, Ui};
use evenfall_sim::plan::offers::{self, Names, Offer};

/// Width of a value, points.
const VALUE: f32 = 118.0;

/// Key of the section to go to in egui's memory.
const GO_TO: &str = "section to go to";

/// Key of the number of sections before one was added, which is then gone to.
const GO_TO_LAST: &str = "section to come";

/// Goes to the section of the first problem that has one.
pub fn go_to_trouble(ui: &Ui, state: &State) {
    let sections = state
        .document
        .iter()
        .flat_map(|document| document.sections());
    let troubled = |section: &&Section| has_trouble(section, &state.trouble);
    let mut troubled = sections.filter(troubled);
    if let Some(section) = troubled.next() {
        let id = Id::unique(GO_TO);
        ui.data_mut(|data| {
            data.insert_temp(id, section.title.clone());
            data.insert_temp(Id::unique(super::SEEN), super::Seen::Setup);
        });
    }
}

fn has_trouble(section: &Section, trouble: &[Trouble]) -> bool {
    let mut fields = section.fields.iter();
    fields.any(|field| trouble.iter().any(|t| belongs(t, &field.key)))
}

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
    if !state.trouble.is_empty() {
        let many = state.trouble.len();
        let text = if many == 1 {
            "1 problem".to_owned()
        } else {
            format!("{many} problems")
        };
        ui.horizontal(|ui| {
            ui.colored_label(ui.visuals().error_fg_color, text);
            if ui.button("Show it").clicked() {
                go_to_trouble(ui, state);
            }
        });
    }
    ui.horizontal(|ui| {
        go_to(ui, sections, &state.trouble);
        tables(ui, document, wanted);
    });
    let last = Id::unique(GO_TO_LAST);
    let appended = ui.data(|data| data.get_temp::<usize>(last));
    if let (Some(count), Some(section)) = (appended, sections.last())
        && sections.len() > count
    {
        ui.data_mut(|data| {
            data.remove_temp::<usize>(last);
            data.insert_temp(Id::unique(GO_TO), section.title.clone());
        });
    }
    let names = document.names();
    ScrollArea::vertical().show(ui, |ui| {
        for section in sections {
            show_section(ui, section, (document, &names, &state.trouble), wanted);
        }
    });
}

/// A list of the sections, to go to one.
fn go_to(ui: &mut Ui, sections: &[Section], trouble: &[Trouble]) {
    let combo = ComboBox::from_id_salt(GO_TO)
        .selected_text("Go to")
        .width(110.0)
        .height(480.0)
        .show_ui(ui, |ui| {
            for section in sections {
                let mark = if has_trouble(section, trouble) {
                    "! "
                } else {
                    ""
                };
                let label = format!("{mark}{}", section.title);
                if ui.selectable_label(false, label).clicked() {
                    let id = Id::unique(GO_TO);
                    ui.data_mut(|data| data.insert_temp(id, section.title.clone()));
                    ui.close();
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
                let last = Id::unique(GO_TO_LAST);
                let count = document.sections().len();
                ui.data_mut(|data| data.insert_temp(last, count));
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
            // what is said of a list stands once, at its first value
            let mut said: Vec<&Trouble> = Vec::new();
            for field in &section.fields {
                show_field(ui, section, field, wanted);
                for trouble in trouble.iter().filter(|t| belongs(t, &field.key)) {
                    if !said.contains(&trouble) {
                        ui.colored_label(ui.visuals().error_fg_color, &trouble.message);
                        said.push(trouble);
                    }
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
            put(ui, &format!("Change {key} to {}", form.name), key, &form);
        }
    }
    for key in &has {
        let inside = section
            .fields
            .iter()
            .filter(|f| f.path().first() == Some(key) && f.path().len() > 1);
        let inside: Vec<&Field> = inside.collect();
        let present: Vec<&str> = inside
            .iter()
            .filter_map(|f| f.path().get(1).copied())
            .collect();
        let tag = inside
            .iter()
            .find(|field| field.path().get(1) == Some(&"shape"));
        let tag = tag.map(|field| field.text.as_str());
        for offer in offers::inner(&section.table, key, tag, names) {
            if !present.is_empty() && !present.contains(&offer.name.as_str()) {
                let label = format!("Add {key} {}", offer.name);
                if ui.button(label).on_hover_text(offer.help).clicked() {
                    let mut way = section.way.clone();
                    way.push(Step::Key((*key).to_owned()));
                    wanted.push(Action::Edit(Change::Put(way, offer.name, offer.toml)));
                    ui.close();
                }
            }
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
            remove(ui, format!("Remove {key}"), way);
        }
    }
    if !section.way.is_empty() {
        let label = format!("Remove {}", section.title);
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
        if response.gained_focus() {
            response.scroll_to_me(None);
        }
        if response.lost_focus() {
            let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
            if text != field.text && !given_up {
                let change = match field.path()[..] {
                    ["name"] => Change::Rename,
                    _ => Change::Set,
                };
                wanted.push(Action::Edit(change(field.steps.clone(), text)));
            }
            ui.data_mut(|data| data.remove_temp::<String>(id));
        } else if response.has_focus() {
            ui.data_mut(|data| data.insert_temp(id, text));
        }
    });
}
