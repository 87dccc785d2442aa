//! The outcome: assembled, written, read.

pub mod model;

pub use model::*;
