//! What is written and drawn over the picture: the pinned spot and its lines, what is under the pointer, lengths.

use super::super::findings::film_with_error;
use crate::app::State;
use crate::stage::Shown;
use crate::stage::paint::{SHARES, thickness_at, told};
use crate::stage::pick::Spot;
use crate::stage::sight::Meets;
use egui::{Align2, Color32, FontId, Pos2, Rect, Stroke, Ui, Vec2};
use evenfall_sim::outcome::colour::round_step;
use evenfall_sim::outcome::figures::{three, trimmed};
use evenfall_sim::outcome::survey::Standing;
use glam::{DVec2, DVec3};

/// Names of regions and probes, where they are seen.
pub fn names(ui: &Ui, state: &State, shown: &Shown, rect: Rect) {
    if !state.names || !shown.is_prepared() {
        return;
    }
    let places = &state.places(shown)[2..];
    let eye = state.orbit.eye_m();
    let font = FontId::proportional(12.0);
    let write = |at_m: DVec3, text: &str| {
        if let Some(spot) = state.orbit.spot(at_m, state.aspect)
            && spot.abs().max_element() < 1.0
        {
            let ink = ui.visuals().strong_text_color();
            let at = on_screen(rect, spot);
            let painter = ui.painter().with_clip_rect(rect);
            let galley = painter.layout_no_wrap(text.to_owned(), font.clone(), ink);
            let plate = Align2::CENTER_CENTER.anchor_size(at, galley.size());
            let fill = ui.visuals().panel_fill.gamma_multiply(0.75);
            painter.rect_filled(plate.expand(2.0), 2.0, fill);
            painter.galley(plate.min, galley, ink);
        }
    };
    for region in &shown.regions {
        let seen = region.anchors.iter().find_map(|&(part, at, normal)| {
            let at_m = places[part].transform_point3(at);
            let out = places[part].transform_vector3(normal);
            // a little off the surface, so that it does not hide itself
            let lifted = at_m + out * (1e-3 * state.orbit.height_m());
            let seen = out.dot(eye - at_m) > 0.0 && !shown.picker().blocks(places, (lifted, eye));
            seen.then_some(at_m)
        });
        if let Some(at_m) = seen {
            write(at_m, &region.name);
        }
    }
    for ((name, points), part) in shown.outcome.probes.iter().zip(&shown.outcome.probe_parts) {
        let part = shown.outcome.parts.iter().position(|p| p.name == *part);
        if let (Some(part), Some(first)) = (part, points.first()) {
            write(places[part].transform_point3(first.position_m), name);
        }
    }
}

/// A ring round the pinned spot, and a cross at the needle of a meter.
pub fn pinned(ui: &Ui, state: &State, shown: &Shown, rect: Rect) {
    let painter = ui.painter().with_clip_rect(rect);
    let strokes = [
        Stroke::new(3.5, Color32::WHITE),
        Stroke::new(1.5, Color32::BLACK),
    ];
    if let Some(at) = state
        .meter
        .as_ref()
        .and_then(|m| seen(state, (shown, rect), &m.from))
    {
        for stroke in strokes {
            for arm in [Vec2::splat(6.0), Vec2::new(6.0, -6.0)] {
                painter.line_segment([at - arm, at + arm], stroke);
            }
        }
    }
    if let Some(at) = state
        .spot
        .as_ref()
        .and_then(|spot| seen(state, (shown, rect), spot))
    {
        for stroke in strokes {
            painter.circle_stroke(at, 7.0, stroke);
        }
    }
}

/// Where a spot of a part is in the window.
fn seen(state: &State, (shown, rect): (&Shown, Rect), spot: &Spot) -> Option<Pos2> {
    let at_m = state.places(shown)[2 + spot.part].transform_point3(spot.at_m);
    let place = state.orbit.spot(at_m, state.aspect)?;
    Some(on_screen(rect, place))
}

/// Lines from the pinned spot to the footprints, by what is in their way: clear ones solid, others broken.
pub fn sight(ui: &Ui, state: &State, rect: Rect) {
    // while the part is dragged its lines are those of where it was
    let Some(sight) = state.sight.as_ref().filter(|_| state.nudge.is_none()) else {
        return;
    };
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
pub fn on_screen(rect: Rect, spot: DVec2) -> Pos2 {
    #[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
    let offset = Vec2::new(spot.x as f32 * rect.width(), -spot.y as f32 * rect.height());
    rect.center() + 0.5 * offset
}

/// What is under the pointer.
pub fn reading(ui: &Ui, state: &State, shown: &Shown, rect: Rect) {
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
            let film_m = thickness_at(shown, spot.patch, state.time_s);
            film_with_error(state.settings.reading, film_m, patch.std_error_m)
        }
    };
    let mut text = format!("{}: {film}", part.name);
    if let Some(facet) = facet.filter(|facet| facet.incidence_rad.is_finite()) {
        text.push_str(&format!(
            ", incidence {:.0}°",
            facet.incidence_rad.to_degrees()
        ));
    }
    if let Some(told) = told(&state.look(shown), state.paint, spot.patch) {
        text.push_str(&format!(", {told}"));
    }
    if let Some(ratio) = state.look(shown).ratio(spot.patch) {
        text.push_str(&format!(", {} × A", three(ratio)));
    }
    let lost = (1..7).max_by(|&a, &b| patch.shares[a].total_cmp(&patch.shares[b]));
    if let Some(lost) = lost.filter(|&lost| patch.shares[lost] >= 0.1) {
        let share = 100.0 * patch.shares[lost];
        text.push_str(&format!(", {share:.0} % {}", SHARES[lost]));
    }
    note(
        ui,
        rect.left_bottom() + Vec2::new(8.0, -8.0),
        Align2::LEFT_BOTTOM,
        &text,
    );
}

/// A text on a plate of its own.
pub fn note(ui: &Ui, at: Pos2, align: Align2, text: &str) {
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

/// A bar that tells lengths in the middle of the picture.
pub fn length_bar(ui: &Ui, state: &State, rect: Rect) {
    let reading = state.settings.reading;
    let unit_m = 1.0 / reading.length(1.0);
    let points_per_m = f64::from(rect.height()) / state.orbit.height_m();
    let length = round_step(0.12 * f64::from(rect.width()) / points_per_m / unit_m);
    #[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
    let wide = (length * unit_m * points_per_m) as f32;
    if !(1.0..rect.width()).contains(&wide) {
        return;
    }
    let right = rect.right_bottom() + Vec2::new(-16.0, -14.0);
    let left = right - Vec2::new(wide, 0.0);
    let painter = ui.painter().with_clip_rect(rect);
    let text = format!("{} {}", trimmed(length), reading.length_unit());
    let ink = ui.visuals().strong_text_color();
    let plate = Rect::from_min_max(left - Vec2::new(6.0, 22.0), right + Vec2::new(6.0, 6.0));
    painter.rect_filled(plate, 3.0, ui.visuals().panel_fill.gamma_multiply(0.85));
    for ends in [
        [left, right],
        [left - Vec2::new(0.0, 4.0), left + Vec2::new(0.0, 4.0)],
        [right - Vec2::new(0.0, 4.0), right + Vec2::new(0.0, 4.0)],
    ] {
        painter.line_segment(ends, Stroke::new(1.5, ink));
    }
    let middle = left + 0.5 * (right - left) - Vec2::new(0.0, 3.0);
    let font = FontId::proportional(13.0);
    painter.text(middle, Align2::CENTER_BOTTOM, text, font, ink);
}
