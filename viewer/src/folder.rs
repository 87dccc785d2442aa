//! The outcome folder before the run: it must be ours and writable, so that nobody waits for nothing.

use crate::failure::Failure;
use evenfall_sim::outcome::{WriteError, check_target};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// `<plan's stem>-coat` in the current folder.
///
/// # Errors
/// When the plan's path has no name to take.
pub fn default_for(plan: &Path) -> Result<PathBuf, Failure> {
    let stem = plan.file_stem().ok_or_else(|| {
        Failure::Unusable(format!(
            "{} has no file name (the outcome folder is called after it); name a plan, or say \
             --out FOLDER",
            plan.display()
        ))
    })?;
    let mut name = stem.to_os_string();
    name.push("-coat");
    Ok(PathBuf::from(name))
}

/// Writes a file beside, then puts it in place, so that a reader never sees half of it. Who may read it stays as it
/// was, or is as for any new file.
///
/// # Errors
/// When the system refuses.
pub fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666)); // less what the user's mask takes away
    }
    let mut beside = builder.tempfile_in(folder)?;
    beside.write_all(bytes)?;
    if let Ok(before) = fs::metadata(path) {
        fs::set_permissions(beside.path(), before.permissions())?;
    }
    beside.persist(path).map(drop).map_err(|error| error.error)
}

/// Checks that the outcome can be put there: nothing there yet, an empty folder, or an earlier
/// outcome, in a folder that can be written.
///
/// # Errors
/// Unusable where something else is there; unfinished where the system refuses to write.
pub fn check(folder: &Path) -> Result<(), Failure> {
    check_target(folder).map_err(failure)?;
    let beside = nearest(folder);
    if !beside.is_dir() {
        return Err(Failure::Unusable(format!(
            "{} is a file (the outcome cannot lie inside it); name another folder with --out",
            beside.display()
        )));
    }
    tempfile::tempdir_in(&beside).map(drop).map_err(|error| {
        Failure::Unfinished(format!(
            "{} cannot be written ({error}); make room or name another folder with --out",
            beside.display()
        ))
    })
}

/// What it means for the command that an outcome cannot be written.
pub fn failure(error: WriteError) -> Failure {
    match error {
        WriteError::Io { .. } | WriteError::Defect(_) => Failure::Unfinished(error.to_string()),
        _ => Failure::Unusable(error.to_string()),
    }
}

/// What the outcome will lie in, or the nearest thing above it that exists.
fn nearest(folder: &Path) -> PathBuf {
    folder
        .ancestors()
        .skip(1)
        .map(|ancestor| match ancestor.as_os_str().is_empty() {
            true => Path::new("."),
            false => ancestor,
        })
        .find(|ancestor| ancestor.exists())
        .unwrap_or(Path::new("."))
        .to_path_buf()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_outcome_is_called_after_the_plan() {
        let name = default_for(Path::new("plans/horn.toml"));
        assert_eq!(name.unwrap(), Path::new("horn-coat"));
        assert!(default_for(Path::new("..")).is_err());
    }

    #[test]
    fn the_nearest_thing_above_exists() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("a/b/c");
        assert_eq!(nearest(&deep), folder.path());
        assert_eq!(nearest(Path::new("coat")), Path::new("."));
    }
}
