//! The best once more: as a plan of its own, simulated again with other random numbers.
//!
//! In: a candidate. Out: [`Final`], its text with durations settled closely, and [`Checked`], what a run of that text says.

use super::advice::Adviser;
use super::advised::{Changes, changed};
use super::candidate::{Candidate, Effort, Posed};
use super::places::places;
use super::score::{Grown, Needs, score};
use super::told::Known;
use crate::film;
use crate::outcome::{self, Outcome, StepOutcome, Summary};
use crate::plan::model::Output;
use crate::scene::motion::AxisMotion;
use crate::scene::{self, Scene};
use crate::transport::{self, Rates, RunSettings, TrialSettings, trial};
use std::f64::consts::TAU;
use std::sync::Arc;

/// Further time that is spent to end on a whole turn, at most, as a share.
const TO_WHOLE_TURN: f64 = 0.01;
/// Difference of rates beyond which a coupon no longer tells the rate that was measured.
const SAME_RATE: f64 = 2e-3;
/// Accuracy of looser checks.
const LOOSE: f64 = 0.1;

/// A candidate as a plan.
#[derive(Debug, Clone)]
pub(super) struct Final {
    /// The plan, as it reads beside the plan given.
    pub text: String,
    /// Durations of the steps, s.
    pub lasts_s: Vec<f64>,
    /// The step is lengthened a little so that it ends on a whole turn.
    pub on_whole_turn: bool,
}

/// What a run of a final plan says.
#[derive(Debug, Clone)]
pub(super) struct Checked {
    pub summary: Summary,
    pub steps: Vec<StepOutcome>,
    pub unevenness: Known,
    pub not_reached: f64,
    /// A part gets warmer than it bears even by the lowest estimate.
    pub too_warm: Option<String>,
}

impl Final {
    /// Settles the durations and writes the plan.
    pub fn of(adviser: &Adviser, candidate: &Candidate) -> Result<Self, String> {
        Self::settled(adviser, candidate, adviser.efforts()[2])
    }

    /// The same, settled less closely.
    pub fn loosely(adviser: &Adviser, candidate: &Candidate) -> Result<Self, String> {
        Self::settled(adviser, candidate, adviser.efforts()[1])
    }

    fn settled(adviser: &Adviser, candidate: &Candidate, effort: Effort) -> Result<Self, String> {
        let trials = adviser.trials;
        let set = trials.free.text(trials.plan, &candidate.values);
        let posed = trials.posed(&set)?;
        if let Some(score) = candidate.score.filter(|_| candidate.effort == effort) {
            return Self::scaled(adviser, (&set, &posed), score.scale);
        }
        let places = places(&posed.scene, effort.places);
        let (grown, rays) = trials.grown((&posed.scene, &posed.rates), &places, effort);
        adviser.spend(rays);
        let needs = trials.needs(&posed.scene);
        let scale = score(&grown, &places, &needs).scale;
        Self::scaled(adviser, (&set, &posed), scale)
    }

    /// The plan with the durations that the search saw.
    pub fn as_seen(adviser: &Adviser, candidate: &Candidate) -> Result<Self, String> {
        let trials = adviser.trials;
        let set = trials.free.text(trials.plan, &candidate.values);
        let posed = trials.posed(&set)?;
        let scale = candidate.score.map_or(f64::INFINITY, |score| score.scale);
        Self::scaled(adviser, (&set, &posed), scale)
    }

    /// A text whose free keys are set, with durations scaled.
    fn scaled(adviser: &Adviser, (set, posed): (&str, &Posed), scale: f64) -> Result<Self, String> {
        if !scale.is_finite() {
            return Err("looked at closely, too little of the area gets the film".to_owned());
        }
        let (lasts_s, on_whole_turn) = durations(adviser, &posed.scene, scale);
        let all = posed.scene.steps.iter().zip(&lasts_s);
        let lengthened = all.map(|(step, &lasts_s)| {
            ((step.lasts_s - lasts_s).abs() > 1e-9 * step.lasts_s).then_some(lasts_s)
        });
        let changes = Changes {
            lasts_s: lengthened.collect(),
            outputs: outputs(adviser, posed, &lasts_s)?,
            stops: None,
            head: head(adviser),
        };
        Ok(Self {
            text: changed(set, &changes)?,
            lasts_s,
            on_whole_turn,
        })
    }

    /// Runs it as `coat` would, with the accuracy asked.
    pub fn check(&self, adviser: &Adviser) -> Result<Checked, String> {
        checked(
            adviser,
            &self.text,
            (adviser.asked.settings.accuracy, adviser.efforts()[2]),
        )
    }

    /// Runs it with a looser accuracy.
    pub fn check_loosely(&self, adviser: &Adviser) -> Result<Checked, String> {
        let accuracy = adviser.asked.settings.accuracy.max(LOOSE);
        checked(adviser, &self.text, (accuracy, adviser.efforts()[1]))
    }
}

/// First lines of an advised plan.
pub(super) fn head(adviser: &Adviser) -> String {
    let what = match adviser.minimise {
        crate::plan::model::Minimise::Time => "the least open time",
        crate::plan::model::Minimise::Metal => "the least metal",
        crate::plan::model::Minimise::Unevenness => "the most even film",
    };
    format!(
        "Advised by evenfall {} for {what}, from {}.",
        env!("CARGO_PKG_VERSION"),
        adviser
            .trials
            .plan
            .path
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
    )
}

/// Durations in whole seconds; the scaled step ends on a whole turn where that takes next to nothing.
fn durations(adviser: &Adviser, scene: &Scene, scale: f64) -> (Vec<f64>, bool) {
    let trials = adviser.trials;
    let mut on_whole_turn = false;
    let lasts = scene
        .steps
        .iter()
        .zip(&trials.scaled)
        .map(|(step, &scaled)| {
            if !scaled {
                return step.lasts_s;
            }
            let least_s = (step.lasts_s * scale - 1e-6).ceil().max(1.0);
            let most_s = step.lasts_s * trials.scale[1];
            let Some(turn_s) = turn_s(step) else {
                return least_s;
            };
            let whole_s = ((least_s / turn_s - 1e-9).ceil() * turn_s).round();
            if whole_s >= least_s && whole_s <= least_s * (1.0 + TO_WHOLE_TURN) && whole_s <= most_s
            {
                on_whole_turn = true;
                return whole_s;
            }
            least_s
        });
    let lasts: Vec<f64> = lasts.collect();
    (lasts, on_whole_turn)
}

/// Time of one turn where a single rotation turns steadily.
pub(super) fn turn_s(step: &scene::Step) -> Option<f64> {
    let mut moving = step.motion.axes.iter().filter(|axis| axis.moves());
    match (moving.next(), moving.next()) {
        (Some(AxisMotion::Turning { rate_rad_per_s, .. }), None) => {
            Some(TAU / rate_rad_per_s.abs())
        }
        _ => None,
    }
}

/// Outputs that must be written anew: a charge grows with the time, and a coupon that is now elsewhere, or sees its
/// source otherwise, would tell another rate than the one that was measured.
pub(super) fn outputs(
    adviser: &Adviser,
    posed: &Posed,
    lasts_s: &[f64],
) -> Result<Vec<(String, String)>, String> {
    let told = &adviser.trials.coupon_rates_per_s;
    let again = if told.iter().any(Option::is_some) {
        let rates = transport::calibrate(&posed.scene, &adviser.asked.settings);
        Some(rates.map_err(|issues| issues.to_string())?)
    } else {
        None
    };
    let mut outputs = Vec::new();
    for (index, source) in posed.scene.sources.iter().enumerate() {
        let atoms: f64 = posed.rates.atoms[index].iter().sum();
        match (&source.output, told[index]) {
            (Output::Charge { .. }, _) => {
                let grown = posed.rates.atoms[index].iter().zip(&posed.scene.steps);
                let grown: f64 = grown
                    .zip(lasts_s)
                    .map(|((atoms, step), lasts_s)| atoms * lasts_s / step.lasts_s)
                    .sum();
                if (grown - atoms).abs() > 1e-9 * atoms {
                    let mass = posed.scene.metals[source.metal].atom_mass_kg();
                    let mg = crate::units::significant(grown * mass / source.correction * 1e6, 6);
                    outputs.push((source.name.clone(), format!("{{ charge = \"{mg} mg\" }}")));
                }
            }
            (Output::Coupon { .. }, Some(rate)) => {
                let same = again.as_ref().is_some_and(|again| {
                    let again: f64 = again.atoms[index].iter().sum();
                    (again - atoms).abs() <= SAME_RATE * atoms
                });
                if !same {
                    let rate = rate / source.correction;
                    outputs.push((
                        source.name.clone(),
                        format!("{{ atoms_per_second = {rate:e} }}"),
                    ));
                }
            }
            _ => {}
        }
    }
    Ok(outputs)
}

/// Runs a plan and looks at its film.
pub(super) fn checked(
    adviser: &Adviser,
    text: &str,
    (accuracy, effort): (f64, Effort),
) -> Result<Checked, String> {
    let trials = adviser.trials;
    let plan = crate::plan::read_text(&trials.plan.path, text)
        .map_err(|errors| format!("the advised plan is not sound ({errors}); this is a defect"))?;
    let scene = scene::lower(Arc::new(plan), trials.meshes).map_err(|issues| issues.to_string())?;
    let settings = RunSettings {
        accuracy,
        seed: adviser.asked.settings.seed.wrapping_add(1),
        ..adviser.asked.settings.clone()
    };
    let rates = transport::calibrate_within(&scene, &settings, trials.watch)
        .map_err(|issues| issues.to_string())?;
    let tally = transport::run(&scene, &rates, &settings, trials.watch);
    adviser.spend(tally.rays);
    let film = film::grow(&scene, &tally);
    let Outcome { summary, steps, .. } = outcome::assemble(&scene, &rates, &tally, film, &settings);
    let (unevenness, not_reached) = look(adviser, (&scene, &rates), (&settings, effort));
    Ok(Checked {
        too_warm: too_warm(&summary),
        summary,
        steps,
        unevenness,
        not_reached,
    })
}

/// Unevenness and bare share of the film as it stands.
fn look(
    adviser: &Adviser,
    (scene, rates): (&Scene, &Rates),
    (settings, effort): (&RunSettings, Effort),
) -> (Known, f64) {
    let places = places(scene, effort.places);
    let chosen: Vec<usize> = places.iter().map(|place| place.receiver).collect();
    let metals = scene.metals.len();
    let group_of = |_: usize, source: usize| scene.sources[source].metal;
    let tried = trial(
        scene,
        rates,
        &chosen,
        (metals, &group_of),
        (
            TrialSettings {
                lines: effort.lines,
                atoms: effort.atoms,
                seed: settings.seed,
                threads: settings.threads,
            },
            adviser.trials.watch,
        ),
    );
    adviser.spend(tried.rays);
    let none = vec![vec![0.0; places.len()]; metals];
    let grown = Grown {
        fixed_m: tried.halves_m,
        scaled_m: [none.clone(), none],
    };
    let needs = Needs {
        scale: [1.0, 1.0],
        ..adviser.trials.needs(scene)
    };
    let score = score(&grown, &places, &needs);
    let unevenness = Known {
        value: score.unevenness.max(0.0),
        stderr: score.unevenness_error,
    };
    (unevenness, score.not_reached)
}

fn too_warm(summary: &Summary) -> Option<String> {
    summary.heat.iter().find_map(|(part, heat)| {
        let ([low, high], limit) = (heat.highest_c?, heat.limit_c?);
        (low >= limit).then(|| {
            format!(
                "{part} would get {low:.0} to {high:.0} °C and bears {limit:.0} °C (a hard limit); lower the power, or rest \
                 in between as the heat verdict of `coat` says"
            )
        })
    })
}
