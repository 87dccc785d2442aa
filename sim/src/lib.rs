//! Evenfall's simulation: from a plan to a film.
#![warn(missing_docs)]

pub mod advise;
pub mod constants;
pub mod emission;
pub mod film;
pub mod gas;
pub mod geometry;
mod lanes;
pub mod mesh;
pub mod metals;
pub mod outcome;
pub mod plan;
pub mod random;
pub mod scene;
pub mod stats;
pub mod stencil;
pub mod supply;
pub mod transport;
mod trig;
pub mod tune;
pub mod units;
pub mod worth;
