//! Helpers of the checks.

pub mod made_up;
