//! The bench card: what to do at the machine, step by step, on one printed page.
//!
//! In: an [`Outcome`]. Out: a block of HTML inside the report. [`schedule`] makes rows of steps.

mod expect;
mod prepare;
mod schedule;

pub use schedule::{Row, Stop, rows};

use super::cautions;
use super::figures::{
    clock, inches, lasting, millimetres, mm_and_inch, significant, three, trimmed,
};
use super::model::{BodyOutcome, Outcome, PartOutcome, StepOutcome};
use super::report::card_class;
use super::report::keep_together as nb;
use super::stencils::length;
use glam::{DVec3, EulerRot};
use maud::{Markup, html};

/// Most clearances listed on the card, the tightest ones.
const MOST_CLEARANCES: usize = 5;

/// The bench card.
pub fn markup(outcome: &Outcome) -> Markup {
    let rows = rows(&outcome.steps);
    let crowded = card_class(rows.len() + stops_in(&rows) / 6);
    html! {
        section class=(crowded) id="card" {
            header {
                div { p.kind { "Bench card" } h2 { (outcome.summary.title) } }
                p.blanks { "Date " span.blank {} " Run " span.blank {} " By " span.blank {} }
            }
            div.pair {
                div { h3 { "Mount" } (mounting(outcome)) }
                div { h3 { "Source" } (source(outcome)) h3 { "Clearances" } (clearances(outcome)) }
            }
            h3 { "Before" }
            (prepare(outcome))
            h3 { "Run" }
            (schedule_table(outcome, &rows))
            (around(outcome))
            div.pair {
                div { h3 { "Expect" } (expect::expect(outcome)) }
                div { h3 { "Write down" } (write_down(outcome)) }
            }
            h3 { "Take care" }
            p.deference { (cautions::DEFERENCE) }
            ul.cautions {
                @for caution in cautions::triggered(outcome) {
                    li { b { (caution.title) ". " } (caution.text) }
                }
            }
        }
    }
}

fn stops_in(rows: &[Row]) -> usize {
    let stops = |row: &Row| {
        if let Row::Stops { stops, .. } = row {
            stops.len()
        } else {
            0
        }
    };
    rows.iter().map(stops).sum()
}

fn mounting(outcome: &Outcome) -> Markup {
    html! {
        table.facts {
            @for part in &outcome.parts {
                tr { th { (part.name) } td { "origin of its file at x, y, z " (place(part.chamber_from_part.translation)) } }
                tr { th {} td { "turned " (turned(part)) " about x, y, z" } }
                @if let Some((source, distance_m)) = nearest_source(outcome, part) {
                    tr { th {} td { "nearest point " (nb(&mm_and_inch(distance_m))) " from the middle of " (source) } }
                }
                @if outcome.chamber.is_some() {
                    tr { th {} td { "lowest point " (nb(&mm_and_inch(lowest_m(part)))) " above the base plate" } }
                }
            }
            @for stencil in &outcome.summary.stencils {
                tr { th { "stencil " (stencil.name) } td { "on " (stencil.part) ": sheet " (nb(&length(stencil.sheet_m)))
                    @if stencil.lift_m > 0.0 { ", held " (nb(&length(stencil.lift_m))) " over it" } @else { ", tight on it" }
                    @if let Some(corrected) = &stencil.corrected { "; cut it after " (corrected.file) } } }
            }
            @for body in outcome.bodies.iter().filter(|b| b.kind == "coupon") {
                tr { th { "coupon " (body.name) } td { "middle at x, y, z " (place(middle_m(body)))
                    @if body.riding { ", rides with the part" } } }
            }
        }
        p.note { "Origin: middle of the base plate, z up; all at turning angle 0." }
    }
}

fn source(outcome: &Outcome) -> Markup {
    html! {
        table.facts {
            @for source in &outcome.sources {
                tr { th { (source.name) } td { (source.metal) ", " (source.kind) ", " (nb(&source.footprint)) } }
                tr { th {} td { "face at x, y, z " (place(DVec3::from_array(source.at_m))) } }
                tr { th {} td { b { (nb(&source.output)) } } }
            }
            @for (metal, mg) in &outcome.summary.metal_used_mg {
                tr { th { "leaves in all" } td { (nb(&format!("{} mg", three(*mg)))) " of " (metal) } }
            }
        }
    }
}

fn clearances(outcome: &Outcome) -> Markup {
    let mut tight: Vec<_> = outcome.clearances.iter().collect();
    tight.sort_by(|a, b| a.full_turn_m.total_cmp(&b.full_turn_m));
    html! {
        @if tight.is_empty() {
            p.note { "Nothing rides past anything else." }
        } @else {
            table.facts {
                @for one in tight.iter().take(MOST_CLEARANCES) {
                    tr {
                        th { (one.riding) " to " (one.still) }
                        td { @if one.full_turn_is_bound { "at least " } (nb(&mm_and_inch(one.full_turn_m))) " at " (angles(&one.full_turn_at_rad)) }
                    }
                }
            }
            p.note { "Smallest over a full turn. Turn once by hand before pumping down." }
        }
    }
}

fn schedule_table(outcome: &Outcome, rows: &[Row]) -> Markup {
    let total_s: f64 = outcome.steps.iter().map(|s| s.lasts_s).sum();
    html! {
        table.steps {
            thead { tr { th {} th { "Step" } th { "Start" } th { "End" } th { "Lasts" } th { "Shutter" } th { "Power" } th { "Turning" } } }
            tbody {
                @for row in rows {
                    @match row {
                        Row::Vent { text } => tr.vent { td { span.tick {} } td colspan="7" { b { "Open up: " } (text) ", pump down again. The clock stands." } },
                        Row::One { number, start_s } => {
                            @let step = &outcome.steps[*number];
                            tr {
                                td { span.tick {} }
                                td { b { (number + 1) } @if let Some(note) = &step.note { " " (note) } }
                                td.clock { (clock(*start_s)) }
                                td.clock { (clock(start_s + step.lasts_s)) }
                                td { (nb(&lasting(step.lasts_s))) }
                                td { (shutter(outcome, step)) }
                                td { (power(outcome, step)) }
                                td { (turning(step)) }
                            }
                        }
                        Row::Stops { stops } => (stops_rows(outcome, stops)),
                    }
                }
                tr.end { td {} td { "all off" } td.clock { (clock(total_s)) } td {} td {} td { "shut" } td { "0" } td {} }
            }
        }
    }
}

fn stops_rows(outcome: &Outcome, stops: &[Stop]) -> Markup {
    let (Some(first), Some(last)) = (stops.first(), stops.last()) else {
        return html! {};
    };
    let step = &outcome.steps[first.number];
    let end_s = last.start_s + outcome.steps[last.number].lasts_s;
    html! {
        tr {
            td {}
            td { b { (first.number + 1) "–" (last.number + 1) } @if let Some(note) = &step.note { " " (note) } }
            td.clock { (clock(first.start_s)) }
            td.clock { (clock(end_s)) }
            td { (stops.len()) " × " (nb(&lasting(step.lasts_s))) }
            td { (shutter(outcome, step)) }
            td { (power(outcome, step)) }
            td { "parked, turned by hand:" }
        }
        tr.stops { td colspan="8" { ul {
            @for stop in stops {
                @let step = &outcome.steps[stop.number];
                li { span.tick {} b { (angles(&step.start_rad)) } " at " span.clock { (clock(stop.start_s)) } }
            }
        } } }
    }
}

fn shutter(outcome: &Outcome, step: &StepOutcome) -> Markup {
    let shutters = outcome
        .bodies
        .iter()
        .filter(|b| b.kind == "shutter")
        .count();
    html! {
        @if step.shut.is_empty() { @if shutters == 0 { "–" } @else { "open" } }
        @else if shutters <= 1 { b { "SHUT" } }
        @else { b { "SHUT " } (step.shut.join(", ")) }
    }
}

fn power(outcome: &Outcome, step: &StepOutcome) -> String {
    let percent = |power: f64| nb(&format!("{} %", trimmed(100.0 * power)));
    match (step.power.as_slice(), outcome.sources.as_slice()) {
        ([power], _) => percent(*power),
        (powers, sources) => {
            let each = sources
                .iter()
                .zip(powers)
                .map(|(s, p)| format!("{} {}", s.name, percent(*p)));
            each.collect::<Vec<_>>().join(", ")
        }
    }
}

fn turning(step: &StepOutcome) -> String {
    let one = |(k, words): (usize, &String)| {
        let turns = step.turns.get(k).copied().unwrap_or(0.0);
        let start_rad = step.start_rad.get(k).copied().unwrap_or(0.0);
        let text = if turns.abs() < 1e-9 {
            words.clone()
        } else if words.starts_with("turning") {
            let end_deg = start_rad.to_degrees() + 360.0 * turns;
            let (from, to) = (around_deg(start_rad.to_degrees()), around_deg(end_deg));
            format!(
                "{words}: {} turns, {from}° to {to}°",
                trimmed((100.0 * turns).round() / 100.0)
            )
        } else {
            format!("{words}, from {}°", degrees(start_rad))
        };
        nb(&text.replace(" deg", "°"))
    };
    let all: Vec<String> = step.turning.iter().enumerate().map(one).collect();
    if all.is_empty() {
        "–".to_owned()
    } else {
        all.join("; ")
    }
}

/// What to do before the clock starts; rests in between; what to do in the end.
fn prepare(outcome: &Outcome) -> Markup {
    html! {
        ol.before {
            @for sentence in prepare::before(outcome) { li { span.mark {} (nb(&sentence)) } }
        }
    }
}

/// Rests, and the end of the run.
fn around(outcome: &Outcome) -> Markup {
    html! {
        @for pause in prepare::pauses(outcome) { p.pause { b { "Pauses. " } (nb(&pause)) } }
        p.note { (nb(&prepare::after(outcome))) }
    }
}

fn write_down(outcome: &Outcome) -> Markup {
    let boats = outcome.sources.iter().any(|s| s.kind == "boat");
    let sputters = outcome.sources.iter().any(|s| s.kind == "sputter");
    html! {
        table.blanks {
            tr { th { "base pressure" } td {} th { "gas, pressure" } td {} }
            @if sputters { tr { th { "voltage" } td {} th { "current" } td {} } }
            @if boats { tr { th { "boat current" } td {} th { "charge left" } td {} } }
            tr { th { "part hottest" } td {} th { "weight before, after" } td {} }
            @for coupon in &outcome.summary.coupons {
                tr { th { "coupon " (coupon.name) } td {} th { "nm, measured by" } td {} }
            }
        }
        @if let Some(coupon) = outcome.summary.coupons.first() {
            p.note { "Then say in the plan, for the source: output = { coupon = \"" (coupon.name) "\", thickness = \"… nm\", after = \""
                (nb(&full_power_time(outcome))) "\" }." }
        }
    }
}

/// Open time at full power, in words.
fn full_power_time(outcome: &Outcome) -> String {
    let open = outcome.steps.iter().filter(|s| s.coats());
    let time_s: f64 = open
        .map(|s| s.lasts_s * s.power.first().copied().unwrap_or(1.0))
        .sum();
    lasting(time_s)
}

/// A range by a factor either way: `60 to 240 nm`.
pub fn range(nm: f64, factor: f64) -> String {
    nb(&format!(
        "{} to {} nm",
        significant(nm / factor, 2),
        significant(nm * factor, 2)
    ))
}

fn place(at_m: DVec3) -> Markup {
    let all = |text: fn(f64) -> String| at_m.to_array().map(text).join(", ");
    html! { b { (nb(&format!("{} mm", all(millimetres)))) } " " (nb(&format!("({} in)", all(inches)))) }
}

fn turned(part: &PartOutcome) -> Markup {
    let [x, y, z] = turn_rad(part);
    html! { b { (nb(&format!("{}°", [x, y, z].map(degrees).join("°, ")))) } }
}

/// Angles about x, y and z that turn a part as it stands: Rz·Ry·Rx.
///
/// Of the two triples that mean the same (x, y, z) and (x ± π, π − y, z ± π), the one that turns less
/// about x and z: plans are written that way.
fn turn_rad(part: &PartOutcome) -> [f64; 3] {
    use std::f64::consts::PI;
    let (z, y, x) = part.chamber_from_part.matrix3.to_euler(EulerRot::ZYX);
    let within = |angle: f64| (angle + PI).rem_euclid(2.0 * PI) - PI;
    let other = [within(x + PI), within(PI - y), within(z + PI)];
    let effort = |[x, _, z]: [f64; 3]| x.abs() + z.abs();
    if effort(other) < effort([x, y, z]) - 1e-9 {
        other
    } else {
        [x, y, z]
    }
}

/// Nearest source of a part and the distance from the middle of its face to the nearest corner, m.
fn nearest_source<'a>(outcome: &'a Outcome, part: &PartOutcome) -> Option<(&'a str, f64)> {
    let distance = |at: DVec3| {
        let corners = part
            .vertices_m
            .iter()
            .map(|v| part.chamber_from_part.transform_point3(*v));
        corners
            .map(|corner| corner.distance(at))
            .fold(f64::INFINITY, f64::min)
    };
    let all = outcome
        .sources
        .iter()
        .map(|s| (s.name.as_str(), distance(DVec3::from_array(s.at_m))));
    all.filter(|(_, d)| d.is_finite())
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

fn lowest_m(part: &PartOutcome) -> f64 {
    let heights = part
        .vertices_m
        .iter()
        .map(|v| part.chamber_from_part.transform_point3(*v).z);
    heights.fold(f64::INFINITY, f64::min)
}

fn middle_m(body: &BodyOutcome) -> DVec3 {
    let low = body
        .vertices_m
        .iter()
        .copied()
        .fold(DVec3::INFINITY, DVec3::min);
    let high = body
        .vertices_m
        .iter()
        .copied()
        .fold(DVec3::NEG_INFINITY, DVec3::max);
    0.5 * (low + high)
}

/// Angles of all rotations in degrees: `90°`, `90°, 45°`.
pub fn angles(angles_rad: &[f64]) -> String {
    if angles_rad.is_empty() {
        return "rest".to_owned();
    }
    nb(&format!(
        "{}°",
        angles_rad
            .iter()
            .map(|a| degrees(*a))
            .collect::<Vec<_>>()
            .join("°, ")
    ))
}

/// A hair short of a full turn is 0.
fn degrees(angle_rad: f64) -> String {
    let rounded = (10.0 * angle_rad.to_degrees()).round() / 10.0;
    trimmed(if rounded >= 360.0 {
        rounded.rem_euclid(360.0)
    } else {
        rounded
    })
}

/// Degrees within one turn, without rounding up to 360.
fn around_deg(angle_deg: f64) -> String {
    let within = ((10.0 * angle_deg).round() / 10.0).rem_euclid(360.0);
    trimmed(within)
}
