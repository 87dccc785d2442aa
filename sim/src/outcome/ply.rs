//! `coat.ply`: the refined mesh with film per face, binary PLY, for general-purpose viewers.
//!
//! In: the coated mesh. Out: bytes. Format: PLY 1.0 (G. Turk, 1994, from memory).

use super::coated::{Coated, state_code};
use super::tables::state_word;
use crate::film::State;
use std::io::{self, Write};

/// Writes `coat.ply`: corners in mm as doubles, faces with thickness and error in nm as floats, state, part and row.
///
/// # Errors
/// Those of the writer.
pub fn write(coated: &Coated<'_>, writer: &mut impl Write) -> io::Result<()> {
    writer.write_all(head(coated).as_bytes())?;
    for corner_m in &coated.corners_m {
        for coordinate_m in corner_m.to_array() {
            writer.write_all(&(coordinate_m * 1e3).to_le_bytes())?;
        }
    }
    for face in &coated.faces {
        writer.write_all(&[3])?;
        for corner in face.corners {
            writer.write_all(&corner.to_le_bytes())?;
        }
        writer.write_all(&single(face.facet.thickness_m * 1e9).to_le_bytes())?;
        writer.write_all(&single(face.facet.std_error_m * 1e9).to_le_bytes())?;
        writer.write_all(&[state_code(face.facet.state)])?;
        writer.write_all(&u32::try_from(face.part).unwrap_or(u32::MAX).to_le_bytes())?;
        writer.write_all(&face.facet.row.to_le_bytes())?;
    }
    Ok(())
}

/// The text before the numbers.
fn head(coated: &Coated<'_>) -> String {
    let states = [
        State::Reached,
        State::NoneSeen,
        State::Unreached,
        State::Buried,
        State::Needle,
    ];
    let states = states.map(|state| format!("{} {}", state_code(state), state_word(state)));
    let lines = [
        "ply".to_owned(),
        "format binary_little_endian 1.0".to_owned(),
        "comment lengths in mm, chamber frame at turning angle 0".to_owned(),
        format!("comment state: {}", states.join(", ")),
        "comment part: index in plan order; row: triangle of the part's mesh file".to_owned(),
        format!("element vertex {}", coated.corners_m.len()),
        "property double x".to_owned(),
        "property double y".to_owned(),
        "property double z".to_owned(),
        format!("element face {}", coated.faces.len()),
        "property list uchar int vertex_indices".to_owned(),
        "property float thickness_nm".to_owned(),
        "property float stderr_nm".to_owned(),
        "property uchar state".to_owned(),
        "property int part".to_owned(),
        "property int row".to_owned(),
        "end_header".to_owned(),
    ];
    lines.map(|line| line + "\n").concat()
}

/// Rounded to single precision, which is plenty for a picture.
#[expect(
    clippy::cast_possible_truncation,
    reason = "rounding to single precision is the purpose"
)]
pub(super) fn single(value: f64) -> f32 {
    value as f32
}
