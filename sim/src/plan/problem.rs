//! The problems a plan can have, by kind; each text goes on from the key it belongs to.

use crate::units::UnitError;
use thiserror::Error;

/// What is wrong, why, and what to do.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Problem {
    /// A text that is no quantity.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// What a later stage found wrong about a value of the plan, in its words.
    #[error("{text}")]
    Told {
        /// What is wrong.
        text: String,
    },
}
