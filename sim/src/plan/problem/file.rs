//! What can be wrong with a file as such.

use std::path::PathBuf;
use thiserror::Error;

/// A file that cannot be read, or is no TOML.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum FileProblem {
    /// It is not there.
    #[error("{} does not exist (nothing can be read from it); check the path", .path.display())]
    Missing {
        /// File.
        path: PathBuf,
    },
    /// It is a folder.
    #[error("{} is a folder (a text file belongs here); name the file inside it", .path.display())]
    Folder {
        /// Folder.
        path: PathBuf,
    },
    /// It is a pipe, a device or the like.
    #[error("{} is no plain file (its end would be unknown); copy it into a file", .path.display())]
    NoPlainFile {
        /// Path.
        path: PathBuf,
    },
    /// Its ending is that of a mesh.
    #[error("{} is a mesh by its ending (a plan in TOML belongs here); name it as mesh of a [[part]] in a plan", .path.display())]
    Mesh {
        /// File.
        path: PathBuf,
    },
    /// The system refuses.
    #[error("{} cannot be read ({why}); check its permissions", .path.display())]
    Unreadable {
        /// File.
        path: PathBuf,
        /// The system's reason.
        why: String,
    },
    /// It is larger than anything sensible.
    #[error("{} has {bytes} bytes (at most {most_bytes} are read); is it the right file?", .path.display())]
    TooLarge {
        /// File.
        path: PathBuf,
        /// Its size.
        bytes: u64,
        /// The limit.
        most_bytes: u64,
    },
    /// Plan and included files together are larger than anything sensible.
    #[error(
        "plan and included files have more than {most_bytes} bytes together (more is not read); include less"
    )]
    TooLargeTogether {
        /// The limit.
        most_bytes: u64,
    },
    /// Not UTF-8.
    #[error("{} is not UTF-8 (byte 0x{byte:02X} at offset {offset}, line {line} column {column}); save it as UTF-8", .path.display())]
    NotUtf8 {
        /// File.
        path: PathBuf,
        /// Offset of the first bad byte.
        offset: usize,
        /// That byte.
        byte: u8,
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
    },
    /// UTF-16.
    #[error("{} is UTF-16 (TOML is UTF-8); save it as UTF-8", .path.display())]
    Utf16 {
        /// File.
        path: PathBuf,
    },
    /// No TOML.
    #[error("not TOML here: {what}; {instead}")]
    Toml {
        /// What the TOML reader says.
        what: String,
        /// What to do.
        instead: String,
    },
    /// More TOML errors than anybody reads.
    #[error(
        "{more} more places that are not TOML (only the first {shown} are listed); correct those first"
    )]
    MoreToml {
        /// Not listed.
        more: usize,
        /// Listed.
        shown: usize,
    },
    /// An include that leads back to itself.
    #[error("\"{name}\" closes a circle ({circle}); remove one of these includes")]
    Circle {
        /// As written.
        name: String,
        /// The files on the way.
        circle: String,
    },
    /// More includes than anything sensible.
    #[error("\"{name}\" would be file {} of this plan (at most {most} are read); include less", .most + 1)]
    TooManyFiles {
        /// As written.
        name: String,
        /// The limit.
        most: usize,
    },
    /// A table of numbers with something wrong in it.
    #[error("{}:{line}: {what}; {instead}", .path.display())]
    Table {
        /// File.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// What is wrong with it and why.
        what: String,
        /// What to do.
        instead: String,
    },
}
