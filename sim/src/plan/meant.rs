//! Gives checked values their meaning: from entries to the [`Plan`].
//!
//! In: entries with defaults filled in. Out: the typed plan; an entry with a wrong value is left out,
//! its error is already on the list. Also what can be wrong inside one entry.

mod bodies;
mod receivers;
mod schedule;
mod sources;

use super::check::Checker;
use super::entry::{Entry, Value};
use super::model::{MeshFile, Placement, Plan, Rides};
use super::problem::MeantProblem;
use std::path::Path;

/// The plan that the top of a file means, as far as its entries are sound.
pub(super) fn plan(root: &Entry, checker: &mut Checker) -> Plan {
    let mut plan = Plan::default();
    if let Some(title) = root.text("title") {
        title.clone_into(&mut plan.title);
    }
    plan.chamber = root.table("chamber").and_then(bodies::chamber);
    plan.gas = root.table("gas").and_then(|gas| sources::gas(gas, checker));
    plan.metals = all(root, "metal", checker, sources::metal);
    plan.sources = all(root, "source", checker, sources::source);
    plan.fixtures = all(root, "fixture", checker, bodies::fixture);
    plan.shutters = all(root, "shutter", checker, bodies::shutter);
    plan.parts = all(root, "part", checker, receivers::part);
    plan.regions = all(root, "region", checker, receivers::region);
    plan.coupons = all(root, "coupon", checker, |coupon, _| {
        receivers::coupon(coupon)
    });
    plan.masks = all(root, "mask", checker, receivers::mask);
    plan.probes = all(root, "probe", checker, receivers::probe);
    plan.rotations = all(root, "rotation", checker, |turn, _| {
        schedule::rotation(turn)
    });
    plan.steps = all(root, "step", checker, |step, _| schedule::step(step));
    plan.film = root.table("film").and_then(schedule::film);
    plan.advise = root
        .table("advise")
        .and_then(|advise| super::advise::advise(root, advise, checker));
    plan
}

fn all<T>(
    root: &Entry,
    name: &str,
    checker: &mut Checker,
    meant: impl Fn(&Entry, &mut Checker) -> Option<T>,
) -> Vec<T> {
    root.entries(name)
        .iter()
        .filter_map(|entry| meant(entry, checker))
        .collect()
}

fn placement(entry: &Entry) -> Option<Placement> {
    Some(Placement {
        at_m: entry.vector("at")?,
        turn_rad: entry.vector("turn")?,
    })
}

fn rides(entry: &Entry) -> Option<Rides> {
    match entry.text("rides")? {
        "part" => Some(Rides::Part),
        _ => Some(Rides::Chamber),
    }
}

/// A mesh file with its unit: said where the file carries none, not said where it carries one.
fn mesh_file(entry: &Entry, file_key: &str, checker: &mut Checker) -> Option<MeshFile> {
    let path = entry.path(file_key)?;
    let unit_written = checker.places.contains_key(&entry.key_of("unit"));
    match extension(path).as_str() {
        form @ ("stl" | "obj" | "ply") if !unit_written => {
            checker.report(
                &entry.key_of(file_key),
                MeantProblem::Needs {
                    what: "unit beside it".to_owned(),
                    why: match form {
                        "stl" => "an STL file carries no unit",
                        "obj" => "an OBJ file carries no unit",
                        _ => "a PLY file carries no unit",
                    },
                    instead: "write the unit it was exported in, for example unit = \"mm\""
                        .to_owned(),
                },
            );
            return None;
        }
        form @ ("3mf" | "gltf" | "glb") if unit_written => {
            let other = if form == "3mf" {
                "a 3MF file"
            } else {
                "a glTF file"
            };
            checker.report(
                &entry.key_of("unit"),
                MeantProblem::DoesNotGoWith {
                    other: other.to_owned(),
                    why: "it carries its own unit",
                    instead: "leave unit out; scale can change the size of a part",
                },
            );
            return None;
        }
        _ => {}
    }
    Some(MeshFile {
        path: path.to_owned(),
        unit_m: entry.number("unit"),
    })
}

/// The extension in lower case; empty when there is none.
fn extension(path: &Path) -> String {
    path.extension()
        .map(|e| e.to_string_lossy().to_lowercase())
        .unwrap_or_default()
}

/// As written, for messages; else nothing.
fn written(checker: &Checker, key: &str) -> String {
    checker.written(key).unwrap_or_default()
}

/// The numbers of a map.
fn numbers(value: &Value) -> Option<std::collections::BTreeMap<String, f64>> {
    match value {
        Value::Map(map) => map
            .iter()
            .map(|(name, value)| match value {
                Value::Number(number) => Some((name.clone(), *number)),
                _ => None,
            })
            .collect(),
        _ => None,
    }
}
