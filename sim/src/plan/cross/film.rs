//! The film wanted against regions and sources.

use super::twice;
use crate::plan::check::Checker;
use crate::plan::entry::{Entry, Value};
use crate::plan::problem::MeantProblem;
use std::collections::BTreeSet;

pub(super) fn judge(root: &Entry, checker: &mut Checker) {
    let Some(film) = root.table("film") else {
        return;
    };
    twice(film, "in", checker);
    twice(film, "bare", checker);
    let bare = film.texts("bare").unwrap_or_default();
    for (i, name) in film.texts("in").unwrap_or_default().iter().enumerate() {
        if bare.contains(name) {
            let key = film.key_of(&format!("in.{}", i + 1));
            checker.report(&key, MeantProblem::WantedAndBare { name: name.clone() });
        }
    }
    let Some(Value::Map(wanted)) = film.values.get("want") else {
        return;
    };
    let emitted: BTreeSet<&str> = root
        .entries("source")
        .iter()
        .filter_map(|source| source.text("metal"))
        .collect();
    let known = super::names(root, crate::plan::keys::Of::Metal);
    for metal in wanted.keys().filter(|metal| known.contains(metal)) {
        if !emitted.contains(metal.as_str()) {
            let problem = MeantProblem::NotEmitted {
                metal: metal.clone(),
                emitted: emitted.iter().copied().collect::<Vec<_>>().join(", "),
            };
            checker.report(&film.key_of(&format!("want.{metal}")), problem);
        }
    }
}
