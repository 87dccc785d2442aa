//! The report: one self-contained HTML page.
//!
//! In: an [`Outcome`] and its pictures. Out: the text of `report.html`, which fetches nothing: style,
//! pictures and diagrams are inside. All text is escaped by the template library.

mod chart;
mod tables;
mod why;

pub use why::decides;

use super::card;
use super::doubt;
use super::figures::{lasting, percent_asked, three, whole, with_error};
use super::flight;
use super::headline;
use super::model::{Outcome, Summary};
use super::survey::{Survey, quantile};
use super::views::View;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// What this version does not compute, so that silence is not taken for "none".
///
pub const NOT_COMPUTED: [&str; 1] =
    ["Colour of thin films; looks and conduction of metals that grow at the same time."];

/// Said where the plan has no gas.
pub const NO_GAS: &str = "Scattering by gas: the plan has no [gas], so atoms fly straight. Real gas fills shadows and takes \
     metal from open sides.";

/// Said where the plan has a gas.
pub const GAS_NEGLECTS: &str = "Of the gas: that it is hot and thin near the source, that real atoms are softer than spheres, \
     that ions and film-forming gases are there too.";

/// Writes the report page.
pub fn html(outcome: &Outcome, views: &[View]) -> String {
    let survey = Survey::of(outcome);
    let summary = &outcome.summary;
    let body = html! {
        main {
            (head(outcome, &survey))
            (warnings(outcome))
            section { h2 { "What decides it" } @for sentence in decides(outcome, &survey) { p { (keep_together(&sentence)) } } }
            (pictures(views))
            section.wide {
                h2 { "How much area carries how much" }
                (chart::histogram(outcome, &survey))
                (why::causes(&survey))
            }
            (stencils(&outcome.summary))
            (worth(&outcome.summary))
            (tables::numbers(outcome))
            (trust(outcome))
            (tables::geometry(outcome))
            section { h2 { "Not in these numbers" } ul.plain { li { (about_gas(outcome)) } @for line in NOT_COMPUTED { li { (line) } } } }
            (plan_text(outcome))
        }
        main.bench { (card::markup(outcome)) }
    };
    page(
        &summary.program,
        &format!("{} – film report", summary.title),
        &body,
    )
}

/// Class of a card with so many rows: the more there are, the denser it is set, so that it stays one page.
pub(crate) fn card_class(rows: usize) -> &'static str {
    match rows {
        0..=10 => "card",
        11..=22 => "card dense",
        _ => "card dense denser",
    }
}

/// A page that fetches nothing: its head with title and style, and a body.
pub(crate) fn page(program: &str, title: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content=(format!("evenfall {program}"));
                title { (title) }
                style { (PreEscaped(include_str!("report/style.css"))) }
            }
            body { (body) }
        }
    };
    page.into_string()
}

/// Joins numbers to their units and digit groups to each other with no-break spaces.
pub fn keep_together(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let units = |next: char| next.is_ascii_digit() || "%±×°".contains(next);
    let unit_word = |from: usize| {
        let word: String = letters[from..]
            .iter()
            .take_while(|c| c.is_alphanumeric())
            .collect();
        [
            "nm", "mm", "mm²", "cm²", "s", "min", "h", "mg", "µg", "in", "rpm",
        ]
        .contains(&word.as_str())
    };
    let joined = letters.iter().enumerate().map(|(k, &letter)| {
        let (before, after) = (k.checked_sub(1).map(|b| letters[b]), letters.get(k + 1));
        let between = before.zip(after).is_some_and(|(before, &after)| {
            (before.is_ascii_digit() && (units(after) || unit_word(k + 1))) || "±×".contains(before)
        });
        if letter == ' ' && between {
            '\u{a0}'
        } else {
            letter
        }
    });
    joined.collect()
}

/// Stencils: edges, the finest that is reached, what falls short, the correction.
fn stencils(summary: &Summary) -> Markup {
    html! {
        @for stencil in &summary.stencils {
            section {
                h2 { "Stencil " (stencil.name) }
                @for sentence in &stencil.sentences { p { (keep_together(sentence)) } }
            }
        }
    }
}

/// What the film is worth, part by part.
fn worth(summary: &Summary) -> Markup {
    let sentences = worth_sentences(summary);
    html! {
        @if !sentences.is_empty() {
            section {
                h2 { "What the film is worth" }
                @for (what, sentence) in &sentences { p { b { (what) ": " } (keep_together(sentence)) } }
            }
        }
    }
}

/// What is told of the film's worth, each sentence with its heading: "Looks, horn".
pub fn worth_sentences(summary: &Summary) -> Vec<(String, String)> {
    let looks = summary.looks.iter().map(|(of, told)| (of, &told.sentence));
    let conducts = summary.conducts.iter();
    let conducts = conducts.map(|(of, told)| (of, &told.sentence));
    let far = summary.conducts.iter();
    let far = far.filter_map(|(of, told)| Some((of, &told.far.as_ref()?.sentence)));
    let grows = summary.grows.iter().map(|(of, told)| (of, &told.sentence));
    let heat = summary.heat.iter().map(|(of, told)| (of, &told.sentence));
    let purity = summary.purity.iter().map(|(of, told)| (of, &told.sentence));
    let target = summary.target.iter().map(|(of, told)| (of, &told.sentence));
    let headed = |what: &'static str| {
        move |(of, sentence): (&String, &String)| (format!("{what}, {of}"), sentence.clone())
    };
    let of_parts = looks
        .map(headed("Looks"))
        .chain(conducts.map(headed("Conducts")))
        .chain(far.map(headed("End to end")));
    let of_parts = of_parts
        .chain(grows.map(headed("Grows")))
        .chain(heat.map(headed("Heat")));
    let of_parts = of_parts.chain(purity.map(headed("Purity")));
    of_parts.chain(target.map(headed("Wear"))).collect()
}

fn head(outcome: &Outcome, survey: &Survey) -> Markup {
    let summary = &outcome.summary;
    let sentences = headline::with_survey(outcome, survey);
    let (mark, words) = match summary.film.as_ref().map(|f| f.verdict.as_str()) {
        Some("met") => ("met", "Met"),
        Some("missed") => ("missed", "Missed"),
        Some(_) => ("close", "Too close to call"),
        None => ("none", "No film wanted, no verdict"),
    };
    html! {
        header.top {
            p.kind { "Coating run, computed" }
            h1 { (summary.title) }
            p.badges {
                span class=(format!("badge {mark}")) { (words) }
                @if summary.uncalibrated { span.badge.uncalibrated { "Uncalibrated" } }
                @if sentences.iter().any(|s| s.starts_with("The run was stopped")) { span.badge.stopped { "Stopped early" } }
            }
            @for (number, sentence) in sentences.iter().enumerate() {
                p class=(if number == 0 { "headline" } else { "second" }) { (keep_together(sentence)) }
            }
            (tiles(outcome, survey))
        }
    }
}

fn tiles(outcome: &Outcome, survey: &Survey) -> Markup {
    let summary = &outcome.summary;
    let open_s: f64 = outcome
        .steps
        .iter()
        .filter(|s| s.coats())
        .map(|s| s.lasts_s)
        .sum();
    let total_s: f64 = outcome.steps.iter().map(|s| s.lasts_s).sum();
    let tile = |name: &str, value: String, note: String| {
        html! { div.tile { p.name { (name) } p.value { (keep_together(&value)) } p.note { (keep_together(&note)) } } }
    };
    html! {
        div.tiles {
            (middle(survey))
            (tile("Shutter open", lasting(open_s), format!("of {} in all", lasting(total_s))))
            @if let Some(coupon) = summary.coupons.first() {
                @let tooling = summary.tooling.iter().find(|t| t.coupon == coupon.name);
                (tile(&format!("Coupon {}", coupon.name), format!("{} nm", with_error(coupon.thickness_nm, coupon.stderr_nm)),
                    tooling.map(|t| format!("tooling factor of {}: {}", t.part, with_error(t.factor, t.stderr))).unwrap_or_default()))
            }
            @for (metal, mg) in summary.metal_used_mg.iter().take(2) {
                (tile("Metal that leaves", format!("{} mg", three(*mg)), metal.clone()))
            }
        }
    }
}

/// Thickness in the middle of the wanted area.
fn middle(survey: &Survey) -> Markup {
    let wanted: Vec<(f64, f64)> = survey
        .wanted()
        .map(|p| (p.thickness_m, p.area_m2))
        .collect();
    let at =
        |share: f64| quantile(wanted.clone(), share).map_or("–".to_owned(), |m| three(1e9 * m));
    html! {
        div.tile {
            p.name { "Median over the area" }
            p.value { (keep_together(&format!("{} nm", at(0.5)))) }
            p.note { (keep_together(&format!("{} to {} nm on nine tenths of it", at(0.05), at(0.95)))) }
        }
    }
}

fn warnings(outcome: &Outcome) -> Markup {
    let warnings = &outcome.summary.warnings;
    html! {
        @if !warnings.is_empty() {
            section.warnings {
                h2 { @if warnings.len() == 1 { "A warning" } @else { (warnings.len()) " warnings" } }
                ul { @for warning in warnings { li { (keep_together(warning)) } } }
            }
        }
    }
}

fn pictures(views: &[View]) -> Markup {
    html! {
        section.wide.pictures {
            h2 { "Where it lands" }
            @if !views.is_empty() {
                p.note { "All pictures of thickness share one linear scale. It spans all but the thinnest and the thickest 2 % of the coated area; what lies
                    beyond is clamped to the end colour, and a triangle at that end says how far it goes." }
            }
            div.gallery {
                @for view in views {
                    figure {
                        img width="900" height="700" alt=(format!("{}. {}", view.title, view.caption))
                            src=(format!("data:image/png;base64,{}", STANDARD.encode(&view.png)));
                        figcaption { b { (view.title) ". " } (view.caption) }
                    }
                }
            }
        }
    }
}

fn trust(outcome: &Outcome) -> Markup {
    let summary = &outcome.summary;
    let factor = headline::rate_factor(outcome);
    html! {
        section {
            h2 { "How far to trust it" }
            @if summary.uncalibrated {
                p {
                    span.badge.uncalibrated { "Uncalibrated" }
                    " No measured coupon sets the rate, so all thicknesses may be off by one common factor of about "
                    (doubt::factor_in_words(factor)) ", up or down. Ratios – part over coupon, one place over another – do not change with it."
                }
                @for (source, doubt) in &summary.doubt {
                    p.note { (keep_together(&format!("Of {source} a factor of {}: {}, all of them erring the same way.",
                        doubt::factor_in_words(doubt.factor), doubt::in_words(doubt)))) }
                }
            } @else {
                p { "The rate rests on a measured coupon; absolute thicknesses are as good as that measurement and the geometry." }
            }
            @if let Some(flown) = &summary.flight {
                @for sentence in flight::in_words(flown) { p { (keep_together(&sentence)) } }
            }
            p { (keep_together(&accuracy(outcome))) }
            (tables::audit(outcome))
            (tables::balance(outcome))
        }
    }
}

/// What of the gas is not in the numbers.
fn about_gas(outcome: &Outcome) -> &'static str {
    let flight = outcome.summary.flight.as_ref();
    match flight.and_then(|flight| flight.gas.as_ref()) {
        Some(_) => GAS_NEGLECTS,
        None => NO_GAS,
    }
}

fn accuracy(outcome: &Outcome) -> String {
    let summary = &outcome.summary;
    let method = match summary.method {
        crate::transport::Method::Auto => "auto",
        crate::transport::Method::Gather => "gather",
        crate::transport::Method::Fire => "fire",
    };
    format!(
        "On 95 % of the area the standard error is below {} of the thickness ({} was asked for). Method {method}, seed {}; \
         the same plan, seed and version give the same numbers again. Errors given as ± are one standard error of the computation \
         alone, not of the machine.",
        headline::percent_fine(summary.accuracy_reached),
        percent_asked(summary.accuracy_asked),
        summary.seed
    )
}

fn plan_text(outcome: &Outcome) -> Markup {
    html! {
        section.plan {
            h2 { "The plan as used" }
            @for (name, text) in &outcome.plan_files {
                details { summary { (name) ", " (whole(text.lines().count() as f64)) " lines" } pre { (text) } }
            }
            p.note { "Computed by Evenfall " (outcome.summary.program) "." }
        }
    }
}
