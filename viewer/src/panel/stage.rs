//! The stage's place in the window: picture, pointer, scale.

use crate::app::settings::Pointer;
use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::orbit::Side;
use crate::stage::paint::{self, Legend, Paint, thickness_at};
use crate::stage::pick::Spot;
use crate::stage::sight::Meets;
use egui::{
    Align2, Color32, ColorImage, ComboBox, FontId, PointerButton, Pos2, Rect, Response, Sense,
    Stroke, Ui, Vec2,
};
use evenfall_sim::outcome::colour;
use evenfall_sim::outcome::figures::{three, with_error};
use evenfall_sim::outcome::survey::Standing;
use glam::{DVec2, DVec3};

/// Shows the stage.
pub fn show(
    ui: &mut Ui,
    state: &State,
    picture: Option<egui::TextureId>,
    wanted: &mut Vec<Action>,
) {
    let fill = ui.visuals().panel_fill;
    let spacing = std::mem::replace(&mut ui.spacing_mut().item_spacing.y, 0.0);
    egui::Frame::NONE
        .fill(fill)
        .inner_margin(egui::Margin::symmetric(6, 2))
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.spacing_mut().item_spacing.y = spacing;
            tools(ui, state, wanted);
        });
    let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, "Stage"));
    let aspect = f64::from(rect.width() / rect.height().max(1.0));
    if (aspect - state.aspect).abs() > 1e-6 {
        wanted.push(Action::Aspect(aspect));
    }
    ui.data_mut(|data| data.insert_temp(egui::Id::unique(PLACE), rect));
    if let Some(picture) = picture {
        let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
        ui.painter().image(picture, rect, whole, Color32::WHITE);
    }
    let Some(shown) = &state.shown else {
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
    sight(ui, state, rect);
    mark_spot(ui, state, shown, rect);
    scale(
        ui,
        rect,
        &paint::paint_legend(&state.look(shown), state.paint),
    );
    reading(ui, state, shown, rect);
}

/// Key of the stage's rectangle in egui's memory, for whoever draws it.
pub const PLACE: &str = "place of the stage";

fn tools(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    ui.horizontal_wrapped(|ui| {
        if let Some(shown) = &state.shown {
            let label = ui.label("Paint");
            let combo = ComboBox::from_id_salt("paint")
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
            } else if ui.button("Let A go").clicked() {
                wanted.push(Action::Release);
            }
            if let Some(kept) = &state.pinned
                && !std::sync::Arc::ptr_eq(kept, shown)
            {
                let mean_nm = kept.outcome.summary.parts[0].thickness_nm.mean;
                ui.label(format!("A: mean {} nm", three(mean_nm)))
                    .on_hover_text(&kept.headline[0]);
            }
            ui.separator();
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

/// What is at a spot of the picture.
pub fn find(state: &State, shown: &Shown, spot: DVec2) -> Option<Spot> {
    let ray = state.orbit.ray(spot, state.aspect);
    let cut = state.cut_plane();
    let keeps = |point: DVec3| cut.is_none_or(|(normal, height)| normal.dot(point) <= height);
    let pose = shown.pose_at(state.time_s);
    shown.picker().spot(&pose, ray, keeps)
}

/// A place in the window as the orbit wants it: −1 to 1, right and up.
fn in_picture(rect: Rect, at: Pos2) -> DVec2 {
    let from_middle = at - rect.center();
    DVec2::new(
        f64::from(2.0 * from_middle.x / rect.width().max(1.0)),
        f64::from(-2.0 * from_middle.y / rect.height().max(1.0)),
    )
}

fn mark_spot(ui: &Ui, state: &State, shown: &Shown, rect: Rect) {
    let Some(spot) = &state.spot else { return };
    let at_m = shown.pose_at(state.time_s).transform_point3(spot.at_m);
    if let Some(place) = state.orbit.spot(at_m, state.aspect) {
        let at = on_screen(rect, place);
        let painter = ui.painter().with_clip_rect(rect);
        painter.circle_stroke(at, 7.0, Stroke::new(3.0, Color32::WHITE));
        painter.circle_stroke(at, 7.0, Stroke::new(1.5, Color32::BLACK));
    }
}

/// Lines from the pinned spot to the footprints, by what is in their way: clear ones solid, others broken.
fn sight(ui: &Ui, state: &State, rect: Rect) {
    let Some(sight) = &state.sight else { return };
    let painter = ui.painter().with_clip_rect(rect);
    let place = |point_m: DVec3| {
        state
            .orbit
            .spot(point_m, state.aspect)
            .map(|spot| on_screen(rect, spot))
    };
    for line in &sight.lines {
        let (Some(from), Some(to)) = (place(line.from_m), place(line.to_m)) else {
            continue;
        };
        let (colour, dash) = match line.meets {
            Meets::Nothing => (Color32::from_rgb(60, 170, 200), None),
            Meets::Part => (Color32::from_rgb(200, 70, 60), Some(9.0)),
            Meets::Fixture => (Color32::from_rgb(225, 150, 40), Some(5.0)),
            Meets::Behind => (Color32::from_gray(140), Some(2.5)),
        };
        match dash {
            None => {
                painter.line_segment([from, to], Stroke::new(1.4, colour));
            }
            Some(dash) => {
                let stroke = Stroke::new(1.0, colour);
                painter.extend(egui::Shape::dashed_line(&[from, to], stroke, dash, dash));
            }
        }
    }
}

/// A spot of the picture as the orbit has it, in the window.
fn on_screen(rect: Rect, spot: DVec2) -> Pos2 {
    #[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
    let offset = Vec2::new(spot.x as f32 * rect.width(), -spot.y as f32 * rect.height());
    rect.center() + 0.5 * offset
}

/// What is under the pointer.
fn reading(ui: &Ui, state: &State, shown: &Shown, rect: Rect) {
    let Some(patch) = state.hover.and_then(|spot| {
        shown
            .survey
            .patches
            .get(spot.patch)
            .map(|patch| (spot, patch))
    }) else {
        return;
    };
    let (spot, patch) = patch;
    let part = &shown.outcome.parts[spot.part];
    let facet = shown.facet(spot.patch);
    let film = match patch.standing {
        Standing::NoneSeen => "no film seen".to_owned(),
        Standing::Unreached => "unreached".to_owned(),
        Standing::Uncounted => "not counted".to_owned(),
        _ => {
            let nm = 1e9 * thickness_at(shown, spot.patch, state.time_s);
            format!("{} nm", with_error(nm, 1e9 * patch.std_error_m))
        }
    };
    let mut text = format!("{}: {film}", part.name);
    if let Some(facet) = facet.filter(|facet| facet.incidence_rad.is_finite()) {
        text.push_str(&format!(
            ", incidence {:.0}°",
            facet.incidence_rad.to_degrees()
        ));
    }
    let lost = (1..7).max_by(|&a, &b| patch.shares[a].total_cmp(&patch.shares[b]));
    if let Some(lost) = lost.filter(|&lost| patch.shares[lost] >= 0.1) {
        let share = 100.0 * patch.shares[lost];
        text.push_str(&format!(", {share:.0} % {}", paint::SHARES[lost]));
    }
    note(
        ui,
        rect.left_bottom() + Vec2::new(8.0, -8.0),
        Align2::LEFT_BOTTOM,
        &text,
    );
}

/// A text on a plate of its own.
fn note(ui: &Ui, at: Pos2, align: Align2, text: &str) {
    let visuals = ui.visuals();
    let font = FontId::proportional(14.0);
    let galley = ui
        .painter()
        .layout_no_wrap(text.to_owned(), font, visuals.strong_text_color());
    let place = align.anchor_size(at, galley.size());
    ui.painter().rect_filled(
        place.expand(4.0),
        3.0,
        visuals.panel_fill.gamma_multiply(0.9),
    );
    ui.painter()
        .galley(place.min, galley, visuals.strong_text_color());
}

/// The scale on the right: colours, ticks, clamp marks, the wanted line.
fn scale(ui: &Ui, rect: Rect, legend: &Legend) {
    let height = (rect.height() - 90.0).clamp(60.0, 260.0);
    let bar = Rect::from_min_size(
        Pos2::new(rect.right() - 96.0, rect.top() + 40.0),
        Vec2::new(18.0, height),
    );
    let font = FontId::proportional(13.0);
    let painter = ui.painter().with_clip_rect(rect);
    let ink = ui.visuals().strong_text_color();
    let title = painter.layout_no_wrap(legend.title.clone(), font.clone(), ink);
    let left = (bar.left() - 50.0).min(rect.right() - title.size().x - 16.0);
    let plate = Rect::from_min_max(
        Pos2::new(left, rect.top() + 4.0),
        Pos2::new(rect.right() - 4.0, bar.bottom() + 24.0),
    );
    let visuals = ui.visuals();
    painter.rect_filled(plate, 3.0, visuals.panel_fill.gamma_multiply(0.85));
    painter.text(
        Pos2::new(plate.right() - 6.0, plate.top() + 6.0),
        Align2::RIGHT_TOP,
        &legend.title,
        font.clone(),
        ink,
    );
    const ROWS: usize = 64;
    let image = ColorImage::new(
        [1, ROWS],
        (0..ROWS)
            .map(|row| {
                let [r, g, b] = colour::at(1.0 - (row as f64 + 0.5) / ROWS as f64);
                Color32::from_rgb(r, g, b)
            })
            .collect(),
    );
    for (row, &pixel) in image.pixels.iter().enumerate() {
        let step = bar.height() / ROWS as f32;
        let strip = Rect::from_min_size(
            bar.min + Vec2::new(0.0, step * row as f32),
            Vec2::new(bar.width(), step + 0.5),
        );
        painter.rect_filled(strip, 0.0, pixel);
    }
    let height_at = |share: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
        let share = share as f32;
        bar.bottom() - share * bar.height()
    };
    for (share, text) in &legend.ticks {
        let y = height_at(*share);
        let line = [Pos2::new(bar.right(), y), Pos2::new(bar.right() + 4.0, y)];
        painter.line_segment(line, Stroke::new(1.0, ink));
        let at = Pos2::new(bar.right() + 7.0, y);
        painter.text(at, Align2::LEFT_CENTER, text, font.clone(), ink);
    }
    if let Some((share, _)) = &legend.want {
        let y = height_at(*share);
        let line = [Pos2::new(bar.left() - 8.0, y), Pos2::new(bar.right(), y)];
        painter.line_segment(line, Stroke::new(2.0, ink));
        let at = Pos2::new(bar.left() - 10.0, y);
        painter.text(at, Align2::RIGHT_CENTER, "want", font.clone(), ink);
    }
    // clamp marks: an arrow where values go on beyond an end
    let middle = bar.center().x;
    for (clamps, y, up) in [
        (legend.clamps[1], bar.top() - 3.0, -7.0),
        (legend.clamps[0], bar.bottom() + 3.0, 7.0),
    ] {
        if clamps {
            let tip = Pos2::new(middle, y + up);
            let left = Pos2::new(bar.left() + 2.0, y);
            let right = Pos2::new(bar.right() - 2.0, y);
            painter.add(egui::Shape::convex_polygon(
                vec![tip, right, left],
                ink,
                Stroke::NONE,
            ));
        }
    }
}
