//! Rotations, steps, and the film wanted.

use super::numbers;
use crate::plan::entry::{Entry, Value};
use crate::plan::model::{FilmWanted, Hold, Rotation, ShutterState, Step, StepPower, Want};
use glam::DVec3;
use std::collections::BTreeMap;

pub(super) fn rotation(entry: &Entry) -> Option<Rotation> {
    Some(Rotation {
        axis: entry.vector("axis")?,
        through_m: entry.vector("through")?,
        speed_rad_per_s: entry.number("speed")?,
        swing_rad: entry.number("swing"),
    })
}

pub(super) fn step(entry: &Entry) -> Option<Step> {
    let shutter = match entry.values.get("shutter")? {
        Value::Text(word) => ShutterState::All {
            shut: word == "shut",
        },
        Value::Map(map) => ShutterState::Named(
            map.iter()
                .map(|(name, word)| {
                    let shut = matches!(word, Value::Text(word) if word == "shut");
                    (name.clone(), shut)
                })
                .collect(),
        ),
        _ => return None,
    };
    let power = match entry.values.get("power")? {
        Value::Number(power) => StepPower::All(*power),
        map => StepPower::Named(numbers(map)?),
    };
    Some(Step {
        note: entry.text("note").map(ToOwned::to_owned),
        lasts_s: entry.number("lasts")?,
        shutter,
        power,
        hold: entry.list("hold").and_then(|list| {
            list.iter()
                .map(|value| match value {
                    Value::Number(angle) => Some(Hold::At(*angle)),
                    Value::Text(_) => Some(Hold::Turn),
                    _ => None,
                })
                .collect()
        }),
        speed_rad_per_s: entry.list("speed").and_then(|list| {
            list.iter()
                .map(|value| match value {
                    Value::Number(speed) => Some(*speed),
                    _ => None,
                })
                .collect()
        }),
        vent: entry.flag("vent")?,
        turn_rad: vectors(entry, "turn"),
        at_m: vectors(entry, "at"),
    })
}

fn vectors(entry: &Entry, name: &str) -> BTreeMap<String, DVec3> {
    match entry.values.get(name) {
        Some(Value::Map(map)) => map
            .iter()
            .filter_map(|(name, value)| match value {
                Value::Vector(vector) => Some((name.clone(), *vector)),
                _ => None,
            })
            .collect(),
        _ => BTreeMap::new(),
    }
}

pub(super) fn film(entry: &Entry) -> Option<FilmWanted> {
    let want = match entry.values.get("want")? {
        Value::Number(thickness_m) => Want::Total(*thickness_m),
        map => Want::PerMetal(numbers(map)?),
    };
    Some(FilmWanted {
        want,
        on: entry.number("on")?,
        regions: entry.texts("in"),
        bare: entry.texts("bare")?,
        bare_under_m: entry.number("bare_under")?,
    })
}
