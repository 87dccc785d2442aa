//! What was found, as records of `advice.json`.
//!
//! In: candidates, and what a run of the best says. Out: parts of [`Advice`].

use super::advice::Adviser;
use super::candidate::Candidate;
use super::checked::Checked;
use super::front::{spread, unbeaten};
use super::sure::{rate_factor, sure_enough};
use super::told::{Advice, CardRow, FrontPoint, KeyTold, Known, Ranked};
use crate::outcome::StepOutcome;
use crate::plan::model::Minimise;
use std::collections::BTreeMap;

/// Points of a front that are told.
const MOST_ON_FRONT: usize = 9;

/// Advice with what the search alone says.
pub(super) fn begun(adviser: &Adviser) -> Advice {
    let keys = &adviser.trials.free.keys;
    Advice {
        format: "evenfall-advice".to_owned(),
        version: 1,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        title: adviser.trials.plan.title.clone(),
        seed: adviser.asked.settings.seed,
        minimise: match adviser.minimise {
            Minimise::Time => "time",
            Minimise::Metal => "metal",
            Minimise::Unevenness => "unevenness",
        }
        .to_owned(),
        stopped: false,
        keys: keys
            .iter()
            .map(|key| KeyTold {
                key: key.key.clone(),
                from: key.written(key.from),
                to: key.written(key.to),
                now: key.written(key.now),
            })
            .collect(),
        candidates: Vec::new(),
        front: front(adviser).into_iter().map(|(point, _)| point).collect(),
        stops: None,
        turning: None,
        sure: Vec::new(),
        rate_factor: rate_factor(&adviser.trials.plan.sources),
        card: Vec::new(),
        limits: Vec::new(),
        warnings: Vec::new(),
        tried: adviser.seen.len(),
        feasible: adviser.seen.iter().filter(|c| c.why_not.is_none()).count(),
        rays: adviser.seen.iter().map(|c| c.rays).sum(),
    }
}

fn values(adviser: &Adviser, candidate: &Candidate) -> BTreeMap<String, String> {
    let keys = adviser.trials.free.keys.iter().zip(&candidate.values);
    keys.map(|(key, &value)| (key.key.clone(), key.written(value)))
        .collect()
}

/// Film that lands per open time on the part, m/s: what the heat that arrives goes with.
fn landing(candidate: &Candidate) -> f64 {
    let mean_m = candidate.score.map_or(0.0, |score| score.mean_m);
    mean_m / candidate.open_time_s.max(f64::MIN_POSITIVE)
}

/// Candidates that do and are beaten by none, with what they come to.
fn on_front<'a>(adviser: &'a Adviser) -> (Vec<&'a Candidate>, Vec<Vec<f64>>) {
    let all = adviser.ranked();
    let rows: Vec<Vec<f64>> = all
        .iter()
        .map(|candidate| {
            let score = candidate.score;
            vec![
                candidate.open_time_s,
                score.map_or(1.0, |score| score.unevenness),
                candidate.metal_kg,
                score.map_or(1.0, |score| score.not_reached),
                landing(candidate),
            ]
        })
        .collect();
    let kept = unbeaten(&rows);
    let of = |kept: &[usize]| kept.iter().map(|&index| rows[index].clone()).collect();
    (kept.iter().map(|&index| all[index]).collect(), of(&kept))
}

/// The front that is told, the shortest first.
pub(super) fn front<'a>(adviser: &'a Adviser) -> Vec<(FrontPoint, &'a Candidate)> {
    let (all, rows) = on_front(adviser);
    let coolest = rows.iter().map(|row| row[4]).fold(f64::INFINITY, f64::min);
    let point = |index: usize| {
        let point = FrontPoint {
            values: values(adviser, all[index]),
            open_time_s: rows[index][0],
            unevenness: Known {
                value: rows[index][1],
                stderr: all[index].score.map_or(0.0, |score| score.unevenness_error),
            },
            metal_mg: 1e6 * rows[index][2],
            not_reached: rows[index][3],
            heat: rows[index][4] / coolest,
        };
        (point, all[index])
    };
    let kept = spread(&rows, MOST_ON_FRONT).into_iter();
    let mut points: Vec<(FrontPoint, &Candidate)> = kept.map(point).collect();
    points.sort_by(|a, b| a.0.open_time_s.total_cmp(&b.0.open_time_s));
    points
}

/// The ends of the front: the shortest, the most even, the thriftiest, the one that reaches most.
pub(super) fn ends_of_front<'a>(adviser: &'a Adviser) -> Vec<&'a Candidate> {
    let (all, rows) = on_front(adviser);
    let mut ends: Vec<usize> = Vec::new();
    for column in [1, 0, 3, 2, 4] {
        let least = (0..rows.len()).min_by(|&a, &b| rows[a][column].total_cmp(&rows[b][column]));
        ends.extend(least.filter(|least| !ends.contains(least)));
    }
    ends.into_iter().map(|index| all[index]).collect()
}

/// Time in which some source coats, s.
pub(super) fn open_time_s(steps: &[StepOutcome]) -> f64 {
    let open = steps.iter().filter(|step| step.coats());
    open.map(|step| step.lasts_s).sum()
}

/// A candidate as a run of it says.
pub(super) fn ranked(
    adviser: &Adviser,
    (candidate, turning): (&Candidate, &str),
    checked: &Checked,
) -> Ranked {
    let summary = &checked.summary;
    let factor = rate_factor(&adviser.trials.plan.sources);
    let open_time_s = open_time_s(&checked.steps);
    let metal_mg: f64 = summary.metal_used_mg.values().sum();
    let film = summary.film.as_ref();
    let heat = || summary.heat.iter();
    Ranked {
        values: values(adviser, candidate),
        turning: turning.to_owned(),
        open_time_s,
        open_time_range_s: [open_time_s / factor, open_time_s * factor],
        metal_mg,
        metal_range_mg: [metal_mg / factor, metal_mg * factor],
        reached: film.map(|film| Known {
            value: film.reached_fraction,
            stderr: film.reached_stderr,
        }),
        verdict: film.map(|film| film.verdict.clone()),
        unevenness: checked.unevenness,
        not_reached: checked.not_reached,
        highest_c: heat()
            .filter_map(|(part, heat)| Some((part.clone(), heat.highest_c?)))
            .collect(),
        heat_w_per_m2: heat()
            .map(|(part, heat)| (part.clone(), heat.mean_w_per_m2))
            .collect(),
    }
}

/// What is told of the best once it stands.
pub(super) fn end(adviser: &Adviser, advice: &mut Advice, checked: &Checked) {
    if adviser.trials.plan.film.is_some() {
        advice.sure = sure_enough(open_time_s(&checked.steps), advice.rate_factor);
    }
    let mut start_s = 0.0;
    for step in &checked.steps {
        advice.card.push(CardRow {
            start_s,
            lasts_s: step.lasts_s,
            what: what(step),
        });
        start_s += step.lasts_s;
    }
    let factor = advice.rate_factor;
    if factor >= 2.0 {
        advice.warnings.push(format!(
            "the rate is not calibrated by a coupon: open times are good to about a factor of {factor}; measure a slide and \
             `evenfall tune`"
        ));
    }
    advice
        .warnings
        .extend(checked.summary.warnings.iter().cloned());
}

/// What to do in a step.
fn what(step: &StepOutcome) -> String {
    let mut parts: Vec<String> = Vec::new();
    parts.extend(step.vent.clone());
    parts.extend(step.note.clone());
    parts.extend(step.turning.iter().cloned());
    if !step.shut.is_empty() {
        parts.push(format!("shut: {}", step.shut.join(", ")));
    }
    parts.join(", ")
}
