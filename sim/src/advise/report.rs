//! The page of advice: one self-contained HTML page, `report.html`.
//!
//! In: an [`Advice`]. Out: its text, which fetches nothing. All text is escaped by the template library.

mod front;
mod tables;

use super::told::{Advice, Ranked, values_in_words};
use crate::outcome::cautions::DEFERENCE;
use crate::outcome::figures::{clock, lasting, percent, three, with_error};
use crate::outcome::report::{card_class, keep_together as nb, page};
use maud::{Markup, html};

/// Writes the page.
pub fn html(advice: &Advice) -> String {
    let body = html! {
        main {
            (head(advice))
            (listed("warnings", "Warnings", &advice.warnings))
            (tables::best(advice))
            (listed("", "What limits it", &advice.limits))
            (front::front(advice))
            (turning(advice))
            @if let Some(stops) = &advice.stops { (tables::stops(stops)) }
            (sure(advice))
            (trust(advice))
        }
        @if !advice.card.is_empty() { main.bench { (card(advice)) } }
    };
    page(
        &advice.program,
        &format!("{} – advice", advice.title),
        &body,
    )
}

/// What is made small, in words.
fn aim(advice: &Advice) -> &'static str {
    match advice.minimise.as_str() {
        "time" => "The least open time",
        "metal" => "The least metal",
        _ => "The most even film",
    }
}

fn head(advice: &Advice) -> Markup {
    let best = advice.candidates.first();
    let mark = match best.map(|best| best.verdict.as_deref()) {
        None => ("missed", "Nothing in range does"),
        Some(Some("met")) => ("met", "Met when simulated again"),
        Some(Some("missed")) => ("missed", "Missed when simulated again"),
        Some(Some(_)) => ("close", "Too close to call when simulated again"),
        Some(None) => ("none", "No film wanted, no verdict"),
    };
    let tried = format!(
        "{} candidates were looked at, {} of them fit and get the film. The search is no proof: a better one may hide between those \
         tried.",
        advice.tried, advice.feasible
    );
    html! {
        header.top {
            p.kind { "Advice, computed" }
            h1 { (advice.title) }
            p.badges {
                span class=(format!("badge {}", mark.0)) { (mark.1) }
                @if advice.stopped { span.badge.stopped { "Stopped early" } }
            }
            p.headline { (nb(&headline(advice, best))) }
            p.second { (nb(&tried)) }
            @if let Some(best) = best { (tiles(best)) }
        }
    }
}

fn headline(advice: &Advice, best: Option<&Ranked>) -> String {
    match best {
        None => "Nothing within the bounds brings the wanted film.".to_owned(),
        Some(best) => format!(
            "{} within the bounds: {}, open {}.",
            aim(advice),
            values_in_words(&best.values),
            lasting(best.open_time_s)
        ),
    }
}

fn tiles(best: &Ranked) -> Markup {
    let tile = |name: &str, value: String, note: String| {
        html! { div.tile { p.name { (name) } p.value { (nb(&value)) } p.note { (nb(&note)) } } }
    };
    let [short, long] = best.open_time_range_s;
    let [little, much] = best.metal_range_mg;
    html! {
        div.tiles {
            (tile("Shutter open", lasting(best.open_time_s),
                format!("{} to {} as the rate may be off", lasting(short.round()), lasting(long.round()))))
            (tile("Metal that leaves", format!("{} mg", three(best.metal_mg)), format!("{} to {} mg in this time", three(little), three(much))))
            @if let Some(reached) = best.reached {
                (tile("Gets the wanted film", tables::share(reached), "of the area where it is wanted".to_owned()))
            }
            (tile("Unevenness", tables::share(best.unevenness), "(most − least)/(most + least)".to_owned()))
        }
    }
}

fn listed(class: &str, title: &str, lines: &[String]) -> Markup {
    html! {
        @if !lines.is_empty() {
            section class=(class) { h2 { (title) } ul.plain { @for line in lines { li { (nb(line)) } } } }
        }
    }
}

fn turning(advice: &Advice) -> Markup {
    html! {
        @if let Some(turning) = &advice.turning {
            section {
                h2 { "How fast to turn" }
                p { (nb(&format!("Step {}, {}: {}.", turning.step, lasting(turning.lasts_s), turning.sentence))) }
                p.note { (nb(&format!("For at most {} of unevenness from the last part of a turn, with a shutter that is off by up to {}.",
                    percent(turning.figure), lasting(turning.timing_s)))) }
            }
        }
    }
}

fn sure(advice: &Advice) -> Markup {
    html! {
        @if !advice.sure.is_empty() {
            section {
                h2 { "Sure enough" }
                div.scroll { table.grid {
                    caption { "Open time with which the film is as wanted though the rate may be off by a factor of "
                        (with_error(advice.rate_factor, 0.0)) " (95 %)." }
                    thead { tr { th { "confidence" } th { "open for" } } }
                    tbody { @for one in &advice.sure {
                        tr { th { (nb(&percent(one.confidence))) } td { (nb(&lasting(one.open_time_s.ceil()))) } }
                    } }
                } }
            }
        }
    }
}

fn trust(advice: &Advice) -> Markup {
    let sentence = format!(
        "What the front shows is what the search saw, coarsely. Candidates in the first table were simulated again with other random \
         numbers; ± is one standard error of that computation alone, not of the machine. Seed {}; {} lines and atoms in all. \
         Computed by Evenfall {}.",
        advice.seed,
        three(advice.rays as f64 * 1e-6) + " million",
        advice.program
    );
    html! { section { h2 { "How far to trust it" } p { (nb(&sentence)) } } }
}

/// The card for the machine.
fn card(advice: &Advice) -> Markup {
    let end_s = advice
        .card
        .last()
        .map_or(0.0, |row| row.start_s + row.lasts_s);
    let crowded = card_class(advice.card.len());
    html! {
        section class=(crowded) id="card" {
            header {
                div { p.kind { "Card for the machine" } h2 { (advice.title) } }
                p.blanks { "Date " span.blank {} " Run " span.blank {} " By " span.blank {} }
            }
            h3 { "Set" }
            @if let Some(best) = advice.candidates.first() {
                table.facts { @for (key, value) in &best.values { tr { th { (key) } td { (nb(value)) } } } }
            }
            h3 { "Run" }
            table.steps {
                thead { tr { th { "clock" } th { "for" } th { "what" } } }
                tbody {
                    @for row in &advice.card {
                        tr { td.clock { span.tick {} (clock(row.start_s)) } td { (nb(&lasting(row.lasts_s))) } td { (nb(&row.what)) } }
                    }
                    tr.end { td.clock { span.tick {} (clock(end_s)) } td {} td { "end" } }
                }
            }
            p.note { "`evenfall coat advised.toml` makes the whole bench card, with clearances and cautions." }
            h3 { "Take care" }
            p.deference { (DEFERENCE) }
        }
    }
}

#[cfg(test)]
mod tests;
