//! Checks of the stages along the road, one module each.

mod outcome;
mod plan;
mod report;
