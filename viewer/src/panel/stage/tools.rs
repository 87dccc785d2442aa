//! The row above the stage: paint, scale, sides, A, the cut.

use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::orbit::Side;
use crate::stage::paint::Paint;
use egui::{ComboBox, Ui};

/// Width of the list of paints, points: the row is the same whichever is chosen.
const PAINT: f32 = 120.0;

/// Width of the slider, points: it wraps whole.
const SLIDER: f32 = 80.0;

/// Shows the row.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.horizontal_wrapped(|ui| {
        if let Some(shown) = &state.shown {
            let label = ui.label("Paint");
            let combo = ComboBox::from_id_salt("paint")
                .width(PAINT)
                .truncate()
                .height(480.0)
                .selected_text(state.paint.name(shown))
                .show_ui(ui, |ui| {
                    for paint in Paint::all(shown, state.pinned.as_deref()) {
                        let chosen = paint == state.paint;
                        if ui.selectable_label(chosen, paint.name(shown)).clicked() {
                            wanted.push(Action::Paint(paint));
                        }
                    }
                });
            combo.response.labelled_by(label.id);
            super::scale::button(ui, state, shown, wanted);
        }
        ui.separator();
        for (number, side) in Side::ALL.into_iter().enumerate() {
            let tip = format!("key {}", number + 1);
            if ui.button(side.name()).on_hover_text(tip).clicked() {
                wanted.push(Action::LookFrom(side));
            }
        }
        if ui.button("Fit").on_hover_text("key F").clicked() {
            wanted.push(Action::Fit);
        }
        ui.separator();
        if let Some(shown) = &state.shown {
            let tip = "Keep this map as A: its scale stays, and the ratio to it can be painted";
            if state.pinned.is_none() {
                if ui.button("Keep as A").on_hover_text(tip).clicked() {
                    wanted.push(Action::Keep);
                }
            } else if ui.button("Drop A").clicked() {
                wanted.push(Action::Release);
            }
            if let Some(kept) = &state.pinned
                && !std::sync::Arc::ptr_eq(kept, shown)
            {
                let reading = state.settings.reading;
                let mean_nm = kept.outcome.summary.parts[0].thickness_nm.mean;
                let text = format!("A: mean {}", reading.film_in_words(1e-9 * mean_nm));
                ui.add(egui::Label::new(text).extend())
                    .on_hover_text(&kept.headline(reading)[0]);
            }
            ui.separator();
        }
        moving(ui, state, wanted);
        let named = |shown: &Shown| !(shown.regions.is_empty() && shown.outcome.probes.is_empty());
        if state.shown.as_deref().is_some_and(named) {
            let mut names = state.names;
            if ui.checkbox(&mut names, "Names").changed() {
                wanted.push(Action::Names(names));
            }
        }
        if state.shown.as_deref().is_some_and(Shown::has_stencil) {
            let mut sheets = state.sheets;
            let tip = "The stencil as a veil; without it the map has its own colours";
            let drawn = ui.checkbox(&mut sheets, "Stencil").on_hover_text(tip);
            if drawn.changed() {
                wanted.push(Action::Sheets(sheets));
            }
        }
        let mut cuts = state.cut.is_some();
        if ui.checkbox(&mut cuts, "Cut").changed() {
            wanted.push(Action::Cut(cuts.then_some(0.5)));
        }
        if let Some(share) = state.cut {
            let mut share = share;
            ui.spacing_mut().slider_width = SLIDER;
            let slider = egui::Slider::new(&mut share, 0.0..=1.0).show_value(false);
            if ui.add(slider).on_hover_text("depth of the cut").changed() {
                wanted.push(Action::Cut(Some(share)));
            }
        }
    });
}

/// Grips, and whether what rides goes along.
fn moving(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    if state.document.is_some() {
        let mut grips = state.grips;
        let tip = "Arrows move the part, circles turn it; shown as it hangs at angle 0 (key M)";
        let moves = ui.checkbox(&mut grips, "Move part").on_hover_text(tip);
        if moves.changed() {
            wanted.push(Action::Grips(grips));
        }
        if state.grips {
            let mut carries = state.carries;
            let tip = "Fixtures and coupons that ride with the part keep their place on it";
            let along = ui.checkbox(&mut carries, "with what rides on it");
            if along.on_hover_text(tip).changed() {
                wanted.push(Action::Carry(carries));
            }
        }
    }
}
