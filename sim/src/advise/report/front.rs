//! The front of trade-offs: a drawing of open time against unevenness, and a table of everything.
//!
//! In: an [`Advice`]. Out: markup whose text takes the page's font and colour.

use super::tables::share;
use super::values_in_words;
use crate::advise::told::{Advice, FrontPoint};
use crate::outcome::colour::round_step;
use crate::outcome::figures::{lasting, percent, three, trimmed};
use crate::outcome::report::keep_together as nb;
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

const WIDTH: f64 = 860.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 820.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 244.0;

/// What can be traded for what.
pub(super) fn front(advice: &Advice) -> Markup {
    let points = &advice.front;
    if points.len() < 2 {
        return html! {};
    }
    let what = "Open time against unevenness of candidates of which none is beaten in everything by another; numbers as in the table.";
    html! {
        section.wide {
            h2 { "What can be traded" }
            figure.chart {
                svg viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) role="img" aria-label=(what) { (PreEscaped(drawing(points))) }
                figcaption { (what) }
            }
            div.scroll { table.grid {
                caption { "As the search saw them. Heat: what arrives per time, over the coolest of these." }
                thead { tr {
                    th { "" } th { "open" } th { "unevenness" } th { "metal, mg" } th { "nothing on" } th { "heat" } th { "where" }
                } }
                tbody { @for (number, point) in points.iter().enumerate() {
                    tr {
                        th { (number + 1) }
                        td { (nb(&lasting(point.open_time_s.ceil()))) }
                        td { (nb(&share(point.unevenness))) }
                        td { (three(point.metal_mg)) }
                        td { (nb(&percent(point.not_reached))) }
                        td { "×" (three(point.heat)) }
                        td { (nb(&values_in_words(&point.values))) }
                    }
                } }
            } }
        }
    }
}

/// An axis: values that it spans and pixels.
struct Axis {
    values: [f64; 2],
    pixels: [f64; 2],
    step: f64,
}

impl Axis {
    fn of(values: impl Iterator<Item = f64>, pixels: [f64; 2]) -> Self {
        let [low, high] = values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], value| {
            [low.min(value), high.max(value)]
        });
        let room = (0.08 * (high - low)).max(1e-3 * high.abs()).max(1e-9);
        let step = round_step((high - low + 2.0 * room) / 6.0);
        let from = (((low - room) / step).floor() * step).max(0.0);
        Self {
            values: [from, ((high + room) / step).ceil() * step],
            pixels,
            step,
        }
    }

    fn pixel(&self, value: f64) -> f64 {
        let [from, to] = self.values;
        let [start, end] = self.pixels;
        start + (end - start) * (value - from) / (to - from)
    }

    fn ticks(&self) -> impl Iterator<Item = f64> + '_ {
        let [from, to] = self.values;
        (0..=20_i32)
            .map(move |k| from + self.step * f64::from(k))
            .take_while(move |value| *value <= to + 0.01 * self.step)
    }
}

fn drawing(points: &[FrontPoint]) -> String {
    let minutes = |point: &FrontPoint| point.open_time_s / 60.0;
    let uneven = |point: &FrontPoint| 100.0 * point.unevenness.value.max(0.0);
    let x = Axis::of(points.iter().map(minutes), [LEFT, RIGHT]);
    let y = Axis::of(points.iter().map(uneven), [BOTTOM, TOP]);
    let mut svg = String::new();
    for value in y.ticks() {
        let at = y.pixel(value);
        line(&mut svg, "grid", [LEFT, at, RIGHT, at]);
        text(&mut svg, (LEFT - 6.0, at + 4.0), "end", &trimmed(value));
    }
    for value in x.ticks() {
        let at = x.pixel(value);
        line(&mut svg, "axis", [at, BOTTOM, at, BOTTOM + 5.0]);
        text(&mut svg, (at, BOTTOM + 19.0), "middle", &trimmed(value));
    }
    line(&mut svg, "axis", [LEFT, BOTTOM, RIGHT, BOTTOM]);
    text(&mut svg, (8.0, TOP - 16.0), "start", "unevenness, %");
    let middle = 0.5 * (LEFT + RIGHT);
    text(&mut svg, (middle, BOTTOM + 40.0), "middle", "open, minutes");
    for (number, point) in points.iter().enumerate() {
        let (at_x, at_y) = (x.pixel(minutes(point)), y.pixel(uneven(point)));
        let error = 100.0 * point.unevenness.stderr;
        let [low, high] = [uneven(point) - error, uneven(point) + error]
            .map(|value| y.pixel(value).clamp(TOP, BOTTOM));
        line(&mut svg, "axis", [at_x, low, at_x, high]);
        let _ = write!(
            svg,
            r#"<circle class="axis" cx="{at_x:.1}" cy="{at_y:.1}" r="4"/>"#
        );
        let words = (number + 1).to_string();
        text(&mut svg, (at_x + 8.0, at_y - 5.0), "start", &words);
    }
    svg
}

fn line(svg: &mut String, class: &str, [x1, y1, x2, y2]: [f64; 4]) {
    let _ = write!(
        svg,
        r#"<line class="{class}" x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}"/>"#
    );
}

fn text(svg: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    let _ = write!(
        svg,
        r#"<text class="halo-text" x="{x:.1}" y="{y:.1}" text-anchor="{anchor}">{words}</text>"#
    );
}
