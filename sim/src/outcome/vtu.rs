//! `coat.vtu`: the refined mesh with film per cell, as an XML unstructured grid, for general-purpose viewers.
//!
//! In: the coated mesh. Out: XML with inline base64 arrays, written piece by piece. Format: "VTK XML file formats",
//! serial unstructured grid version 1.0 (from memory).

use super::coated::{Coated, Face, state_code};
use super::model::Outcome;
use super::ply::single;
use base64::engine::general_purpose::STANDARD;
use base64::write::EncoderWriter;
use std::io::{self, Write};

/// Cell type of a triangle.
const TRIANGLE: u8 = 5; // VTK_TRIANGLE

/// Writes `coat.vtu`: points in mm; cells with thickness, error and single metals in nm, state, part and row.
///
/// # Errors
/// Those of the writer.
pub fn write(outcome: &Outcome, coated: &Coated<'_>, writer: &mut impl Write) -> io::Result<()> {
    let (corners, faces) = (&coated.corners_m, &coated.faces);
    writeln!(writer, "<?xml version=\"1.0\"?>")?;
    writeln!(
        writer,
        "<!-- lengths in mm, chamber frame at turning angle 0 -->"
    )?;
    writeln!(
        writer,
        "<VTKFile type=\"UnstructuredGrid\" version=\"1.0\" byte_order=\"LittleEndian\" header_type=\"UInt64\">"
    )?;
    writeln!(
        writer,
        "<UnstructuredGrid><Piece NumberOfPoints=\"{}\" NumberOfCells=\"{}\">",
        corners.len(),
        faces.len()
    )?;
    writeln!(writer, "<Points>")?;
    let points = corners
        .iter()
        .flat_map(|corner_m| (*corner_m * 1e3).to_array());
    let attributes = "type=\"Float64\" Name=\"Points\" NumberOfComponents=\"3\"";
    array(
        writer,
        attributes,
        corners.len() * 3,
        points.map(f64::to_le_bytes),
    )?;
    writeln!(writer, "</Points><Cells>")?;
    let connectivity = faces
        .iter()
        .flat_map(|face| face.corners.map(u32::to_le_bytes));
    array(
        writer,
        &named("Int32", "connectivity"),
        faces.len() * 3,
        connectivity,
    )?;
    let offsets = (1..=faces.len() as u64).map(|face| (face * 3).to_le_bytes());
    array(writer, &named("Int64", "offsets"), faces.len(), offsets)?;
    array(
        writer,
        &named("UInt8", "types"),
        faces.len(),
        faces.iter().map(|_| [TRIANGLE]),
    )?;
    writeln!(writer, "</Cells><CellData Scalars=\"thickness_nm\">")?;
    film(outcome, coated, writer)?;
    writeln!(writer, "</CellData></Piece></UnstructuredGrid></VTKFile>")
}

/// Data per cell.
fn film(outcome: &Outcome, coated: &Coated<'_>, writer: &mut impl Write) -> io::Result<()> {
    let faces = &coated.faces;
    let floats = |value_of: &dyn Fn(&Face<'_>) -> f64| -> Vec<[u8; 4]> {
        faces
            .iter()
            .map(|face| single(value_of(face)).to_le_bytes())
            .collect()
    };
    let thickness = floats(&|face| face.facet.thickness_m * 1e9);
    array(
        writer,
        &named("Float32", "thickness_nm"),
        faces.len(),
        thickness.into_iter(),
    )?;
    let errors = floats(&|face| face.facet.std_error_m * 1e9);
    array(
        writer,
        &named("Float32", "stderr_nm"),
        faces.len(),
        errors.into_iter(),
    )?;
    if outcome.metal_names.len() > 1 {
        for (metal, name) in outcome.metal_names.iter().enumerate() {
            let of_metal = |face: &Face<'_>| {
                let by_metal_m = outcome.parts[face.part].by_metal_m.get(metal);
                by_metal_m.map_or(0.0, |of_one| f64::from(of_one[face.number]) * 1e9)
            };
            let attributes = named("Float32", &format!("nm_{name}"));
            array(
                writer,
                &attributes,
                faces.len(),
                floats(&of_metal).into_iter(),
            )?;
        }
    }
    let states = faces.iter().map(|face| [state_code(face.facet.state)]);
    array(writer, &named("UInt8", "state"), faces.len(), states)?;
    let parts = faces
        .iter()
        .map(|face| u32::try_from(face.part).unwrap_or(u32::MAX).to_le_bytes());
    array(writer, &named("Int32", "part"), faces.len(), parts)?;
    let rows = faces.iter().map(|face| face.facet.row.to_le_bytes());
    array(writer, &named("Int32", "row"), faces.len(), rows)?;
    Ok(())
}

fn named(kind: &str, name: &str) -> String {
    format!(
        "type=\"{kind}\" Name=\"{}\"",
        quick_xml::escape::escape(name)
    )
}

/// One data array: its byte length as a 64-bit number and its bytes, encoded together.
fn array<const N: usize>(
    writer: &mut impl Write,
    attributes: &str,
    count: usize,
    elements: impl Iterator<Item = [u8; N]>,
) -> io::Result<()> {
    write!(writer, "<DataArray {attributes} format=\"binary\">")?;
    let mut encoder = EncoderWriter::new(&mut *writer, &STANDARD);
    let bytes = (count * N) as u64;
    encoder.write_all(&bytes.to_le_bytes())?;
    for element in elements {
        encoder.write_all(&element)?;
    }
    encoder.finish()?;
    drop(encoder);
    writeln!(writer, "</DataArray>")
}
