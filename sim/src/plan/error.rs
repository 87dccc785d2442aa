//! What can be wrong with a plan: one value per problem, with its place.

use super::model::Place;
use std::path::PathBuf;

/// Everything that is wrong with a plan, all of it at once, in file order.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanErrors {
    /// The problems; never empty.
    pub errors: Vec<PlanError>,
    /// Texts of all files read, for whoever underlines places.
    pub files: Vec<(PathBuf, String)>,
}

/// One problem of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanError {
    /// Where, unless the whole file is meant.
    pub place: Option<Place>,
    /// Key in full, as in `source.head.output.charge`; empty for a problem of the file.
    pub key: String,
    /// What is wrong, with the value and why that is a problem; what to do. Lower case, no final period.
    pub message: String,
}
