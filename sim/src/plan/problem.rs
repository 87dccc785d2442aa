//! The problems a plan can have, by kind; each text goes on from the key it belongs to.
//!
//! In: findings of the files of `plan`. Out: texts in the order *value, why it is a problem, what
//! to do*; the key stands before them, see [`super::PlanError`].

mod file;
mod meant;
mod value;

pub use file::FileProblem;
pub use meant::MeantProblem;
pub(super) use meant::counted;
pub use value::ValueProblem;

use crate::units::UnitError;
use thiserror::Error;

/// What is wrong, why, and what to do.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Problem {
    /// A file that cannot be read.
    #[error(transparent)]
    File(#[from] FileProblem),
    /// A text that is no quantity.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// A value or a key by itself.
    #[error(transparent)]
    Value(#[from] ValueProblem),
    /// Values that do not go together.
    #[error(transparent)]
    Meant(#[from] MeantProblem),
    /// What the method of gathering cannot do.
    #[error(
        "is not computed by method gather (it ends lines where they first meet a solid); use auto or fire"
    )]
    NotGathered,
    /// What a later stage found wrong about a value of the plan, in its words.
    #[error("{text}")]
    Told {
        /// What is wrong.
        text: String,
    },
}
