//! What can be wrong with a plan: one value per problem, with its place.

use super::model::Place;
use super::problem::Problem;
use std::fmt;
use std::path::PathBuf;

/// Everything that is wrong with a plan, all of it at once, in file order.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanErrors {
    /// The problems; never empty.
    pub errors: Vec<PlanError>,
    /// Texts of all files read, for whoever underlines places.
    pub files: Vec<(PathBuf, String)>,
}

impl fmt::Display for PlanErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, error) in self.errors.iter().enumerate() {
            let separator = if i > 0 { "\n" } else { "" };
            write!(f, "{separator}{error}")?;
        }
        Ok(())
    }
}

impl std::error::Error for PlanErrors {}

/// One problem of a plan.
///
/// Shown as `horn.toml:14:12: source.head.law.cosine -2 (must be above -1, …); use 1 for …`.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanError {
    /// Where, unless the whole file is meant.
    pub place: Option<Place>,
    /// Key in full, as in `source.head.output.charge`; empty for a problem of the file.
    pub key: String,
    /// What is wrong.
    pub problem: Problem,
}

impl PlanError {
    /// A problem of a key.
    pub fn new(place: Option<&Place>, key: impl Into<String>, problem: impl Into<Problem>) -> Self {
        Self {
            place: place.cloned(),
            key: key.into(),
            problem: problem.into(),
        }
    }

    /// Where the problem is, unless the whole file is meant.
    pub fn place(&self) -> Option<&Place> {
        self.place.as_ref()
    }

    /// Key in full; empty for a problem of the file.
    pub fn key(&self) -> &str {
        &self.key
    }

    /// Key, what is wrong and what to do, without the place.
    pub fn message(&self) -> String {
        if self.key.is_empty() {
            self.problem.to_string()
        } else {
            format!("{} {}", self.key, self.problem)
        }
    }
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(
                f,
                "{}:{}:{}: ",
                place.file.display(),
                place.line,
                place.column
            )?;
        }
        f.write_str(&self.message())
    }
}

impl std::error::Error for PlanError {}
