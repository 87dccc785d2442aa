//! The distribution of thickness over area, as an SVG drawing inside the page.
//!
//! In: a [`Survey`]. Out: markup whose text takes the page's font and colour.

use super::super::colour::{Scale, round_step};
use super::super::figures::{area, trimmed};
use super::super::model::Outcome;
use super::super::survey::Survey;
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

const WIDTH: f64 = 860.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 800.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 244.0;
/// Room of the column for bare area.
const BARE: f64 = 46.0;
const BINS: u32 = 40;

/// The histogram with the wanted line and the curve of area that has at least so much.
pub fn histogram(outcome: &Outcome, survey: &Survey) -> Markup {
    let scale = Scale::of(outcome, survey);
    let bins = Bins::of(survey, &scale);
    if bins.total_mm2 <= 0.0 {
        return html! { p { "No area to show." } };
    }
    let mut svg = String::new();
    frame(&mut svg, &bins);
    columns(&mut svg, &bins, &scale);
    curve(&mut svg, &bins);
    if let (Some(film), Some(want_m)) = (&outcome.summary.film, scale.want_m) {
        wanted(&mut svg, &bins, want_m, film.on);
    }
    let what = "Bars: area by thickness, coloured as in the pictures, with the bare area at the left. Line, right scale: share of the \
                area that has at least so much.";
    html! {
        figure.chart {
            svg viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) role="img" aria-label=(what) { (PreEscaped(svg)) }
            figcaption { (what) }
        }
    }
}

/// Areas by thickness.
struct Bins {
    /// Area per bin, mm².
    areas_mm2: Vec<f64>,
    /// Bare area, mm².
    bare_mm2: f64,
    /// Area thicker than the last bin, mm².
    beyond_mm2: f64,
    /// All, mm².
    total_mm2: f64,
    /// Width of a bin, m.
    step_m: f64,
    /// Thickness and area of each patch with film, thickest first: for the curve.
    sorted: Vec<(f64, f64)>,
    /// Top of the left scale, mm².
    top_mm2: f64,
}

impl Bins {
    fn of(survey: &Survey, scale: &Scale) -> Self {
        let reach_m = 1.12
            * scale
                .high_m
                .max(scale.want_m.unwrap_or(0.0).min(2.0 * scale.high_m));
        let step_m = round_step(reach_m / f64::from(BINS));
        let count = whole_number((reach_m / step_m).ceil()).clamp(8, 60);
        let mut bins = Self {
            areas_mm2: vec![0.0; count],
            bare_mm2: 0.0,
            beyond_mm2: 0.0,
            total_mm2: 0.0,
            step_m,
            sorted: Vec::new(),
            top_mm2: 0.0,
        };
        for patch in survey.wanted() {
            let mm2 = 1e6 * patch.area_m2;
            bins.total_mm2 += mm2;
            if patch.thickness_m <= 0.0 {
                bins.bare_mm2 += mm2;
                continue;
            }
            bins.sorted.push((patch.thickness_m, mm2));
            match bins
                .areas_mm2
                .get_mut(whole_number(patch.thickness_m / step_m))
            {
                Some(sum) => *sum += mm2,
                None => bins.beyond_mm2 += mm2,
            }
        }
        bins.sorted.sort_by(|a, b| b.0.total_cmp(&a.0));
        // Empty bins at the right are left out.
        while bins.areas_mm2.len() > 8
            && bins.areas_mm2.last().is_some_and(|a| *a <= 0.0)
            && bins.beyond_mm2 <= 0.0
        {
            let end_m = bins.step_m * (bins.areas_mm2.len() as f64 - 1.0);
            if scale
                .want_m
                .is_some_and(|want| end_m < 1.05 * want && want < 2.0 * scale.high_m)
            {
                break;
            }
            bins.areas_mm2.pop();
        }
        let highest = bins.areas_mm2.iter().copied().fold(0.0, f64::max);
        let sides = bins.bare_mm2.max(bins.beyond_mm2);
        // A column of bare area far above all others would flatten them: it is cut off and labelled.
        let highest = if highest > 0.0 {
            sides.min(1.5 * highest).max(highest)
        } else {
            sides
        };
        let tick = round_step(highest / 4.0);
        bins.top_mm2 = (highest / tick).ceil().max(1.0) * tick;
        bins
    }

    fn end_m(&self) -> f64 {
        self.step_m * self.areas_mm2.len() as f64
    }

    /// Pixel of a thickness.
    fn x(&self, thickness_m: f64) -> f64 {
        let right = if self.beyond_mm2 > 0.0 {
            RIGHT - 26.0
        } else {
            RIGHT
        };
        LEFT + BARE + (right - LEFT - BARE) * (thickness_m / self.end_m()).min(1.0)
    }

    /// Pixel of an area.
    fn y(&self, mm2: f64) -> f64 {
        BOTTOM - (BOTTOM - TOP) * mm2 / self.top_mm2
    }
}

fn text(svg: &mut String, (x, y): (f64, f64), anchor: &str, words: &str) {
    let _ = write!(
        svg,
        r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}">{words}</text>"#
    );
}

fn line(svg: &mut String, class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
    let _ = write!(
        svg,
        r#"<line class="{class}" x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}"/>"#
    );
}

fn frame(svg: &mut String, bins: &Bins) {
    svg.push_str(concat!(
        r#"<defs><pattern id="bare" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">"#,
        r##"<rect width="6" height="6" fill="#f6f4f0"/><rect width="2.6" height="6" fill="#282428"/></pattern></defs>"##
    ));
    let tick = round_step(bins.top_mm2 / 4.0001);
    for k in 0..=8_i32 {
        let mm2 = tick * f64::from(k);
        if mm2 > bins.top_mm2 * 1.001 {
            break;
        }
        let y = bins.y(mm2);
        line(svg, "grid", (LEFT, y), (RIGHT, y));
        text(
            svg,
            (LEFT - 6.0, y + 4.0),
            "end",
            &area(mm2).replace(' ', "\u{a0}"),
        );
    }
    text(
        svg,
        (8.0, TOP - 16.0),
        "start",
        &format!("mm² per {} nm of thickness", trimmed(1e9 * bins.step_m)),
    );
    for percent in [0, 50, 100] {
        let y = BOTTOM - (BOTTOM - TOP) * f64::from(percent) / 100.0;
        text(
            svg,
            (RIGHT + 8.0, y + 4.0),
            "start",
            &format!("{percent}\u{a0}%"),
        );
    }
    text(
        svg,
        (WIDTH - 4.0, TOP - 16.0),
        "end",
        "share with at least so much",
    );
    let tick_m = round_step(bins.end_m() / 8.0);
    for k in 0..=20_i32 {
        let at_m = tick_m * f64::from(k);
        if at_m > bins.end_m() * 1.001 {
            break;
        }
        let x = bins.x(at_m);
        line(svg, "axis", (x, BOTTOM), (x, BOTTOM + 5.0));
        text(svg, (x, BOTTOM + 19.0), "middle", &trimmed(1e9 * at_m));
    }
    text(
        svg,
        (bins.x(0.5 * bins.end_m()), BOTTOM + 40.0),
        "middle",
        "thickness, nm",
    );
    line(svg, "axis", (LEFT, BOTTOM), (RIGHT, BOTTOM));
}

fn columns(svg: &mut String, bins: &Bins, scale: &Scale) {
    let column = |svg: &mut String, (x, width): (f64, f64), mm2: f64, fill: &str| {
        if mm2 > 0.0 {
            let y = bins.y(mm2.min(bins.top_mm2));
            let height = BOTTOM - y;
            let _ = write!(
                svg,
                r#"<rect class="column" x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}" fill="{fill}"/>"#
            );
        }
    };
    column(svg, (LEFT + 6.0, BARE - 20.0), bins.bare_mm2, "url(#bare)");
    for (k, &mm2) in bins.areas_mm2.iter().enumerate() {
        let (from, to) = (
            bins.x(bins.step_m * k as f64),
            bins.x(bins.step_m * (k + 1) as f64),
        );
        let [r, g, b] = scale.colour(bins.step_m * (k as f64 + 0.5));
        let fill = format!("#{r:02x}{g:02x}{b:02x}");
        column(svg, (from + 0.5, to - from - 1.0), mm2, &fill);
    }
    let [r, g, b] = scale.colour(f64::MAX);
    let fill = format!("#{r:02x}{g:02x}{b:02x}");
    column(svg, (RIGHT - 20.0, 18.0), bins.beyond_mm2, &fill);
    cut_off(svg, bins, (LEFT + 6.0, BARE - 20.0), bins.bare_mm2);
    cut_off(svg, bins, (RIGHT - 20.0, 18.0), bins.beyond_mm2);
    if bins.beyond_mm2 > 0.0 {
        text(svg, (RIGHT - 11.0, BOTTOM + 19.0), "middle", "more");
    }
    text(
        svg,
        (LEFT + 0.5 * BARE - 4.0, BOTTOM + 19.0),
        "middle",
        "bare",
    );
}

/// Marks a column that is higher than the diagram, with its area.
fn cut_off(svg: &mut String, bins: &Bins, (x, width): (f64, f64), mm2: f64) {
    if mm2 <= bins.top_mm2 {
        return;
    }
    for y in [TOP + 10.0, TOP + 14.0] {
        line(svg, "gap", (x - 4.0, y + 4.0), (x + width + 4.0, y - 4.0));
    }
    let words = format!("{}\u{a0}mm²", area(mm2).replace(' ', "\u{a0}"));
    let _ = write!(
        svg,
        r#"<text class="halo-text" x="{:.1}" y="{:.1}" text-anchor="start">{words}</text>"#,
        x + width + 6.0,
        TOP + 16.0
    );
}

/// Share of the area with at least a thickness, as a step-free line.
fn curve(svg: &mut String, bins: &Bins) {
    let share = |mm2: f64| BOTTOM - (BOTTOM - TOP) * mm2 / bins.total_mm2;
    let mut above = 0.0;
    let mut patches = bins.sorted.iter().peekable();
    let mut points = Vec::new();
    let samples = 240_i32;
    for k in (0..=samples).rev() {
        let at_m = bins.end_m() * f64::from(k) / f64::from(samples);
        while let Some((_, mm2)) = patches.next_if(|(thickness_m, _)| *thickness_m >= at_m) {
            above += mm2;
        }
        points.push(format!("{:.1},{:.1}", bins.x(at_m), share(above)));
    }
    let _ = write!(
        svg,
        r#"<polyline class="halo" points="{0}"/><polyline class="curve" points="{0}"/>"#,
        points.join(" ")
    );
}

fn wanted(svg: &mut String, bins: &Bins, want_m: f64, on: f64) {
    let inside = want_m <= bins.end_m();
    let x = bins.x(want_m);
    line(svg, "halo", (x, TOP - 6.0), (x, BOTTOM));
    line(svg, "want", (x, TOP - 6.0), (x, BOTTOM));
    let beyond = if inside { "" } else { " (beyond the scale)" };
    let words = format!(
        "wanted: {} nm on {} %{beyond}",
        trimmed(1e9 * want_m),
        trimmed(100.0 * on)
    );
    let (at, anchor) = if x > 0.6 * WIDTH {
        (x - 8.0, "end")
    } else {
        (x + 8.0, "start")
    };
    text(svg, (at, TOP - 1.0), anchor, &words);
    let y = BOTTOM - (BOTTOM - TOP) * on;
    let _ = write!(
        svg,
        r#"<circle class="want" cx="{x:.1}" cy="{y:.1}" r="5"/>"#
    );
}

/// A number at least 0, rounded down.
fn whole_number(value: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to what a usize of any machine holds"
    )]
    let number = value.clamp(0.0, 1e9) as usize;
    number
}
