//! The row above the stage: paint, scale, sides, A, the cut.

use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::orbit::Side;
use crate::stage::paint::{Paint, paint_legend};
use crate::stage::ruler::Spread;
use egui::{ComboBox, Ui};

/// Shows the row.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.horizontal_wrapped(|ui| {
        if let Some(shown) = &state.shown {
            let label = ui.label("Paint");
            let combo = ComboBox::from_id_salt("paint")
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
            scale(ui, state, shown, wanted);
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
        let mut cuts = state.cut.is_some();
        if ui.checkbox(&mut cuts, "Cut").changed() {
            wanted.push(Action::Cut(cuts.then_some(0.5)));
        }
        if let Some(share) = state.cut {
            let mut share = share;
            let slider = egui::Slider::new(&mut share, 0.0..=1.0).show_value(false);
            if ui.add(slider).on_hover_text("depth of the cut").changed() {
                wanted.push(Action::Cut(Some(share)));
            }
        }
    });
}

/// How the scale is spread, whether it stays, and its text.
fn scale(ui: &mut Ui, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    ui.menu_button("Scale", |ui| {
        let mut spread = state.spread;
        ui.radio_value(&mut spread, Spread::Linear, "equal steps (linear)");
        ui.radio_value(
            &mut spread,
            Spread::Logarithmic,
            "equal ratios (logarithmic)",
        );
        if spread != state.spread {
            wanted.push(Action::Spread(spread));
        }
        ui.separator();
        let look = state.look(shown);
        let mut holds = state.held.is_some();
        let tip = "All maps from now on are painted on the scale of this one";
        let lock = ui.checkbox(&mut holds, "Lock the scale").on_hover_text(tip);
        if lock.changed() {
            wanted.push(Action::Hold(holds.then_some(look.ruler().scale)));
        }
        if ui.button("Copy the scale as text").clicked() {
            let legend = paint_legend(&look, state.paint);
            ui.ctx().copy_text(legend.as_text());
            ui.close();
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
