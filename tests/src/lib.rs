//! What the checks share: closed forms, published values, limits, and the way from a plan to a film.
//!
//! In: nothing of the program but its front door. Out: references and verdicts for `tests/published`,
//! `tests/road` and `tests/contract`.
#![allow(
    clippy::missing_panics_doc,
    clippy::too_many_lines,
    reason = "helpers of checks panic where a check cannot be set up, which fails it"
)]

pub mod agreement;
pub mod bench;
pub mod cup;
pub mod forms;
pub mod lifted;
pub mod made_up;
pub mod published;
pub mod quadrature;
pub mod solids;
