//! What `[advise]` may vary: keys of values in this very plan, and bounds of their kind.
//!
//! In: the entries of the plan. Out: typed bounds; every key that names no number or quantity is an error.

use super::check::{Checker, nearest};
use super::entry::{Entry, Value};
use super::keys::{By, Kind, Range};
use super::model::{Advise, AdviseTurning, Minimise, Vary};
use super::problem::{MeantProblem, Problem, ValueProblem, counted};
use crate::units::{Dimension, parse_quantity, shortened};

/// What a key may be set to.
#[derive(Clone, Copy)]
struct Free {
    /// Its dimension; none for bare numbers.
    dimension: Option<Dimension>,
    range: &'static Range,
}

pub(super) fn advise(root: &Entry, advise: &Entry, checker: &mut Checker) -> Option<Advise> {
    let mut seen = Vec::new();
    let vary = advise
        .entries("vary")
        .iter()
        .map(|entry| vary(root, entry, &mut seen, checker))
        .collect::<Vec<_>>();
    Some(Advise {
        minimise: match advise.text("minimise")? {
            "metal" => Minimise::Metal,
            "unevenness" => Minimise::Unevenness,
            _ => Minimise::Time,
        },
        turning: match advise.text("turning")? {
            "stops" => AdviseTurning::Stops,
            "both" => AdviseTurning::Both,
            _ => AdviseTurning::Steady,
        },
        vary: vary.into_iter().flatten().collect(),
    })
}

fn vary(
    root: &Entry,
    entry: &Entry,
    seen: &mut Vec<String>,
    checker: &mut Checker,
) -> Option<Vary> {
    let key = entry.text("key")?.to_owned();
    let at = entry.key_of("key");
    if seen.contains(&key) {
        checker.report(&at, MeantProblem::Twice { name: key });
        return None;
    }
    seen.push(key.clone());
    let free = match find(root, &key) {
        Ok(free) => free,
        Err((why, instead)) => {
            let key = shortened(&key);
            checker.report(&at, MeantProblem::NoSuchKey { key, why, instead });
            return None;
        }
    };
    let from = bound(entry, "from", free, checker);
    let to = bound(entry, "to", free, checker);
    let (from, to) = (from?, to?);
    if from >= to {
        let key = entry.key_of("from");
        let problem = MeantProblem::NotBelow {
            value: checker.written(&key).unwrap_or_default(),
            other: "to".to_owned(),
            limit: checker.written(&entry.key_of("to")).unwrap_or_default(),
            why: "nothing could vary between them",
            instead: "exchange or correct them",
        };
        checker.report(&key, problem);
        return None;
    }
    Some(Vary { key, from, to })
}

fn bound(entry: &Entry, name: &str, free: Free, checker: &mut Checker) -> Option<f64> {
    let key = entry.key_of(name);
    let read = match (entry.values.get(name)?, free.dimension) {
        (Value::Number(number), None) => Ok(*number),
        (Value::Number(number), Some(wanted)) => Err(Problem::from(ValueProblem::BareNumber {
            number: number.to_string(),
            wanted,
        })),
        (Value::Text(text), Some(dimension)) => {
            parse_quantity(text, dimension).map_err(Problem::from)
        }
        (other, _) => {
            let found = match other {
                Value::Text(text) => format!("the text \"{}\"", shortened(text)),
                _ => "no number".to_owned(),
            };
            Err(Problem::from(ValueProblem::OtherKind {
                found,
                wanted: Kind::Number(free.range).a_name(),
                example: "1.0".to_owned(),
            }))
        }
    };
    let value = match read {
        Ok(value) => value,
        Err(problem) => {
            checker.report(&key, problem);
            return None;
        }
    };
    let written = checker.written(&key).unwrap_or_default();
    match super::check::out_of_range(value, free.range, written, free.dimension) {
        None => Some(value),
        Some(problem) => {
            checker.report(&key, problem);
            None
        }
    }
}

type Nothing = (String, String);

/// Follows a key from the top of the plan to a number or a quantity.
fn find(root: &Entry, key: &str) -> Result<Free, Nothing> {
    let parts: Vec<&str> = key.split('.').collect();
    if let Some(first @ (&"advise" | &"include")) = parts.first() {
        return Err((
            format!("{first} is nothing of the run itself"),
            "name a value of a source, part, step or rotation".to_owned(),
        ));
    }
    in_table(root, &parts)
}

fn in_table(table: &Entry, parts: &[&str]) -> Result<Free, Nothing> {
    let (name, rest) = parts.split_first().unwrap_or((&"", &[]));
    let Some(k) = table.known.iter().find(|k| k.name == *name) else {
        let names: Vec<&str> = table.known.iter().map(|k| k.name).collect();
        return Err(unknown(name, &table.key, &names));
    };
    match k.kind {
        Kind::Table(_) | Kind::Tagged(_) | Kind::Marked(_) => match table.table(name) {
            Some(inner) => in_table(inner, rest),
            None => Err(not_said(&table.key_of(name))),
        },
        Kind::Entries(entries) => in_entries(table, name, entries.by, rest),
        other => in_value(&other, table.values.get(name), &table.key_of(name), rest),
    }
}

fn in_entries(table: &Entry, name: &str, by: By, parts: &[&str]) -> Result<Free, Nothing> {
    let (which, rest) = parts.split_first().unwrap_or((&"", &[]));
    let all = table.entries(name);
    let key = table.key_of(name);
    let wanted = format!("{key}.{which}");
    if let Some(entry) = all.iter().find(|entry| entry.key == wanted) {
        return in_table(entry, rest);
    }
    Err(match by {
        By::Name => {
            let names: Vec<&str> = all.iter().filter_map(|e| e.text("name")).collect();
            unknown(which, &key, &names)
        }
        By::Number => (
            format!("there is no {wanted} among {}", counted(all.len(), name)),
            "count from 1".to_owned(),
        ),
    })
}

fn in_value(
    kind: &Kind,
    value: Option<&Value>,
    key: &str,
    parts: &[&str],
) -> Result<Free, Nothing> {
    match (*kind, value, parts) {
        (Kind::Quantity(dimension, range) | Kind::QuantityOr(dimension, range, _), _, []) => {
            Ok(Free {
                dimension: Some(dimension),
                range,
            })
        }
        (Kind::Number(range), _, []) => Ok(Free {
            dimension: None,
            range,
        }),
        (Kind::Vector(dimension, range), _, ["x" | "y" | "z"]) => Ok(Free {
            dimension: Some(dimension),
            range,
        }),
        (Kind::Vector(..), ..) => Err((
            format!("{key} has three values"),
            format!("write {key}.x, {key}.y or {key}.z"),
        )),
        (Kind::OrMap(_, inner), Some(Value::Number(_)), []) => in_value(inner, value, key, &[]),
        (Kind::OrMap(_, inner) | Kind::Map(_, inner), Some(Value::Map(map)), _) => {
            let (name, rest) = parts.split_first().unwrap_or((&"", &[]));
            let Some(value) = map.get(*name) else {
                let names: Vec<&str> = map.keys().map(String::as_str).collect();
                return Err(unknown(name, key, &names));
            };
            in_value(inner, Some(value), &format!("{key}.{name}"), rest)
        }
        (Kind::List(inner, _), Some(Value::List(list)), [number, rest @ ..]) => {
            let index = number.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
            let Some(value) = index.and_then(|i| list.get(i)) else {
                return Err((
                    format!("{key} has {}", counted(list.len(), "value")),
                    format!("write for example {key}.1"),
                ));
            };
            in_value(inner, Some(value), &format!("{key}.{number}"), rest)
        }
        (Kind::Map(..) | Kind::OrMap(..) | Kind::List(..), None, _) => Err(not_said(key)),
        (.., []) => Err((
            format!("{key} is no number and no quantity"),
            "name one that is".to_owned(),
        )),
        _ => Err((
            format!("{key} has nothing below it"),
            format!("end with {key} or with another key"),
        )),
    }
}

fn not_said(key: &str) -> Nothing {
    (
        format!("{key} is not said in this plan"),
        "say it first".to_owned(),
    )
}

fn unknown(name: &str, table: &str, known: &[&str]) -> Nothing {
    let home = if table.is_empty() { "the plan" } else { table };
    let why = if name.is_empty() {
        format!("it stops at {home}")
    } else {
        format!("{home} has no \"{}\"", shortened(name))
    };
    let instead = match nearest(name, known.iter().copied()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => format!("known there are {}", known.join(", ")),
    };
    (why, instead)
}
