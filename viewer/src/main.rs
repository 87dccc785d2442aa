//! Evenfall: plans a vacuum-coating run before anyone pumps down.
//!
//! In: the command line. Out: an exit status, the outcome folder, and what was asked for on stdout.
//! The physics is in `evenfall-sim`; here it is called, watched and put into words.

mod cli;
mod diagnose;
mod failure;
mod folder;
mod say;
mod watch;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
