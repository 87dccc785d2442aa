//! What surrounds a picture: title, colour bar with the wanted line, legend of hatches, scale bar, axes,
//! names with leader lines, chamber outline.
//!
//! In: a canvas with or before the picture on it. Out: the same, readable on its own.

use super::super::colour::{Scale, round_step};
use super::super::figures::{three, trimmed};
use super::super::survey::Standing;
use super::camera::Camera;
use super::canvas::{
    Canvas, FAINT, Frame, Hang, INK, Ink, PAPER, Spot, floor, fonts, mix, text_width,
};
use super::paint::{Signs, cut_face, other_side, swatch};
use crate::plan::model::ChamberShape;
use glam::DVec3;

/// Sheet width, pixels.
pub const WIDTH: u32 = 900;
/// Sheet height, pixels.
pub const HEIGHT: u32 = 700;
/// Where the picture itself goes.
pub const PICTURE: Frame = Frame {
    left: 12.0,
    top: 46.0,
    width: 746.0,
    height: 602.0,
};
/// Left edge of the column with colour bar and legend.
pub const COLUMN: f64 = 772.0;

/// Writes the title line.
pub fn title(canvas: &mut Canvas, text: &str, part: &str) {
    let fits = 64;
    let shortened = |text: &str, fits: usize| {
        if text.chars().count() <= fits {
            text.to_owned()
        } else {
            text.chars().take(fits - 3).chain("...".chars()).collect()
        }
    };
    let left = shortened(text, fits);
    canvas.text((14.0, 22.0), Hang::Left, &left, (&fonts::FONT_10X20, INK));
    let room = fits.saturating_sub(left.chars().count()) + 24;
    let right = shortened(part, room.min(40));
    canvas.text(
        (886.0, 22.0),
        Hang::Right,
        &right,
        (&fonts::FONT_9X15, FAINT),
    );
    canvas.line((14.0, 38.5), (886.0, 38.5), 1.0, [206, 203, 198]);
}

/// Draws the colour bar with ticks in nm, clamp marks and the wanted line.
pub fn colour_bar(canvas: &mut Canvas, scale: &Scale) {
    let bar = Frame {
        left: COLUMN + 44.0,
        top: 96.0,
        width: 22.0,
        height: 330.0,
    };
    canvas.text(
        (COLUMN, 62.0),
        Hang::Left,
        "film, nm",
        (&fonts::FONT_9X15_BOLD, INK),
    );
    let y_of = |thickness_m: f64| bar.bottom() - bar.height * scale.fraction(thickness_m);
    for y in floor(bar.top)..floor(bar.bottom()) {
        let fraction = (bar.bottom() - f64::from(y) - 0.5) / bar.height;
        let row = Frame {
            top: f64::from(y),
            height: 1.0,
            ..bar
        };
        canvas.fill(row, super::super::colour::at(fraction));
    }
    canvas.outline(bar, INK);
    for tick in scale.ticks_m() {
        let y = y_of(tick);
        canvas.line((bar.right(), y), (bar.right() + 6.0, y), 1.2, INK);
        let text = trimmed(1e9 * tick);
        canvas.text(
            (bar.right() + 10.0, y),
            Hang::Left,
            &text,
            (&fonts::FONT_9X15, INK),
        );
    }
    clamp_marks(canvas, scale, bar);
    if let Some(want_m) = scale.want_m {
        wanted_line(canvas, scale, want_m, (bar, y_of(want_m)));
    }
}

fn clamp_marks(canvas: &mut Canvas, scale: &Scale, bar: Frame) {
    let middle = bar.left + 0.5 * bar.width;
    if scale.clamps_above() {
        let tip = [
            (bar.left, bar.top),
            (bar.right(), bar.top),
            (middle, bar.top - 11.0),
        ];
        canvas.triangle(tip, super::super::colour::at(1.0));
        canvas.line(tip[0], tip[2], 1.0, INK);
        canvas.line(tip[1], tip[2], 1.0, INK);
        let text = format!("up to {}", three(1e9 * scale.greatest_m));
        canvas.text(
            (COLUMN + 10.0, bar.top - 19.0),
            Hang::Left,
            &text,
            (&fonts::FONT_8X13, FAINT),
        );
    }
    if scale.clamps_below() {
        let tip = [
            (bar.left, bar.bottom()),
            (bar.right(), bar.bottom()),
            (middle, bar.bottom() + 11.0),
        ];
        canvas.triangle(tip, super::super::colour::at(0.0));
        canvas.line(tip[0], tip[2], 1.0, INK);
        canvas.line(tip[1], tip[2], 1.0, INK);
        let text = format!("down to {}", three(1e9 * scale.least_m));
        canvas.text(
            (COLUMN + 10.0, bar.bottom() + 20.0),
            Hang::Left,
            &text,
            (&fonts::FONT_8X13, FAINT),
        );
    }
}

fn wanted_line(canvas: &mut Canvas, scale: &Scale, want_m: f64, (bar, y): (Frame, f64)) {
    let style = (&fonts::FONT_8X13_BOLD, INK);
    let text = trimmed(1e9 * want_m);
    // On the middle of a pixel, so that the line is crisp.
    let y = y.floor() + 0.5;
    let inside = (scale.low_m..=scale.high_m).contains(&want_m);
    if inside {
        canvas.line((bar.left - 6.0, y), (bar.right(), y), 5.0, PAPER);
        canvas.line((bar.left - 6.0, y), (bar.right(), y), 2.0, INK);
    }
    let tip = bar.left - 2.0;
    canvas.triangle([(tip, y), (tip - 8.0, y - 5.0), (tip - 8.0, y + 5.0)], INK);
    canvas.text((tip - 11.0, y - 7.0), Hang::Right, "want", style);
    canvas.text((tip - 11.0, y + 7.0), Hang::Right, &text, style);
    if !inside {
        let (sign, y) = if want_m > scale.high_m {
            ("above", y + 20.0)
        } else {
            ("below", y - 20.0)
        };
        canvas.text(
            (tip - 2.0, y),
            Hang::Right,
            sign,
            (&fonts::FONT_8X13, FAINT),
        );
    }
}

/// Draws the legend of the signs that the picture uses.
pub fn legend(canvas: &mut Canvas, signs: Signs, scale: &Scale, veil: bool) {
    // Fewer pixels than this are dust that nobody would look up.
    let some = |pixels: usize| pixels > 30;
    let mut y = 470.0;
    let mut entry = |canvas: &mut Canvas, draw: &dyn Fn(&mut Canvas, Frame), lines: [&str; 2]| {
        let frame = Frame {
            left: COLUMN,
            top: y,
            width: 26.0,
            height: 26.0,
        };
        draw(canvas, frame);
        let x = COLUMN + 33.0;
        let at = |n: f64| {
            (
                x,
                y + if lines[1].is_empty() {
                    13.0
                } else {
                    6.0 + 14.0 * n
                },
            )
        };
        canvas.text(at(0.0), Hang::Left, lines[0], (&fonts::FONT_9X15, INK));
        canvas.text(at(1.0), Hang::Left, lines[1], (&fonts::FONT_9X15, INK));
        y += 36.0;
    };
    if some(signs.bare) {
        let draw = |c: &mut Canvas, f: Frame| swatch(c, f, Standing::NoneSeen, PAPER);
        entry(canvas, &draw, ["no film", "seen here"]);
    }
    if some(signs.thin) {
        let under = super::super::colour::at(0.35 * scale.fraction(scale.want_m.unwrap_or(0.0)));
        let draw = |c: &mut Canvas, f: Frame| swatch(c, f, Standing::Thin, under);
        entry(canvas, &draw, ["film, but", "too thin"]);
    }
    let flat = |ink: Ink| {
        move |c: &mut Canvas, f: Frame| {
            c.fill(f, ink);
            c.outline(f, INK);
        }
    };
    if some(signs.cut) {
        entry(canvas, &flat(cut_face()), ["cut", "through"]);
    }
    if some(signs.other_side) {
        entry(canvas, &flat(other_side()), ["side not", "counted"]);
    }
    if veil {
        entry(
            canvas,
            &flat(mix(PAPER, [70, 66, 84], 0.2)),
            ["shutter", "when shut"],
        );
    }
}

/// Draws the scale bar, a round length of about a sixth of the picture, in mm.
pub fn scale_bar(canvas: &mut Canvas, pixels_per_m: f64, note: &str) {
    let length_m = round_step(90.0 / pixels_per_m);
    let pixels = length_m * pixels_per_m;
    let (x, y) = (20.0, 676.0);
    canvas.fill(
        Frame {
            left: x,
            top: y - 3.0,
            width: 0.5 * pixels,
            height: 6.0,
        },
        INK,
    );
    canvas.outline(
        Frame {
            left: x,
            top: y - 3.0,
            width: pixels,
            height: 6.0,
        },
        INK,
    );
    let text = format!("{} mm{note}", trimmed(1e3 * length_m));
    canvas.text(
        (x + pixels + 10.0, y),
        Hang::Left,
        &text,
        (&fonts::FONT_9X15, INK),
    );
}

/// Draws the directions of the chamber's axes in the lower right corner of the picture.
pub fn axes(canvas: &mut Canvas, camera: &Camera) {
    let root = (700.0, 660.0);
    let mut arrows: Vec<(f64, Spot, &str)> = [("x", DVec3::X), ("y", DVec3::Y), ("z", DVec3::Z)]
        .iter()
        .map(|(name, axis)| {
            let (x, y) = (axis.dot(camera.right), -axis.dot(camera.up));
            (axis.dot(camera.forward), (x, y), *name)
        })
        .collect();
    // Those that point away first, so that those towards the eye lie on top.
    arrows.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (_, (x, y), name) in arrows {
        if x.hypot(y) < 0.3 {
            continue;
        }
        let tip = (root.0 + 20.0 * x, root.1 + 20.0 * y);
        arrow(canvas, root, tip, INK);
        let beside = (
            root.0 + 20.0 * x + 9.0 * x / x.hypot(y),
            root.1 + 20.0 * y + 9.0 * y / x.hypot(y),
        );
        canvas.text(beside, Hang::Middle, name, (&fonts::FONT_9X15, INK));
    }
}

/// Draws an arrow.
pub fn arrow(canvas: &mut Canvas, from: Spot, to: Spot, ink: Ink) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length < 1.0 {
        return;
    }
    let (ux, uy) = (dx / length, dy / length);
    let head = (0.4 * length).min(9.0);
    let back = (to.0 - head * ux, to.1 - head * uy);
    canvas.line(from, back, 1.4, ink);
    let wing = 0.42 * head;
    canvas.triangle(
        [
            to,
            (back.0 - wing * uy, back.1 + wing * ux),
            (back.0 + wing * uy, back.1 - wing * ux),
        ],
        ink,
    );
}

/// Draws the outline of the chamber, to lie behind everything.
pub fn chamber(canvas: &mut Canvas, shape: ChamberShape, camera: &Camera) {
    let ink = [150, 147, 143];
    let mut edge = |from: DVec3, to: DVec3| {
        if let (Some(from), Some(to)) = (camera.spot(from), camera.spot(to)) {
            canvas.line(from, to, 1.3, ink);
        }
    };
    match shape {
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            let radius_m = 0.5 * diameter_m;
            let on =
                |angle: f64, z: f64| DVec3::new(radius_m * angle.cos(), radius_m * angle.sin(), z);
            for step in 0..96_i32 {
                let angle = |k: i32| f64::from(k) * std::f64::consts::TAU / 96.0;
                for z in [0.0, height_m] {
                    edge(on(angle(step), z), on(angle(step + 1), z));
                }
            }
            // The sides that are seen edge-on.
            for side in [camera.right, -camera.right] {
                let angle = side.y.atan2(side.x);
                edge(on(angle, 0.0), on(angle, height_m));
            }
        }
        ChamberShape::Box { size_m } => {
            let corner = |k: u32| {
                let side = |bit: u32, length: f64| {
                    if k & bit != 0 {
                        0.5 * length
                    } else {
                        -0.5 * length
                    }
                };
                let z = if k & 4 != 0 { size_m.z } else { 0.0 };
                DVec3::new(side(1, size_m.x), side(2, size_m.y), z)
            };
            for k in 0..8_u32 {
                for bit in [1, 2, 4] {
                    if k & bit == 0 {
                        edge(corner(k), corner(k | bit));
                    }
                }
            }
        }
    }
}

/// Corners of a box around the chamber, m: for cameras.
pub fn chamber_box_m(shape: ChamberShape) -> Vec<DVec3> {
    let size_m = match shape {
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => DVec3::new(diameter_m, diameter_m, height_m),
        ChamberShape::Box { size_m } => size_m,
    };
    let signs = [-0.5, 0.5];
    let mut corners = Vec::new();
    for x in signs {
        for y in signs {
            corners.extend([0.0, size_m.z].map(|z| DVec3::new(x * size_m.x, y * size_m.y, z)));
        }
    }
    corners
}

/// Writes names beside the picture with leader lines to what they name.
///
/// - `names`: spot on the sheet and text
pub fn names(canvas: &mut Canvas, names: &[(Spot, String)]) {
    let middle = PICTURE.middle().0;
    let (mut left, mut right): (Vec<_>, Vec<_>) =
        names.iter().partition(|(spot, _)| spot.0 < middle);
    // What stands on the middle line goes where there is more room.
    while left.len() + 1 < right.len() {
        let Some(nearest) = nearest_to_middle(&right, middle) else {
            break;
        };
        left.push(right.remove(nearest));
    }
    while right.len() + 1 < left.len() {
        let Some(nearest) = nearest_to_middle(&left, middle) else {
            break;
        };
        right.push(left.remove(nearest));
    }
    for (mut side, hang) in [(left, Hang::Left), (right, Hang::Right)] {
        side.sort_by(|a, b| a.0.1.total_cmp(&b.0.1));
        let mut below = PICTURE.top + 12.0;
        let mut rows: Vec<f64> = Vec::new();
        for (spot, _) in &side {
            let y = spot.1.max(below);
            rows.push(y);
            below = y + 19.0;
        }
        // Pushed up again where the last ones would fall out.
        let mut above = PICTURE.bottom() - 10.0;
        for row in rows.iter_mut().rev() {
            *row = row.min(above);
            above = *row - 19.0;
        }
        for ((spot, text), y) in side.into_iter().zip(rows) {
            let style = (&fonts::FONT_9X15, INK);
            let width = text_width(text, &fonts::FONT_9X15);
            let (x, inner) = match hang {
                Hang::Right => (PICTURE.right() - 4.0, PICTURE.right() - 10.0 - width),
                _ => (PICTURE.left + 4.0, PICTURE.left + 10.0 + width),
            };
            canvas.line((inner, y), *spot, 1.0, FAINT);
            canvas.triangle(
                [
                    (spot.0 - 3.5, spot.1),
                    (spot.0, spot.1 - 3.5),
                    (spot.0 + 3.5, spot.1),
                ],
                INK,
            );
            canvas.triangle(
                [
                    (spot.0 - 3.5, spot.1),
                    (spot.0, spot.1 + 3.5),
                    (spot.0 + 3.5, spot.1),
                ],
                INK,
            );
            canvas.text_on_paper((x, y), hang, text, style);
        }
    }
}

fn nearest_to_middle(side: &[&(Spot, String)], middle: f64) -> Option<usize> {
    let off = |k: usize| (side[k].0.0 - middle).abs();
    let nearest = (0..side.len()).min_by(|&a, &b| off(a).total_cmp(&off(b)))?;
    // An eighth of the picture: farther than that a line would cross it.
    (off(nearest) < 0.125 * PICTURE.width).then_some(nearest)
}
