//! The stage's place in the window: picture, pointer, tools.

mod figure;
mod grips;
mod legend;
mod marks;
mod scale;
mod tools;

use crate::app::settings::Pointer;
use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::paint;
use crate::stage::pick::Spot;
use egui::{
    Align2, Color32, FontId, Key, Modifiers, PointerButton, Pos2, Rect, Response, Sense, Ui, Vec2,
};
pub use figure::figure;
use glam::{DVec2, DVec3};
pub use grips::turned;
pub use marks::note;

/// Shows the stage.
pub fn show(
    ui: &mut Ui,
    state: &State,
    picture: Option<egui::TextureId>,
    wanted: &mut Vec<Action>,
) {
    let fill = ui.visuals().panel_fill;
    // a row of tools that is too long for it must not push the stage out of the window
    let room = ui.available_width();
    let spacing = std::mem::replace(&mut ui.spacing_mut().item_spacing.y, 0.0);
    egui::Frame::NONE
        .fill(fill)
        .inner_margin(egui::Margin::symmetric(6, 2))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.spacing_mut().item_spacing.y = spacing;
            tools::show(ui, state, wanted);
        });
    let legend = state.shown.as_ref().map(|shown| {
        let legend = paint::paint_legend(&state.look(shown), state.paint);
        let size = Vec2::new(room, ui.available_height());
        (shown, legend, legend::is_in_the_way(size))
    });
    if let Some((shown, legend, true)) = &legend {
        let strip = legend::strip(ui, room, legend);
        scale::under(&strip, state, shown, wanted);
    }
    let size = Vec2::new(room, ui.available_height());
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, "Stage"));
    let aspect = f64::from(rect.width() / rect.height().max(1.0));
    if (aspect - state.aspect).abs() > 1e-6 {
        wanted.push(Action::Aspect(aspect));
    }
    draw(ui, rect, picture);
    if response.has_focus() {
        let ring = ui.visuals().selection.stroke;
        ui.painter()
            .rect_stroke(rect.shrink(1.0), 0.0, ring, egui::StrokeKind::Inside);
    }
    let Some((shown, legend, is_above)) = &legend else {
        ui.painter().text(
            rect.center(),
            Align2::CENTER_CENTER,
            "Drop a plan or an outcome here",
            FontId::proportional(18.0),
            ui.visuals().weak_text_color(),
        );
        return;
    };
    pointer(ui, state, shown, (rect, &response), wanted);
    marks::names(ui, state, shown, rect);
    grips::show(ui, state, rect, wanted);
    marks::sight(ui, state, rect);
    marks::pinned(ui, state, shown, rect);
    if !is_above {
        let plate = legend::show(ui, rect, legend);
        let id = response.id.with("legend");
        let legend = ui.interact(plate, id, Sense::click());
        scale::under(&legend, state, shown, wanted);
    }
    marks::length_bar(ui, state, rect);
    marks::reading(ui, state, shown, rect);
}

/// Puts the picture in its place, and says where that is.
fn draw(ui: &Ui, rect: Rect, picture: Option<egui::TextureId>) {
    ui.data_mut(|data| data.insert_temp(egui::Id::unique(PLACE), rect));
    ui.painter()
        .rect_filled(rect, 0.0, ui.visuals().extreme_bg_color);
    if let Some(picture) = picture {
        let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
        ui.painter().image(picture, rect, whole, Color32::WHITE);
    }
}

/// Key of the stage's rectangle in egui's memory, for whoever draws it.
pub const PLACE: &str = "place of the stage";

/// Turning, sliding, coming nearer, reading, pinning.
fn pointer(
    ui: &Ui,
    state: &State,
    shown: &Shown,
    (rect, response): (Rect, &Response),
    wanted: &mut Vec<Action>,
) {
    let height = f64::from(rect.height().max(1.0));
    let in_heights = |drag: Vec2| DVec2::new(f64::from(drag.x), f64::from(drag.y)) / height;
    let shift = ui.input(|input| input.modifiers.shift);
    if response.dragged() {
        let drag = in_heights(response.drag_delta());
        let by = |button| response.dragged_by(button);
        let [turns, slides] = match state.settings.pointer {
            Pointer::First => {
                let first = by(PointerButton::Primary);
                [first && !shift, !first || shift]
            }
            Pointer::Middle => {
                let middle = by(PointerButton::Middle);
                [middle && !shift, middle && shift]
            }
            Pointer::Second => [by(PointerButton::Secondary), by(PointerButton::Middle)],
        };
        if drag != DVec2::ZERO && (turns || slides) {
            wanted.push(if slides {
                Action::Slide(drag)
            } else {
                Action::Turn(drag)
            });
        }
    }
    if response.has_focus() {
        by_keys(ui, state, shown, response.id, wanted);
    }
    let Some(at) = response.hover_pos() else {
        if state.hover.is_some() {
            wanted.push(Action::Hover(None));
        }
        return;
    };
    let spot = in_picture(rect, at);
    let (scrolled, pinched) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
    let factor = f64::from(pinched) * (f64::from(scrolled) * 0.004).exp();
    if (factor - 1.0).abs() > 1e-6 {
        wanted.push(Action::Near(factor, spot));
    }
    if response.dragged() {
        return;
    }
    if !shown.is_prepared() && !response.clicked() {
        return;
    }
    let found = find(state, shown, spot);
    if response.clicked() {
        wanted.push(Action::Pin(found));
    }
    if found != state.hover {
        wanted.push(Action::Hover(found));
    }
}

/// What the keys do while the stage has them: arrows turn, with Shift they slide, plus and minus come nearer and go
/// away, Enter pins what is in the middle.
fn by_keys(ui: &Ui, state: &State, shown: &Shown, id: egui::Id, wanted: &mut Vec<Action>) {
    hold_arrows(ui, id);
    let arrows = [
        (Key::ArrowLeft, DVec2::new(-1.0, 0.0)),
        (Key::ArrowRight, DVec2::new(1.0, 0.0)),
        (Key::ArrowUp, DVec2::new(0.0, -1.0)),
        (Key::ArrowDown, DVec2::new(0.0, 1.0)),
    ];
    let pressed = |modifiers, key| ui.input_mut(|input| input.consume_key(modifiers, key));
    for (key, way) in arrows {
        if pressed(Modifiers::SHIFT, key) {
            wanted.push(Action::Slide(way * KEY_STEP));
        } else if pressed(Modifiers::NONE, key) {
            wanted.push(Action::Turn(way * KEY_STEP));
        }
    }
    for (key, factor) in [
        (Key::Plus, 1.2),
        (Key::Equals, 1.2),
        (Key::Minus, 1.0 / 1.2),
    ] {
        if pressed(Modifiers::NONE, key) || pressed(Modifiers::SHIFT, key) {
            wanted.push(Action::Near(factor, DVec2::ZERO));
        }
    }
    if pressed(Modifiers::NONE, Key::Enter) {
        wanted.push(Action::Pin(find(state, shown, DVec2::ZERO)));
    }
}

/// How far an arrow key turns or slides, heights of the picture.
const KEY_STEP: f64 = 0.03;

/// Keeps the arrow keys for a widget, so that they do not go on to the next one.
pub fn hold_arrows(ui: &Ui, id: egui::Id) {
    let filter = egui::EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..Default::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
}

/// What is at a spot of the picture.
pub fn find(state: &State, shown: &Shown, spot: DVec2) -> Option<Spot> {
    let ray = state.orbit.ray(spot, state.aspect);
    let cut = state.cut_plane();
    let keeps = |point: DVec3| cut.is_none_or(|(normal, height)| normal.dot(point) <= height);
    shown.picker().spot(&state.places(shown)[2..], ray, keeps)
}

/// A place in the window as the orbit wants it: −1 to 1, right and up.
fn in_picture(rect: Rect, at: Pos2) -> DVec2 {
    let from_middle = at - rect.center();
    DVec2::new(
        f64::from(2.0 * from_middle.x / rect.width().max(1.0)),
        f64::from(-2.0 * from_middle.y / rect.height().max(1.0)),
    )
}
