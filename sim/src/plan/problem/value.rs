//! What can be wrong with a key or a value by itself.

use crate::units::{Dimension, example_number};
use thiserror::Error;

/// A key that nothing reads, or a value of the wrong kind or size.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ValueProblem {
    /// A key that nothing reads.
    #[error("is not known (nothing would read it); {}", did_you_mean(.nearest, .known))]
    UnknownKey {
        /// The known key nearest to it.
        nearest: Option<String>,
        /// The keys known there.
        known: String,
    },
    /// A key that belongs elsewhere.
    #[error("is not known here (it belongs to {home}); {instead}")]
    KeyElsewhere {
        /// Where it belongs.
        home: String,
        /// What to do.
        instead: String,
    },
    /// A key that must be said.
    #[error("is missing ({help}); write for example {example}")]
    Missing {
        /// What it says.
        help: &'static str,
        /// As in `diameter = "60 mm"`.
        example: String,
    },
    /// None of the keys of which one must be said.
    #[error("says none of {marks} (one of them is needed); write for example {example}")]
    NoMark {
        /// The keys.
        marks: String,
        /// An example.
        example: String,
    },
    /// Two keys of which one must be said.
    #[error("says both {one} and {other} (they exclude each other); keep one of them")]
    TwoMarks {
        /// One.
        one: &'static str,
        /// The other.
        other: &'static str,
    },
    /// A value of another kind.
    #[error("is {found} ({wanted} belongs here); write for example {example}")]
    OtherKind {
        /// What stands there.
        found: String,
        /// What belongs there.
        wanted: String,
        /// An example.
        example: String,
    },
    /// A bare number where a quantity belongs.
    #[error("{number} has no unit ({} is a text with its unit); write for example \"{} {}\"", .wanted.a_name(), example_number(.number, *.wanted), .wanted.usual_unit())]
    BareNumber {
        /// The number.
        number: String,
        /// What belongs there.
        wanted: Dimension,
    },
    /// A word that is none of those known.
    #[error("\"{word}\" is none of {words}; {}", .nearest.as_ref().map_or_else(|| "write one of them".to_owned(), |n| format!("did you mean {n}?")))]
    OtherWord {
        /// The word.
        word: String,
        /// Those known.
        words: String,
        /// The nearest of them.
        nearest: Option<String>,
    },
    /// NaN or an infinity.
    #[error("{number} is not finite (nothing can be computed from it); write a number")]
    NotFinite {
        /// As read.
        number: f64,
    },
    /// Out of range.
    #[error("{value} ({limit}); {instead}")]
    OutOfRange {
        /// As written.
        value: String,
        /// The limit and its reason.
        limit: String,
        /// What to do.
        instead: &'static str,
    },
    /// A direction without length.
    #[error("{value} points nowhere (a direction is not [0, 0, 0]); write for example [0, 0, 1]")]
    NoDirection {
        /// As written.
        value: String,
    },
    /// A list of another length.
    #[error("has {found} ({wanted}); {instead}")]
    ListLength {
        /// As in "2 entries".
        found: String,
        /// How many there should be and why.
        wanted: String,
        /// What to do.
        instead: String,
    },
    /// An empty text.
    #[error("is empty (something has to be said); write for example {example}")]
    EmptyText {
        /// An example.
        example: String,
    },
    /// A name that cannot be one.
    #[error("{name} cannot be a name ({why}); {instead}")]
    BadName {
        /// As written.
        name: String,
        /// Why.
        why: String,
        /// What to do.
        instead: &'static str,
    },
}

fn did_you_mean(nearest: &Option<String>, known: &str) -> String {
    match nearest {
        Some(nearest) => format!("did you mean {nearest}?"),
        None => format!("known are {known}"),
    }
}
