//! Advice from start to end: search, rank, simulate again, stops, turns, what limits it.
//!
//! In: a plan, its meshes, how it is asked. Out: [`Advised`], or why there can be none.

use super::candidate::{Candidate, Effort, Efforts, Trials, WhyNot, efforts};
use super::checked::{Checked, Final};
use super::free::{CannotVary, Free};
use super::hand::{self, ByHand};
use super::search::{Budget, search};
use super::told::Advice;
use super::{limits, tell};
use crate::plan::Plan;
use crate::plan::model::{AdviseTurning, Minimise, Output};
use crate::scene::{self, Meshes, Scene, SceneIssues};
use crate::transport::{self, RunSettings, Watch};
use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::sync::Arc;

/// How advice is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Accuracy, seed and threads of the runs that check the best.
    pub settings: RunSettings,
    /// Unevenness that the last part of a turn and the shutter's timing may bring.
    pub ripple: f64,
    /// How much a step's duration may be off, s.
    pub timing_s: f64,
}

/// Why there is no advice.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Refusal {
    /// The plan does not ask for any.
    #[error(
        "the plan has no [advise] (it says what may vary); add it with at least one [[advise.vary]]"
    )]
    NotAsked,
    /// Nothing says how much film is enough.
    #[error(
        "the plan has no [film] (without a wanted thickness the shortest run is none at all); add it, or minimise \"unevenness\""
    )]
    NothingWanted,
    /// Keys that cannot be varied.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    CannotVary(Vec<CannotVary>),
    /// Durations that cannot grow together.
    #[error(
        "the bounds of {0} leave no common factor (open steps are lengthened together); widen them"
    )]
    NoCommonFactor(String),
    /// The plan as it stands is no scene.
    #[error("{0}")]
    Scene(SceneIssues),
    /// Stops make no sense here.
    #[error("{0}")]
    Stops(String),
    /// The advised plan cannot be written.
    #[error("{0}")]
    Text(String),
    /// Stopped before anything was found.
    #[error("stopped before anything was found")]
    Stopped,
}

/// Keeps what was looked at, so that a search that is cut short goes on where it was.
pub trait Journal {
    /// What an earlier, interrupted search of the same kind looked at.
    fn known(&self) -> Vec<Candidate>;
    /// Keeps one more.
    fn note(&mut self, candidate: &Candidate);
}

/// Keeps nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoJournal;

impl Journal for NoJournal {
    fn known(&self) -> Vec<Candidate> {
        Vec::new()
    }

    fn note(&mut self, _: &Candidate) {}
}

/// Advice with the plan that it advises.
#[derive(Debug, Clone)]
pub struct Advised {
    /// What is told.
    pub advice: Advice,
    /// The best as a plan, as it would read beside the plan given; none where nothing does.
    pub text: Option<String>,
    /// Each point of the front as a plan; none where it cannot be written.
    pub front_texts: Vec<Option<String>>,
}

/// Advises on a plan.
///
/// # Errors
/// [`Refusal`].
pub fn advise(
    plan: &Plan,
    meshes: &Meshes,
    asked: &Asked,
    (journal, watch): (&mut dyn Journal, &dyn Watch),
) -> Result<Advised, Refusal> {
    let wishes = plan.advise.as_ref().ok_or(Refusal::NotAsked)?;
    if plan.film.is_none() && wishes.minimise != Minimise::Unevenness {
        return Err(Refusal::NothingWanted);
    }
    let trials = trials(plan, meshes, (asked, watch))?;
    if wishes.turning != AdviseTurning::Steady {
        hand::possible(&trials).map_err(Refusal::Stops)?;
    }
    let seen = searched(&trials, wishes.minimise, (journal, watch));
    if seen.is_empty() {
        return Err(Refusal::Stopped);
    }
    let adviser = Adviser {
        trials: &trials,
        asked,
        minimise: wishes.minimise,
        seen,
        spent: Cell::new(0),
    };
    adviser.finish(wishes.turning)
}

/// Prepares trials: free keys, steps that are scaled, rates that coupons tell.
fn trials<'a>(
    plan: &'a Plan,
    meshes: &'a Meshes,
    (asked, watch): (&Asked, &'a dyn Watch),
) -> Result<Trials<'a>, Refusal> {
    let draft = scene::draft(Arc::new(plan.clone()), meshes).map_err(Refusal::Scene)?;
    let scene = draft.scene();
    let open: Vec<bool> = scene.steps.iter().map(|s| s.open.contains(&true)).collect();
    let free = Free::of(plan, &open).map_err(Refusal::CannotVary)?;
    let (scaled, scale) = scaled(plan, &free, &open)?;
    Ok(Trials {
        coupon_rates_per_s: coupon_rates_per_s(scene, &asked.settings)?,
        plan,
        meshes,
        free,
        scaled,
        scale,
        seed: asked.settings.seed,
        threads: asked.settings.threads,
        watch,
    })
}

/// The steps whose duration follows from the film, and by what factors they may be scaled together.
fn scaled(plan: &Plan, free: &Free, open: &[bool]) -> Result<(Vec<bool>, [f64; 2]), Refusal> {
    if free.open_lasts.is_empty() {
        return Ok((open.to_vec(), [0.0, f64::INFINITY]));
    }
    let mut scaled = vec![false; open.len()];
    let mut scale = [0.0_f64, f64::INFINITY];
    for (step, key) in &free.open_lasts {
        scaled[*step] = true;
        let lasts_s = plan.steps[*step].lasts_s;
        scale[0] = scale[0].max(key.from / lasts_s);
        scale[1] = scale[1].min(key.to / lasts_s);
    }
    if scale[0] > scale[1] {
        let names = free.open_lasts.iter().map(|(_, key)| key.key.clone());
        return Err(Refusal::NoCommonFactor(
            names.collect::<Vec<_>>().join(" and "),
        ));
    }
    Ok((scaled, scale))
}

fn coupon_rates_per_s(scene: &Scene, settings: &RunSettings) -> Result<Vec<Option<f64>>, Refusal> {
    let by_coupon = |output: &Output| matches!(output, Output::Coupon { .. });
    if !scene.sources.iter().any(|source| by_coupon(&source.output)) {
        return Ok(vec![None; scene.sources.len()]);
    }
    let rates = transport::calibrate(scene, settings).map_err(Refusal::Scene)?;
    let of_source = |(index, source): (usize, &scene::Source)| {
        let dose = |step: &scene::Step| step.power[index] * step.lasts_s;
        let longest = (0..scene.steps.len())
            .max_by(|&a, &b| dose(&scene.steps[a]).total_cmp(&dose(&scene.steps[b])))?;
        let dose = dose(&scene.steps[longest]);
        (by_coupon(&source.output) && dose > 0.0).then(|| rates.atoms[index][longest] / dose)
    };
    Ok(scene.sources.iter().enumerate().map(of_source).collect())
}

type Key = (Vec<u64>, Effort);

fn key_of(values: &[f64], effort: Effort) -> Key {
    (values.iter().map(|value| value.to_bits()).collect(), effort)
}

/// Everything that a search looks at, in its order, each once.
fn searched(
    trials: &Trials,
    minimise: Minimise,
    (journal, watch): (&mut dyn Journal, &dyn Watch),
) -> Vec<Candidate> {
    let keys = trials.free.keys.len();
    let mut known: HashMap<Key, Candidate> = journal
        .known()
        .into_iter()
        .map(|candidate| (key_of(&candidate.values, candidate.effort), candidate))
        .collect();
    let budget = Budget::for_keys(keys);
    let all = (budget.spread + 2 * budget.near + budget.close + 5 + 2 * keys) as f64;
    let seen: RefCell<Vec<Candidate>> = RefCell::new(Vec::new());
    let mut looks = 0.0;
    let mut look = |shares: &[f64], effort: Effort| {
        looks += 1.0;
        watch.progress("search", (looks / all).min(1.0));
        let both = trials.free.keys.iter().zip(shares);
        let values: Vec<f64> = both.map(|(key, &share)| key.at(share)).collect();
        let key = key_of(&values, effort);
        let candidate = match known.get(&key) {
            Some(candidate) => candidate.clone(),
            None => {
                let candidate = trials.look(&values, effort)?;
                journal.note(&candidate);
                known.insert(key, candidate.clone());
                candidate
            }
        };
        let value = candidate.objective(minimise);
        let mut seen = seen.borrow_mut();
        if !seen.contains(&candidate) {
            seen.push(candidate);
        }
        Some(value)
    };
    let now = trials
        .free
        .keys
        .iter()
        .map(|key| key.share(key.now))
        .collect();
    search(keys, &[now], (budget, efforts(minimise)), &mut look);
    seen.into_inner()
}

/// What is known once the search is over.
pub(super) struct Adviser<'a> {
    pub trials: &'a Trials<'a>,
    pub asked: &'a Asked,
    pub minimise: Minimise,
    pub seen: Vec<Candidate>,
    /// Lines drawn and atoms fired since the search.
    pub spent: Cell<u64>,
}

impl Adviser<'_> {
    /// Counts lines drawn and atoms fired.
    pub fn spend(&self, rays: u64) {
        self.spent.set(self.spent.get() + rays);
    }

    /// How closely things are looked at.
    pub fn efforts(&self) -> Efforts {
        efforts(self.minimise)
    }

    /// Candidates that do, the best first; those looked at more closely stand for the others.
    pub fn ranked(&self) -> Vec<&Candidate> {
        let closer = |candidate: &Candidate| {
            let same = |other: &&Candidate| other.values == candidate.values;
            let mut others = self.seen.iter().filter(same);
            others.any(|other| other.effort.closeness > candidate.effort.closeness)
        };
        let does = |candidate: &&Candidate| candidate.why_not.is_none() && !closer(candidate);
        let mut all: Vec<&Candidate> = self.seen.iter().filter(does).collect();
        // what was looked at coarsely may seem better than it is
        let order = |candidate: &Candidate| {
            let coarse = 2 - candidate.effort.closeness.min(2);
            (coarse, candidate.objective(self.minimise))
        };
        all.sort_by(|a, b| {
            order(a)
                .0
                .cmp(&order(b).0)
                .then(order(a).1.total_cmp(&order(b).1))
        });
        all
    }

    fn finish(&self, turning: AdviseTurning) -> Result<Advised, Refusal> {
        let mut advice = tell::begun(self);
        advice.limits = limits::without_best(self);
        let Some((candidate, made, checked)) = self.best(&mut advice) else {
            return Ok(self.nothing(advice));
        };
        advice
            .limits
            .extend(limits::of_best(self, candidate, &checked));
        let mut ranked = vec![tell::ranked(self, (candidate, "steady"), &checked)];
        hand::turn(self, candidate, &mut advice, (&made, &checked)).map_err(Refusal::Text)?;
        let (mut text, mut told) = (made.text.clone(), &checked);
        let by_hand;
        if turning != AdviseTurning::Steady && !self.trials.watch.cancelled() {
            let steady = (&made, &checked);
            let stops = hand::stops(self, candidate, turning, (&mut advice, steady));
            match stops.map_err(Refusal::Text)? {
                ByHand::Advised(both) => {
                    let (by, again) = *both;
                    by_hand = again;
                    ranked.insert(0, tell::ranked(self, (candidate, "stops"), &by_hand));
                    (text, told) = (by.text, &by_hand);
                    advice.turning = None;
                }
                ByHand::NotBetter => {}
                // stops alone were asked for
                ByHand::TooWarm if turning == AdviseTurning::Stops => {
                    return Ok(self.nothing(advice));
                }
                ByHand::TooWarm => {}
            }
        }
        ranked.extend(self.others(candidate));
        advice.candidates = ranked;
        tell::end(self, &mut advice, told);
        advice.stopped = self.trials.watch.cancelled();
        advice.rays += self.spent.get();
        Ok(Advised {
            advice,
            text: Some(text),
            front_texts: self.front_texts(),
        })
    }

    /// The best candidate that holds when it is simulated again on its own; why others did not is told.
    fn best(&self, advice: &mut Advice) -> Option<(&Candidate, Final, Checked)> {
        for candidate in self.ranked().into_iter().take(MOST_TRIED_AGAIN) {
            if self.trials.watch.cancelled() {
                break;
            }
            let made = Final::of(self, candidate).and_then(|made| {
                let checked = made.check(self)?;
                Ok((made, checked))
            });
            match made {
                Ok((made, checked)) if checked.too_warm.is_none() => {
                    return Some((candidate, made, checked));
                }
                Ok((_, checked)) => advice.warnings.extend(checked.too_warm),
                Err(why) => advice.warnings.push(why),
            }
        }
        None
    }

    /// Advice without a plan.
    fn nothing(&self, mut advice: Advice) -> Advised {
        advice.stopped = self.trials.watch.cancelled();
        advice.rays += self.spent.get();
        Advised {
            advice,
            text: None,
            front_texts: self.front_texts(),
        }
    }

    /// Points of the front as plans, with the durations that the search saw.
    fn front_texts(&self) -> Vec<Option<String>> {
        let of = |candidate: &Candidate| Final::as_seen(self, candidate).ok();
        let points = tell::front(self).into_iter();
        points
            .map(|(_, candidate)| of(candidate).map(|made| made.text))
            .collect()
    }

    /// The ends of the front, simulated again more loosely, such as no part gets too warm in.
    fn others(&self, best: &Candidate) -> Vec<super::told::Ranked> {
        let mut told: Vec<super::told::Ranked> = Vec::new();
        for candidate in tell::ends_of_front(self) {
            let same = candidate.values == best.values;
            if same || self.trials.watch.cancelled() || told.len() == MOST_OTHERS {
                continue;
            }
            let loose = Final::loosely(self, candidate).and_then(|made| made.check_loosely(self));
            match loose {
                Ok(checked) if checked.too_warm.is_none() => {
                    told.push(tell::ranked(self, (candidate, "steady"), &checked));
                }
                _ => {}
            }
        }
        told
    }

    /// Share of candidates that do not fit, with the first reason.
    pub fn misfits(&self) -> (usize, Option<&str>) {
        let mut reasons = self.seen.iter().filter_map(|c| match &c.why_not {
            Some(WhyNot::Scene(why)) => Some(why.as_str()),
            _ => None,
        });
        let first = reasons.next();
        (usize::from(first.is_some()) + reasons.count(), first)
    }
}

/// Candidates that are simulated again before it is given up.
const MOST_TRIED_AGAIN: usize = 6;
/// Candidates besides the best that are simulated again.
const MOST_OTHERS: usize = 2;
