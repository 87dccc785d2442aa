//! What comes before the first step and around it: pumping down, striking, cleaning, rests, cooling.
//!
//! In: an [`Outcome`]. Out: sentences for the bench card. All of them: common practice, no source.

use super::super::figures::{lasting, significant};
use super::super::model::{HeatRests, Outcome, StepOutcome};

/// One Torr, Pa: 1/760 of a standard atmosphere by definition.
const TORR_PA: f64 = 101_325.0 / 760.0;

/// Usual time to clean a target.
const CLEANING_MIN: &str = "2 to 5 min";

/// What to do before the clock starts, in order.
pub fn before(outcome: &Outcome) -> Vec<String> {
    let mut all = vec![gate(outcome)];
    let sputters = outcome.sources.iter().any(|s| s.kind == "sputter");
    let boats = outcome.sources.iter().any(|s| s.kind == "boat");
    if sputters {
        all.push(strike(outcome));
        all.extend(clean(outcome));
    }
    if boats {
        all.push(melt(outcome));
    }
    all
}

/// The pressure at which to go on.
fn gate(outcome: &Outcome) -> String {
    let base_pa = gas(outcome).and_then(|gas| gas.base_pressure_pa);
    match base_pa {
        Some(base_pa) => format!(
            "Pump down; go on only at {} or less, the base pressure of the plan. If it does not come, look for leak or \
             outgassing: purity was told for that pressure.",
            pressure(base_pa)
        ),
        None => "Pump down until the pressure falls no further, write it down, and say it as base_pressure in the plan: \
                 then purity is told."
            .to_owned(),
    }
}

fn gas(outcome: &Outcome) -> Option<&super::super::model::GasSummary> {
    outcome.summary.flight.as_ref()?.gas.as_ref()
}

/// A pressure in Pa and in Torr or mTorr.
fn pressure(pa: f64) -> String {
    let torr = pa / TORR_PA;
    let other = if torr >= 5e-4 {
        format!("{} mTorr", significant(1e3 * torr, 2))
    } else {
        format!("{} Torr", exponent(torr))
    };
    format!(
        "{} Pa ({other})",
        if pa >= 0.01 {
            significant(pa, 2)
        } else {
            exponent(pa)
        }
    )
}

/// `1.3e-3`.
fn exponent(value: f64) -> String {
    format!("{value:.1e}")
}

fn strike(outcome: &Outcome) -> String {
    let fill = match gas(outcome) {
        Some(gas) => format!("Let in {} to {}", gas.species, pressure(gas.pressure_pa)),
        None => "Let in the working gas (the plan says none)".to_owned(),
    };
    let strikes = "if it will not strike, raise the pressure for a moment and bring it back";
    if has_shutter(outcome) {
        format!("{fill}. Strike the discharge with the shutter shut; {strikes}.")
    } else {
        format!(
            "{fill}. There is no shutter: film grows from the moment the discharge strikes, and so does the error; {strikes}."
        )
    }
}

fn has_shutter(outcome: &Outcome) -> bool {
    outcome.bodies.iter().any(|body| body.kind == "shutter")
}

/// True for a step in which a source works behind a shut shutter.
fn cleans(step: &StepOutcome) -> bool {
    !step.coats() && step.power.iter().any(|power| *power > 0.0)
}

/// How long sources work behind shut shutters before the first open step, s.
fn shut_s(outcome: &Outcome) -> f64 {
    let first = outcome.steps.iter().take_while(|step| !step.coats());
    first
        .filter(|step| cleans(step))
        .map(|step| step.lasts_s)
        .sum()
}

fn clean(outcome: &Outcome) -> Option<String> {
    let cleaning_s = shut_s(outcome);
    outcome.steps.iter().find(|step| step.coats())?;
    Some(if cleaning_s > 0.0 {
        format!(
            "The schedule cleans the target for {} behind the shut shutter: open only when voltage and current stand still.",
            lasting(cleaning_s)
        )
    } else if has_shutter(outcome) {
        format!(
            "The plan has no shut step before the first open one: clean the target for {CLEANING_MIN} behind the shut \
             shutter until voltage and current stand still; the clock starts when it opens."
        )
    } else {
        format!(
            "Clean the target in a run without the part, {CLEANING_MIN}: oxide and dirt come off first."
        )
    })
}

fn melt(outcome: &Outcome) -> String {
    let shut_s = shut_s(outcome);
    if shut_s > 0.0 {
        format!(
            "Heat the boat slowly behind the shut shutter; the schedule gives it {} there: open only when the melt lies still \
             and the pressure falls again.",
            lasting(shut_s)
        )
    } else if has_shutter(outcome) {
        "Heat the boat slowly behind the shut shutter until the melt lies still and the pressure falls again; the clock starts \
         when the shutter opens."
            .to_owned()
    } else {
        "Heat the boat slowly; without a shutter what leaves while it warms lands on the part too."
            .to_owned()
    }
}

/// Rests that keep parts below their limits, where some are needed.
pub fn pauses(outcome: &Outcome) -> Vec<String> {
    let coating_s: f64 = outcome
        .steps
        .iter()
        .filter(|step| step.coats())
        .map(|step| step.lasts_s)
        .sum();
    let told = outcome.summary.heat.iter();
    let rests = told.filter_map(|(part, heat)| Some((part, heat.rests?, heat.limit_c?)));
    rests
        .map(|(part, rests, limit_c)| pause(part, (rests, limit_c), coating_s))
        .collect()
}

fn pause(part: &str, (rests, limit_c): (HeatRests, f64), coating_s: f64) -> String {
    let (on_s, off_s) = (60.0 * rests.on_min, 60.0 * rests.off_min);
    let rested = (coating_s / on_s).ceil() - 1.0;
    let last = if rested > 0.0 {
        format!(
            ", {rested:.0} rests, {} longer in all",
            lasting((rested * off_s / 60.0).round() * 60.0)
        )
    } else {
        String::new()
    };
    format!(
        "{part}: coat for {}, then shutter shut and power off for {}, by turns, so that it stays below {limit_c:.0} °C{last}. \
         Stop the clock while resting.",
        lasting(on_s.round()),
        lasting(off_s.round())
    )
}

/// What to do after the last step.
pub fn after(outcome: &Outcome) -> String {
    let boats = outcome.sources.iter().any(|s| s.kind == "boat");
    let hot = if boats {
        "boat, melt and part are"
    } else {
        "target and part are"
    };
    format!(
        "Leave it under vacuum for a quarter of an hour at least: {hot} hot, and hot film takes up air. Then vent slowly."
    )
}
