//! What can be wrong with an artwork file: one value that names the file, the place and the remedy.
//!
//! In: what a reader could not accept. Out: [`ArtworkError`]. What is harmless is mended and told in
//! [`super::Artwork::findings`].

use std::fmt;
use thiserror::Error;

/// One problem of an artwork file, with its place.
#[derive(Debug, Error)]
#[error("{file}{place}: {problem}")]
pub struct ArtworkError {
    /// The file as it was named.
    pub file: String,
    /// Where in the file.
    pub place: ArtworkPlace,
    /// What is wrong and what to do.
    #[source]
    pub problem: ArtworkProblem,
}

/// A place in an artwork file.
#[derive(Debug, Clone, PartialEq)]
pub enum ArtworkPlace {
    /// The file as a whole.
    Whole,
    /// Line, counted from 1.
    Line(u64),
    /// Line and column, counted from 1.
    Column(u64, u64),
    /// A point of the drawing, mm, origin in the middle of an SVG's page or at a DXF's origin, y up.
    Point([f64; 2]),
}

impl fmt::Display for ArtworkPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole => Ok(()),
            Self::Line(line) => write!(f, ":{line}"),
            Self::Column(line, column) => write!(f, ":{line}:{column}"),
            Self::Point([x, y]) => write!(f, ", at ({x:.3}, {y:.3}) mm"),
        }
    }
}

/// What is wrong with an artwork file.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ArtworkProblem {
    /// The operating system refused.
    #[error("cannot be read ({source}); check the path and the permissions")]
    Io {
        /// Its reason.
        #[from]
        source: std::io::Error,
    },
    /// A folder, a pipe or a device.
    #[error("is not a regular file (artwork is read whole); name an SVG or DXF file")]
    NotAFile,
    /// Too long to be a drawing for a cutter.
    #[error("has {bytes} bytes (more than {most}, too much for a cutter's drawing); simplify it")]
    TooLong {
        /// Its length.
        bytes: u64,
        /// The most that is read.
        most: u64,
    },
    /// Not text in UTF-8.
    #[error("is not UTF-8 text ({why}); save it as plain SVG in UTF-8")]
    NotText {
        /// What stands there instead.
        why: &'static str,
    },
    /// Broken XML.
    #[error("is not sound XML ({why}); open and save it again in a drawing program")]
    Xml {
        /// The parser's reason.
        why: String,
    },
    /// XML, but no SVG.
    #[error("is no SVG (its root is <{root}>); save the drawing as plain SVG")]
    NotSvg {
        /// Name of the root element.
        root: String,
    },
    /// An attribute that cannot be read, of which a lenient reader would drop the rest in silence.
    #[error("{attribute} of <{element}> cannot be read ({why}); draw this element again")]
    Attribute {
        /// Name of the attribute.
        attribute: &'static str,
        /// Name of the element.
        element: String,
        /// The parser's reason.
        why: String,
    },
    /// An element that has no outline here.
    #[error("<{element}> {why}; {instead}")]
    Element {
        /// Name of the element.
        element: String,
        /// Why it cannot be cut.
        why: &'static str,
        /// What to do.
        instead: &'static str,
    },
    /// A DXF that cannot be read.
    #[error("is not a sound DXF ({why}); export it again as ASCII DXF")]
    Dxf {
        /// The parser's reason.
        why: String,
    },
    /// A DXF in its binary form, or another of its kind.
    #[error("is a binary drawing ({what}); export it as ASCII DXF")]
    BinaryDxf {
        /// What it is.
        what: &'static str,
    },
    /// No physical size, and none said.
    #[error(
        "has no physical size (width {width}, height {height}; 72, 90 and 96 px per inch all exist); say unit_per_px = \"0.1 mm\", \
         or save it with width and height in mm"
    )]
    NoSize {
        /// Width as written.
        width: String,
        /// Height as written.
        height: String,
    },
    /// A physical size, and another said.
    #[error(
        "has a physical size (width {width}, height {height}; a second scale could contradict it); leave unit_per_px out"
    )]
    SizeTwice {
        /// Width as written.
        width: String,
        /// Height as written.
        height: String,
    },
    /// Width or height of the page are 0 or not numbers.
    #[error("has no page (width {width}, height {height}); give it both, above 0")]
    NoPage {
        /// Width as written.
        width: String,
        /// Height as written.
        height: String,
    },
    /// No unit for a DXF, or a scale that is no length.
    #[error("has a unit of {unit_m} m (must be above 0 and finite); use \"mm\" or \"in\"")]
    Unit {
        /// Metres per unit.
        unit_m: f64,
    },
    /// Nothing that could be cut.
    #[error("holds no closed filled shape, {found} (nothing could be cut); {instead}")]
    Empty {
        /// What was found instead.
        found: String,
        /// What to do.
        instead: &'static str,
    },
    /// A coordinate beyond anything a sheet can have.
    #[error(
        "reaches to {reach_m:.3e} m (a sheet of more than 10 m is a slip of units); correct the scale"
    )]
    TooFar {
        /// The coordinate.
        reach_m: f64,
    },
    /// More corners than can be worked with.
    #[error("has more than {most} corners after its curves were cut into lines; simplify it")]
    TooMany {
        /// The most that are taken.
        most: usize,
    },
    /// A chain of lines and arcs that does not close.
    #[error(
        "a chain of lines and arcs ends {gap_mm:.3} mm from its start (an open line encloses nothing); close it"
    )]
    Open {
        /// Distance between its ends, mm.
        gap_mm: f64,
    },
    /// Outlines that the triangulation could not follow.
    #[error("outlines cross here in a way that could not be mended; draw them apart")]
    Tangled,
}

/// A problem and its place, before the file's name is known.
#[derive(Debug)]
pub(super) struct Fault {
    pub place: ArtworkPlace,
    pub problem: ArtworkProblem,
}

impl Fault {
    pub fn in_file(self, file: &str) -> ArtworkError {
        ArtworkError {
            file: file.to_owned(),
            place: self.place,
            problem: self.problem,
        }
    }
}

impl<T: Into<ArtworkProblem>> From<T> for Fault {
    fn from(problem: T) -> Self {
        Self {
            place: ArtworkPlace::Whole,
            problem: problem.into(),
        }
    }
}
