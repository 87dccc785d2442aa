//! Reads a plan file: text, tree, values, meaning, and what must hold between them.
//!
//! In: a path or a text. Out: the [`Plan`], or everything that is wrong with it at once.

use super::check::Checker;
use super::cross::{self, Existence};
use super::error::{PlanError, PlanErrors};
use super::include::Files;
use super::meant;
use super::model::Plan;
use super::problem::{MeantProblem, Problem, ValueProblem};
use super::text::{Text, without_mark};
use super::tree::Table;
use std::path::{Path, PathBuf};

/// Problems listed one by one.
pub(super) const MOST_LISTED: usize = 200;

/// Reads a plan file with all it includes.
///
/// - `path`: the file; paths in it are relative to its folder
/// - returns the plan in SI with every default filled in and the place of every value
///
/// # Errors
/// When anything is wrong with it: all problems at once, in file order.
pub fn read(path: &Path) -> Result<Plan, PlanErrors> {
    let mut files = Files::default();
    let tree = files.read(path);
    finish(path, files, tree, Existence::Needed)
}

/// Reads a plan from a text as if it were the file `path`; that file itself is not opened, and
/// whether the meshes and artwork it names are there is left to who needs them.
///
/// # Errors
/// When anything is wrong with it: all problems at once, in file order.
pub fn read_text(path: &Path, text: &str) -> Result<Plan, PlanErrors> {
    let mut files = Files::default();
    let tree = files.read_text(path, without_mark(text.to_owned()));
    finish(path, files, tree, Existence::Unknown)
}

fn finish(
    path: &Path,
    files: Files,
    tree: Option<Table>,
    existence: Existence,
) -> Result<Plan, PlanErrors> {
    let Files {
        texts,
        mut errors,
        incomplete,
        ..
    } = files;
    let mut plan = Plan::default();
    if let Some(tree) = tree {
        let mut checker = Checker::new(&texts);
        let root = checker.root(&tree);
        if !incomplete {
            plan = meant::plan(&root, &mut checker);
            cross::judge(&root, &plan, existence, &mut checker);
        }
        plan.places = checker.places;
        let found = checker.errors.into_iter();
        // What an unread file may have said is not called missing.
        errors.extend(found.filter(|e| !incomplete || !is_absence(&e.problem)));
    }
    if !errors.is_empty() {
        return Err(PlanErrors {
            errors: in_file_order(errors, &texts),
            files: contents(texts),
        });
    }
    path.clone_into(&mut plan.path);
    if plan.title.is_empty() {
        plan.title = path
            .file_stem()
            .map(|stem| stem.to_string_lossy().into_owned())
            .unwrap_or_default();
    }
    plan.text = texts.first().map(|t| t.content.clone()).unwrap_or_default();
    plan.files = contents(texts);
    Ok(plan)
}

fn is_absence(problem: &Problem) -> bool {
    matches!(
        problem,
        Problem::Value(ValueProblem::Missing { .. } | ValueProblem::ListLength { .. })
    )
}

fn contents(texts: Vec<Text>) -> Vec<(PathBuf, String)> {
    texts.into_iter().map(|t| (t.path, t.content)).collect()
}

/// Sorted by file and place, those of no place first; a flood is cut.
fn in_file_order(mut errors: Vec<PlanError>, texts: &[Text]) -> Vec<PlanError> {
    errors.sort_by_key(|error| {
        error.place.as_ref().map(|place| {
            let file = texts.iter().position(|text| text.path == place.file);
            (file, place.start)
        })
    });
    errors.dedup();
    if errors.len() > MOST_LISTED {
        let more = errors.len() - MOST_LISTED;
        errors.truncate(MOST_LISTED);
        errors.push(PlanError::new(
            None,
            "",
            MeantProblem::MoreProblems {
                more,
                shown: MOST_LISTED,
            },
        ));
    }
    errors
}
