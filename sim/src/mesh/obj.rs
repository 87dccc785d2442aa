//! Wavefront OBJ: polygons over shared corners.
//!
//! In: text. Out: one row per triangle, polygons as `polygon` splits them, named by the objects
//! (`o`) and groups (`g`) they belong to. Materials are not looked at and no other file is opened.
//!
//! Read here and not by a library: the common one takes polylines for faces, reads past its texture
//! coordinates on crafted indices, and knows no line numbers.

use super::error::{At, Fault, MeshProblem, shortened};
use super::rows::Rows;
use super::text::{Words, number};
use glam::DVec3;

/// Statements that say nothing about polygons.
const HARMLESS: &[&str] = &[
    "vt",
    "vn",
    "p",
    "l",
    "s",
    "mg",
    "usemtl",
    "mtllib",
    "usemap",
    "maplib",
    "bevel",
    "c_interp",
    "d_interp",
    "lod",
    "shadow_obj",
    "trace_obj",
    "end",
];

/// Statements whose surface or content would be lost if they were passed over.
const FREE_FORM: &[&str] = &[
    "vp", "cstype", "deg", "bmat", "step", "curv", "curv2", "surf", "parm", "trim", "hole", "scrv",
    "sp", "con", "call", "csh", "bzp", "bsp", "cdc", "cdp", "res",
];

/// Reads an OBJ.
pub(super) fn read(bytes: &[u8], rows: &mut Rows) -> Result<(), Fault> {
    let mut corners = Vec::new();
    for_each_line(bytes, |line, words| {
        if words.next() == Some(b"v") {
            let place = position(words).at_line(line)?;
            corners.push(rows.corner(place).at_line(line)?);
        }
        Ok(())
    })?;
    let mut named = Named::default();
    let mut corners_so_far = 0;
    let mut face = Vec::new();
    for_each_line(bytes, |line, words| {
        let Some(keyword) = words.next() else {
            return Ok(());
        };
        match keyword {
            b"v" => corners_so_far += 1,
            b"f" => {
                face.clear();
                while let Some(word) = words.next() {
                    face.push(corner_of(word, &corners, corners_so_far).at_line(line)?);
                }
                rows.push_polygon(&face).at_line(line)?;
            }
            b"o" => named.start_object(rows, words),
            b"g" => named.start_groups(rows, words),
            _ => harmless(keyword).at_line(line)?,
        }
        Ok(())
    })?;
    named.end_object(rows);
    named.end_groups(rows);
    Ok(())
}

/// Goes through the lines, comments left out and continued lines joined.
fn for_each_line(
    bytes: &[u8],
    mut take: impl FnMut(usize, &mut Words<'_>) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut joined: Vec<u8> = Vec::new();
    let mut first = 1;
    for (number, line) in bytes.split(|byte| *byte == b'\n').enumerate() {
        let line = line.split(|byte| *byte == b'#').next().unwrap_or(line);
        let line = line.trim_ascii_end();
        if let Some(start) = line.strip_suffix(b"\\") {
            if joined.is_empty() {
                first = number + 1;
            }
            joined.extend_from_slice(start);
            joined.push(b' ');
        } else if joined.is_empty() {
            take(number + 1, &mut Words::new(line))?;
        } else {
            joined.extend_from_slice(line);
            take(first, &mut Words::new(&joined))?;
            joined.clear();
        }
    }
    if joined.is_empty() {
        Ok(())
    } else {
        take(first, &mut Words::new(&joined))
    }
}

/// x y z, then nothing, a weight of 1, or a colour.
fn position(words: &mut Words<'_>) -> Result<DVec3, MeshProblem> {
    let mut axes = [0.0; 3];
    for axis in &mut axes {
        let word = words.next().ok_or_else(|| MeshProblem::Unexpected {
            expected: "three coordinates",
            found: "the end of the line".to_owned(),
        })?;
        *axis = number(word)?;
    }
    if let Some(weight) = words.next()
        && words.next().is_none()
        && (number(weight)? - 1.0).abs() > 0.0
    {
        return Err(MeshProblem::Unsupported {
            feature: format!("a corner with weight {}", shortened(weight)),
            instead: "export polygons without weights",
        });
    }
    Ok(DVec3::from_array(axes))
}

/// Corner of `index`, `index/texture`, `index//normal` or `index/texture/normal`; a negative index
/// counts back from the last corner before the face.
fn corner_of(word: &[u8], corners: &[u32], so_far: usize) -> Result<u32, MeshProblem> {
    let index = word.split(|byte| *byte == b'/').next().unwrap_or(word);
    let index: i64 = std::str::from_utf8(index)
        .ok()
        .and_then(|text| text.parse().ok())
        .ok_or_else(|| MeshProblem::Unexpected {
            expected: "the number of a corner",
            found: shortened(word),
        })?;
    let place = if index < 0 {
        usize::try_from(index.unsigned_abs())
            .ok()
            .and_then(|back| so_far.checked_sub(back))
    } else {
        usize::try_from(index)
            .ok()
            .and_then(|number| number.checked_sub(1))
    };
    place
        .and_then(|place| corners.get(place).copied())
        .ok_or(MeshProblem::OutOfRange {
            what: "corner",
            index,
            count: if index < 0 { so_far } else { corners.len() } as u64,
        })
}

fn harmless(keyword: &[u8]) -> Result<(), MeshProblem> {
    let is = |known: &&str| known.as_bytes() == keyword;
    if HARMLESS.iter().any(is) {
        return Ok(());
    }
    if FREE_FORM.iter().any(is) {
        return Err(MeshProblem::Unsupported {
            feature: format!("the statement {:?}", shortened(keyword)),
            instead: "export polygons only, in one file",
        });
    }
    Err(MeshProblem::Unexpected {
        expected: "an OBJ statement",
        found: shortened(keyword),
    })
}

/// Names that hold for the rows being read, each with the row it started at.
#[derive(Default)]
struct Named {
    object: Option<(usize, String)>,
    groups: Vec<(usize, String)>,
}

impl Named {
    fn start_object(&mut self, rows: &mut Rows, words: &mut Words<'_>) {
        self.end_object(rows);
        let name = String::from_utf8_lossy(words.rest_of_line()).into_owned();
        self.object = Some((rows.len(), name));
    }

    fn end_object(&mut self, rows: &mut Rows) {
        if let Some((start, name)) = self.object.take() {
            rows.name_from(start, &name);
        }
    }

    fn start_groups(&mut self, rows: &mut Rows, words: &mut Words<'_>) {
        self.end_groups(rows);
        while let Some(name) = words.next() {
            let name = String::from_utf8_lossy(name).into_owned();
            self.groups.push((rows.len(), name));
        }
    }

    fn end_groups(&mut self, rows: &mut Rows) {
        for (start, name) in self.groups.drain(..) {
            rows.name_from(start, &name);
        }
    }
}
