//! Steps against rotations, shutters, sources and parts.

use crate::plan::check::Checker;
use crate::plan::entry::{Entry, Value};
use crate::plan::model::{Output, Plan, ShutterState, Source, Step, StepPower};
use crate::plan::problem::MeantProblem;

pub(super) fn judge(root: &Entry, plan: &Plan, checker: &mut Checker) {
    let rotations = root.entries("rotation").len();
    let no_shutters = root.entries("shutter").is_empty();
    for step in root.entries("step") {
        per_rotation(step, rotations, checker);
        reposed(step, checker);
        let all_shut = matches!(step.values.get("shutter"), Some(Value::Text(t)) if t == "shut");
        if all_shut && no_shutters {
            checker.report(&step.key_of("shutter"), MeantProblem::NothingToShut);
        }
    }
    // Whether anything is ever open can be said only when every entry that has a say is sound.
    let sound = plan.steps.len() == root.entries("step").len()
        && plan.sources.len() == root.entries("source").len()
        && plan.shutters.len() == root.entries("shutter").len()
        && !plan.steps.is_empty()
        && !plan.sources.is_empty()
        && !checker.errors.iter().any(|error| {
            let table = error.key.split('.').next().unwrap_or("");
            matches!(table, "step" | "source" | "shutter")
        });
    if sound {
        open_at_all(plan, checker);
    }
}

fn per_rotation(step: &Entry, rotations: usize, checker: &mut Checker) {
    for name in ["hold", "speed"] {
        let Some(list) = step.list(name) else {
            continue;
        };
        if rotations == 0 {
            let problem = MeantProblem::Needs {
                what: "a [[rotation]]".to_owned(),
                why: "without one nothing turns",
                instead: format!("add [[rotation]] or leave {name} out"),
            };
            checker.report(&step.key_of(name), problem);
        } else if list.len() != rotations {
            let found = match list.len() {
                1 => "1 entry".to_owned(),
                many => format!("{many} entries"),
            };
            let problem = MeantProblem::PerRotation { found, rotations };
            checker.report(&step.key_of(name), problem);
        }
    }
}

/// New poses need an opened chamber.
fn reposed(step: &Entry, checker: &mut Checker) {
    for name in ["turn", "at"] {
        let said = checker.places.contains_key(&step.key_of(name));
        if said && step.flag("vent") == Some(false) {
            let problem = MeantProblem::Needs {
                what: "vent = true".to_owned(),
                why: "a part is re-posed by hand, with the chamber open",
                instead: "write vent = true in this step".to_owned(),
            };
            checker.report(&step.key_of(name), problem);
        }
    }
}

fn open_at_all(plan: &Plan, checker: &mut Checker) {
    let open = plan.steps.iter().any(|step| {
        plan.sources
            .iter()
            .any(|source| power(step, source) > 0.0 && !shut_off(plan, step, source))
    });
    if !open {
        checker.report("step", MeantProblem::NeverOpen);
    }
    for source in &plan.sources {
        let charge = matches!(source.output, Output::Charge { .. });
        if charge && plan.steps.iter().all(|step| power(step, source) <= 0.0) {
            let problem = MeantProblem::ChargeStays {
                source_name: source.name.clone(),
            };
            checker.report(&format!("source.{}.output.charge", source.name), problem);
        }
    }
}

fn power(step: &Step, source: &Source) -> f64 {
    match &step.power {
        StepPower::All(power) => *power,
        StepPower::Named(named) => named.get(&source.name).copied().unwrap_or(0.0),
    }
}

/// Whether a shutter that names the source is shut.
fn shut_off(plan: &Plan, step: &Step, source: &Source) -> bool {
    plan.shutters.iter().any(|shutter| {
        let shut = match &step.shutter {
            ShutterState::All { shut } => *shut,
            ShutterState::Named(named) => named.get(&shutter.name).copied().unwrap_or(false),
        };
        shut && shutter.over.contains(&source.name)
    })
}
