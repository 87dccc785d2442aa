//! The outcome folder before the run: it must be ours and writable, so that nobody waits for nothing.

use crate::failure::Failure;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// `<plan's stem>-coat` in the current folder.
///
/// # Errors
/// When the plan's path has no name to take.
pub fn default_for(plan: &Path) -> Result<PathBuf, Failure> {
    let stem = plan.file_stem().ok_or_else(|| {
        Failure::Unusable(format!(
            "{} has no file name to call the outcome folder after; say --out FOLDER",
            plan.display()
        ))
    })?;
    let mut name = stem.to_os_string();
    name.push("-coat");
    Ok(PathBuf::from(name))
}

/// Checks that the outcome can be put there: nothing there yet, an empty folder, or an earlier
/// outcome, in a folder that can be written.
///
/// # Errors
/// Unusable where something else is there; unfinished where the system refuses to write.
pub fn check(folder: &Path) -> Result<(), Failure> {
    let shown = folder.display();
    if folder.as_os_str().is_empty() {
        return Err(Failure::Unusable(
            "--out is empty; say the name of a folder".to_owned(),
        ));
    }
    if folder.file_name().is_none() {
        return Err(Failure::Unusable(format!(
            "{shown} cannot be replaced as a whole (the outcome is swapped in as one folder); \
             say a folder inside it"
        )));
    }
    match fs::symlink_metadata(folder) {
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(error) => {
            return Err(Failure::Unusable(format!(
                "{shown} cannot be looked at ({error}); say another folder with --out"
            )));
        }
        Ok(found) if !found.is_dir() => {
            return Err(Failure::Unusable(format!(
                "{shown} is not a folder (the outcome is one); say another name with --out"
            )));
        }
        Ok(_) => only_an_outcome(folder)?,
    }
    writable(folder)
}

/// Looks for anything that is not part of an outcome.
fn only_an_outcome(folder: &Path) -> Result<(), Failure> {
    let shown = folder.display();
    let entries = fs::read_dir(folder).map_err(|error| {
        Failure::Unusable(format!(
            "{shown} cannot be read ({error}); say another folder with --out"
        ))
    })?;
    for entry in entries.flatten() {
        let name = entry.file_name();
        if !is_outcome_file(&name.to_string_lossy()) {
            return Err(Failure::Unusable(format!(
                "{shown} holds {} (an outcome replaces the whole folder, and that is not part of \
                 one); say another folder with --out, or move it away",
                crate::diagnose::printable_line(&name.to_string_lossy())
            )));
        }
    }
    Ok(())
}

/// Tries to make a file beside the folder, where the outcome is written before it is swapped in.
fn writable(folder: &Path) -> Result<(), Failure> {
    let beside = match folder.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    if !beside.is_dir() {
        return Err(Failure::Unusable(format!(
            "{} does not exist (the outcome {} is to lie in it); make it first, or say another \
             folder with --out",
            beside.display(),
            folder.display()
        )));
    }
    tempfile::tempdir_in(beside).map(drop).map_err(|error| {
        Failure::Unfinished(format!(
            "{} cannot be written ({error}); say another folder with --out",
            beside.display()
        ))
    })
}
