//! The scene: a plan made solid.

pub mod facts;
pub mod model;
pub mod motion;

pub use model::*;
