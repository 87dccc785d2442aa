//! The outcome folder on disk: recognised as ours, written beside, swapped in whole.
//!
//! In: the target's path and files from `outcome::write`. Out: the folder; a kill at any moment leaves the last good
//! outcome or the new one, never a mix.
//!
//! Names beside a target `NAME`: `.NAME.evenfall-new-N` is being written (it holds a locked file, so that others
//! can tell a live writer from a dead one), `.NAME.evenfall-old` is the last outcome for the moment between two renames
//! on systems that cannot exchange two folders.

use super::error::WriteError;
use super::{FORMAT, container};
use std::fs::{self, File, TryLockError};
use std::io::{self, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Held locked as long as its folder is being written.
const LOCK: &str = ".evenfall-lock";

/// Files of an outcome folder with fixed names.
const KNOWN: [&str; 10] = [
    "report.html",
    "summary.json",
    "triangles.csv",
    "coat.ply",
    "coat.vtu",
    "coat.glb",
    "coat.evenfall",
    "advice.json",
    "advised.toml",
    LOCK,
];

/// Says whether a folder may be written to: absent, empty, or an outcome that Evenfall wrote.
///
/// Worth asking before a long run; `outcome::write` asks again.
///
/// # Errors
/// When the folder holds anything that is not ours, or is no folder.
pub fn check_target(folder: &Path) -> Result<(), WriteError> {
    let place = Place::of(folder)?;
    if place.target.exists() {
        recognise(&place.target)?;
    }
    Ok(())
}

/// Where a folder is written and what stands beside it.
#[derive(Debug)]
struct Place {
    parent: PathBuf,
    name: String,
    target: PathBuf,
}

impl Place {
    fn of(folder: &Path) -> Result<Self, WriteError> {
        // An existing folder may be named by a link or by "..": the folder itself is replaced, not the link.
        let target = if folder.exists() {
            folder.canonicalize()
        } else {
            std::path::absolute(folder)
        }
        .map_err(WriteError::io("find", folder))?;
        let (Some(parent), Some(name)) = (target.parent(), target.file_name()) else {
            return Err(WriteError::NoName { path: target });
        };
        Ok(Self {
            parent: parent.to_path_buf(),
            name: name.to_string_lossy().into_owned(),
            target,
        })
    }

    fn aside(&self) -> PathBuf {
        self.parent.join(format!(".{}.evenfall-old", self.name))
    }

    fn new_prefix(&self) -> String {
        format!(".{}.evenfall-new-", self.name)
    }

    /// Mends what a killed run left: an outcome moved aside and not replaced goes back, half-written folders go.
    fn recover(&self) -> Result<(), WriteError> {
        let aside = self.aside();
        if aside.exists() {
            if self.target.exists() {
                remove_ours(&aside);
            } else {
                fs::rename(&aside, &self.target).map_err(WriteError::io("put back", &aside))?;
            }
        }
        let entries = fs::read_dir(&self.parent).map_err(WriteError::io("read", &self.parent))?;
        let prefix = self.new_prefix();
        for entry in entries.flatten() {
            if entry.file_name().to_string_lossy().starts_with(&prefix) {
                remove_if_dead(&entry.path());
            }
        }
        Ok(())
    }
}

/// Where the last good outcome stands for a reader: at `folder`, or aside if a run was killed between two renames.
pub(super) fn last_good(folder: &Path) -> PathBuf {
    match Place::of(folder) {
        Ok(place) if !place.target.exists() && place.aside().exists() => place.aside(),
        _ => folder.to_path_buf(),
    }
}

/// Removes a folder beside the target whose writer no longer lives.
///
/// Its lock can be taken, or it has files and no lock, as an outcome that was replaced (the lock is the first file of a
/// new folder). Anything else is left alone.
fn remove_if_dead(folder: &Path) {
    let dead = match File::open(folder.join(LOCK)).map(|lock| lock.try_lock()) {
        Ok(locked) => locked.is_ok(),
        Err(_) => true,
    };
    if dead && known_files(folder).is_ok_and(|count| count > 0) {
        drop(fs::remove_dir_all(folder));
    }
}

fn remove_ours(folder: &Path) {
    if recognise(folder).is_ok() {
        // What cannot be removed now is removed by the next run.
        drop(fs::remove_dir_all(folder));
    }
}

/// Says whether a folder is empty or an outcome: known file names only, and the format's mark in one of them.
fn recognise(folder: &Path) -> Result<(), WriteError> {
    if known_files(folder)? > 0 && !has_mark(folder) {
        return Err(WriteError::NoMark {
            folder: folder.to_path_buf(),
        });
    }
    Ok(())
}

/// Number of files in a folder, if there are only files with names of an outcome.
fn known_files(folder: &Path) -> Result<usize, WriteError> {
    if !folder.is_dir() {
        return Err(WriteError::NotAFolder {
            path: folder.to_path_buf(),
        });
    }
    let mut count = 0;
    for entry in fs::read_dir(folder).map_err(WriteError::io("read", folder))? {
        let entry = entry.map_err(WriteError::io("read", folder))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if !(entry.file_type().is_ok_and(|kind| kind.is_file()) && is_known(&name)) {
            return Err(WriteError::ForeignFile {
                folder: folder.to_path_buf(),
                entry: name,
            });
        }
        count += 1;
    }
    Ok(count)
}

fn is_known(name: &str) -> bool {
    let between = |start: &str, end: &str| {
        let rest = name.strip_prefix(start);
        rest.is_some_and(|rest| rest.len() > end.len() && rest.ends_with(end))
    };
    KNOWN.contains(&name)
        || between("probe-", ".csv")
        || between("view-", ".png")
        || between("stencil-", ".csv")
        || between("corrected-", ".svg")
}

fn has_mark(folder: &Path) -> bool {
    #[derive(serde::Deserialize)]
    struct Mark {
        format: String,
    }
    let in_summary = File::open(folder.join("summary.json"))
        .ok()
        .and_then(|file| serde_json::from_reader::<_, Mark>(BufReader::new(file)).ok())
        .is_some_and(|mark| mark.format == FORMAT);
    in_summary || container::is_ours(&folder.join("coat.evenfall"))
}

/// A folder being written beside its target.
#[derive(Debug)]
pub(super) struct Staging {
    place: Place,
    folder: PathBuf,
    /// Locked for as long as this lives.
    _lock: File,
    committed: bool,
}

impl Staging {
    /// Checks the target, mends what killed runs left, and opens a new folder beside it.
    pub fn begin(target: &Path) -> Result<Self, WriteError> {
        let place = Place::of(target)?;
        fs::create_dir_all(&place.parent).map_err(WriteError::io("create", &place.parent))?;
        place.recover()?;
        if place.target.exists() {
            recognise(&place.target)?;
        }
        let mut number = 0_u32;
        let folder = loop {
            let folder = place.parent.join(format!("{}{number}", place.new_prefix()));
            match fs::create_dir(&folder) {
                Ok(()) => break folder,
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => number += 1,
                Err(error) => return Err(WriteError::io("create", &folder)(error)),
            }
        };
        let path = folder.join(LOCK);
        let lock = File::create_new(&path).map_err(WriteError::io("create", &path))?;
        if let Err(TryLockError::Error(error)) = lock.try_lock() {
            return Err(WriteError::io("lock", &path)(error));
        }
        Ok(Self {
            place,
            folder,
            _lock: lock,
            committed: false,
        })
    }

    /// Writes one file and has it on the disk before going on.
    pub fn file(
        &self,
        name: &str,
        fill: impl FnOnce(&mut BufWriter<File>) -> io::Result<()>,
    ) -> Result<(), WriteError> {
        let path = self.folder.join(name);
        let write = || {
            let mut writer = BufWriter::with_capacity(1 << 18, File::create_new(&path)?);
            fill(&mut writer)?;
            writer.flush()?;
            writer.get_ref().sync_all()
        };
        write().map_err(WriteError::io("write", &self.place.target.join(name)))
    }

    /// Puts the folder in the target's place and removes what was there.
    pub fn commit(mut self) -> Result<(), WriteError> {
        sync_folder(&self.folder)?;
        let target = self.place.target.clone();
        if target.exists() {
            exchange(&self.folder, &target, &self.place.aside())
        } else {
            fs::rename(&self.folder, &target)
        }
        .map_err(WriteError::io("put the new outcome at", &target))?;
        self.committed = true;
        drop(fs::remove_file(target.join(LOCK)));
        // After an exchange the last outcome has the new one's former name.
        remove_ours(&self.folder);
        remove_ours(&self.place.aside());
        sync_folder(&self.place.parent)
    }
}

impl Drop for Staging {
    fn drop(&mut self) {
        if !self.committed {
            // What cannot be removed now is removed by the next run.
            drop(fs::remove_dir_all(&self.folder));
        }
    }
}

/// Exchanges two folders in one step where the system can, otherwise moves the old one aside first.
fn exchange(new: &Path, target: &Path, aside: &Path) -> io::Result<()> {
    if exchange_at_once(new, target).is_ok() {
        return Ok(());
    }
    move_aside(new, target, aside)
}

/// Moves the old folder aside and the new one into its place; the old one returns if the second step fails.
fn move_aside(new: &Path, target: &Path, aside: &Path) -> io::Result<()> {
    fs::rename(target, aside)?;
    fs::rename(new, target).inspect_err(|_| drop(fs::rename(aside, target)))
}

#[cfg(any(target_os = "linux", target_os = "macos"))]
fn exchange_at_once(new: &Path, target: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    Ok(renameat_with(CWD, new, CWD, target, RenameFlags::EXCHANGE)?)
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn exchange_at_once(_new: &Path, _target: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Has a folder's entries on the disk. Only Unix can open a folder for that.
fn sync_folder(folder: &Path) -> Result<(), WriteError> {
    if cfg!(unix) {
        let synced = File::open(folder).and_then(|folder| folder.sync_all());
        synced.map_err(WriteError::io("write", folder))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder_with(path: &Path, text: &str) {
        fs::create_dir(path).unwrap();
        fs::write(path.join("file"), text).unwrap();
    }

    #[test]
    fn without_an_exchange_the_old_folder_steps_aside() {
        let parent = tempfile::tempdir().unwrap();
        let [new, target, aside] = ["new", "target", "aside"].map(|name| parent.path().join(name));
        folder_with(&new, "new");
        folder_with(&target, "old");
        move_aside(&new, &target, &aside).unwrap();
        assert_eq!(fs::read(target.join("file")).unwrap(), b"new");
        assert_eq!(fs::read(aside.join("file")).unwrap(), b"old");
        assert!(!new.exists());
    }

    #[test]
    fn the_old_folder_comes_back_when_the_new_one_cannot_take_its_place() {
        let parent = tempfile::tempdir().unwrap();
        let [new, target, aside] = ["new", "target", "aside"].map(|name| parent.path().join(name));
        folder_with(&target, "old");
        assert!(move_aside(&new, &target, &aside).is_err());
        assert_eq!(fs::read(target.join("file")).unwrap(), b"old");
        assert!(!aside.exists());
    }

    #[cfg(any(target_os = "linux", target_os = "macos"))]
    #[test]
    fn two_folders_change_places_at_once() {
        let parent = tempfile::tempdir().unwrap();
        let [new, target] = ["new", "target"].map(|name| parent.path().join(name));
        folder_with(&new, "new");
        folder_with(&target, "old");
        exchange_at_once(&new, &target).unwrap();
        assert_eq!(fs::read(target.join("file")).unwrap(), b"new");
        assert_eq!(fs::read(new.join("file")).unwrap(), b"old");
    }

    #[test]
    fn names_of_an_outcome_are_known_and_others_are_not() {
        for name in [
            "summary.json",
            "probe-a.csv",
            "view-front.png",
            "advised.toml",
        ] {
            assert!(is_known(name), "{name}");
        }
        for name in [
            "summary.json.bak",
            "probe-.csv",
            "view-.png",
            "probe-a.txt",
            ".git",
            "horn.stl",
        ] {
            assert!(!is_known(name), "{name}");
        }
    }
}
