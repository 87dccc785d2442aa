//! A first look at a DXF: group codes in pairs of lines, sections, and entities that have no outline.
//!
//! In: bytes. Out: the text of the sections that hold drawings, so that nothing else is parsed, with the lines it came
//! from.

use super::super::error::{ArtworkPlace, ArtworkProblem, Fault};

/// Entities whose outlines are read.
const READ: [&str; 14] = [
    "LINE",
    "ARC",
    "CIRCLE",
    "ELLIPSE",
    "LWPOLYLINE",
    "POLYLINE",
    "VERTEX",
    "SEQEND",
    "SPLINE",
    "INSERT",
    // and those that draw nothing on a sheet
    "POINT",
    "VIEWPORT",
    "ATTDEF",
    "ATTRIB",
];

/// What holds entities.
const KEPT: [&str; 2] = ["BLOCKS", "ENTITIES"];

/// The part of a DXF that is parsed.
#[derive(Debug)]
pub(super) struct Scanned {
    pub text: String,
    /// Line in the file of each line of `text`.
    lines: Vec<u64>,
}

impl Scanned {
    /// Where a line of `text` stands in the file.
    pub fn place_of(&self, line: Option<usize>) -> ArtworkPlace {
        let line =
            line.and_then(|line| self.lines.get(line.saturating_sub(1)).or(self.lines.last()));
        line.map_or(ArtworkPlace::Whole, |line| ArtworkPlace::Line(*line))
    }

    fn keep(&mut self, text: &str, line: u64) {
        self.text.push_str(text);
        self.text.push('\n');
        self.lines.push(line);
    }
}

/// Checks the frame of a DXF and picks out what is drawn.
pub(super) fn drawing(bytes: &[u8]) -> Result<Scanned, Fault> {
    if bytes.starts_with(b"AutoCAD Binary DXF") || bytes.starts_with(b"AutoCAD DXB") {
        let what = "its first line says so";
        return Err(ArtworkProblem::BinaryDxf { what }.into());
    }
    if bytes.starts_with(b"AC10") {
        let what = "a DWG by its first bytes";
        return Err(ArtworkProblem::BinaryDxf { what }.into());
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = String::from_utf8_lossy(bytes); // names of layers may be in any old encoding
    let mut lines = text.lines().zip(1_u64..);
    let mut scanned = Scanned {
        text: String::new(),
        lines: Vec::new(),
    };
    let (mut section, mut expects_name, mut ended) = (None::<String>, false, false);
    while let Some((code_text, line)) = lines.next() {
        if ended {
            break;
        }
        if code_text.trim().is_empty() && lines.clone().all(|(rest, _)| rest.trim().is_empty()) {
            break;
        }
        let fault = |line: u64, why: String| Fault {
            place: ArtworkPlace::Line(line),
            problem: ArtworkProblem::Dxf { why },
        };
        let Ok(code) = code_text.trim().parse::<i16>() else {
            let shown: String = code_text.trim().chars().take(20).collect();
            return Err(fault(
                line,
                format!("{shown:?} stands where a group code, a whole number, belongs"),
            ));
        };
        let Some((value, value_line)) = lines.next() else {
            return Err(fault(line, format!("it ends after group code {code}")));
        };
        let word = value.trim();
        let mut keep = section.as_deref().is_some_and(|name| KEPT.contains(&name));
        if code == 0 {
            match word {
                "SECTION" => {
                    if section.is_some() {
                        return Err(fault(
                            value_line,
                            "a section begins inside another".to_owned(),
                        ));
                    }
                    expects_name = true;
                    keep = false;
                }
                "ENDSEC" => section = None,
                "EOF" => ended = true,
                entity if keep => allowed(entity, value_line)?,
                _ => {}
            }
        } else if code == 2 && expects_name {
            expects_name = false;
            section = Some(word.to_owned());
            if KEPT.contains(&word) {
                for (text, line) in [
                    ("0", line),
                    ("SECTION", line),
                    ("2", line),
                    (word, value_line),
                ] {
                    scanned.keep(text, line);
                }
            }
            keep = false;
        } else if (10..=59).contains(&code)
            || (140..=147).contains(&code)
            || (210..=239).contains(&code)
        {
            let finite = word.parse::<f64>().is_ok_and(f64::is_finite);
            if keep && !finite {
                return Err(fault(value_line, format!("{word:?} is no finite number")));
            }
        }
        if keep {
            scanned.keep(code_text.trim(), line);
            scanned.keep(value, value_line);
        }
    }
    if !ended {
        let line = scanned.lines.last().copied().unwrap_or(1);
        let why = "it ends without EOF, cut short".to_owned();
        return Err(Fault {
            place: ArtworkPlace::Line(line),
            problem: ArtworkProblem::Dxf { why },
        });
    }
    scanned.text.push_str("0\nEOF\n");
    Ok(scanned)
}

fn allowed(entity: &str, line: u64) -> Result<(), Fault> {
    if READ.contains(&entity) || ["BLOCK", "ENDBLK"].contains(&entity) {
        return Ok(());
    }
    let (why, instead) = match entity {
        "TEXT" | "MTEXT" | "RTEXT" | "ARCALIGNEDTEXT" | "DIMENSION" | "TOLERANCE" | "LEADER"
        | "MULTILEADER" => (
            "is text, whose shape depends on the fonts of a machine",
            "explode it into polylines",
        ),
        "HATCH" | "SOLID" | "TRACE" | "MPOLYGON" => (
            "is a filling, which is not read",
            "keep its closed outline instead",
        ),
        _ => (
            "is not read",
            "explode it into lines, arcs and polylines, or leave it out",
        ),
    };
    Err(Fault {
        place: ArtworkPlace::Line(line),
        problem: ArtworkProblem::Element {
            element: entity.chars().take(40).collect(),
            why,
            instead,
        },
    })
}
