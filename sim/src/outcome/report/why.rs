//! Why the film is as it is: what decides the verdict, and where the missing metal is lost.
//!
//! In: a [`Survey`]. Out: sentences, and a diagram of bars.

use super::super::figures::{area, lasting, percent, percent_asked, significant, three};
use super::super::model::Outcome;
use super::super::survey::{Patch, Survey};
use super::super::verdict::{MET, verdict};
use maud::{Markup, html};

/// Places in the shares of a patch, with what they mean.
const CAUSES: [(&str, &str); 7] = [
    ("arrives", "clear view, metal arrives"),
    ("facing", "surface slants or faces away from the source"),
    ("self", "hidden behind the part itself"),
    (
        "fixtures",
        "hidden behind fixtures, other parts, coupons or walls",
    ),
    ("mask", "hidden by a stencil"),
    ("shutter", "hidden by a shutter"),
    ("gas", "lost to the gas"),
];

/// What decides the verdict and what would change it.
pub fn decides(outcome: &Outcome, survey: &Survey) -> Vec<String> {
    let mut sentences = Vec::new();
    if let Some(film) = &outcome.summary.film {
        sentences.push(metal_needed(outcome, survey, film.on));
    }
    let lacking_mm2 = 1e6 * survey.wanted_area_m2(lacks);
    match (shares(survey), outcome.summary.film.is_some()) {
        (Some(shares), wanted) => sentences.push(main_cause(&shares, lacking_mm2, wanted)),
        (None, true) if lacking_mm2 <= 0.0 => sentences.push("No area is thin or bare.".to_owned()),
        (None, false) if lacking_mm2 <= 0.0 => sentences.push("No area is bare.".to_owned()),
        _ => {}
    }
    sentences
}

fn metal_needed(outcome: &Outcome, survey: &Survey, on: f64) -> String {
    let open_s: f64 = outcome
        .steps
        .iter()
        .filter(|s| s.coats())
        .map(|s| s.lasts_s)
        .sum();
    let met = outcome
        .summary
        .film
        .as_ref()
        .is_some_and(|f| verdict(f.reached_fraction, f.reached_stderr, f.on) == MET);
    match survey.factor_to_meet(on) {
        None => {
            let all = survey.wanted_area_m2(|_| true);
            let bare = survey.wanted_area_m2(|p| p.standing.is_bare());
            format!(
                "No longer run can meet it: {} of the area gets no metal that was seen, and at most {} may stay short. \
                 Only another pose, another source place or less in the way would help.",
                percent(bare / all),
                percent_asked(1.0 - on)
            )
        }
        Some(factor) if met => format!(
            "There is room to spare: {} times the metal would just do.",
            significant(factor, 2)
        ),
        Some(factor) if factor <= 1.0 => {
            "It hangs on very little: a finer accuracy would settle it, or a few per cent more metal would.".to_owned()
        }
        Some(factor) if factor < 20.0 => format!(
            "About {} times the metal would just meet it{}: a larger charge, or at the same rate {} open instead of {}.",
            significant(factor, 2),
            amounts(outcome, factor),
            lasting(round_time_s(open_s * factor)),
            lasting(open_s)
        ),
        Some(factor) => format!(
            "More metal is no answer: it would take about {} times as much, because the last places see almost nothing.",
            significant(factor, 2)
        ),
    }
}

/// The metal that would leave and the metal that does, where there is one metal.
fn amounts(outcome: &Outcome, factor: f64) -> String {
    let used: Vec<(&String, &f64)> = outcome.summary.metal_used_mg.iter().collect();
    match used.as_slice() {
        [(metal, mg)] => {
            let needed = significant(**mg * factor, 2);
            format!(" ({needed} mg of {metal} instead of {} mg)", three(**mg))
        }
        _ => String::new(),
    }
}

/// To 5 s below five minutes, to half a minute above: more would be make-believe.
fn round_time_s(time_s: f64) -> f64 {
    let grain_s = if time_s < 300.0 { 5.0 } else { 30.0 };
    (time_s / grain_s).ceil() * grain_s
}

fn main_cause(shares: &[f64; 7], lacking_mm2: f64, wanted: bool) -> String {
    let what = if wanted { "thin or bare" } else { "bare" };
    let mut order: Vec<usize> = (1..7).collect();
    order.sort_by(|&a, &b| shares[b].total_cmp(&shares[a]));
    let named: Vec<String> = order
        .iter()
        .filter(|&&k| shares[k] >= 0.05)
        .take(3)
        .map(|&k| format!("{} {}", percent(shares[k]), loses(k)))
        .collect();
    let first = order[0];
    if shares[0] > shares[first] {
        return format!(
            "Most of the {} mm² of {what} area has a clear view and simply gets too little: {} arrives of what it would get facing the open source.",
            area(lacking_mm2),
            percent(shares[0])
        );
    }
    format!(
        "Of the metal that the {} mm² of {what} area would get if it faced the open source, {}. {}",
        area(lacking_mm2),
        named.join(", "),
        advice(first)
    )
}

fn loses(cause: usize) -> &'static str {
    match cause {
        1 => "is lost because the surface slants or faces away",
        2 => "is hidden by the part itself",
        3 => "is stopped by fixtures and other things in the way",
        4 => "is stopped by the stencil",
        5 => "is stopped by a shutter",
        _ => "is lost to the gas",
    }
}

fn advice(cause: usize) -> &'static str {
    match cause {
        1 => {
            "Another tilt, an axis that brings these faces round, or a second pose after a vent is the first thing to try."
        }
        2 => {
            "Another tilt lets the source look deeper; what stays hidden needs a second pose or a second source."
        }
        3 => "Look first at shield, clamps and coupons: moving or opening them gains most.",
        4 => "That is the stencil's purpose, unless it should have been open there.",
        5 => {
            "A shutter that stands shut for one source also hides another: look at where it stands."
        }
        _ => "Lower pressure or a shorter throw brings more across.",
    }
}

/// Where the missing metal of thin and bare area is lost, as bars.
pub fn causes(survey: &Survey) -> Markup {
    let Some(shares) = shares(survey) else {
        return html! {};
    };
    let any_thin = survey.wanted().any(|p| lacks(p) && !p.standing.is_bare());
    html! {
        div.causes {
            h3 { @if any_thin { "Why thin and bare area is so" } @else { "Why bare area is so" } }
            table {
                @for (k, (name, meaning)) in CAUSES.iter().enumerate() {
                    @if shares[k] > 0.0005 {
                        tr {
                            th { (name) }
                            td.bar { span class=(if k == 0 { "fill arrives" } else { "fill" }) style=(format!("width:{:.1}%", 100.0 * shares[k].min(1.0))) {} }
                            td.number { (super::keep_together(&percent(shares[k]))) }
                            td.meaning { (meaning) }
                        }
                    }
                }
            }
            p.note { "Shares of the flux that the same area would get if it faced the source with nothing in the way, averaged over the thin and bare area." }
        }
    }
}

fn lacks(patch: &Patch) -> bool {
    use super::super::survey::Standing;
    matches!(
        patch.standing,
        Standing::Thin | Standing::NoneSeen | Standing::Unreached
    )
}

/// Area-weighted shares over the thin and bare area where they are known; they sum to 1.
fn shares(survey: &Survey) -> Option<[f64; 7]> {
    let mut sums = [0.0_f64; 7];
    for patch in survey.wanted().filter(|p| lacks(p)) {
        for (sum, share) in sums.iter_mut().zip(patch.shares) {
            *sum += f64::from(share.max(0.0)) * patch.area_m2;
        }
    }
    let total: f64 = sums.iter().sum();
    (total > 0.0).then(|| sums.map(|sum| sum / total))
}
