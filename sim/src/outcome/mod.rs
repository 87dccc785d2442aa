//! The outcome: assembled, written, read, compared.

pub mod assemble;
pub mod card;
pub mod cautions;
mod coated;
pub mod colour;
pub mod compare;
mod container;
pub mod doubt;
pub mod error;
pub mod figures;
pub mod flight;
mod folder;
mod glb;
mod header;
pub mod headline;
pub mod list;
pub mod model;
mod ply;
pub mod read;
pub mod reading;
pub mod report;
pub mod statistics;
pub mod stencils;
mod surroundings;
pub mod survey;
mod tables;
mod validate;
pub mod verdict;
pub mod views;
mod vtu;
mod warn;
pub mod words;
pub mod worth;
mod write;

pub use assemble::assemble;
pub use compare::{Comparison, compare};
pub use error::{Damage, Defect, ReadError, WriteError};
pub use folder::check_target;
pub use list::{WriteItem, WriteList, WriteListError};
pub use model::*;
pub use read::read;
pub use tables::probe_files;
pub use validate::validate;
pub use write::write;

/// Name of the format of an outcome.
pub const FORMAT: &str = "evenfall-outcome";

/// Version of the format that this build writes, and the newest that it reads.
pub const VERSION: u32 = 1;
