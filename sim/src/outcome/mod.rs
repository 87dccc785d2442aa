//! The outcome: assembled, written, read, compared.

pub mod assemble;
pub mod list;
pub mod model;
pub mod statistics;
pub mod verdict;
mod warn;
pub mod words;

pub use assemble::assemble;
pub use list::{WriteItem, WriteList, WriteListError};
pub use model::*;

/// Name of the format of an outcome.
pub const FORMAT: &str = "evenfall-outcome";

/// Version of the format that this build writes, and the newest that it reads.
pub const VERSION: u32 = 1;
