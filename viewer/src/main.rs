//! Evenfall: plans a vacuum-coating run before anyone pumps down.
//!
//! In: the command line. Out: an exit status, the outcome folder, and what was asked for on stdout.
//! The physics is in `evenfall-sim`; here it is called, watched and put into words.

#[cfg(feature = "window")]
mod app;
mod cli;
mod diagnose;
#[cfg(feature = "window")]
mod face;
mod failure;
mod folder;
#[cfg(feature = "window")]
mod gpu;
#[cfg(feature = "window")]
mod panel;
mod say;
#[cfg(feature = "window")]
mod shot;
#[cfg(feature = "window")]
mod stage;
mod watch;
#[cfg(feature = "window")]
mod window;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
