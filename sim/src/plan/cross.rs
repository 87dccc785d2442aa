//! What must hold between the entries of a plan; needs no mesh.
//!
//! In: the checked entries and the plan as far as it is sound. Out: problems, each at its key.

mod film;
mod schedule;

use super::check::{Checker, nearest};
use super::entry::Entry;
use super::keys::Of;
use super::model::Plan;
use super::problem::MeantProblem;
use crate::metals;
use std::collections::BTreeMap;
use std::path::Path;

/// Regions that are told apart on a part: one bit each in the scene.
const MOST_REGIONS: usize = 64;

/// Whether files that the plan names must be there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Existence {
    /// They must: the plan was read from disk.
    Needed,
    /// They need not: the plan came as a text, its meshes may too.
    Unknown,
}

/// Judges the plan as a whole.
pub(super) fn judge(root: &Entry, plan: &Plan, existence: Existence, checker: &mut Checker) {
    references(root, checker);
    file_names(root, "coupon", checker);
    file_names(root, "probe", checker);
    gas(root, checker);
    for (i, region) in root.entries("region").iter().enumerate().skip(MOST_REGIONS) {
        let problem = MeantProblem::TooMany {
            found: i + 1,
            most: MOST_REGIONS,
        };
        checker.report(&region.key, problem);
    }
    shutters(root, checker);
    schedule::judge(root, plan, checker);
    film::judge(root, checker);
    if existence == Existence::Needed {
        files(root, checker);
    }
}

/// Names that there are, by what they name.
fn names(root: &Entry, of: Of) -> Vec<String> {
    let own = root
        .entries(of.table())
        .iter()
        .filter_map(|entry| entry.text("name"))
        .map(ToOwned::to_owned);
    if of == Of::Metal {
        metals::names().map(ToOwned::to_owned).chain(own).collect()
    } else {
        own.collect()
    }
}

fn references(root: &Entry, checker: &mut Checker) {
    let mut known: BTreeMap<Of, Vec<String>> = BTreeMap::new();
    for reference in std::mem::take(&mut checker.references) {
        if unreadable(root, reference.of, checker) {
            continue;
        }
        let known = known
            .entry(reference.of)
            .or_insert_with(|| names(root, reference.of));
        if known.contains(&reference.name) {
            continue;
        }
        let problem = MeantProblem::NoSuch {
            name: crate::units::shortened(&reference.name),
            what: reference.of.table(),
            known: known.clone(),
            nearest: nearest(&reference.name, known.iter().map(String::as_str)),
        };
        checker.report(&reference.key, problem);
    }
}

/// Whether the table that a name refers to is wrong as a whole: then its names are not missed.
fn unreadable(root: &Entry, of: Of, checker: &Checker) -> bool {
    let table = of.table();
    let needed = matches!(of, Of::Source | Of::Part);
    !root.values.contains_key(table) && (needed || checker.places.contains_key(table))
}

/// Names that end up in file names must differ by more than case.
fn file_names(root: &Entry, table: &str, checker: &mut Checker) {
    let mut taken: BTreeMap<String, String> = BTreeMap::new();
    for entry in root.entries(table) {
        let Some(name) = entry.text("name") else {
            continue;
        };
        let other = taken.entry(name.to_lowercase()).or_insert(name.to_owned());
        if other != name {
            let problem = MeantProblem::NameAlike {
                name: name.to_owned(),
                other: other.clone(),
            };
            checker.report(&entry.key_of("name"), problem);
        }
    }
}

fn gas(root: &Entry, checker: &mut Checker) {
    if checker.places.contains_key("gas") && !checker.places.contains_key("chamber") {
        let problem = MeantProblem::Needs {
            what: "a [chamber]".to_owned(),
            why: "without walls scattered atoms would have nowhere to end",
            instead: "add [chamber] with its shape and size".to_owned(),
        };
        checker.report(&root.key_of("gas"), problem);
    }
}

fn shutters(root: &Entry, checker: &mut Checker) {
    for shutter in root.entries("shutter") {
        twice(shutter, "over", checker);
    }
}

/// Complains about names that stand twice in a list.
fn twice(entry: &Entry, list: &str, checker: &mut Checker) {
    let names = entry.texts(list).unwrap_or_default();
    for (i, name) in names.iter().enumerate() {
        if names[..i].contains(name) {
            let key = entry.key_of(&format!("{list}.{}", i + 1));
            checker.report(&key, MeantProblem::Twice { name: name.clone() });
        }
    }
}

/// Complains about meshes and artwork that are not there.
fn files(root: &Entry, checker: &mut Checker) {
    let mut missing = |entry: Option<&Entry>, name: &str| {
        let Some((entry, path)) = entry.and_then(|e| Some((e, e.path(name)?))) else {
            return;
        };
        if !path.is_file() {
            let path = shown(path);
            checker.report(&entry.key_of(name), MeantProblem::NoFile { path });
        }
    };
    for source in root.entries("source") {
        let footprint = source.table("footprint");
        missing(footprint.filter(|f| f.variant == Some("mesh")), "file");
    }
    for table in ["fixture", "shutter"] {
        for entry in root.entries(table) {
            let body = entry.table("body");
            missing(body.filter(|b| b.variant == Some("mesh")), "file");
        }
    }
    for part in root.entries("part") {
        missing(Some(part), "mesh");
    }
    for mask in root.entries("mask") {
        missing(Some(mask), "artwork");
    }
    for metal in root.entries("metal") {
        missing(Some(metal), "nk_table");
    }
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}
