//! What the checks share: closed forms, published values, limits, and the way from a plan to a film.
//!
//! In: nothing of the program but its front door. Out: references and verdicts for `tests/published`,
//! `tests/road` and `tests/contract`.

pub mod agreement;
pub mod bench;
pub mod forms;
pub mod made_up;
pub mod published;
pub mod quadrature;
pub mod solids;
