//! The scale on the stage: colours, ticks, clamp marks, the wanted line.

use crate::stage::paint::Legend;
use egui::{Align2, Color32, FontId, Pos2, Rect, Stroke, Ui, Vec2};

/// Stages narrower than this get a small scale, points.
const NARROW: f32 = 420.0;

/// Draws it.
pub fn show(ui: &Ui, rect: Rect, legend: &Legend) {
    // a small stage is not covered by its legend
    let (most, title) = if rect.width() < NARROW {
        let unit = legend.title.rsplit(", ").next();
        (110.0, unit.unwrap_or_default())
    } else {
        (260.0, legend.title.as_str())
    };
    let height = (0.6 * rect.height() - 40.0).clamp(50.0, most);
    let bar = Rect::from_min_size(
        Pos2::new(rect.right() - 96.0, rect.top() + 40.0),
        Vec2::new(18.0, height),
    );
    let font = FontId::proportional(13.0);
    let painter = ui.painter().with_clip_rect(rect);
    let ink = ui.visuals().strong_text_color();
    let wide = painter
        .layout_no_wrap(title.to_owned(), font.clone(), ink)
        .size()
        .x;
    let left = (bar.left() - 50.0).min(rect.right() - wide - 16.0);
    let plate = Rect::from_min_max(
        Pos2::new(left, rect.top() + 4.0),
        Pos2::new(rect.right() - 4.0, bar.bottom() + 24.0),
    );
    let visuals = ui.visuals();
    painter.rect_filled(plate, 3.0, visuals.panel_fill.gamma_multiply(0.85));
    painter.text(
        Pos2::new(plate.right() - 6.0, plate.top() + 6.0),
        Align2::RIGHT_TOP,
        title,
        font.clone(),
        ink,
    );
    const ROWS: usize = 64;
    for row in 0..ROWS {
        let [r, g, b] = legend.colour(1.0 - (row as f64 + 0.5) / ROWS as f64);
        let step = bar.height() / ROWS as f32;
        let strip = Rect::from_min_size(
            bar.min + Vec2::new(0.0, step * row as f32),
            Vec2::new(bar.width(), step + 0.5),
        );
        painter.rect_filled(strip, 0.0, Color32::from_rgb(r, g, b));
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
