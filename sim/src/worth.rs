//! What a film is worth to its owner: how it looks, conducts and grows, and what making it costs part and source.
//!
//! In: thicknesses and a metal's name. Out: plain physics of films, each with its source and its doubt, for the
//! verdicts of `outcome`. What is not known for a metal is none, never a guess.

pub mod arrival;
pub mod conduction;
pub mod growth;
pub mod heat;
pub mod materials;
pub mod optics;
pub mod purity;
pub mod reach;
pub mod resistance;
pub mod target;
