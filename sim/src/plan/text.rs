//! Texts of plan files: loading them safely, and turning byte offsets into lines and columns.
//!
//! In: a path. Out: UTF-8 text without byte order mark, and [`Place`]s in it.

use super::model::Place;
use super::problem::FileProblem;
use crate::mesh::is_named_as_mesh;
use std::fs::File;
use std::io::Read;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// Largest plan, included files counted in, bytes. A plan of ten thousand steps stays under it; a
/// parsed document takes some hundred times the memory of its text.
pub(super) const MOST_BYTES: u64 = 1 << 20;

/// Bytes between two remembered character counts.
const STRIDE: usize = 4096;

/// A text with an index from bytes to lines and columns.
#[derive(Debug)]
pub(super) struct Text {
    /// File it came from.
    pub path: PathBuf,
    /// Content.
    pub content: String,
    /// Byte offsets at which lines begin.
    lines: Vec<usize>,
    /// Characters before byte 0, STRIDE, 2·STRIDE, …
    characters: Vec<usize>,
}

impl Text {
    pub fn new(path: &Path, content: String) -> Self {
        let line_ends = content.bytes().enumerate().filter(|(_, b)| *b == b'\n');
        let lines = std::iter::once(0)
            .chain(line_ends.map(|(i, _)| i + 1))
            .collect();
        let mut before = 0;
        let mut characters = Vec::with_capacity(content.len() / STRIDE + 1);
        for chunk in content.as_bytes().chunks(STRIDE) {
            characters.push(before);
            before += count_characters(chunk);
        }
        characters.push(before);
        Self {
            path: path.to_owned(),
            content,
            lines,
            characters,
        }
    }

    /// The place of a span; spans beyond the end are moved to the end.
    pub fn place(&self, span: &Range<usize>) -> Place {
        let start = span.start.min(self.content.len());
        let line = self.lines.partition_point(|&begin| begin <= start);
        let begin = self.lines[line - 1];
        Place {
            file: self.path.clone(),
            start,
            end: span.end.clamp(start, self.content.len()),
            line,
            column: 1 + self.characters_before(start) - self.characters_before(begin),
        }
    }

    /// The text of a place.
    pub fn slice(&self, place: &Place) -> &str {
        self.content.get(place.start..place.end).unwrap_or("")
    }

    fn characters_before(&self, byte: usize) -> usize {
        let chunk = byte / STRIDE;
        let rest = &self.content.as_bytes()[chunk * STRIDE..byte];
        self.characters.get(chunk).copied().unwrap_or(0) + count_characters(rest)
    }
}

/// Characters that begin in these bytes of UTF-8: all but the continuation bytes 10xxxxxx.
fn count_characters(bytes: &[u8]) -> usize {
    bytes.iter().filter(|b| **b & 0xc0 != 0x80).count()
}

/// Reads a file as UTF-8, at most `most_bytes` of it.
///
/// # Errors
/// When it is missing, a folder, unreadable, too large or not UTF-8.
pub(super) fn load(path: &Path, most_bytes: u64) -> Result<String, FileProblem> {
    let shown = path.to_owned();
    let unreadable = |error: &std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => FileProblem::Missing {
            path: shown.clone(),
        },
        _ => FileProblem::Unreadable {
            path: shown.clone(),
            why: error.to_string().to_lowercase(),
        },
    };
    let about = std::fs::metadata(path).map_err(|e| unreadable(&e))?;
    if about.is_dir() {
        return Err(FileProblem::Folder { path: shown });
    }
    if !about.is_file() {
        return Err(FileProblem::NoPlainFile { path: shown });
    }
    if is_named_as_mesh(path) {
        return Err(FileProblem::Mesh { path: shown });
    }
    let file = File::open(path).map_err(|e| unreadable(&e))?;
    let mut bytes = Vec::new();
    // One byte more than allowed tells "just fits" from "too large" whatever the folder entry says.
    file.take(most_bytes + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| unreadable(&e))?;
    if bytes.len() as u64 > most_bytes {
        return Err(FileProblem::TooLarge {
            path: shown,
            bytes: about.len().max(bytes.len() as u64),
            most_bytes,
        });
    }
    decode(path, bytes)
}

/// Bytes as UTF-8 without byte order mark.
///
/// # Errors
/// When they are not UTF-8.
pub(super) fn decode(path: &Path, bytes: Vec<u8>) -> Result<String, FileProblem> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(FileProblem::Utf16 {
            path: path.to_owned(),
        });
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let before = &bytes[..offset];
        let line_start = before
            .iter()
            .rposition(|b| *b == b'\n')
            .map_or(0, |i| i + 1);
        FileProblem::NotUtf8 {
            path: path.to_owned(),
            offset,
            byte: bytes.get(offset).copied().unwrap_or(0),
            line: 1 + before.iter().filter(|b| **b == b'\n').count(),
            column: 1 + count_characters(&before[line_start..]),
        }
    })?;
    Ok(without_mark(text))
}

/// Text without its byte order mark.
pub(super) fn without_mark(text: String) -> String {
    match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_also_far_into_a_long_line() {
        let content = format!("a = 1\nb = \"{}\" # end\n", "é".repeat(10_000));
        let text = Text::new(Path::new("x.toml"), content);
        let at = text.content.find("# end").unwrap();
        let place = text.place(&(at..at + 5));
        // `b = "` and 10 000 letters and `" ` come before it.
        assert_eq!((place.line, place.column), (2, 5 + 10_000 + 2 + 1));
        assert_eq!(text.slice(&place), "# end");
        let beyond = text.place(&(1_000_000..1_000_001));
        assert_eq!((beyond.line, beyond.column), (3, 1));
    }
}
