//! The outcome: assembled, written, read, compared.

pub mod assemble;
pub mod card;
pub mod cautions;
pub mod colour;
pub mod figures;
pub mod headline;
pub mod list;
pub mod model;
pub mod report;
pub mod statistics;
pub mod survey;
pub mod verdict;
pub mod views;
mod warn;
pub mod words;

pub use assemble::assemble;
pub use list::{WriteItem, WriteList, WriteListError};
pub use model::*;

/// Name of the format of an outcome.
pub const FORMAT: &str = "evenfall-outcome";

/// Version of the format that this build writes, and the newest that it reads.
pub const VERSION: u32 = 1;
