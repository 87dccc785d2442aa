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

fn fault(line: u64, why: String) -> Fault {
    Fault {
        place: ArtworkPlace::Line(line),
        problem: ArtworkProblem::Dxf { why },
    }
}

/// Checks the frame of a DXF and picks out what is drawn.
pub(super) fn drawing(bytes: &[u8]) -> Result<Scanned, Fault> {
    let binary = |what| Err(ArtworkProblem::BinaryDxf { what }.into());
    if bytes.starts_with(b"AutoCAD Binary DXF") || bytes.starts_with(b"AutoCAD DXB") {
        return binary("its first line says so");
    }
    if bytes.starts_with(b"AC10") {
        return binary("a DWG by its first bytes");
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = String::from_utf8_lossy(bytes); // names of layers may be in any old encoding
    let mut lines = text.lines().zip(1_u64..);
    let mut scan = Scan {
        scanned: Scanned {
            text: String::new(),
            lines: Vec::new(),
        },
        section: None,
        expects_name: false,
    };
    while let Some((code_text, line)) = lines.next() {
        if code_text.trim().is_empty() && lines.clone().all(|(rest, _)| rest.trim().is_empty()) {
            break;
        }
        let Ok(code) = code_text.trim().parse::<i16>() else {
            let shown: String = code_text.trim().chars().take(20).collect();
            let why = format!("{shown:?} stands where a group code, a whole number, belongs");
            return Err(fault(line, why));
        };
        let Some((value, value_line)) = lines.next() else {
            return Err(fault(line, format!("it ends after group code {code}")));
        };
        if (code, value.trim()) == (0, "EOF") {
            scan.scanned.text.push_str("0\nEOF\n");
            return Ok(scan.scanned);
        }
        scan.pair((code, line), (value, value_line))?;
    }
    let line = scan.scanned.lines.last().copied().unwrap_or(1);
    Err(fault(line, "it ends without EOF, cut short".to_owned()))
}

/// A look under way.
struct Scan {
    scanned: Scanned,
    section: Option<String>,
    expects_name: bool,
}

impl Scan {
    /// A group code and its value, each with its line.
    fn pair(
        &mut self,
        (code, line): (i16, u64),
        (value, value_line): (&str, u64),
    ) -> Result<(), Fault> {
        let word = value.trim();
        let is_kept = |name: &str| KEPT.contains(&name);
        let mut keep = self.section.as_deref().is_some_and(is_kept);
        if code == 0 {
            match word {
                "SECTION" if self.section.is_some() => {
                    return Err(fault(
                        value_line,
                        "a section begins inside another".to_owned(),
                    ));
                }
                "SECTION" => {
                    self.expects_name = true;
                    keep = false;
                }
                "ENDSEC" => self.section = None,
                entity if keep => allowed(entity, value_line)?,
                _ => {}
            }
        } else if code == 2 && self.expects_name {
            self.expects_name = false;
            self.section = Some(word.to_owned());
            if is_kept(word) {
                for (text, line) in [
                    ("0", line),
                    ("SECTION", line),
                    ("2", line),
                    (word, value_line),
                ] {
                    self.scanned.keep(text, line);
                }
            }
            keep = false;
        } else if keep && is_real(code) && !word.parse::<f64>().is_ok_and(f64::is_finite) {
            return Err(fault(value_line, format!("{word:?} is no finite number")));
        }
        if keep {
            self.scanned.keep(&code.to_string(), line);
            self.scanned.keep(value, value_line);
        }
        Ok(())
    }
}

/// Whether a group code is followed by a real number.
fn is_real(code: i16) -> bool {
    (10..=59).contains(&code) || (140..=147).contains(&code) || (210..=239).contains(&code)
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
