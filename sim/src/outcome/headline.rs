//! The headline: the outcome in one to four sentences, for the report and for the terminal.
//!
//! In: an [`Outcome`]. Out: plain sentences with plain spaces and at most three significant digits
//! (areas of the mesh, which are exact, in whole mm²).

use super::doubt;
use super::figures::{percent, percent_against, percent_asked, significant, three};
use super::model::{FilmVerdict, Outcome};
use super::reading::Reading;
use super::survey::{Standing, Survey, quantile};
use super::verdict::{CLOSE, MET, MISSED, verdict};
use crate::transport::Stopped;

/// The outcome in sentences, the most important one first, in nm and mm².
pub fn sentences(outcome: &Outcome) -> Vec<String> {
    with_survey(outcome, &Survey::of(outcome))
}

/// The same from a survey that exists already.
pub fn with_survey(outcome: &Outcome, survey: &Survey) -> Vec<String> {
    read_in(Reading::default(), outcome, survey)
}

/// The same in other units.
pub fn read_in(reading: Reading, outcome: &Outcome, survey: &Survey) -> Vec<String> {
    let mut sentences = vec![match &outcome.summary.film {
        Some(film) => wanted(reading, film, (outcome, survey)),
        None => nothing_wanted(reading, survey),
    }];
    sentences.extend(
        outcome
            .summary
            .film
            .as_ref()
            .and_then(|film| kept_bare(reading, film)),
    );
    sentences.extend(stopped_early(outcome));
    sentences.extend(outcome.summary.uncalibrated.then(|| uncalibrated(outcome)));
    sentences
}

/// The wanted thickness in words: `100 nm`, or `5 nm of chromium and 100 nm of gold`.
pub fn want_in_words(film: &FilmVerdict) -> String {
    want_read_in(Reading::default(), film)
}

fn want_read_in(reading: Reading, film: &FilmVerdict) -> String {
    let wants: Vec<String> = film
        .want_nm
        .iter()
        .map(|(metal, &nm)| {
            let want = reading.asked_in_words(1e-9 * nm);
            if metal == "all" {
                want
            } else {
                format!("{want} of {metal}")
            }
        })
        .collect();
    wants.join(" and ")
}

fn wanted(reading: Reading, film: &FilmVerdict, (outcome, survey): (&Outcome, &Survey)) -> String {
    let share = percent_against(film.reached_fraction, film.on);
    let on = percent_asked(film.on);
    let reaches = format!(
        "{share} of {}{} reaches {}",
        reading.area_in_words(1e-6 * film.area_mm2),
        where_wanted(film, outcome),
        want_read_in(reading, film)
    );
    let against = match verdict(film.reached_fraction, film.reached_stderr, film.on) {
        MET => format!(", {on} is wanted"),
        MISSED => format!(", but {on} is wanted"),
        _ => format!(
            ", too close to the wanted {on} to call at a standard error of {} points",
            significant(100.0 * film.reached_stderr, 2)
        ),
    };
    reaches + &against + &bare(reading, survey) + "."
}

/// The regions that are looked at, where the plan names some: ` in bore and rim`.
fn where_wanted(film: &FilmVerdict, outcome: &Outcome) -> String {
    let coat = film.regions.iter().filter(|region| region.wanted == "coat");
    let named = coat.filter(|region| outcome.region_names.contains(&region.name));
    let names: Vec<&str> = named.map(|region| region.name.as_str()).collect();
    if names.is_empty() {
        String::new()
    } else {
        format!(" in {}", names.join(" and "))
    }
}

fn nothing_wanted(reading: Reading, survey: &Survey) -> String {
    let all = survey.wanted_area_m2(|_| true);
    let film = survey.wanted_area_m2(|p| !p.standing.is_bare());
    let share = if all > 0.0 { film / all } else { 0.0 };
    let mut text = format!(
        "{} of {} gets film",
        percent(share),
        reading.area_in_words(all)
    );
    let coated = || {
        let coated = survey.wanted().filter(|p| !p.standing.is_bare());
        coated
            .map(|p| (p.thickness_m, p.area_m2))
            .collect::<Vec<_>>()
    };
    let at = |share| quantile(coated(), share).map(|m| three(reading.film(m)));
    if let (Some(low), Some(middle), Some(high)) = (at(0.05), at(0.5), at(0.95)) {
        let unit = reading.film_unit();
        text += &format!(
            ", {middle} {unit} in the middle and {low} to {high} {unit} on nine tenths of it"
        );
    }
    text + &bare(reading, survey) + "; no thickness is wanted in the plan, so there is no verdict."
}

/// What is bare, as the end of a sentence.
fn bare(reading: Reading, survey: &Survey) -> String {
    let of = |standing| survey.wanted_area_m2(|p| p.standing == standing);
    let area = |area_m2| reading.area_in_words(area_m2);
    let (unseen, unreached) = (of(Standing::NoneSeen), of(Standing::Unreached));
    match (unseen > 0.0, unreached > 0.0) {
        (true, true) => format!(
            "; on {} nothing was seen to arrive, and {} is proved out of reach",
            area(unseen),
            area(unreached)
        ),
        (true, false) => format!("; on {} nothing was seen to arrive", area(unseen)),
        (false, true) => format!("; {} is proved out of reach", area(unreached)),
        (false, false) => String::new(),
    }
}

fn kept_bare(reading: Reading, film: &FilmVerdict) -> Option<String> {
    let on = percent_asked(film.on);
    let kept: Vec<String> = film
        .regions
        .iter()
        .filter(|r| r.wanted == "bare")
        .map(|r| {
            let share = percent_against(r.fraction, film.on);
            let verdict = match r.verdict.as_str() {
                MISSED => format!(", {on} is wanted: missed"),
                CLOSE => format!(", too close to the wanted {on} to call"),
                _ => String::new(),
            };
            format!(
                "{share} of {} ({}) does{verdict}",
                r.name,
                reading.area_in_words(1e-6 * r.area_mm2)
            )
        })
        .collect();
    (!kept.is_empty()).then(|| format!("Where the part should stay bare: {}.", kept.join("; ")))
}

fn stopped_early(outcome: &Outcome) -> Option<String> {
    let summary = &outcome.summary;
    let by = match summary.stopped {
        Stopped::Reached => return None,
        Stopped::Time => "by the time limit",
        Stopped::Atoms => "by the limit on atoms",
        Stopped::User => "by the user",
    };
    Some(format!(
        "The run was stopped {by} at an accuracy of {}, {} was asked for.",
        percent_fine(summary.accuracy_reached),
        percent_asked(summary.accuracy_asked)
    ))
}

fn uncalibrated(outcome: &Outcome) -> String {
    let factor = rate_factor(outcome);
    format!(
        "The rate is not calibrated by a coupon: thicknesses are good to about a factor of {}, \
         their ratios across the part are not touched by that.",
        doubt::factor_in_words(factor)
    )
}

/// Factor within which uncalibrated thicknesses are good, of [`doubt`]; 1 where coupons set all rates.
pub fn rate_factor(outcome: &Outcome) -> f64 {
    doubt::factor(&outcome.summary, || {
        outcome.sources.iter().any(|s| s.metal == "carbon")
    })
}

/// A small share with two digits: `2.4 %`.
pub fn percent_fine(fraction: f64) -> String {
    format!("{} %", significant(100.0 * fraction, 2))
}
