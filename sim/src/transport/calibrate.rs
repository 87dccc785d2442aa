//! How many atoms leave: the plan's outputs as real atoms per source and step.
//!
//! In: a scene. Out: [`Rates`]. A rate scaled to a coupon is gathered here (in gas, or where not all sticks, gathered
//! and fired), with every shutter open and the rotations at the plan's own speeds from angle 0 on.

mod scattered;

use super::causes;
use super::channel::{Channel, Course};
use super::gather::{Effort, Job, Keep, SCRAMBLINGS, Sums};
use super::lines::Lines;
use super::{Rates, RunSettings, Watch};
use crate::plan::model::Output;
use crate::random::Use;
use crate::scene::{Problem, SceneIssue, SceneIssues};
use crate::scene::{Scene, Source};
use crate::supply;

/// Relative standard error that a coupon scaling should have, so that it adds nothing visible to a film.
const COUPON_ERROR: f64 = 5e-4;

/// Least share of its open flux that a coupon must see to be a measure of its source.
const COUPON_LEAST_SHARE: f64 = 0.01;

/// Whether firing should end.
type Stop<'a> = &'a (dyn Fn() -> bool + Sync);

/// Works out the real atoms of every source in every step.
///
/// - charge: N_step = charge/atom mass · power·lasts / Σ power·lasts over all steps
/// - rate: N_step = rate · power · lasts; from a discharge or a melt: [`crate::supply`]
/// - coupon: rate = thickness / (film volume per atom · atoms per m² and emitted atom · time)
///
/// Every one is multiplied by the source's correction. Source: PHYSICS.md "Rates".
///
/// # Errors
/// When a coupon sees less than 1 % of its open flux, or a rate has no finite value.
pub fn calibrate(scene: &Scene, settings: &RunSettings) -> Result<Rates, SceneIssues> {
    calibrate_while(scene, settings, &|| false)
}

/// The same, cut short where atoms must be fired for it: when the user stops, or a third of the time limit is gone.
/// The rate is then known less well, and says so.
///
/// # Errors
/// As [`calibrate`].
pub fn calibrate_within(
    scene: &Scene,
    settings: &RunSettings,
    watch: &dyn Watch,
) -> Result<Rates, SceneIssues> {
    let third_s = settings.time.map(|time| time.as_secs_f64() / 3.0);
    let late = || third_s.is_some_and(|third_s| watch.elapsed_s() > third_s);
    calibrate_while(scene, settings, &|| watch.cancelled() || late())
}

fn calibrate_while(
    scene: &Scene,
    settings: &RunSettings,
    stop: Stop,
) -> Result<Rates, SceneIssues> {
    super::with_threads(settings.threads, || {
        let mut rates = Rates::default();
        let mut issues = Vec::new();
        for (index, source) in scene.sources.iter().enumerate() {
            let doses: Vec<f64> = scene
                .steps
                .iter()
                .map(|step| step.power[index] * step.lasts_s)
                .collect();
            let (per_dose, error) = match rate(scene, (settings, stop), index, source, &doses) {
                Ok(rate) => rate,
                Err(issue) => {
                    issues.push(issue);
                    (0.0, 0.0)
                }
            };
            let per_dose = per_dose * source.correction;
            rates
                .atoms
                .push(doses.iter().map(|dose| dose * per_dose).collect());
            rates.relative_error.push(error);
        }
        if issues.is_empty() {
            Ok(rates)
        } else {
            Err(SceneIssues { issues })
        }
    })
}

/// Atoms per second at power 1 and its relative standard error.
fn rate(
    scene: &Scene,
    (settings, stop): (&RunSettings, Stop),
    index: usize,
    source: &Source,
    doses: &[f64],
) -> Result<(f64, f64), SceneIssue> {
    match &source.output {
        Output::Charge { mass_kg } => {
            let total: f64 = doses.iter().sum();
            let atoms = mass_kg / scene.metals[source.metal].atom_mass_kg();
            Ok((if total > 0.0 { atoms / total } else { 0.0 }, 0.0))
        }
        Output::AtomsPerSecond { rate_per_s } => Ok((*rate_per_s, 0.0)),
        Output::Coupon {
            coupon,
            thickness_m,
            after_s,
        } => {
            let (per_atom, error) =
                coupon_per_atom(scene, (settings, stop), index, coupon, *after_s)?;
            Ok((thickness_m / (per_atom * after_s), error))
        }
        Output::Discharge { .. } | Output::Temperature { .. } => {
            let metal = &scene.metals[source.metal].name;
            let rate = supply::rate_per_s(&source.output, metal, supply::ion_of(&scene.plan));
            match rate {
                Ok(rate_per_s) => Ok((rate_per_s, 0.0)),
                Err(why) => Err(issue(source, Problem::RateUnknown { why })),
            }
        }
    }
}

fn issue(source: &Source, problem: Problem) -> SceneIssue {
    SceneIssue {
        key: format!("source.{}.output", source.name),
        problem,
    }
}

/// Thickness on a coupon per emitted atom, m, and its relative standard error.
fn coupon_per_atom(
    scene: &Scene,
    (settings, stop): (&RunSettings, Stop),
    source: usize,
    coupon: &str,
    after_s: f64,
) -> Result<(f64, f64), SceneIssue> {
    let unlit = |share: f64| {
        issue(
            &scene.sources[source],
            Problem::CouponUnlit {
                coupon: coupon.to_owned(),
                share,
            },
        )
    };
    let Some(target) = scene.coupons.iter().find(|c| c.name == coupon) else {
        return Err(unlit(0.0));
    };
    let receivers = &scene.receivers[target.receivers.clone()];
    let metal = scene.sources[source].metal;
    let mut motion = scene.free_motion.clone();
    motion.lasts_s = after_s;
    let channel = Channel {
        source,
        step: 0,
        configuration: scene.open_configuration,
        metal,
        atoms: 1.0,
        atom_volume_m3: scene.metals[metal].atom_volume_m3(),
        open: true,
        course: Course::new(scene, &motion),
        motion,
    };
    let lines = Lines::with_channels(scene, vec![channel]);
    if !scene.is_straight() {
        let (mean, error, open) = scattered::coupon_mean(&lines, target, settings, stop);
        return if mean < COUPON_LEAST_SHARE * open || mean <= 0.0 {
            Err(unlit(if open > 0.0 { mean / open } else { 0.0 }))
        } else {
            Ok((mean, error / mean))
        };
    }
    let job = Job {
        lines: &lines,
        receivers,
        seed: settings.seed,
        purpose: Use::Calibrate,
        round: 0,
    };
    let mut result = (0.0, 0.0, 0.0);
    for (round, lines) in (0..).zip([256, 1024, 4096]) {
        result = coupon_mean(&Job { round, ..job }, lines);
        if result.1 <= COUPON_ERROR * result.0 {
            break;
        }
    }
    let (mean, error, open) = result;
    if mean < COUPON_LEAST_SHARE * open || mean <= 0.0 {
        return Err(unlit(if open > 0.0 { mean / open } else { 0.0 }));
    }
    Ok((mean, error / mean))
}

/// Area-weighted mean over receivers, its standard error, and the open value.
fn coupon_mean(job: &Job, lines: u16) -> (f64, f64, f64) {
    let effort = Effort::even(job.receivers.len(), 1, lines);
    let mut sums = Sums::new(job.receivers.len(), 1, Keep::Means);
    let area: f64 = job.receivers.iter().map(|r| r.area_m2).sum();
    let mut spread = crate::stats::Running::default();
    while sums.scramblings < SCRAMBLINGS {
        job.scramblings(&effort, &mut sums);
        for scrambling in 0..sums.many as usize {
            let weighted: f64 = sums
                .cells()
                .zip(job.receivers)
                .map(|(c, r)| c.last[scrambling] * r.area_m2)
                .sum();
            spread.push(weighted / area);
        }
    }
    let idle = vec![false; job.receivers.len()];
    let causes = causes::look(
        &Job {
            purpose: Use::Causes,
            ..*job
        },
        &idle,
        causes::Points::MANY,
        &mut 0,
    );
    let open: f64 = causes
        .iter()
        .zip(job.receivers)
        .map(|(c, r)| c.open_thickness_m * r.area_m2)
        .sum();
    (
        spread.mean(),
        spread.std_error().unwrap_or(f64::INFINITY),
        open / area,
    )
}
