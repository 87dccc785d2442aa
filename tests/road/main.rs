//! Checks of the stages along the road, one module each.

mod import;
mod outcome;
mod plan;
mod report;
mod scene;
