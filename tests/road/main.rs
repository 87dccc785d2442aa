//! Checks of the stages along the road, one module each.
#![allow(
    clippy::unwrap_used,
    clippy::too_many_lines,
    clippy::float_cmp,
    clippy::cast_possible_truncation,
    reason = "a check whose set-up breaks has failed; tables of cases are long; equal bits are meant where == stands"
)]

mod advise;
mod gas;
mod gas_reached;
mod honesty;
mod import;
mod invariance;
mod methods;
mod outcome;
mod plan;
mod report;
mod scattered;
mod scene;
mod stencil;
mod stencil_artwork;
mod stencil_dark;
mod stencil_haze;
mod stencil_laid;
mod supply;
mod tune;
mod worth;
