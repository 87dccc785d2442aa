//! The plan file: read, checked, and meant.

pub mod error;
pub mod model;
pub mod problem;

pub use error::{PlanError, PlanErrors};
pub use model::Plan;
pub use problem::Problem;
