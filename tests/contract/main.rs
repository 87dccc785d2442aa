//! What the program promises its users, checked on the real binary: commands, exit statuses, streams,
//! diagnostics, the outcome folder, and what bad input gets.
#![expect(
    clippy::unwrap_used,
    reason = "a check that cannot go on has failed, in its helpers too"
)]

mod advice;
mod commands;
mod diagnostics;
mod hostile_artwork;
mod hostile_meshes;
mod hostile_plans;
mod outcome;
mod program;
mod sample;
mod show;
mod stopping;
