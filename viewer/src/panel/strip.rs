//! The time strip: the schedule as a time line, and the playhead.

use super::stage::{hold_arrows, note};
use crate::app::document::quantity::like;
use crate::app::document::{Change, Step};
use crate::app::{Action, State};
use egui::{Align2, Color32, FontId, Key, Modifiers, Pos2, Rect, Sense, Stroke, Ui, Vec2};
use evenfall_sim::outcome::StepOutcome;
use evenfall_sim::outcome::figures::clock;
use evenfall_sim::units::{Dimension, parse_quantity};

/// Height of the bars, points.
const HEIGHT: f32 = 34.0;

/// Shows the strip.
pub fn show(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    let Some(shown) = &state.shown else {
        ui.label("Time strip: open a plan to see its steps.");
        return;
    };
    let lasts_s = shown.lasts_s();
    let now_s = state.time_s.min(lasts_s);
    ui.horizontal(|ui| {
        let name = if state.plays { "Pause" } else { "Play" };
        let tip = "The whole run in about ten seconds";
        if ui.button(name).on_hover_text(tip).clicked() {
            wanted.push(Action::Play(!state.plays));
        }
        let label = ui.label("Time");
        let mut at_s = now_s;
        let slider = egui::Slider::new(&mut at_s, 0.0..=lasts_s)
            .custom_formatter(|time_s, _| clock(time_s))
            .show_value(true);
        if ui.add(slider).labelled_by(label.id).changed() {
            wanted.push(Action::Time(if at_s >= lasts_s {
                f64::INFINITY
            } else {
                at_s
            }));
        }
        let (step, _) = shown.step_at(now_s);
        if let Some(step) = shown.outcome.steps.get(step) {
            ui.label(in_words(step));
        }
    });
    play(ui, state, (now_s, lasts_s), wanted);
    let size = Vec2::new(ui.available_width(), HEIGHT);
    let (rect, whole) = ui.allocate_exact_size(size, Sense::click_and_drag());
    let taken = whole.clicked() || whole.dragged();
    if let Some(at) = whole.interact_pointer_pos().filter(|_| taken) {
        let share = f64::from((at.x - rect.left()) / rect.width().max(1.0));
        wanted.push(Action::Time(share.clamp(0.0, 1.0) * lasts_s));
    }
    let mut begins_s = 0.0;
    for (number, step) in shown.outcome.steps.iter().enumerate() {
        let place = |time_s: f64| {
            let share = if lasts_s > 0.0 { time_s / lasts_s } else { 0.0 };
            rect.left() + rect.width() * narrow(share)
        };
        let bar = Rect::from_min_max(
            Pos2::new(place(begins_s), rect.top()),
            Pos2::new(place(begins_s + step.lasts_s), rect.bottom()),
        );
        show_step(ui, bar, number, step);
        let scale_s = lasts_s / f64::from(rect.width().max(1.0));
        edge(ui, state, (bar, number, step.lasts_s), scale_s, wanted);
        begins_s += step.lasts_s;
    }
    let x = rect.left() + rect.width() * narrow(now_s / lasts_s.max(f64::MIN_POSITIVE));
    let line = [
        Pos2::new(x, rect.top() - 2.0),
        Pos2::new(x, rect.bottom() + 2.0),
    ];
    let ink = ui.visuals().strong_text_color();
    ui.painter().line_segment(line, Stroke::new(2.0, ink));
}

/// How long a replay takes, s.
const REPLAY_S: f64 = 10.0;

/// Moves the playhead on while it plays.
fn play(ui: &Ui, state: &State, (now_s, lasts_s): (f64, f64), wanted: &mut Vec<Action>) {
    if !state.plays {
        return;
    }
    // a slow device shows fewer moments, not a slower run
    let passed_s = f64::from(ui.input(|input| input.stable_dt)).min(1.0);
    let then_s = now_s + passed_s * lasts_s / REPLAY_S;
    if then_s >= lasts_s {
        wanted.push(Action::Time(f64::INFINITY));
        wanted.push(Action::Play(false));
    } else {
        wanted.push(Action::Time(then_s));
        ui.ctx().request_repaint();
    }
}

/// The end of a step, which can be dragged: seconds per point tell how far.
fn edge(
    ui: &Ui,
    state: &State,
    (bar, number, lasts_s): (Rect, usize, f64),
    scale_s: f64,
    wanted: &mut Vec<Action>,
) {
    let way = [
        Step::Key("step".to_owned()),
        Step::Place(number),
        Step::Key("lasts".to_owned()),
    ];
    let Some(typed) = state.document.as_ref().and_then(|d| d.text_of(&way)) else {
        return;
    };
    let handle = Rect::from_center_size(bar.right_center(), Vec2::new(8.0, bar.height()));
    let id = egui::Id::unique(("end of step", number));
    let response = ui.interact(handle, id, Sense::drag());
    response.widget_info(|| {
        egui::WidgetInfo::labeled(
            egui::Role::Slider,
            true,
            format!("End of step {}", number + 1),
        )
    });
    let response = response.on_hover_cursor(egui::CursorIcon::ResizeHorizontal);
    if response.has_focus() {
        hold_arrows(ui, response.id);
        let unit = typed.trim_start_matches(|c: char| !c.is_alphabetic());
        let unit_s = parse_quantity(&format!("1 {unit}"), Dimension::Time).unwrap_or(1.0);
        for (key, change_s) in [(Key::ArrowRight, unit_s), (Key::ArrowLeft, -unit_s)] {
            let pressed = ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
            if pressed && lasts_s + change_s > 0.0 {
                let text = like(&typed, Dimension::Time, lasts_s + change_s, 4);
                wanted.push(Action::Edit(Change::Set(way.to_vec(), text)));
            }
        }
        let ring = ui.visuals().selection.stroke;
        ui.painter()
            .rect_stroke(handle, 1.0, ring, egui::StrokeKind::Inside);
    }
    // when the button is let go the drag is forgotten already
    let drag = response.total_drag_delta().map(|drag| f64::from(drag.x));
    let moved = ui.data_mut(|data| {
        if let Some(drag) = drag {
            data.insert_temp(id, drag);
        }
        data.get_temp::<f64>(id).unwrap_or(0.0)
    });
    let longer_s = (lasts_s + moved * scale_s).max(1.0);
    if response.dragged() {
        let ends = [
            Pos2::new(handle.center().x + narrow(moved), bar.top() - 3.0),
            Pos2::new(handle.center().x + narrow(moved), bar.bottom() + 3.0),
        ];
        let ink = ui.visuals().strong_text_color();
        ui.painter().line_segment(ends, Stroke::new(2.0, ink));
        let text = like(&typed, Dimension::Time, longer_s, 3);
        let at = Pos2::new(ends[0].x - 5.0, bar.center().y);
        note(ui, at, Align2::RIGHT_CENTER, &text);
    }
    if response.drag_stopped() && moved.abs() > 0.0 {
        ui.data_mut(|data| data.remove_temp::<f64>(id));
        let text = like(&typed, Dimension::Time, longer_s, 3);
        wanted.push(Action::Edit(Change::Set(way.to_vec(), text)));
    }
}

/// A bar: power by height, a shut shutter by stripes, turning by ticks.
fn show_step(ui: &Ui, bar: Rect, number: usize, step: &StepOutcome) {
    let painter = ui.painter().with_clip_rect(bar.intersect(ui.clip_rect()));
    let visuals = ui.visuals();
    painter.rect_filled(bar.shrink(0.5), 2.0, visuals.faint_bg_color);
    let power = step.power.iter().copied().fold(0.0, f64::max).min(1.0);
    let mut full = bar.shrink(1.0);
    full.set_top(bar.bottom() - bar.height() * narrow(power).max(0.06));
    let ink = visuals.text_color();
    if step.coats() {
        painter.rect_filled(full, 1.0, Color32::from_rgb(64, 128, 140));
    } else {
        // shut: stripes, as on the bench card the word in capitals
        let mut x = full.left() - full.height();
        while x < full.right() {
            let ends = [
                Pos2::new(x, full.bottom()),
                Pos2::new(x + full.height(), full.top()),
            ];
            painter.line_segment(ends, Stroke::new(1.5, ink.gamma_multiply(0.6)));
            x += 7.0;
        }
    }
    let turns = step
        .turns
        .iter()
        .map(|turns| turns.abs())
        .fold(0.0, f64::max);
    if turns >= 1.0 {
        let gap = (bar.width() / narrow(turns)).max(4.0);
        let mut x = bar.left() + gap;
        while x < bar.right() {
            let ends = [Pos2::new(x, bar.top()), Pos2::new(x, bar.top() + 5.0)];
            painter.line_segment(ends, Stroke::new(1.0, ink));
            x += gap;
        }
    }
    painter.text(
        bar.left_bottom() + Vec2::new(4.0, -2.0),
        Align2::LEFT_BOTTOM,
        format!("{}", number + 1),
        FontId::proportional(12.0),
        visuals.strong_text_color(),
    );
}

fn in_words(step: &StepOutcome) -> String {
    let mut words = vec![step.note.clone().unwrap_or_default()];
    words.push(if step.coats() { "open" } else { "shut" }.to_owned());
    words.extend(step.turning.iter().cloned());
    words.retain(|word| !word.is_empty());
    words.join(", ")
}

#[expect(clippy::cast_possible_truncation, reason = "a share of a width")]
fn narrow(value: f64) -> f32 {
    value as f32
}
