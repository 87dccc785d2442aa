//! What can be done about the scale: its spread, its ends, whether it stays. Under the button above the stage, and under
//! the legend.

use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::paint::paint_legend;
use crate::stage::ruler::Spread;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{Grid, Id, Popup, PopupCloseBehavior, Response, TextEdit, Ui};
use evenfall_sim::outcome::colour::{Scale, round_step};
use evenfall_sim::outcome::reading::Reading;
use evenfall_sim::units::{Dimension, parse_quantity, significant};

/// Width of an end's field, points.
const FIELD: f32 = 90.0;

/// Width of what is wrong with them, points.
const WIDEST: f32 = 200.0;

/// Somebody types here, so a click inside closes nothing.
const CLOSING: PopupCloseBehavior = PopupCloseBehavior::CloseOnClickOutside;

/// Shows the button.
pub fn button(ui: &mut Ui, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    MenuButton::new("Scale")
        .config(MenuConfig::new().close_behavior(CLOSING))
        .ui(ui, |ui| contents(ui, state, shown, wanted));
}

/// Opens the same by a click on the legend.
pub fn under(legend: &Response, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    legend.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, "Change the scale"));
    Popup::menu(legend)
        .close_behavior(CLOSING)
        .show(|ui| contents(ui, state, shown, wanted));
}

fn contents(ui: &mut Ui, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    let look = state.look(shown);
    if state.paint.is_thickness() {
        of_thickness(ui, state, look.ruler().scale, wanted);
    } else {
        ui.label("This paint has one scale for all maps.");
    }
    ui.separator();
    if ui.button("Copy the scale as text").clicked() {
        let legend = paint_legend(&look, state.paint);
        ui.ctx().copy_text(legend.as_text());
        ui.close();
    }
}

/// Spread, ends, lock.
fn of_thickness(ui: &mut Ui, state: &State, scale: Scale, wanted: &mut Vec<Action>) {
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
    ends(ui, &scale, state.settings.reading, wanted);
    let mut holds = state.held.is_some();
    let tip = "All maps from now on are painted on the scale of this one";
    let lock = ui.checkbox(&mut holds, "Lock the scale").on_hover_text(tip);
    if lock.changed() {
        wanted.push(Action::Hold(holds.then_some(scale)));
    }
    let fit = ui.add_enabled(state.held.is_some(), egui::Button::new("Fit to the map"));
    if fit
        .on_hover_text("Each map has its own scale again")
        .clicked()
    {
        wanted.push(Action::Hold(None));
        ui.data_mut(|data| data.remove_temp::<Typed>(Id::unique(TYPED)));
    }
}

/// Ends as they are being typed.
type Typed = [Option<String>; 2];

/// Their key in egui's memory.
const TYPED: &str = "ends of the scale as they are being typed";

/// Fields for the ends, with what is wrong with them below.
fn ends(ui: &mut Ui, scale: &Scale, reading: Reading, wanted: &mut Vec<Action>) {
    let id = Id::unique(TYPED);
    let mut typed: Typed = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    let now_m = [scale.low_m, scale.high_m];
    let mut left = false;
    Grid::new("ends of the scale")
        .num_columns(2)
        .show(ui, |ui| {
            for ((name, now_m), typed) in ["from", "to"].into_iter().zip(now_m).zip(&mut typed) {
                let label = ui.label(format!("Thickness {name}"));
                let now = format!(
                    "{} {}",
                    significant(reading.film(now_m), 4),
                    reading.film_unit()
                );
                let mut text = typed.clone().unwrap_or(now);
                let field = TextEdit::singleline(&mut text).desired_width(FIELD);
                let field = ui.add(field).labelled_by(label.id);
                if field.changed() {
                    *typed = Some(text);
                }
                left |= field.lost_focus();
                ui.end_row();
            }
        });
    let wish = typed.iter().any(Option::is_some);
    let meant = meant(&typed, now_m, reading);
    if left && ui.input(|input| input.key_pressed(egui::Key::Escape)) {
        typed = [None, None];
    } else if let (true, Err(reason)) = (wish, &meant) {
        let reason = egui::RichText::new(reason).color(ui.visuals().error_fg_color);
        ui.set_max_width(WIDEST);
        ui.add(egui::Label::new(reason).wrap());
    } else if let (true, true, Ok([low_m, high_m])) = (wish, left, meant) {
        let tick_m = round_step((high_m - low_m) / 5.0);
        wanted.push(Action::Hold(Some(Scale {
            low_m,
            high_m,
            tick_m,
            ..*scale
        })));
        typed = [None, None];
    }
    ui.data_mut(|data| data.insert_temp(id, typed));
}

/// The ends that are meant, m; what was not typed stays.
///
/// # Errors
/// Why it is no scale.
fn meant(
    typed: &[Option<String>; 2],
    now_m: [f64; 2],
    reading: Reading,
) -> Result<[f64; 2], String> {
    let mut ends_m = now_m;
    for (end_m, text) in ends_m.iter_mut().zip(typed) {
        let Some(text) = text else { continue };
        // a bare number is in the unit that is read
        let bare = !text.contains(char::is_alphabetic);
        let unit = if bare { reading.film_unit() } else { "" };
        let quantity = format!("{} {unit}", text.trim());
        *end_m = parse_quantity(quantity.trim(), Dimension::Length).map_err(|_| {
            let unit = reading.film_unit();
            format!(
                "\"{}\" is no thickness; write for example \"50 {unit}\"",
                text.trim()
            )
        })?;
    }
    let [low_m, high_m] = ends_m;
    let said = |film_m| reading.asked_in_words(film_m);
    if low_m < 0.0 {
        return Err(format!("{} (no film is thinner than 0)", said(low_m)));
    }
    if high_m <= low_m {
        return Err(format!(
            "the upper end {} must be above the lower one, {}",
            said(high_m),
            said(low_m)
        ));
    }
    Ok(ends_m)
}
