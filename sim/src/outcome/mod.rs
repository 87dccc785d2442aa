//! The outcome: assembled, written, read.

pub mod card;
pub mod cautions;
pub mod colour;
pub mod figures;
pub mod headline;
pub mod model;
pub mod report;
pub mod survey;
pub mod views;

pub use model::*;
