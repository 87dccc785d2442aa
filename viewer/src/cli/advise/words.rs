//! Advice in words: what to do, what it buys, what limits it, and the card for the machine.
//!
//! In: an [`Advice`]. Out: lines of text.

use evenfall_sim::advise::{
    Advice, FrontPoint, Known, Ranked, Schedule, StopsTold, values_in_words,
};
use evenfall_sim::outcome::figures::{clock, lasting, percent, three, with_error};
use std::path::Path;

/// All that advice says, as a page.
pub fn in_words(advice: &Advice, (advised, report): (Option<&Path>, &Path)) -> String {
    let mut lines = Vec::new();
    match advice.candidates.first() {
        Some(best) => of_best(advice, best, &mut lines),
        None => lines.push(format!(
            "nothing in range does: {} candidates were tried, {} of them fit and get the film",
            advice.tried, advice.feasible
        )),
    }
    if let Some(turning) = &advice.turning {
        lines.push(format!("turning: {}", turning.sentence));
    }
    if let Some(stops) = &advice.stops {
        of_stops(stops, &mut lines);
    }
    for sure in &advice.sure {
        lines.push(format!(
            "to be {:.0} % sure of it, with a rate that is good to a factor of {}: {} open",
            100.0 * sure.confidence,
            three(advice.rate_factor),
            lasting(sure.open_time_s.ceil())
        ));
    }
    lines.extend(advice.limits.iter().map(|limit| format!("limit: {limit}")));
    front(&advice.front, &mut lines);
    if !advice.card.is_empty() {
        lines.push("card:".to_owned());
        for row in &advice.card {
            lines.push(format!(
                "  {:>8}  for {:<14}  {}",
                clock(row.start_s),
                lasting(row.lasts_s),
                row.what
            ));
        }
    }
    lines.extend(
        advice
            .warnings
            .iter()
            .map(|text| format!("warning: {text}")),
    );
    lines.push(format!("report: {}", report.display()));
    if let Some(advised) = advised {
        lines.push(format!(
            "plan: {0}; `evenfall coat {0}` runs it",
            advised.display()
        ));
    }
    lines.join("\n")
}

fn of_best(advice: &Advice, best: &Ranked, lines: &mut Vec<String>) {
    let aim = match advice.minimise.as_str() {
        "time" => "least open time",
        "metal" => "least metal",
        _ => "most even film",
    };
    lines.push(format!(
        "{aim} of {} candidates ({} fit and get the film), simulated again:",
        advice.tried, advice.feasible
    ));
    for key in &advice.keys {
        let value = best.values.get(&key.key).map_or("", String::as_str);
        lines.push(format!("  {} = {value} (was {})", key.key, key.now));
    }
    lines.push(format!("  {}", summed(best)));
    for other in advice.candidates.iter().skip(1) {
        lines.push(format!(
            "or {}: {}",
            values_in_words(&other.values),
            summed(other)
        ));
    }
}

fn summed(ranked: &Ranked) -> String {
    let [short, long] = ranked.open_time_range_s;
    let mut text = format!(
        "{}, open {} ({} to {} as the rate may be off), {} mg of metal, unevenness {}",
        if ranked.turning == "stops" {
            "in stops"
        } else {
            "as it turns"
        },
        lasting(ranked.open_time_s),
        lasting(short.round()),
        lasting(long.round()),
        three(ranked.metal_mg),
        share(ranked.unevenness)
    );
    if let (Some(reached), Some(verdict)) = (ranked.reached, &ranked.verdict) {
        text += &format!(", wanted film on {}: {verdict}", share(reached));
    }
    if ranked.not_reached > 0.0 {
        text += &format!(", nothing on {}", percent(ranked.not_reached));
    }
    for (part, [low, high]) in &ranked.highest_c {
        text += &format!(", {part} gets {low:.0} to {high:.0} °C");
    }
    text
}

fn share(known: Known) -> String {
    format!(
        "{} %",
        with_error(100.0 * known.value, 100.0 * known.stderr)
    )
}

fn of_stops(stops: &StopsTold, lines: &mut Vec<String>) {
    lines.push(format!(
        "stops: steady turning takes {} at an unevenness of {}",
        lasting(stops.steady_open_time_s),
        share(stops.steady_unevenness)
    ));
    let told = |schedule: &Schedule| {
        if schedule.open_time_s.is_finite() {
            format!(
                "{} ±{}",
                lasting(schedule.open_time_s.ceil()),
                percent(schedule.score.unevenness)
            )
        } else {
            "never enough".to_owned()
        }
    };
    let maybe = |schedule: Option<&Schedule>| schedule.map_or_else(|| "–".to_owned(), told);
    for by in &stops.by_count {
        lines.push(format!(
            "  {:>2}: equal {}; equal stops with dwells of their own {}; free {}",
            by.stops,
            told(&by.equal),
            maybe(by.weighted.as_ref()),
            maybe(by.free.as_ref())
        ));
    }
    match (&stops.chosen, stops.advised) {
        (Some((count, kind)), true) => lines.push(format!("  advised: {count}, {kind}")),
        (Some((count, kind)), false) => lines.push(format!(
            "  the best of them ({count}, {kind}) do not beat steady turning"
        )),
        (None, _) => lines.push("  none of them brings the wanted film".to_owned()),
    }
}

fn front(front: &[FrontPoint], lines: &mut Vec<String>) {
    if front.len() < 2 {
        return;
    }
    lines.push(
        "what can be traded (as the search saw it, none beaten in everything by another):"
            .to_owned(),
    );
    for point in front {
        lines.push(format!(
            "  open {}, unevenness {}, {} mg, nothing on {}, heat ×{}: {}",
            lasting(point.open_time_s.ceil()),
            share(point.unevenness),
            three(point.metal_mg),
            percent(point.not_reached),
            three(point.heat),
            values_in_words(&point.values)
        ));
    }
}
