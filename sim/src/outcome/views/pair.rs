//! Two outcomes on one sheet and one scale, for whoever compares them.
//!
//! In: two outcomes with a part of the same name. Out: a PNG file: A on the left, B on the right, seen
//! from the side with most and from the side with least film of A.

use super::super::colour::{Scale, round_step};
use super::super::model::Outcome;
use super::super::survey::Survey;
use super::camera::Camera;
use super::canvas::{Canvas, FAINT, Frame, Hang, fonts};
use super::choose;
use super::furniture::{self, PICTURE};
use super::paint::{self, Colours, Signs};
use super::stage::{Props, Shot, Stage};
use glam::DVec3;

/// Height of the line above each picture that says what it is, pixels.
const CAPTION: f64 = 18.0;

/// Draws the first part that both outcomes have, one scale for both; nothing if they share none.
pub fn draw_pair(first: &Outcome, second: &Outcome) -> Option<Vec<u8>> {
    let (a, b) = shared_part(first, second)?;
    let surveys = (Survey::of(first), Survey::of(second));
    let stages = (
        Stage::of(first, &surveys.0, Props::of(first)),
        Stage::of(second, &surveys.1, Props::of(second)),
    );
    let scale = one_scale(
        &Scale::of(first, &surveys.0),
        &Scale::of(second, &surveys.1),
    );
    let choice = choose::choose(&stages.0, a, &scale);

    let mut canvas = Canvas::new(furniture::WIDTH, furniture::HEIGHT);
    let title = "A on the left, B on the right";
    furniture::title(&mut canvas, title, &first.parts[a].name);
    let mut signs = Signs::default();
    let sides = [("most", choice.best), ("least", choice.worst)];
    for (row, (what, forward)) in (0_u8..).zip(sides) {
        for (column, (name, stage, part)) in
            (0_u8..).zip([("A", &stages.0, a), ("B", &stages.1, b)])
        {
            let frame = quarter(row, column);
            let caption = format!("{name}: side with {what} film in A");
            let spot = (frame.left + 4.0, frame.top - 0.5 * CAPTION);
            canvas.text(spot, Hang::Left, &caption, (&fonts::FONT_8X13, FAINT));
            let shot = shot(stage, part, forward, frame);
            let sheet = (&mut canvas, Colours::Film(&scale));
            let drawn = paint::paint(&mut [sheet], frame, stage, &shot);
            signs = sum(signs, drawn);
            if (row, column) == (1, 0) {
                furniture::scale_bar(
                    &mut canvas,
                    shot.camera.pixels_per_m(shot.camera.middle_m),
                    "",
                );
            }
        }
    }
    furniture::colour_bar(&mut canvas, &scale);
    furniture::legend(&mut canvas, signs, &scale, false);
    Some(canvas.png())
}

/// Indices of the first part with facets that both outcomes have by name.
fn shared_part(first: &Outcome, second: &Outcome) -> Option<(usize, usize)> {
    first.parts.iter().enumerate().find_map(|(a, part)| {
        let b = second.parts.iter().position(|other| {
            other.name == part.name && !other.facets.is_empty() && !part.facets.is_empty()
        });
        b.map(|b| (a, b))
    })
}

/// The scale on which both fit.
fn one_scale(first: &Scale, second: &Scale) -> Scale {
    let low_m = first.low_m.min(second.low_m);
    let high_m = first.high_m.max(second.high_m);
    let tick_m = round_step((high_m - low_m) / 5.0);
    Scale {
        low_m: (low_m / tick_m + 1e-6).floor() * tick_m,
        high_m: (high_m / tick_m - 1e-6).ceil() * tick_m,
        tick_m,
        least_m: first.least_m.min(second.least_m),
        greatest_m: first.greatest_m.max(second.greatest_m),
        want_m: first.want_m.or(second.want_m),
    }
}

/// A quarter of the picture, below the line that says what it is.
fn quarter(row: u8, column: u8) -> Frame {
    let (width, height) = (0.5 * PICTURE.width, 0.5 * PICTURE.height);
    Frame {
        left: PICTURE.left + f64::from(column) * width,
        top: PICTURE.top + f64::from(row) * height + CAPTION,
        width,
        height: height - CAPTION,
    }
}

fn shot(stage: &Stage<'_>, part: usize, forward: DVec3, frame: Frame) -> Shot {
    let inner = Frame {
        left: frame.left + 16.0,
        top: frame.top + 8.0,
        width: frame.width - 32.0,
        height: frame.height - 16.0,
    };
    Shot {
        camera: Camera::parallel(forward, &stage.part_box_m(part), inner),
        parts: vec![part],
        bodies: Vec::new(),
        cut_parts: None,
        cut_fixtures: None,
    }
}

fn sum(one: Signs, other: Signs) -> Signs {
    Signs {
        bare: one.bare + other.bare,
        thin: one.thin + other.thin,
        cut: one.cut + other.cut,
        other_side: one.other_side + other.other_side,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale(low_m: f64, high_m: f64) -> Scale {
        Scale {
            low_m,
            high_m,
            tick_m: round_step((high_m - low_m) / 5.0),
            least_m: low_m,
            greatest_m: high_m,
            want_m: None,
        }
    }

    #[test]
    fn one_scale_holds_both_and_ends_on_ticks() {
        let both = one_scale(&scale(20e-9, 50e-9), &scale(0.0, 130e-9));
        assert!(both.low_m <= 0.0 && both.high_m >= 130e-9, "{both:?}");
        let ticks = both.high_m / both.tick_m;
        assert!((ticks - ticks.round()).abs() < 1e-9, "{both:?}");
        assert!(!both.clamps_below() && !both.clamps_above());
    }
}
