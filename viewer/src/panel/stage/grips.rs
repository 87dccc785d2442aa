//! Grips on the stage: a part is moved along and turned about its axes by dragging, one number of the plan at a time.

mod riders;

use super::marks::{note, on_screen};
use crate::app::document::quantity::like;
use crate::app::document::{Change, Document, Step};
use crate::app::{Action, State};
use crate::stage::grips::{Grip, Pose};
use egui::{Align2, Color32, Id, Key, Pos2, Rect, Sense, Stroke, Ui, Vec2};
use evenfall_sim::units::{Dimension, parse_quantity};
use glam::{DVec2, DVec3};
use std::f64::consts::TAU;

/// Length of arrows, share of the height of the picture.
const REACH: f64 = 0.17;
/// Steps that values are rounded to, m and rad; with Shift a tenth of that.
const STEPS: [f64; 2] = [0.5e-3, TAU / 360.0];
/// Colours of x, y, z: apart for colour-blind eyes (Okabe and Ito, from memory); letters stand beside them.
const COLOURS: [Color32; 3] = [
    Color32::from_rgb(213, 94, 0),
    Color32::from_rgb(0, 158, 115),
    Color32::from_rgb(0, 114, 178),
];
/// Side of what can be taken, points.
const HOLD: f32 = 18.0;

/// A part as the plan places it.
struct Placed<'a> {
    document: &'a Document,
    /// Its number.
    part: usize,
    name: &'a str,
    pose: Pose,
}

impl Placed<'_> {
    fn way(&self, grip: Grip) -> Vec<Step> {
        let (key, axis) = match grip {
            Grip::Along(axis) => ("at", axis),
            Grip::About(axis) => ("turn", axis),
        };
        let mut way = way_to(self.part);
        way.extend([Step::Key(key.to_owned()), Step::Place(axis)]);
        way
    }

    /// The change that gives a number another value.
    fn change(&self, grip: Grip, value: f64) -> Change {
        let (key, dimension, digits) = match grip {
            Grip::Along(_) => ("at", Dimension::Length, 5),
            Grip::About(_) => ("turn", Dimension::Angle, 4),
        };
        let way = self.way(grip);
        if let Some(typed) = self.document.text_of(&way) {
            return Change::Set(way, like(&typed, dimension, value, digits));
        }
        let values = match self.pose.with(grip, value) {
            pose if key == "at" => pose.at_m,
            pose => pose.turn_rad,
        };
        let values = values
            .to_array()
            .map(|v| format!("\"{}\"", like("", dimension, v, digits)));
        Change::Put(
            way_to(self.part),
            key.to_owned(),
            format!("[{}]", values.join(", ")),
        )
    }
}

fn way_to(part: usize) -> Vec<Step> {
    vec![Step::Key("part".to_owned()), Step::Place(part)]
}

/// The part that is gripped: that of the pinned spot, else the first; none where the plan's own text does not hold it.
fn placed(state: &State) -> Option<Placed<'_>> {
    let document = state.document.as_ref()?;
    let shown = state.shown.as_ref()?;
    let part = state.spot.map_or(0, |spot| spot.part);
    let name = &shown.outcome.parts.get(part)?.name;
    let mut sections = document.sections().iter();
    let section = sections.find(|section| section.way == way_to(part))?;
    let named = section
        .fields
        .iter()
        .any(|f| f.name == "name" && f.text == *name);
    if !named {
        return None; // it comes from an included file, or is new
    }
    let vector = |key: &str, dimension| {
        let mut values = DVec3::ZERO;
        for axis in 0..3 {
            let mut way = way_to(part);
            way.extend([Step::Key(key.to_owned()), Step::Place(axis)]);
            if let Some(typed) = document.text_of(&way) {
                values[axis] = parse_quantity(&typed, dimension).ok()?;
            }
        }
        Some(values)
    };
    let pose = Pose {
        at_m: vector("at", Dimension::Length)?,
        turn_rad: vector("turn", Dimension::Angle)?,
    };
    Some(Placed {
        document,
        part,
        name,
        pose,
    })
}

/// The edit that gives one angle of `turn` of the pinned spot's part another value, what rides on it carried along as by the
/// grips; none where the plan's own text does not hold the part.
pub fn turned(state: &State, axis: usize, then_rad: f64) -> Option<Change> {
    let placed = placed(state)?;
    Some(moved(state, &placed, (Grip::About(axis), then_rad)))
}

/// The edit that gives a number another value.
fn moved(state: &State, placed: &Placed<'_>, (grip, value): (Grip, f64)) -> Change {
    let mut changes = vec![placed.change(grip, value)];
    if state.carries {
        let moved = placed.pose.with(grip, value).affine() * placed.pose.affine().inverse();
        changes.extend(riders::carried(placed.document, &moved));
    }
    Change::All(changes)
}

/// Draws the grips and carries drags out.
pub fn show(ui: &Ui, state: &State, rect: Rect, wanted: &mut Vec<Action>) {
    if !state.grips {
        return;
    }
    let Some(placed) = placed(state) else {
        let text = "the part stands in no file that is open here, so it cannot be moved";
        note(
            ui,
            rect.center_top() + Vec2::new(0.0, 8.0),
            Align2::CENTER_TOP,
            text,
        );
        return;
    };
    let reach_m = REACH * state.orbit.height_m();
    let dragged = Grip::ALL.map(|grip| drag(ui, state, &placed, (rect, grip, reach_m)));
    let mut pose = placed.pose;
    for (grip, drag) in Grip::ALL.into_iter().zip(&dragged) {
        match drag {
            Drag::Over(value) => {
                pose = pose.with(grip, *value);
                wanted.push(Action::Nudge(Some((placed.part, pose.affine()))));
                let text = in_words(&placed, grip, *value);
                note(
                    ui,
                    rect.center_top() + Vec2::new(0.0, 8.0),
                    Align2::CENTER_TOP,
                    &text,
                );
            }
            Drag::Ended(value) => {
                wanted.push(Action::Edit(moved(state, &placed, (grip, *value))));
            }
            Drag::No => {}
        }
    }
    for grip in Grip::ALL {
        paint(ui, state, (rect, &pose, reach_m), grip);
    }
}

fn in_words(placed: &Placed<'_>, grip: Grip, value: f64) -> String {
    let what = match grip {
        Grip::Along(_) => "at",
        Grip::About(_) => "turn",
    };
    let typed = placed
        .document
        .text_of(&placed.way(grip))
        .unwrap_or_default();
    let (dimension, digits) = match grip {
        Grip::Along(_) => (Dimension::Length, 5),
        Grip::About(_) => (Dimension::Angle, 4),
    };
    let value = like(&typed, dimension, value, digits);
    format!("{} {what} {}: {value}", placed.name, grip.letter())
}

/// What somebody does with a grip.
enum Drag {
    No,
    /// It would have this value if let go.
    Over(f64),
    /// It was let go at this value.
    Ended(f64),
}

fn drag(
    ui: &Ui,
    state: &State,
    placed: &Placed<'_>,
    (rect, grip, reach_m): (Rect, Grip, f64),
) -> Drag {
    let id = Id::unique(("grip", grip));
    let value = placed.pose.value(grip);
    let dragged: Option<f64> = ui.data(|data| data.get_temp(id));
    let now = placed.pose.with(grip, dragged.unwrap_or(value));
    let Some(spot) = state.orbit.spot(now.hold(grip, reach_m), state.aspect) else {
        return Drag::No;
    };
    let hold = Rect::from_center_size(on_screen(rect, spot), Vec2::splat(HOLD));
    let response = ui.interact(hold, id.with("hold"), Sense::click_and_drag());
    let verb = match grip {
        Grip::Along(_) => "Move",
        Grip::About(_) => "Turn",
    };
    let label = format!("{verb} {} {}", placed.name, grip.letter());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Slider, true, label.clone()));
    let finer = ui.input(|input| input.modifiers.shift);
    let step = match grip {
        Grip::Along(_) => STEPS[0],
        Grip::About(_) => STEPS[1],
    } * if finer { 0.1 } else { 1.0 };
    let rounded = |value: f64| (value / step).round() * step;
    if response.has_focus() {
        super::hold_arrows(ui, response.id);
        let pressed = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
        if pressed(Key::ArrowUp) {
            return Drag::Ended(rounded(value + step));
        }
        if pressed(Key::ArrowDown) {
            return Drag::Ended(rounded(value - step));
        }
    }
    let moved = response.drag_delta();
    if response.dragged() {
        let drag = DVec2::new(
            f64::from(2.0 * moved.x / rect.width().max(1.0)),
            f64::from(-2.0 * moved.y / rect.height().max(1.0)),
        );
        let change = now.dragged(grip, drag, (&state.orbit, state.aspect, reach_m));
        let raw = now.value(grip) + change;
        ui.data_mut(|data| data.insert_temp(id, raw));
        return Drag::Over(rounded(raw));
    }
    if let Some(raw) = dragged {
        ui.data_mut(|data| data.remove_temp::<f64>(id));
        if (rounded(raw) - value).abs() > 0.0 {
            return Drag::Ended(rounded(raw));
        }
    }
    Drag::No
}

fn paint(ui: &Ui, state: &State, (rect, pose, reach_m): (Rect, &Pose, f64), grip: Grip) {
    let painter = ui.painter().with_clip_rect(rect);
    let place = |at_m: DVec3| {
        let spot = state.orbit.spot(at_m, state.aspect)?;
        Some(on_screen(rect, spot))
    };
    let (Grip::Along(axis) | Grip::About(axis)) = grip;
    let stroke = Stroke::new(2.5, COLOURS[axis]);
    // a light rim, so that they stand out from any colour of the map
    let rim = |width: f32| Stroke::new(width, Color32::from_white_alpha(200));
    let Some(hold) = place(pose.hold(grip, reach_m)) else {
        return;
    };
    match grip {
        Grip::Along(_) => {
            if let Some(foot) = place(pose.at_m) {
                painter.arrow(foot, hold - foot, rim(5.0));
                painter.arrow(foot, hold - foot, stroke);
            }
        }
        Grip::About(_) => {
            let angles = (0..=48).map(|k| TAU * f64::from(k) / 48.0);
            let points: Option<Vec<Pos2>> = angles
                .map(|angle| place(pose.round(grip, reach_m, angle)))
                .collect();
            if let Some(points) = points {
                let thin = Stroke::new(1.5, COLOURS[axis]);
                painter.line(points.clone(), rim(3.0));
                painter.line(points, thin);
            }
            painter.circle_filled(hold, 6.0, COLOURS[axis]);
            painter.circle_stroke(hold, 6.0, Stroke::new(1.0, Color32::WHITE));
        }
    }
    let id = Id::unique(("grip", grip)).with("hold");
    if ui.memory(|memory| memory.has_focus(id)) {
        let ring = Stroke::new(2.5, ui.visuals().selection.stroke.color);
        painter.circle_stroke(hold, 12.0, ring);
    }
    let letter = hold + Vec2::new(11.0, -11.0);
    let font = egui::FontId::proportional(14.0);
    painter.circle_filled(letter, 8.0, Color32::from_white_alpha(220));
    painter.text(
        letter,
        Align2::CENTER_CENTER,
        grip.letter(),
        font,
        COLOURS[axis],
    );
}
