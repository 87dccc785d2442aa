//! Words and numbers of text formats, with their lines.
//!
//! In: bytes that should be text. Out: words between blanks; bytes that are no text stay bytes.

use super::error::{MeshProblem, shortened};

/// Words of a text, one after the other.
pub(super) struct Words<'a> {
    rest: &'a [u8],
    line: usize,
}

impl<'a> Words<'a> {
    /// Starts at line 1, past a byte order mark.
    pub fn new(text: &'a [u8]) -> Self {
        Self {
            rest: text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text),
            line: 1,
        }
    }

    /// Line of the word last given, counted from 1.
    pub fn line(&self) -> usize {
        self.line
    }

    /// The next word, on this line or a later one.
    pub fn next(&mut self) -> Option<&'a [u8]> {
        let mut at = 0;
        while let Some(byte) = self.rest.get(at)
            && byte.is_ascii_whitespace()
        {
            self.line += usize::from(*byte == b'\n');
            at += 1;
        }
        self.rest = &self.rest[at..];
        let end = self
            .rest
            .iter()
            .position(u8::is_ascii_whitespace)
            .unwrap_or(self.rest.len());
        let (word, rest) = self.rest.split_at(end);
        self.rest = rest;
        (!word.is_empty()).then_some(word)
    }

    /// Bytes not yet given.
    pub fn left(&self) -> usize {
        self.rest.len()
    }

    /// What is left of this line, without blanks at either end.
    pub fn rest_of_line(&mut self) -> &'a [u8] {
        let end = self
            .rest
            .iter()
            .position(|byte| *byte == b'\n')
            .unwrap_or(self.rest.len());
        let (line, rest) = self.rest.split_at(end);
        self.rest = rest;
        line.trim_ascii()
    }
}

/// Reads a decimal number; whether it is finite is asked where it is used.
pub(super) fn number(word: &[u8]) -> Result<f64, MeshProblem> {
    std::str::from_utf8(word)
        .ok()
        .and_then(|text| text.parse().ok())
        .ok_or_else(|| MeshProblem::Unexpected {
            expected: "a number with a decimal point",
            found: shortened(word),
        })
}
