//! The scene: a plan made solid.
//!
//! In: a plan and its meshes. Out: an immutable [`Scene`] for `transport`.

mod approach;
mod clearance;
pub(crate) mod covered;
mod emitters;
pub mod facts;
mod groups;
mod issue;
mod limits;
mod lower;
mod meshes;
pub mod model;
pub mod motion;
mod overlaps;
mod receivers;
mod regions;
mod schedule;
mod shapes;
pub mod stencils;
mod subdivide;
mod sweep;
mod unreached;

pub use facts::{Clearance, SceneFacts};
pub use issue::{Problem, SceneIssue, SceneIssues};
pub use lower::{Draft, draft, lower};
pub use meshes::{Meshes, load_meshes, load_missing};
pub use model::*;
pub use receivers::Bisection;
pub use shapes::pose_of;
