//! The scene: a plan made solid.
//!
//! In: a plan and its meshes. Out: an immutable [`Scene`] for `transport`.

mod approach;
mod clearance;
mod emitters;
pub mod facts;
mod groups;
mod issue;
mod lower;
mod meshes;
pub mod model;
pub mod motion;
mod receivers;
mod schedule;
mod shapes;
mod sweep;

pub use facts::{Clearance, SceneFacts};
pub use issue::{Problem, SceneIssue, SceneIssues};
pub use lower::lower;
pub use meshes::{Meshes, load_meshes, load_missing};
pub use model::*;
pub use receivers::Bisection;
pub use shapes::pose_of;
