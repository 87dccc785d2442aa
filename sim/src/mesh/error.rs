//! What can be wrong with a mesh file: one value that names the file, the place and the remedy.
//!
//! In: what a reader could not accept. Out: [`MeshError`], whose text a person can act on. Nothing
//! is mended here: what is not named as harmless in [`super::MeshHealth`] ends the reading.

use std::fmt;
use thiserror::Error;

/// One problem of a mesh file, with its place.
#[derive(Debug, Error)]
#[error("{file}{place}: {problem}")]
pub struct MeshError {
    /// The file as it was named.
    pub file: String,
    /// Where in the file.
    pub place: MeshPlace,
    /// What is wrong and what to do.
    #[source]
    pub problem: MeshProblem,
}

/// A place in a mesh file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MeshPlace {
    /// The file as a whole.
    Whole,
    /// Offset in bytes from the start of the file.
    Byte(u64),
    /// Line, counted from 1.
    Line(u64),
    /// A named element of the file, as in `object 3, triangle 17`.
    Element(String),
}

impl fmt::Display for MeshPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole => Ok(()),
            Self::Byte(byte) => write!(f, ", byte {byte}"),
            Self::Line(line) => write!(f, ":{line}"),
            Self::Element(element) => write!(f, ", {element}"),
        }
    }
}

/// What is wrong with a mesh file.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum MeshProblem {
    /// The operating system refused.
    #[error("cannot be read ({source}); check the path and the permissions")]
    Io {
        /// Its reason.
        #[from]
        source: std::io::Error,
    },
    /// A folder, a pipe or a device.
    #[error("is not a regular file (a mesh is read whole); name a mesh file")]
    NotAFile,
    /// The file name's end is not one that is read.
    #[error(
        "extension {extension:?} is not a mesh format that is read; export as .stl, .obj, .ply, .3mf, .gltf or .glb"
    )]
    UnknownExtension {
        /// The extension, without its dot.
        extension: String,
    },
    /// Name and content disagree.
    #[error(
        "is named like {named} but holds {holds} (reading it as either could be wrong); rename it or export it again"
    )]
    NameAndContentDiffer {
        /// Format by name.
        named: &'static str,
        /// What the first bytes say.
        holds: &'static str,
    },
    /// STL, OBJ and PLY need a unit from outside.
    #[error(
        "{format} files carry no unit (a factor of 25.4 would go unseen); say it, as in unit = \"mm\""
    )]
    UnitMissing {
        /// The format.
        format: &'static str,
    },
    /// 3MF and glTF carry their own.
    #[error(
        "{format} files carry their own unit (a second one could contradict it); leave the unit out"
    )]
    UnitTwice {
        /// The format.
        format: &'static str,
    },
    /// A unit that is not a length.
    #[error("unit of {unit_m} m (must be above 0 and finite); use 0.001 for millimetres")]
    UnitOutOfRange {
        /// Metres per unit.
        unit_m: f64,
    },
    /// No triangle at all.
    #[error("holds no triangles, {found} (nothing could be coated); export the surface as a mesh")]
    Empty {
        /// What was found instead.
        found: String,
    },
    /// Fewer bytes than announced.
    #[error(
        "{what} needs {needs} bytes and {has} are left (the file is cut short or its counts are wrong); copy or export it again"
    )]
    Truncated {
        /// What was being read.
        what: &'static str,
        /// Bytes announced.
        needs: u64,
        /// Bytes there.
        has: u64,
    },
    /// A binary STL whose length and count disagree.
    #[error(
        "announces {triangles} triangles, which take {needs} bytes, and has {has} bytes (cut short, or the count is wrong); copy or export it again"
    )]
    StlLength {
        /// Triangles in the header.
        triangles: u32,
        /// 84 + 50 n.
        needs: u64,
        /// Length of the file.
        has: u64,
    },
    /// A coordinate that is no number.
    #[error("{axis} coordinate is {value} (a corner must be somewhere); export the mesh again")]
    NotFinite {
        /// x, y or z.
        axis: char,
        /// NaN or infinity.
        value: f64,
    },
    /// A coordinate beyond single precision in metres.
    #[error(
        "{axis} coordinate {value} is {value_m:e} m (at most 3.4e38 m can be traced); check the unit and the file"
    )]
    TooLarge {
        /// x, y or z.
        axis: char,
        /// As in the file.
        value: f64,
        /// In metres.
        value_m: f64,
    },
    /// A piece of text that is not what must stand there.
    #[error("expected {expected}, found {found:?}; mend the line or export the mesh again")]
    Unexpected {
        /// What belongs there.
        expected: &'static str,
        /// What stands there, shortened.
        found: String,
    },
    /// An index that points nowhere.
    #[error("{what} {index} does not exist (there are {count}); export the mesh again")]
    OutOfRange {
        /// What is pointed at.
        what: &'static str,
        /// The index as in the file.
        index: i64,
        /// How many there are.
        count: u64,
    },
    /// A face with fewer than three corners.
    #[error("face has {corners} corners (3 are needed to enclose an area); export the mesh again")]
    TooFewCorners {
        /// Its corners.
        corners: usize,
    },
    /// A polygon that cannot be split.
    #[error(
        "polygon of {corners} corners crosses itself (there is no one way to split it); triangulate it before export"
    )]
    PolygonCrosses {
        /// Its corners.
        corners: usize,
    },
    /// Polygons that take too long to split.
    #[error(
        "polygons up to this one of {corners} corners are not convex (more than {limit} tests to split them); triangulate them before export"
    )]
    PolygonsTooComplex {
        /// Corners of the last one.
        corners: usize,
        /// Most tests for a file.
        limit: u64,
    },
    /// More triangles than the file can honestly hold, or than can be numbered.
    #[error(
        "makes more than {limit} triangles, the most for a file of its size (copies of copies would fill the memory); write the parts out one by one"
    )]
    TooManyTriangles {
        /// Most that are accepted for this file.
        limit: u64,
    },
    /// More copies of objects than any honest file has.
    #[error(
        "places more than {limit} copies of objects (copies of copies would have no end); write the parts out one by one"
    )]
    TooManyCopies {
        /// Most that are accepted.
        limit: usize,
    },
    /// Shells within shells without end.
    #[error(
        "{shells} closed shells overlap in {pairs} pairs or more (the limit is {limit}; sorting solids from hollows would not end); split the file into parts"
    )]
    TooEntangled {
        /// Closed shells.
        shells: usize,
        /// Pairs found.
        pairs: usize,
        /// Most that are accepted.
        limit: usize,
    },
    /// The archive cannot be opened or a member cannot be unpacked.
    #[error("archive cannot be unpacked ({detail}); save the 3MF again")]
    Archive {
        /// The unpacker's reason.
        detail: String,
    },
    /// An archive member that grows out of proportion.
    #[error(
        "unpacks to more than {limit} bytes out of {packed} (an archive bomb would fill the memory); save the 3MF again"
    )]
    Inflates {
        /// Bytes accepted.
        limit: u64,
        /// Bytes of the archive.
        packed: u64,
    },
    /// XML that is not well formed.
    #[error("XML cannot be read ({detail}); save the 3MF again")]
    Xml {
        /// The parser's reason.
        detail: String,
    },
    /// A document type declaration.
    #[error(
        "XML declares a document type (its entities can explode; 3MF forbids it); save the 3MF again"
    )]
    DocumentType,
    /// JSON that cannot be read.
    #[error("JSON cannot be read ({detail}); export the glTF again")]
    Json {
        /// The parser's reason.
        detail: String,
    },
    /// An attribute or key that must be there.
    #[error("{key} is missing (it is required here); export the file again")]
    Missing {
        /// The key.
        key: &'static str,
    },
    /// Something points back at itself.
    #[error("{what} contains itself (the file would have no end); export the file again")]
    Circle {
        /// What does.
        what: &'static str,
    },
    /// Nesting beyond reason.
    #[error("{what} are nested more than {limit} deep; flatten them before export")]
    TooDeep {
        /// What is nested.
        what: &'static str,
        /// Deepest accepted.
        limit: usize,
    },
    /// A reference out of the file's own folder.
    #[error(
        "refers to {path:?} (only files in the mesh's own folder or below are opened); put the file there and name it relatively"
    )]
    ClimbsOut {
        /// As in the file.
        path: String,
    },
    /// A file that is referred to and is not there.
    #[error("refers to {path:?}, which cannot be read ({detail}); put it beside the mesh")]
    Companion {
        /// As in the file.
        path: String,
        /// Why not.
        detail: String,
    },
    /// A feature of the format that is not read.
    #[error("uses {feature}, which is not read; {instead}")]
    Unsupported {
        /// The feature.
        feature: String,
        /// What to do.
        instead: &'static str,
    },
}

/// A problem with its place, before the file's name is added.
#[derive(Debug)]
pub(super) struct Fault {
    pub place: MeshPlace,
    pub problem: Box<MeshProblem>,
}

impl From<MeshProblem> for Fault {
    fn from(problem: MeshProblem) -> Self {
        Self {
            place: MeshPlace::Whole,
            problem: Box::new(problem),
        }
    }
}

impl Fault {
    /// Adds the file's name.
    pub fn in_file(self, file: &str) -> MeshError {
        MeshError {
            file: file.to_owned(),
            place: self.place,
            problem: *self.problem,
        }
    }
}

/// Adds a place to a problem; the place is only made when there is one.
pub(super) trait At<T> {
    fn at(self, place: impl FnOnce() -> MeshPlace) -> Result<T, Fault>;
    fn at_byte(self, byte: usize) -> Result<T, Fault>;
    fn at_line(self, line: usize) -> Result<T, Fault>;
    fn at_element(self, element: impl FnOnce() -> String) -> Result<T, Fault>;
}

impl<T> At<T> for Result<T, MeshProblem> {
    fn at(self, place: impl FnOnce() -> MeshPlace) -> Result<T, Fault> {
        self.map_err(|problem| Fault {
            place: place(),
            problem: Box::new(problem),
        })
    }
    fn at_byte(self, byte: usize) -> Result<T, Fault> {
        self.at(|| MeshPlace::Byte(byte as u64))
    }
    fn at_line(self, line: usize) -> Result<T, Fault> {
        self.at(|| MeshPlace::Line(line as u64))
    }
    fn at_element(self, element: impl FnOnce() -> String) -> Result<T, Fault> {
        self.at(|| MeshPlace::Element(element()))
    }
}

/// At most 40 characters of what stands in a file, for a diagnostic.
pub(super) fn shortened(text: &[u8]) -> String {
    let head = &text[..text.len().min(200)];
    let head = String::from_utf8_lossy(head);
    if head.chars().count() > 40 || text.len() > 200 {
        head.chars().take(40).chain("…".chars()).collect()
    } else {
        head.into_owned()
    }
}
