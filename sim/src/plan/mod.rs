//! The plan file: read, checked, and meant.
//!
//! In: a TOML file. Out: a [`Plan`] in SI with all defaults and the place of every value, or all of
//! its problems at once. Next on the road: `scene`.
//!
//! Inside, in order: `text` and `tree` (bytes to TOML with places), `include` (several files to one
//! tree), `keys` (the one table of what may be said), `check` (values by that table), `meant` (values
//! to the typed plan), `cross` (what must hold between them).

mod advise;
mod check;
mod cross;
mod entry;
pub mod error;
mod include;
mod keys;
mod meant;
pub mod model;
mod not_gathered;
pub mod offers;
pub mod problem;
mod reader;
mod schema;
pub mod starter;
mod table;
mod text;
mod tree;

pub use error::{PlanError, PlanErrors};
pub use model::Plan;
pub use not_gathered::not_gathered;
pub use problem::Problem;
pub use reader::{read, read_text};
pub use schema::schema;
pub use starter::text as starter;
