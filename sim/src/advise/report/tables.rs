//! Tables of the page of advice: candidates, stops.
//!
//! In: parts of an [`Advice`]. Out: markup.

use super::values_in_words;
use crate::advise::stops::Schedule;
use crate::advise::told::{Advice, Known, Ranked, StopsTold};
use crate::outcome::figures::{lasting, percent, three, trimmed, with_error};
use crate::outcome::report::keep_together as nb;
use maud::{Markup, html};

/// A share with its error, in percent.
pub(super) fn share(known: Known) -> String {
    format!(
        "{} %",
        with_error(100.0 * known.value, 100.0 * known.stderr)
    )
}

/// What is advised, beside what the plan said, and what else was simulated again.
pub(super) fn best(advice: &Advice) -> Markup {
    let Some(best) = advice.candidates.first() else {
        return html! {};
    };
    html! {
        section.wide {
            h2 { "What to set" }
            @if !advice.keys.is_empty() {
                div.scroll { table.grid {
                    thead { tr { th { "key" } th { "advised" } th { "in the plan" } th { "tried from" } th { "to" } } }
                    tbody { @for key in &advice.keys {
                        tr {
                            th { (key.key) }
                            td { b { (nb(best.values.get(&key.key).map_or("as the film needs", String::as_str))) } }
                            td { (nb(&key.now)) } td { (nb(&key.from)) } td { (nb(&key.to)) }
                        }
                    } }
                } }
            }
            div.scroll { table.grid {
                caption { "Simulated again on their own, the best first; the others are ends of the front." }
                thead { tr {
                    th { "candidate" } th { "turning" } th { "open" } th { "metal, mg" } th { "wanted film on" } th { "verdict" }
                    th { "unevenness" } th { "nothing on" } th { "warmest" }
                } }
                tbody { @for one in &advice.candidates { (row(one)) } }
            } }
        }
    }
}

fn row(one: &Ranked) -> Markup {
    let warmest = one.highest_c.iter();
    let warmest: Vec<String> = warmest
        .map(|(part, [low, high])| format!("{part} {low:.0} to {high:.0} °C"))
        .collect();
    html! {
        tr {
            th { (nb(&values_in_words(&one.values))) }
            td { (one.turning) }
            td { (nb(&lasting(one.open_time_s))) }
            td { (three(one.metal_mg)) }
            td { (nb(&one.reached.map_or("–".to_owned(), share))) }
            td { (one.verdict.as_deref().unwrap_or("–")) }
            td { (nb(&share(one.unevenness))) }
            td { (nb(&percent(one.not_reached))) }
            td { @if warmest.is_empty() { "not told" } @else { (nb(&warmest.join(", "))) } }
        }
    }
}

/// Hand-turned schedules: by number of stops, and the chosen one.
pub(super) fn stops(stops: &StopsTold) -> Markup {
    let cell = |schedule: Option<&Schedule>| match schedule {
        Some(one) if one.open_time_s.is_finite() => nb(&format!(
            "{}, ± {}",
            lasting(one.open_time_s.ceil()),
            percent(one.score.unevenness.max(0.0))
        )),
        Some(_) => "never enough".to_owned(),
        None => "–".to_owned(),
    };
    let steady = format!(
        "Steady turning takes {} at an unevenness of {}.",
        lasting(stops.steady_open_time_s),
        share(stops.steady_unevenness)
    );
    html! {
        section.wide {
            h2 { "Turned by hand" }
            p { (nb(&steady)) " " (verdict(stops)) }
            div.scroll { table.grid {
                caption { "Open time and unevenness by number of stops, as the part's own film at each angle says." }
                thead { tr { th { "stops" } th { "equal" } th { "equal stops, dwells of their own" } th { "free stops" } } }
                tbody { @for by in &stops.by_count {
                    tr {
                        th { (by.stops) } td { (cell(Some(&by.equal))) } td { (cell(by.weighted.as_ref())) } td { (cell(by.free.as_ref())) }
                    }
                } }
            } }
            @if let Some(schedule) = chosen(stops) { (angles(schedule)) }
        }
    }
}

fn verdict(stops: &StopsTold) -> String {
    match (&stops.chosen, stops.advised) {
        (Some((count, kind)), true) => format!("Advised: {count} stops, {kind}."),
        (Some((count, kind)), false) => {
            format!("The best of them, {count} stops ({kind}), are not advised.")
        }
        (None, _) => "None of them brings the wanted film.".to_owned(),
    }
}

fn chosen(stops: &StopsTold) -> Option<&Schedule> {
    let (count, kind) = stops.chosen.as_ref()?;
    let by = stops.by_count.iter().find(|by| by.stops == *count)?;
    match kind.as_str() {
        "equal" => Some(&by.equal),
        "weighted" => by.weighted.as_ref(),
        _ => by.free.as_ref(),
    }
}

/// Angles and dwells of the chosen stops.
fn angles(schedule: &Schedule) -> Markup {
    html! {
        div.scroll { table.grid {
            caption { "The chosen stops; the card has them with a running clock where they are advised." }
            thead { tr { th { "stop" } th { "angle" } th { "for" } } }
            tbody { @for (number, (turns, dwell_s)) in schedule.turns.iter().zip(&schedule.dwell_s).enumerate() {
                tr {
                    th { (number + 1) }
                    td { (nb(&format!("{}°", trimmed((3600.0 * turns).round() / 10.0)))) }
                    td { (nb(&lasting((dwell_s - 1e-6).ceil().max(1.0)))) }
                }
            } }
        } }
    }
}
