//! The command line: what can be asked for, and how it ends. One file per command.

mod advise;
mod check;
mod coat;
mod common;
mod compare;
mod example;
mod new;
mod schema;
#[cfg(feature = "window")]
mod show;
mod tune;
mod understood;

use crate::diagnose::{self, Look};
use crate::failure::{Exit, Failure};
use crate::say;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Parser, Subcommand};
use std::panic;
use std::process::ExitCode;

const VERSION: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    " (",
    env!("EVENFALL_COMMIT"),
    ", ",
    env!("EVENFALL_PROFILE"),
    ", ",
    env!("EVENFALL_TARGET"),
    ")"
);

const AFTER: &str = "\
Without a command, a built-in example is coated.

Exit status: 0 done; 1 could not finish though the input is usable; 2 the input cannot be used, or `tune` cannot tell; \
3 done, but the film wanted is missed, or nothing in range gets it; 130 stopped by Ctrl-C.";

/// Plans a vacuum-coating run before anyone pumps down: where the film lands on a part, how thick
/// it gets, and why it does not land elsewhere.
#[derive(Debug, Parser)]
#[command(name = "evenfall", version = VERSION, after_help = AFTER, disable_help_subcommand = true)]
struct CommandLine {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Simulate the run that a plan describes and write the outcome folder
    Coat(coat::Arguments),
    /// Read a plan and say what was understood; simulate nothing
    Check(check::Arguments),
    /// Search what [advise] of a plan frees, and recommend
    Advise(advise::Arguments),
    /// Fit a plan's rate, law and free path to measured coupons
    Tune(tune::Arguments),
    /// Write a commented plan to start from
    New(new::Arguments),
    /// Compare two outcomes, in numbers and as a map on one scale
    Compare(compare::Arguments),
    /// Open the window on a plan or an outcome: look, ask why, change, see
    #[cfg(feature = "window")]
    Show(show::Arguments),
    /// Print the JSON Schema of the plan file, for completion in an editor
    Schema,
}

/// Runs the program and returns its exit status.
pub fn main() -> ExitCode {
    panic::set_hook(Box::new(|defect| {
        #[cfg(feature = "window")]
        if crate::face::risk::is_taken() {
            return;
        }
        say::tell(&format!(
            "evenfall has a defect and cannot finish: {defect}\nplease report this text together \
             with the plan; `evenfall --version` says which build it is"
        ));
    }));
    let code = panic::catch_unwind(|| match CommandLine::try_parse() {
        Ok(line) => finish(run(line.command)),
        Err(error) => refuse(&error),
    })
    .unwrap_or(1);
    ExitCode::from(code)
}

fn run(command: Option<Command>) -> Result<Exit, Failure> {
    match command {
        None => example::run(),
        Some(Command::Coat(arguments)) => coat::run(&arguments),
        Some(Command::Check(arguments)) => check::run(&arguments),
        Some(Command::Advise(arguments)) => advise::run(&arguments),
        Some(Command::Tune(arguments)) => tune::run(&arguments),
        Some(Command::New(arguments)) => new::run(&arguments),
        Some(Command::Compare(arguments)) => compare::run(&arguments),
        #[cfg(feature = "window")]
        Some(Command::Show(arguments)) => show::run(&arguments),
        Some(Command::Schema) => schema::run(),
    }
}

/// Tells on stderr why a command failed, and returns the exit status.
fn finish(result: Result<Exit, Failure>) -> u8 {
    let failure = match result {
        Ok(exit) => return exit.code(),
        Err(failure) => failure,
    };
    match &failure {
        Failure::Plan(found) => say::tell(&diagnose::drawn(found, Look::of_stderr())),
        Failure::Unusable(sentence) | Failure::Unfinished(sentence) => {
            say::tell(&format!("evenfall: {sentence}"));
        }
        Failure::StoppedEarly => {
            say::tell("evenfall: stopped before anything was reached; nothing was written");
        }
    }
    failure.code()
}

/// Help, version, or what is wrong with the command line.
fn refuse(error: &clap::Error) -> u8 {
    if error.kind() == ErrorKind::InvalidSubcommand
        && let Some(ContextValue::String(typed)) = error.get(ContextKind::InvalidSubcommand)
        && std::path::Path::new(typed)
            .extension()
            .is_some_and(|extension| extension.eq_ignore_ascii_case("toml"))
    {
        say::tell(&format!(
            "evenfall: {0} is no command; `evenfall coat {0}` coats that plan, `evenfall check \
                 {0}` explains it",
            diagnose::printable_line(typed)
        ));
        return 2;
    }
    // A closed stdout or stderr leaves nobody to tell.
    let _ = error.print();
    u8::try_from(error.exit_code()).unwrap_or(2)
}
