//! `coat.glb`: the refined mesh coloured by thickness, binary glTF 2.0, for general-purpose viewers.
//!
//! In: the coated mesh. Out: bytes. Lengths in metres; a turn about x brings the chamber's +z up, as glTF wants +y.
//! Format: glTF 2.0 specification, Khronos Group (ISO/IEC 12113:2022).

use super::coated::Coated;
use super::model::Outcome;
use super::ply::single;
use super::statistics::{Patch, distribution};
use super::survey::area_m2;
use crate::film::State;
use serde_json::{Value, json};
use std::io::{self, Write};

/// First word of a binary glTF, "glTF".
const MAGIC: u32 = 0x4654_6C67; // glTF 2.0, 4.4.2
/// Chunk types "JSON" and "BIN".
const JSON_CHUNK: u32 = 0x4E4F_534A; // glTF 2.0, 4.4.3
const BIN_CHUNK: u32 = 0x004E_4942;
/// Component types and the buffer target, glTF 2.0, 3.6 and 5.1.
const FLOAT: u32 = 5126;
const UNSIGNED_SHORT: u32 = 5123;
const ARRAY_BUFFER: u32 = 34962;

/// Colour of faces without film that is known: neither end of the map (sRGB).
const NO_FILM: [u8; 3] = [128, 128, 128];

/// Bytes of one corner: position as three floats, colour as four unsigned shorts.
const CORNER_BYTES: usize = 3 * 4 + 4 * 2;

/// Writes `coat.glb`: per part one mesh of separate triangles with vertex colours.
///
/// The colours run through viridis from 0 to the 99th percentile of thickness (by area, where film is); the legend
/// stands in the scene's `extras`. Faces without film, and buried ones, are grey.
///
/// # Errors
/// Those of the writer, or that the file would be longer than its format's 4 GiB.
pub fn write(outcome: &Outcome, coated: &Coated<'_>, writer: &mut impl Write) -> io::Result<()> {
    let to_m = legend_to_m(coated);
    let bin_bytes = coated.faces.len() * 3 * CORNER_BYTES;
    let mut text = serde_json::to_vec(&description(outcome, coated, to_m))?;
    text.resize(text.len().next_multiple_of(4), b' ');
    let chunks = [text.len(), bin_bytes];
    let [json_len, bin_len] = chunks.map(u32::try_from);
    let total = u32::try_from(12 + 8 + text.len() + 8 + bin_bytes);
    let (Ok(json_len), Ok(bin_len), Ok(total)) = (json_len, bin_len, total) else {
        return Err(io::Error::new(
            io::ErrorKind::FileTooLarge,
            "the coloured mesh would be longer than the 4 GiB of binary glTF; leave mesh out of --write",
        ));
    };
    for word in [MAGIC, 2, total, json_len, JSON_CHUNK] {
        writer.write_all(&word.to_le_bytes())?;
    }
    writer.write_all(&text)?;
    for word in [bin_len, BIN_CHUNK] {
        writer.write_all(&word.to_le_bytes())?;
    }
    // Per part: all positions, then all colours.
    for of_part in coated.faces.chunk_by(|a, b| a.part == b.part) {
        for corner in of_part.iter().flat_map(|face| face.corners) {
            for coordinate_m in coated.corners_m[corner as usize].to_array() {
                writer.write_all(&single(coordinate_m).to_le_bytes())?;
            }
        }
        for face in of_part {
            let colour = linear(colour(face.facet.state, face.facet.thickness_m, to_m));
            let bytes: Vec<u8> = colour
                .iter()
                .flat_map(|channel| channel.to_le_bytes())
                .collect();
            for _ in 0..3 {
                writer.write_all(&bytes)?;
            }
        }
    }
    Ok(())
}

/// The JSON chunk.
fn description(outcome: &Outcome, coated: &Coated<'_>, to_m: f64) -> Value {
    let (mut nodes, mut meshes, mut accessors, mut views) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut offset = 0;
    for of_part in coated.faces.chunk_by(|a, b| a.part == b.part) {
        let name = &outcome.parts[of_part[0].part].name;
        let corners = of_part.len() * 3;
        let corners_of_part = of_part.iter().flat_map(|face| face.corners);
        let places =
            corners_of_part.map(|corner| coated.corners_m[corner as usize].to_array().map(single));
        let start = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
        let (low, high) = places.fold(start, |(low, high), place| {
            let each = [0, 1, 2];
            (
                each.map(|axis| low[axis].min(place[axis])),
                each.map(|axis| high[axis].max(place[axis])),
            )
        });
        let first = accessors.len();
        for (bytes, accessor) in [
            (
                12,
                json!({"componentType": FLOAT, "type": "VEC3", "min": low, "max": high}),
            ),
            (
                8,
                json!({"componentType": UNSIGNED_SHORT, "type": "VEC4", "normalized": true}),
            ),
        ] {
            let mut accessor = accessor;
            accessor["bufferView"] = json!(views.len());
            accessor["count"] = json!(corners);
            accessors.push(accessor);
            views.push(json!({
                "buffer": 0, "byteOffset": offset, "byteLength": corners * bytes, "target": ARRAY_BUFFER
            }));
            offset += corners * bytes;
        }
        let attributes = json!({"POSITION": first, "COLOR_0": first + 1});
        nodes.push(json!({"mesh": meshes.len(), "name": name}));
        meshes
            .push(json!({"name": name, "primitives": [{"attributes": attributes, "material": 0}]}));
    }
    let children: Vec<usize> = (0..nodes.len()).collect();
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let mut up = json!({"name": "z up to y up", "rotation": [-half, 0.0, 0.0, half]});
    if !children.is_empty() {
        up["children"] = json!(children);
    }
    let root = nodes.len();
    nodes.push(up);
    let mut whole = json!({
        "asset": {"version": "2.0", "generator": format!("Evenfall {}", outcome.summary.program)},
        "scene": 0,
        "scenes": [{"name": outcome.summary.title, "nodes": [root], "extras": legend(to_m)}],
        "nodes": nodes,
        "materials": [{
            "name": "film thickness", "doubleSided": true,
            "pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": 1.0}
        }],
    });
    // The format allows no empty arrays.
    if !meshes.is_empty() {
        whole["meshes"] = json!(meshes);
        whole["accessors"] = json!(accessors);
        whole["bufferViews"] = json!(views);
        whole["buffers"] = json!([{"byteLength": offset}]);
    }
    whole
}

fn legend(to_m: f64) -> Value {
    json!({
        "quantity": "film thickness",
        "unit": "nm",
        "colour_map": "viridis",
        "from_nm": 0.0,
        "to_nm": to_m * 1e9,
        "beyond": "thicker film has the last colour",
        "without_film": "grey, as are buried faces",
    })
}

/// 99th percentile of thickness by area over faces with film, m.
fn legend_to_m(coated: &Coated<'_>) -> f64 {
    let with_film = coated
        .faces
        .iter()
        .filter(|face| face.facet.state == State::Reached);
    let patches = with_film.map(|face| Patch {
        area_m2: area_m2(face.facet),
        thickness_m: face.facet.thickness_m,
        std_error_m: 0.0,
    });
    distribution(patches).p99_m
}

/// sRGB colour of a face.
fn colour(state: State, thickness_m: f64, to_m: f64) -> [u8; 3] {
    if state != State::Reached || to_m <= 0.0 {
        return NO_FILM;
    }
    let colour = colorous::VIRIDIS.eval_continuous((thickness_m / to_m).clamp(0.0, 1.0));
    [colour.r, colour.g, colour.b]
}

/// Linear colour with full opacity, as vertex colours of glTF are meant.
///
/// c = s / 12.92 for s ≤ 0.04045, else ((s + 0.055) / 1.055)^2.4, both 0..=1.
///
/// Source: IEC 61966-2-1 (sRGB), from memory.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "0..=65535 by construction"
)]
fn linear(srgb: [u8; 3]) -> [u16; 4] {
    let channel = |value: u8| {
        let s = f64::from(value) / 255.0;
        let linear = if s <= 0.04045 {
            s / 12.92
        } else {
            libm::pow((s + 0.055) / 1.055, 2.4)
        };
        (linear * 65535.0).round() as u16
    };
    let [red, green, blue] = srgb.map(channel);
    [red, green, blue, u16::MAX]
}
