//! The scale on the stage: colours, ticks, clamp marks, the wanted line.

use crate::stage::paint::Legend;
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Response, Sense, Stroke, Ui, Vec2};

/// Stages smaller than this have their scale in a strip above, so that it covers nothing, points.
const SMALL: Vec2 = Vec2::new(420.0, 260.0);

/// Height of that strip, points.
const STRIP: f32 = 62.0;

/// Width of its title, points; a longer one takes more lines.
const TITLE: f32 = 140.0;

const ROWS: usize = 64;

/// True for a stage that its legend would cover.
pub fn is_in_the_way(stage: Vec2) -> bool {
    stage.x < SMALL.x || stage.y < SMALL.y
}

/// Draws it lying, in a strip of its own of so many points.
pub fn strip(ui: &mut Ui, room: f32, legend: &Legend) -> Response {
    let size = Vec2::new(room, STRIP);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let painter = ui.painter().with_clip_rect(rect);
    painter.rect_filled(rect, 0.0, ui.visuals().panel_fill);
    let ink = ui.visuals().strong_text_color();
    let font = FontId::proportional(12.0);
    // what it is stands above, as far as there is room, in full when pointed at
    let job = egui::text::LayoutJob::simple_singleline(legend.title.clone(), font.clone(), ink);
    let job = egui::text::LayoutJob {
        wrap: egui::text::TextWrapping::truncate_at_width(rect.width() - 16.0),
        ..job
    };
    let title = painter.layout_job(job);
    painter.galley(rect.left_top() + Vec2::new(8.0, 1.0), title, ink);
    let response = response.on_hover_text(&legend.title);
    let bar = Rect::from_min_max(
        Pos2::new(rect.left() + 20.0, rect.top() + 32.0),
        Pos2::new(rect.right() - 24.0, rect.top() + 42.0),
    );
    let step = bar.width() / ROWS as f32;
    for row in 0..ROWS {
        let [r, g, b] = legend.colour((row as f64 + 0.5) / ROWS as f64);
        let strip = Rect::from_min_size(
            bar.min + Vec2::new(step * row as f32, 0.0),
            Vec2::new(step + 0.5, bar.height()),
        );
        painter.rect_filled(strip, 0.0, Color32::from_rgb(r, g, b));
    }
    let place = |share: f64| bar.left() + narrow(share) * bar.width();
    let mut free_from = rect.left();
    for (share, text) in &legend.ticks {
        let x = place(*share);
        let text = painter.layout_no_wrap(text.clone(), font.clone(), ink);
        // what does not fit beside the last one is left out, never cut
        let left = (x - 0.5 * text.size().x).min(rect.right() - 2.0 - text.size().x);
        if left < free_from {
            continue;
        }
        free_from = left + text.size().x + 6.0;
        let line = [Pos2::new(x, bar.bottom()), Pos2::new(x, bar.bottom() + 3.0)];
        painter.line_segment(line, Stroke::new(1.0, ink));
        painter.galley(Pos2::new(left, bar.bottom() + 4.0), text, ink);
    }
    if let Some((share, _)) = &legend.want {
        let x = place(*share);
        let line = [Pos2::new(x, bar.top() - 3.0), Pos2::new(x, bar.bottom())];
        painter.line_segment(line, Stroke::new(2.0, ink));
        let at = Pos2::new(x, bar.top() - 2.0);
        painter.text(at, Align2::CENTER_BOTTOM, "want", font, ink);
    }
    let middle = bar.center().y;
    for (clamps, x, out) in [
        (legend.clamps[0], bar.left() - 3.0, -7.0),
        (legend.clamps[1], bar.right() + 3.0, 7.0),
    ] {
        if clamps {
            let tip = Pos2::new(x + out, middle);
            let base = [Pos2::new(x, bar.top()), Pos2::new(x, bar.bottom())];
            arrow(&painter, tip, base, ink);
        }
    }
    response
}

/// A clamp mark: values go on beyond this end.
fn arrow(painter: &Painter, tip: Pos2, [a, b]: [Pos2; 2], ink: Color32) {
    let corners = vec![tip, b, a];
    painter.add(egui::Shape::convex_polygon(corners, ink, Stroke::NONE));
}

#[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
fn narrow(share: f64) -> f32 {
    share as f32
}

/// Draws it over the stage's right side; returns its place.
pub fn show(ui: &Ui, rect: Rect, legend: &Legend) -> Rect {
    let font = FontId::proportional(13.0);
    let painter = ui.painter().with_clip_rect(rect);
    let ink = ui.visuals().strong_text_color();
    let title = painter.layout(legend.title.clone(), font.clone(), ink, TITLE);
    let under = rect.top() + 24.0 + title.size().y;
    let height = (0.6 * rect.height() - title.size().y - 24.0).clamp(50.0, 260.0);
    let bar = Rect::from_min_size(
        Pos2::new(rect.right() - 96.0, under),
        Vec2::new(18.0, height),
    );
    let left = (bar.left() - 50.0).min(rect.right() - title.size().x - 16.0);
    let plate = Rect::from_min_max(
        Pos2::new(left, rect.top() + 4.0),
        Pos2::new(rect.right() - 4.0, bar.bottom() + 24.0),
    );
    let visuals = ui.visuals();
    painter.rect_filled(plate, 3.0, visuals.panel_fill.gamma_multiply(0.85));
    let corner = Pos2::new(plate.right() - 6.0 - title.size().x, plate.top() + 6.0);
    painter.galley(corner, title, ink);
    for row in 0..ROWS {
        let [r, g, b] = legend.colour(1.0 - (row as f64 + 0.5) / ROWS as f64);
        let step = bar.height() / ROWS as f32;
        let strip = Rect::from_min_size(
            bar.min + Vec2::new(0.0, step * row as f32),
            Vec2::new(bar.width(), step + 0.5),
        );
        painter.rect_filled(strip, 0.0, Color32::from_rgb(r, g, b));
    }
    let height_at = |share: f64| bar.bottom() - narrow(share) * bar.height();
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
            let base = [bar.left() + 2.0, bar.right() - 2.0].map(|x| Pos2::new(x, y));
            arrow(&painter, Pos2::new(middle, y + up), base, ink);
        }
    }
    plate
}
