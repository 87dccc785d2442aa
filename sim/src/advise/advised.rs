//! The advised plan: the plan's own text with other values, so that comments and order stay.
//!
//! In: a text whose free keys are set, what else changes, and where it will lie. Out: TOML that `evenfall coat` takes.

use super::stops::Schedule;
use std::path::{Component, Path, PathBuf};
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, TableLike, Value};

/// Keys whose values are paths.
const PATHS: [&str; 4] = ["mesh", "file", "table", "artwork"];

/// What changes besides the free keys.
#[derive(Debug, Clone, Default)]
pub struct Changes {
    /// New durations by step, s; none where it stays.
    pub lasts_s: Vec<Option<f64>>,
    /// New outputs by source, TOML; none where it stays.
    pub outputs: Vec<(String, String)>,
    /// A step (from 0) that becomes stops of a rotation (from 0) among so many.
    pub stops: Option<Stops>,
    /// Comment at the top, without marks.
    pub head: String,
}

/// A step that becomes stops.
#[derive(Debug, Clone)]
pub struct Stops {
    /// Number of the step from 0.
    pub step: usize,
    /// Number of the rotation from 0.
    pub rotation: usize,
    /// How many rotations there are.
    pub rotations: usize,
    /// Angles and dwells.
    pub schedule: Schedule,
}

/// The text with all changes made.
///
/// # Errors
/// A sentence, where what changes does not stand in this text (but in a file that it includes).
pub fn changed(text: &str, changes: &Changes) -> Result<String, String> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|_| "the plan is no TOML (it changed meanwhile); run again".to_owned())?;
    for (number, lasts_s) in changes.lasts_s.iter().enumerate() {
        if let Some(lasts_s) = lasts_s {
            let step = step_of(&mut document, number)?;
            set(step, "lasts", &seconds(*lasts_s));
        }
    }
    for (source, output) in &changes.outputs {
        let value: Value = output
            .parse()
            .map_err(|_| format!("{output} is no TOML (a defect); report it"))?;
        set(source_of(&mut document, source)?, "output", &value);
    }
    if let Some(stops) = &changes.stops {
        into_stops(&mut document, stops)?;
    }
    let body = document.to_string();
    let head: String = changes
        .head
        .lines()
        .map(|line| format!("# {line}\n"))
        .collect();
    Ok(head + &body)
}

/// A duration in whole seconds, not shorter.
fn seconds(lasts_s: f64) -> Value {
    format!("{} s", (lasts_s - 1e-6).ceil().max(1.0)).into()
}

/// Sets a value and keeps what stands around it.
fn set(table: &mut dyn TableLike, key: &str, value: &Value) {
    let mut value = value.clone();
    if let Some(old) = table.get(key).and_then(Item::as_value) {
        *value.decor_mut() = old.decor().clone();
    }
    table.insert(key, Item::Value(value));
}

fn elsewhere(what: &str) -> String {
    format!(
        "{what} stands in no [[...]] table of the plan's own text (advice writes there alone); move it into the plan"
    )
}

fn step_of(document: &mut DocumentMut, number: usize) -> Result<&mut Table, String> {
    let steps = document
        .get_mut("step")
        .and_then(Item::as_array_of_tables_mut);
    steps
        .and_then(|steps| steps.get_mut(number))
        .ok_or_else(|| elsewhere(&format!("step.{}", number + 1)))
}

fn source_of<'a>(document: &'a mut DocumentMut, name: &str) -> Result<&'a mut Table, String> {
    let sources = document
        .get_mut("source")
        .and_then(Item::as_array_of_tables_mut);
    let mut sources = sources.into_iter().flat_map(ArrayOfTables::iter_mut);
    sources
        .find(|source| source.get("name").and_then(Item::as_str) == Some(name))
        .ok_or_else(|| elsewhere(&format!("source.{name}.output")))
}

/// Replaces a step by its stops.
fn into_stops(document: &mut DocumentMut, stops: &Stops) -> Result<(), String> {
    let template = step_of(document, stops.step)?.clone();
    let Some(steps) = document
        .get_mut("step")
        .and_then(Item::as_array_of_tables_mut)
    else {
        return Err(elsewhere("step"));
    };
    let mut all = ArrayOfTables::new();
    for (number, step) in steps.iter().enumerate() {
        if number != stops.step {
            all.push(step.clone());
            continue;
        }
        let count = stops.schedule.turns.len();
        let both = stops.schedule.turns.iter().zip(&stops.schedule.dwell_s);
        for (stop, (turns, dwell_s)) in both.enumerate() {
            let mut step = template.clone();
            if stop > 0 {
                step.decor_mut().set_prefix("\n");
            }
            step.set_position(None);
            step.remove("speed");
            set(
                &mut step,
                "note",
                &format!("stop {} of {count}", stop + 1).into(),
            );
            set(&mut step, "lasts", &seconds(*dwell_s));
            let angle = crate::units::significant(360.0 * turns, 6);
            let hold = (0..stops.rotations).map(|rotation| {
                if rotation == stops.rotation {
                    format!("{angle} deg")
                } else {
                    "turn".to_owned()
                }
            });
            set(&mut step, "hold", &Value::Array(hold.collect()));
            all.push(step);
        }
    }
    *steps = all;
    Ok(())
}

/// The text as it must read in another folder: relative paths lead to the same files.
///
/// - `from`: the folder the text lay in
/// - `to`: the folder it will lie in
///
/// # Errors
/// A sentence, where it is no TOML.
pub fn rebased(text: &str, from: &Path, to: &Path) -> Result<String, String> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|_| "the advised plan is no TOML (a defect); report it".to_owned())?;
    let way = way(from, to);
    if way.as_os_str().is_empty() {
        return Ok(text.to_owned());
    }
    let moved = |path: &str| {
        (!Path::new(path).is_absolute()).then(|| way.join(path).to_string_lossy().into_owned())
    };
    if let Some(include) = document.get_mut("include").and_then(Item::as_array_mut) {
        for value in include.iter_mut() {
            replace(value, &moved);
        }
    }
    walk(document.as_table_mut(), &moved);
    Ok(document.to_string())
}

fn replace(value: &mut Value, moved: &dyn Fn(&str) -> Option<String>) {
    if let Some(new) = value.as_str().and_then(moved) {
        let decor = value.decor().clone();
        *value = new.into();
        *value.decor_mut() = decor;
    }
}

fn walk(table: &mut dyn TableLike, moved: &dyn Fn(&str) -> Option<String>) {
    for (key, item) in table.iter_mut() {
        match item {
            Item::Value(value) => in_value(key.get(), value, moved),
            Item::Table(inner) => walk(inner, moved),
            Item::ArrayOfTables(entries) => entries.iter_mut().for_each(|entry| walk(entry, moved)),
            Item::None => {}
        }
    }
}

fn in_value(key: &str, value: &mut Value, moved: &dyn Fn(&str) -> Option<String>) {
    match value {
        Value::InlineTable(inner) => walk(inner, moved),
        Value::Array(list) => {
            for value in list.iter_mut() {
                if let Value::InlineTable(inner) = value {
                    walk(inner, moved);
                }
            }
        }
        value if PATHS.contains(&key) => replace(value, moved),
        _ => {}
    }
}

/// The relative way from one folder back to another; the other's own path where there is none.
fn way(from: &Path, to: &Path) -> PathBuf {
    let whole = |path: &Path| {
        let path = if path.as_os_str().is_empty() {
            Path::new(".")
        } else {
            path
        };
        path.canonicalize().or_else(|_| std::path::absolute(path))
    };
    let (Ok(from), Ok(to)) = (whole(from), whole(to)) else {
        return from.to_owned();
    };
    let (from_parts, to_parts): (Vec<Component>, Vec<Component>) =
        (from.components().collect(), to.components().collect());
    let both = from_parts.iter().zip(&to_parts);
    let shared = both.take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return from;
    }
    let up = std::iter::repeat_n(Component::ParentDir, to_parts.len() - shared);
    up.chain(from_parts[shared..].iter().copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advise::score::Score;

    const PLAN: &str = "include = [\"coupons.toml\"] # measured\n\
        [[source]] # the head\nname = \"head\"\noutput = { charge = \"50 mg\" } # weighed\n\
        footprint = { shape = \"groove\", table = \"groove.csv\" }\n\
        [[part]]\nname = \"dish\"\nmesh = \"dish.stl\" # as printed\n\
        # first the target\n[[step]]\nlasts = \"5 min\" # enough\nshutter = \"shut\"\n\
        # then the part\n[[step]]\nlasts = \"10 min\"\nspeed = [\"3 rpm\"]\n\
        [film]\nwant = \"10 nm\"\n";

    #[test]
    fn durations_and_outputs_change_and_comments_stay() {
        let changes = Changes {
            lasts_s: vec![None, Some(733.2)],
            outputs: vec![("head".to_owned(), "{ charge = \"61 mg\" }".to_owned())],
            stops: None,
            head: "advised\nfor time".to_owned(),
        };
        let text = changed(PLAN, &changes).unwrap();
        let wanted = PLAN
            .replace("\"10 min\"", "\"734 s\"")
            .replace("50 mg", "61 mg");
        assert_eq!(text, format!("# advised\n# for time\n{wanted}"));
    }

    #[test]
    fn a_step_becomes_its_stops() {
        let schedule = Schedule {
            turns: vec![0.0, 0.25],
            dwell_s: vec![60.0, 89.5],
            open_time_s: 149.5,
            score: Score {
                scale: 1.0,
                reached: 1.0,
                unevenness: 0.1,
                unevenness_error: 0.0,
                not_reached: 0.0,
                bare: 1.0,
                mean_m: 1e-7,
            },
        };
        let changes = Changes {
            stops: Some(Stops {
                step: 1,
                rotation: 0,
                rotations: 1,
                schedule,
            }),
            ..Changes::default()
        };
        let text = changed(PLAN, &changes).unwrap();
        let tail = "# then the part\n[[step]]\nlasts = \"60 s\"\nnote = \"stop 1 of 2\"\nhold = [\"0 deg\"]\n\n\
            [[step]]\nlasts = \"90 s\"\nnote = \"stop 2 of 2\"\nhold = [\"90 deg\"]\n[film]";
        assert!(text.contains(tail), "{text}");
        assert!(
            text.contains("# first the target\n[[step]]\nlasts = \"5 min\" # enough"),
            "{text}"
        );
        let elsewhere = changed("title = \"no steps\"\n", &changes).unwrap_err();
        assert!(elsewhere.contains("step.2 stands in no"), "{elsewhere}");
    }

    #[test]
    fn paths_lead_to_the_same_files_from_another_folder() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("dish-advice");
        std::fs::create_dir(&out).unwrap();
        let text = rebased(PLAN, folder.path(), &out).unwrap();
        let wanted = PLAN
            .replace("coupons.toml", "../coupons.toml")
            .replace("groove.csv", "../groove.csv")
            .replace("dish.stl", "../dish.stl");
        assert_eq!(text, wanted);
        assert_eq!(rebased(PLAN, &out, &out).unwrap(), PLAN);
    }
}
