//! `evenfall new`: a commented plan to start from.

use crate::failure::{Exit, Failure};
use crate::say;
use clap::{Args, ValueEnum};
use evenfall_sim::plan::starter::{self, Kind};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Endings of mesh files that are looked for beside a new plan.
const MESHES: [&str; 6] = ["stl", "obj", "ply", "3mf", "gltf", "glb"];

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

/// The starter with the mesh that lies beside it and has its name, if there is one.
fn named_after(plan: &Path, text: &str) -> String {
    let beside = MESHES.iter().map(|ending| plan.with_extension(ending));
    let Some(mesh) = beside.into_iter().find(|path| path.is_file()) else {
        return text.to_owned();
    };
    let name = mesh.file_name().and_then(|name| name.to_str());
    let value = text.split_once("\nmesh = \"").and_then(|(before, rest)| {
        let (_, after) = rest.split_once('"')?;
        Some((before, after))
    });
    match (name, value) {
        (Some(name), Some((before, after))) if !name.contains(['"', '\\']) => {
            format!("{before}\nmesh = \"{name}\"{after}")
        }
        _ => text.to_owned(),
    }
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
    let text = named_after(&arguments.file, starter::text(kind));
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(|error| Failure::Unfinished(format!("{shown} cannot be written ({error})")))?;
    say::tell(&format!(
        "wrote {shown}: a commented plan\nnext: put your mesh's name and your machine's sizes into \
         it, then\n  evenfall check {shown}\n  evenfall coat {shown}"
    ));
    Ok(Exit::Done)
}
