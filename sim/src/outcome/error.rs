//! What can go wrong with an outcome on disk, and what no outcome may hold.
//!
//! In: writing, reading and validating. Out: typed errors with texts for a person.

use std::io;
use std::path::{Path, PathBuf};

/// Why an outcome folder could not be written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The folder holds something that no outcome has.
    #[error(
        "{} holds {entry} (not a file of an outcome, and the whole folder would be replaced); name another folder with \
         --out, or move {entry} away",
        folder.display()
    )]
    ForeignFile {
        /// The folder.
        folder: PathBuf,
        /// Name of the entry.
        entry: String,
    },
    /// The folder's files have the right names, but none of them carries the format's mark.
    #[error(
        "{} holds neither a summary.json nor a coat.evenfall that Evenfall wrote (so it may be somebody else's, and the whole \
         folder would be replaced); name another folder with --out, or move it away",
        folder.display()
    )]
    NoMark {
        /// The folder.
        folder: PathBuf,
    },
    /// The target is a file.
    #[error("{} is a file (an outcome is a folder); name another folder with --out", path.display())]
    NotAFolder {
        /// The path.
        path: PathBuf,
    },
    /// The target has no parent or no name, like `/`.
    #[error("{} has no name of its own (the outcome is written beside it and then put in its place); name a folder with --out", path.display())]
    NoName {
        /// The path.
        path: PathBuf,
    },
    /// The operating system refused.
    #[error("cannot {doing} {}: {source}", path.display())]
    Io {
        /// What was tried, as in "write".
        doing: &'static str,
        /// On what.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The outcome itself is not sound.
    #[error(
        "the outcome is not sound: {0} (a defect of the program, nothing was written); please report it"
    )]
    Defect(#[from] Defect),
}

impl WriteError {
    /// For `map_err` on file operations.
    pub(super) fn io(doing: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_path_buf();
        move |source| Self::Io {
            doing,
            path,
            source,
        }
    }
}

/// Why an outcome could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// There is nothing.
    #[error("{} does not exist; name an outcome folder or a coat.evenfall", path.display())]
    Missing {
        /// The path.
        path: PathBuf,
    },
    /// The folder was written without the container.
    #[error("{} holds no coat.evenfall (it was left out by --write, or this is no outcome folder); run coat again with --write outcome among the files", folder.display())]
    NoContainer {
        /// The folder.
        folder: PathBuf,
    },
    /// The operating system refused.
    #[error("cannot read {}: {source}", path.display())]
    Io {
        /// The path.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Not a container of this program.
    #[error("{} is not an outcome of Evenfall ({detail}); name an outcome folder or a coat.evenfall", path.display())]
    NotOurs {
        /// The path.
        path: PathBuf,
        /// What was found instead.
        detail: String,
    },
    /// Written by a newer build.
    #[error("{} has format version {found} (this build reads up to version {known}); open it with a newer Evenfall", path.display())]
    Newer {
        /// The path.
        path: PathBuf,
        /// Version of the file.
        found: u64,
        /// Newest known version.
        known: u32,
    },
    /// One of ours, but damaged.
    #[error("{} is damaged: {detail}; run coat again", path.display())]
    Damaged {
        /// The path.
        path: PathBuf,
        /// What is wrong.
        detail: Damage,
    },
}

/// What is wrong with a container.
#[derive(Debug, thiserror::Error)]
pub enum Damage {
    /// An entry is not there.
    #[error("{entry} is missing")]
    Missing {
        /// Name in the container.
        entry: String,
    },
    /// An entry has another size than the header says.
    #[error("{entry} has {found} bytes where {expected} belong")]
    Size {
        /// Name in the container.
        entry: String,
        /// Its bytes.
        found: u64,
        /// Bytes that the header asks for.
        expected: u128,
    },
    /// An entry could not be unpacked.
    #[error("{entry} cannot be unpacked: {source}")]
    Unpack {
        /// Name in the container.
        entry: String,
        /// What the unpacker says.
        source: io::Error,
    },
    /// More bytes than the file has.
    #[error("its entries claim more bytes than the file's {file_bytes}")]
    Overlap {
        /// Length of the file.
        file_bytes: u64,
    },
    /// The header is not what it should be.
    #[error("its header cannot be understood: {source}")]
    Header {
        /// What the parser says.
        source: serde_json::Error,
    },
    /// A code that no state has.
    #[error("{entry} holds {code} at place {index} where a state's code 0 to 4 belongs")]
    State {
        /// Name in the container.
        entry: String,
        /// Place.
        index: usize,
        /// The code.
        code: u8,
    },
    /// Well packed, but the content contradicts itself.
    #[error(transparent)]
    Content(#[from] Defect),
}

/// What no outcome may hold.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Defect {
    /// Two things that go together differ in number.
    #[error("{owner} has {found} {what} where {expected} belong")]
    Count {
        /// Part, body or "the outcome".
        owner: String,
        /// What is counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many belong there.
        expected: usize,
    },
    /// A triangle refers to a corner that does not exist.
    #[error("triangle {triangle} of {owner} refers to corner {corner} of {corners}")]
    Corner {
        /// Part or body.
        owner: String,
        /// The triangle.
        triangle: usize,
        /// The corner it refers to.
        corner: u32,
        /// Number of corners.
        corners: usize,
    },
    /// Facets are not in the order of rows, or belong to none.
    #[error("facet {facet} of {owner} belongs to row {row}, out of order or beyond {rows} rows")]
    Row {
        /// Part.
        owner: String,
        /// The facet.
        facet: usize,
        /// The row it refers to.
        row: u32,
        /// Number of rows.
        rows: usize,
    },
    /// A number that is none, is infinite, or lies outside its range.
    #[error("{what} {index} of {owner} is {value}")]
    Number {
        /// Part, body or "the outcome".
        owner: String,
        /// Which number.
        what: &'static str,
        /// Its place.
        index: usize,
        /// Its value.
        value: f64,
    },
    /// A number of the summary is not finite, so that JSON cannot carry it.
    #[error("a number of the summary is not finite")]
    Summary,
    /// The mark is another one.
    #[error("it is marked {format:?} version {version}")]
    Mark {
        /// Format.
        format: String,
        /// Version.
        version: u32,
    },
}
