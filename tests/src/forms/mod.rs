//! Closed forms for flux and dose, each derived or cited in sim/PHYSICS.md and held against tables.
//!
//! Flux is per unit of total emission: a share per m².

pub mod edge;
pub mod rings;
pub mod shading;
pub mod small_source;
pub mod spheres;
pub mod turning;
pub mod view_factors;
