//! Checks of the stages along the road, one module each.

mod report;
