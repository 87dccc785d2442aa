//! Turning the best candidate: how fast, or by hand in stops.
//!
//! In: the best candidate. Out: its pose rates' harmonics as turns, and schedules of stops.

use super::advice::Adviser;
use super::advised::{Changes, Stops, changed};
use super::candidate::{Candidate, Effort, Trials};
use super::checked::{Checked, Final, checked, head, outputs, turn_s};
use super::places::{Place, places};
use super::stops::{Asked, ByCount, PoseRates, Schedule, by_count, poses};
use super::tell;
use super::told::{Advice, StopsTold, TurningTold};
use super::turns::{Shutter, Turns};
use crate::outcome::figures::{percent, three};
use crate::plan::model::{AdviseTurning, Hold, Minimise, Step};
use crate::transport::{TrialSettings, trial};
use std::f64::consts::TAU;

/// How much is spent on every pose.
///
/// Times follow from sums over many places and poses; an unevenness from single places.
fn per_pose(minimise: Minimise) -> Effort {
    Effort {
        closeness: 1,
        places: 2_000,
        lines: match minimise {
            Minimise::Time | Minimise::Metal => 2,
            Minimise::Unevenness => 8,
        },
        atoms: 0,
    }
}
/// Fewer stops do where they are worse by no more than this.
const AS_GOOD: f64 = 0.02;
/// Plainer schedules do where they are worse by no more than this.
const PLAINER: f64 = 0.01;
/// Stops replace steady turning where they are better by this.
const BETTER: f64 = 0.02;

/// The step and the rotation that can be turned by hand.
#[derive(Debug, Clone, Copy)]
struct Turned {
    step: usize,
    rotation: usize,
}

/// Whether stops can be computed for a plan.
///
/// # Errors
/// A sentence why not.
pub(super) fn possible(trials: &Trials) -> Result<(), String> {
    turned(trials).map(drop)
}

fn turned(trials: &Trials) -> Result<Turned, String> {
    let plan = trials.plan;
    let open: Vec<usize> = (0..trials.scaled.len())
        .filter(|&i| trials.scaled[i])
        .collect();
    let [step] = open.as_slice() else {
        return Err(format!(
            "the plan has {} open steps (stops take the place of one); leave one, or let it turn steadily: turning = \"steady\"",
            open.len()
        ));
    };
    if !plan.is_straight() {
        return Err(
            "stops are computed for straight flight alone (the plan has gas, or a sticking below 1); let it turn steadily: \
             turning = \"steady\""
                .to_owned(),
        );
    }
    let speed = |rotation: usize| {
        let of_step = plan.steps[*step].speed_rad_per_s.as_ref();
        of_step
            .and_then(|speeds| speeds.get(rotation).copied())
            .unwrap_or(plan.rotations[rotation].speed_rad_per_s)
    };
    let held = |rotation: usize| {
        let hold = plan.steps[*step].hold.as_ref();
        matches!(hold.and_then(|hold| hold.get(rotation)), Some(Hold::At(_)))
    };
    let count = plan.rotations.len();
    let moving: Vec<usize> = (0..count)
        .filter(|&r| speed(r) != 0.0 && !held(r))
        .collect();
    let rotation = match (moving.as_slice(), count) {
        ([one], _) => *one,
        ([], 1) => 0,
        ([], 0) => {
            return Err(
                "the plan has no [[rotation]] (stops are angles of one); add it with its axis"
                    .to_owned(),
            );
        }
        _ => {
            return Err(format!(
                "{} rotations move in the open step (stops are angles of one); hold the others",
                moving.len()
            ));
        }
    };
    if plan.rotations[rotation].swing_rad.is_some() {
        return Err("the rotation swings (stops go round); leave out its swing".to_owned());
    }
    Ok(Turned {
        step: *step,
        rotation,
    })
}

/// Film per second of all poses of a candidate.
fn pose_rates(
    adviser: &Adviser,
    candidate: &Candidate,
    turned: Turned,
) -> Result<(PoseRates, Vec<Place>), String> {
    let trials = adviser.trials;
    let plan = trials.plan;
    let poses = poses();
    let shut: Vec<Step> = (0..plan.steps.len())
        .filter(|&step| step != turned.step)
        .map(|step| plan.steps[step].clone())
        .collect();
    let at = |&[k, n]: &[u32; 2]| {
        let mut step = plan.steps[turned.step].clone();
        step.lasts_s = 1.0;
        step.vent = false;
        step.speed_rad_per_s = None;
        let before = step.hold.take();
        let hold = (0..plan.rotations.len()).map(|rotation| {
            if rotation == turned.rotation {
                Hold::At(TAU * f64::from(k) / f64::from(n))
            } else {
                let before = before.as_ref().and_then(|hold| hold.get(rotation).copied());
                before.unwrap_or(Hold::Turn)
            }
        });
        step.hold = Some(hold.collect());
        step
    };
    let first = shut.len();
    let steps: Vec<Step> = shut.into_iter().chain(poses.iter().map(at)).collect();
    let text = trials.free.text(plan, &candidate.values);
    let posed = trials.with_steps(&text, steps)?;
    let scene = &posed.scene;
    let effort = per_pose(adviser.minimise);
    let places = places(scene, effort.places);
    let chosen: Vec<usize> = places.iter().map(|place| place.receiver).collect();
    let metals = scene.metals.len();
    let group_of = |step: usize, source: usize| {
        let metal = scene.sources[source].metal;
        match step.checked_sub(first) {
            None => metal,
            Some(pose) => metals * (1 + pose) + metal,
        }
    };
    let settings = TrialSettings {
        lines: effort.lines,
        atoms: effort.atoms,
        seed: trials.seed,
        threads: trials.threads,
    };
    trials.watch.progress("poses", 0.0);
    let groups = (metals * (1 + poses.len()), &group_of as _);
    let tried = trial(
        scene,
        &posed.rates,
        &chosen,
        groups,
        (settings, trials.watch),
    );
    adviser.spend(tried.rays);
    let [first_half, second_half] = tried.halves_m;
    let split = |mut half: Vec<Vec<f64>>| {
        let rates = half.split_off(metals);
        let rates: Vec<Vec<Vec<f64>>> = rates.chunks(metals).map(<[Vec<f64>]>::to_vec).collect();
        (half, rates)
    };
    let ((fixed_a, a), (fixed_b, b)) = (split(first_half), split(second_half));
    let rates = PoseRates {
        poses,
        halves: [a, b],
        fixed_m: [fixed_a, fixed_b],
    };
    Ok((rates, places))
}

/// How many turns do, where one rotation turns steadily and atoms fly straight.
pub(super) fn turn(
    adviser: &Adviser,
    candidate: &Candidate,
    advice: &mut Advice,
    (made, _): (&Final, &Checked),
) -> Result<(), String> {
    let Ok(turned) = turned(adviser.trials) else {
        return Ok(());
    };
    let posed = adviser.trials.posed(
        &adviser
            .trials
            .free
            .text(adviser.trials.plan, &candidate.values),
    )?;
    let Some(turn_s) = turn_s(&posed.scene.steps[turned.step]) else {
        return Ok(());
    };
    let (rates, places) = pose_rates(adviser, candidate, turned)?;
    if adviser.trials.watch.cancelled() {
        return Ok(());
    }
    let lasts_s = made.lasts_s[turned.step];
    let shutter = Shutter {
        lasts_s,
        timing_s: adviser.asked.timing_s,
        ramp_s: 0.0,
    };
    let figure = adviser.asked.ripple;
    let turns = rates.ripple(&places).fewest(figure, shutter);
    advice.turning = Some(TurningTold {
        step: turned.step + 1,
        lasts_s,
        figure,
        timing_s: shutter.timing_s,
        turns,
        plan_turns: lasts_s / turn_s,
        sentence: sentence(
            turns,
            lasts_s,
            (lasts_s / turn_s, made.on_whole_turn),
            figure,
        ),
    });
    Ok(())
}

fn sentence(turns: Turns, lasts_s: f64, (plan_turns, whole): (f64, bool), figure: f64) -> String {
    let rpm = |turns: f64| format!("{} rpm", three(60.0 * turns / lasts_s));
    let mut text = match turns.anywhere {
        Some(anywhere) => format!(
            "{} turns or more ({} over this step) keep what the last part of a turn leaves under {}, wherever the shutter closes",
            three(anywhere),
            rpm(anywhere),
            percent(figure)
        ),
        None => format!(
            "no number of turns keeps what the last part of a turn leaves under {}",
            percent(figure)
        ),
    };
    match turns.whole {
        Some(fewest)
            if turns
                .anywhere
                .is_none_or(|anywhere| anywhere > 1.5 * f64::from(fewest)) =>
        {
            text += &format!(
                "; end on a whole turn, and {fewest} {} enough ({})",
                if fewest == 1 { "is" } else { "are" },
                rpm(f64::from(fewest))
            );
        }
        Some(_) => text += "; to end on a whole turn does not help here",
        None => {
            text += "; ending on a whole turn does not help, the shutter's timing alone brings more"
        }
    }
    let plan = if whole {
        "which are whole"
    } else {
        "not whole"
    };
    text + &format!(
        "; the plan's speed makes {} turns, {plan}",
        three(plan_turns)
    )
}

/// What comes of stops.
pub(super) enum ByHand {
    /// A checked plan with stops.
    Advised(Box<(Final, Checked)>),
    /// Steady turning does as well, or nothing does.
    NotBetter,
    /// A part would get warmer than it bears.
    TooWarm,
}

/// Stops for the best candidate.
pub(super) fn stops(
    adviser: &Adviser,
    candidate: &Candidate,
    turning: AdviseTurning,
    (advice, (made, steady)): (&mut Advice, (&Final, &Checked)),
) -> Result<ByHand, String> {
    let trials = adviser.trials;
    let turned = turned(trials)?;
    let (rates, places) = pose_rates(adviser, candidate, turned)?;
    let posed = trials.posed(&trials.free.text(trials.plan, &candidate.values))?;
    let needs = trials.needs(&posed.scene);
    let asked = Asked {
        places: &places,
        needs: &super::score::Needs {
            scale: [0.0, f64::INFINITY],
            ..needs
        },
        minimise: adviser.minimise,
        open_time_s: made.lasts_s[turned.step],
        stop: &|| trials.watch.cancelled(),
    };
    trials.watch.progress("stops", 0.0);
    let all = by_count(&rates, &asked);
    let chosen = choose(&all, adviser.minimise);
    let mut told = StopsTold {
        steady_open_time_s: tell::open_time_s(&steady.steps),
        steady_unevenness: steady.unevenness,
        chosen: chosen
            .as_ref()
            .map(|(count, kind, _)| (*count, (*kind).to_owned())),
        by_count: all.clone(),
        advised: false,
    };
    let Some((_, _, schedule)) = chosen else {
        advice.stops = Some(told);
        return if turning == AdviseTurning::Stops {
            Err("no stops bring the wanted film (however long it dwells); let it turn steadily, or want it on less".to_owned())
        } else {
            Ok(ByHand::NotBetter)
        };
    };
    let (made, again) = by_hand(adviser, candidate, (turned, schedule))?;
    let better = match adviser.minimise {
        Minimise::Unevenness => again.unevenness.value < (1.0 - BETTER) * steady.unevenness.value,
        Minimise::Time | Minimise::Metal => {
            tell::open_time_s(&again.steps) < (1.0 - BETTER) * tell::open_time_s(&steady.steps)
        }
    };
    told.advised = again.too_warm.is_none() && (turning == AdviseTurning::Stops || better);
    let advised = told.advised;
    advice.stops = Some(told);
    if let Some(why) = &again.too_warm {
        advice.warnings.push(format!("turned by hand, {why}"));
        return Ok(ByHand::TooWarm);
    }
    Ok(if advised {
        ByHand::Advised(Box::new((made, again)))
    } else {
        ByHand::NotBetter
    })
}

/// The fewest and plainest stops that are about as good as any.
fn choose(all: &[ByCount], minimise: Minimise) -> Option<(u32, &'static str, &Schedule)> {
    let best = |by: &ByCount| {
        let values = kinds(by).map(|(_, schedule)| schedule.value(minimise));
        values.fold(f64::INFINITY, f64::min)
    };
    let of_all = all.iter().map(best).fold(f64::INFINITY, f64::min);
    if !of_all.is_finite() {
        return None;
    }
    // unevenness below this is as good as none
    let floor = match minimise {
        Minimise::Unevenness => 2e-3,
        Minimise::Time | Minimise::Metal => 0.0,
    };
    let by = all
        .iter()
        .find(|by| best(by) <= of_all * (1.0 + AS_GOOD) + floor)?;
    let enough = best(by) * (1.0 + PLAINER) + 0.25 * floor;
    let (name, schedule) = kinds(by).find(|(_, schedule)| schedule.value(minimise) <= enough)?;
    Some((by.stops, name, schedule))
}

/// The schedules of a number of stops that bring the film, the plainest first.
fn kinds(by: &ByCount) -> impl Iterator<Item = (&'static str, &Schedule)> {
    let all = [
        ("equal", Some(&by.equal)),
        ("weighted", by.weighted.as_ref()),
        ("free", by.free.as_ref()),
    ];
    let there = all
        .into_iter()
        .filter_map(|(name, schedule)| Some((name, schedule?)));
    there.filter(|(_, schedule)| schedule.open_time_s.is_finite())
}

/// The plan with stops, simulated again.
fn by_hand(
    adviser: &Adviser,
    candidate: &Candidate,
    (turned, schedule): (Turned, &Schedule),
) -> Result<(Final, Checked), String> {
    let trials = adviser.trials;
    let set = trials.free.text(trials.plan, &candidate.values);
    let posed = trials.posed(&set)?;
    let whole: f64 = schedule
        .dwell_s
        .iter()
        .map(|s| (s - 1e-6).ceil().max(1.0))
        .sum();
    let mut lasts_s: Vec<f64> = posed.scene.steps.iter().map(|step| step.lasts_s).collect();
    lasts_s[turned.step] = whole;
    let changes = Changes {
        lasts_s: Vec::new(),
        outputs: outputs(adviser, &posed, &lasts_s)?,
        stops: Some(Stops {
            step: turned.step,
            rotation: turned.rotation,
            rotations: trials.plan.rotations.len(),
            schedule: schedule.clone(),
        }),
        head: head(adviser),
    };
    let text = changed(&set, &changes)?;
    let accuracy = adviser.asked.settings.accuracy;
    let again = checked(adviser, &text, (accuracy, adviser.efforts()[2]))?;
    let made = Final {
        text,
        lasts_s,
        on_whole_turn: false,
    };
    Ok((made, again))
}
