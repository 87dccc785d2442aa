//! STL: binary and ASCII.
//!
//! In: bytes. Out: one row per facet. The stored normals are not used: the side of a facet is that
//! of its corner order.

use super::error::{At, Fault, MeshProblem, shortened};
use super::read::MeshFormat;
use super::rows::Rows;
use super::text::{Words, number};
use glam::DVec3;

const HEADER: usize = 84;
const RECORD: usize = 50;

/// Tells binary from ASCII: a length of exactly 84 + 50 n is binary whatever the header says.
pub(super) fn format_of(bytes: &[u8]) -> MeshFormat {
    let start = bytes.trim_ascii_start();
    let start = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start);
    let says_solid = start.len() >= 5 && start[..5].eq_ignore_ascii_case(b"solid");
    let text = !bytes[..bytes.len().min(1000)].contains(&0);
    if !length_agrees(bytes) && says_solid && text {
        MeshFormat::StlAscii
    } else {
        MeshFormat::StlBinary
    }
}

/// True if the length of the file is the one that its count of facets announces.
pub(super) fn length_agrees(bytes: &[u8]) -> bool {
    announced(bytes).is_some_and(|count| length(count) == bytes.len() as u64)
}

fn announced(bytes: &[u8]) -> Option<u32> {
    let count = bytes.get(HEADER - 4..HEADER)?;
    Some(u32::from_le_bytes(count.try_into().ok()?))
}

fn length(count: u32) -> u64 {
    HEADER as u64 + RECORD as u64 * u64::from(count)
}

/// Reads a binary STL.
pub(super) fn read_binary(bytes: &[u8], rows: &mut Rows) -> Result<(), Fault> {
    let Some(count) = announced(bytes) else {
        return Err(MeshProblem::Truncated {
            what: "the header of a binary STL",
            needs: HEADER as u64,
            has: bytes.len() as u64,
        }
        .into());
    };
    if !length_agrees(bytes) {
        return Err(MeshProblem::StlLength {
            triangles: count,
            needs: length(count),
            has: bytes.len() as u64,
        })
        .at_byte(HEADER - 4);
    }
    for (row, record) in bytes[HEADER..].chunks_exact(RECORD).enumerate() {
        let mut corners = [0; 3];
        for (number, corner) in corners.iter_mut().enumerate() {
            // 12 bytes of normal, then three corners of three little-endian floats.
            let first = 12 + 12 * number;
            let axis = |axis: usize| {
                let at = first + 4 * axis;
                let bits = [record[at], record[at + 1], record[at + 2], record[at + 3]];
                f64::from(f32::from_le_bytes(bits))
            };
            *corner = rows
                .corner(DVec3::new(axis(0), axis(1), axis(2)))
                .at_byte(HEADER + RECORD * row + first)?;
        }
        rows.push(corners).at_byte(HEADER + RECORD * row)?;
    }
    Ok(())
}

/// Reads an ASCII STL; each `solid` with facets becomes a named object.
pub(super) fn read_ascii(bytes: &[u8], rows: &mut Rows) -> Result<(), Fault> {
    let mut words = Words::new(bytes);
    while let Some(word) = words.next() {
        if !word.eq_ignore_ascii_case(b"solid") {
            return Err(unexpected("\"solid\"", word)).at_line(words.line());
        }
        let name = String::from_utf8_lossy(words.rest_of_line());
        let start = rows.len();
        loop {
            let word = must(&mut words, "\"facet\" or \"endsolid\"")?;
            if word.eq_ignore_ascii_case(b"endsolid") {
                words.rest_of_line();
                break;
            }
            if !word.eq_ignore_ascii_case(b"facet") {
                return Err(unexpected("\"facet\" or \"endsolid\"", word)).at_line(words.line());
            }
            read_facet(&mut words, rows)?;
        }
        rows.name_from(start, &name);
    }
    Ok(())
}

fn read_facet(words: &mut Words<'_>, rows: &mut Rows) -> Result<(), Fault> {
    keyword(words, b"normal", "\"normal\"")?;
    for _ in 0..3 {
        // Not used, and "nan" there is common for facets without area.
        must(words, "a component of the normal")?;
    }
    keyword(words, b"outer", "\"outer loop\"")?;
    keyword(words, b"loop", "\"outer loop\"")?;
    let mut corners = [0; 3];
    for corner in &mut corners {
        keyword(words, b"vertex", "\"vertex\"")?;
        let mut axes = [0.0; 3];
        for axis in &mut axes {
            let word = must(words, "a coordinate")?;
            *axis = number(word).at_line(words.line())?;
        }
        *corner = rows.corner(DVec3::from_array(axes)).at_line(words.line())?;
    }
    keyword(words, b"endloop", "\"endloop\" after three corners")?;
    keyword(words, b"endfacet", "\"endfacet\"")?;
    rows.push(corners).at_line(words.line())
}

fn keyword(words: &mut Words<'_>, wanted: &[u8], expected: &'static str) -> Result<(), Fault> {
    let word = must(words, expected)?;
    if word.eq_ignore_ascii_case(wanted) {
        Ok(())
    } else {
        Err(unexpected(expected, word)).at_line(words.line())
    }
}

fn must<'a>(words: &mut Words<'a>, expected: &'static str) -> Result<&'a [u8], Fault> {
    match words.next() {
        Some(word) => Ok(word),
        None => Err(MeshProblem::Unexpected {
            expected,
            found: "the end of the file".to_owned(),
        })
        .at_line(words.line()),
    }
}

fn unexpected(expected: &'static str, word: &[u8]) -> MeshProblem {
    MeshProblem::Unexpected {
        expected,
        found: shortened(word),
    }
}
