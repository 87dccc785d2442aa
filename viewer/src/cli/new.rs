//! `evenfall new`: a commented plan to start from.

use crate::failure::{Exit, Failure};
use crate::say;
use clap::{Args, ValueEnum};
use evenfall_sim::plan::starter::{self, Kind};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

/// What the starter plan is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum For {
    /// A printed part, turning in front of a sputter head
    Print,
    /// A flat part under a cut stencil
    Stencil,
    /// A part over an evaporator boat
    Boat,
}

/// Arguments of `evenfall new`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// What the plan is for
    #[arg(long = "for", value_enum, default_value = "print")]
    purpose: For,
    /// File to write; must not exist yet
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Writes the starter plan.
///
/// # Errors
/// Unusable when the file exists or its folder does not; unfinished when it cannot be written.
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let shown = arguments.file.display();
    let kind = match arguments.purpose {
        For::Print => Kind::Print,
        For::Stencil => Kind::Stencil,
        For::Boat => Kind::Boat,
    };
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&arguments.file)
        .map_err(|error| match error.kind() {
            ErrorKind::AlreadyExists => Failure::Unusable(format!(
                "{shown} exists already (a plan is not overwritten); say another name"
            )),
            ErrorKind::NotFound => Failure::Unusable(format!(
                "{shown} lies in a folder that does not exist; make the folder first"
            )),
            _ => Failure::Unfinished(format!("{shown} cannot be written ({error})")),
        })?;
    file.write_all(starter::text(kind).as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(|error| Failure::Unfinished(format!("{shown} cannot be written ({error})")))?;
    say::tell(&format!(
        "wrote {shown}: a commented plan\nnext: put your mesh's name and your machine's sizes into \
         it, then\n  evenfall check {shown}\n  evenfall coat {shown}"
    ));
    Ok(Exit::Done)
}
