//! `coat.evenfall`: all of an outcome in one file.
//!
//! In: an [`Outcome`]. Out: a ZIP container (PKWARE APPNOTE 6.3) with `outcome.json`, which holds everything small and
//! the number of everything large, and one stored entry of little-endian numbers per array. Read back by `read`.
//!
//! Version 1. Arrays of part i lie under `part-i/`, of body i under `body-i/`, of probe i under `probe-i/`.

use super::FORMAT;
use super::coated::state_code;
use super::header::{Header, Mark, whole_row};
use super::model::{Facet, Outcome, PartOutcome};
use crate::film::RowFilm;
use crate::transport::ProbePoint;
use glam::DVec3;
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, Write};
use std::path::Path;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Name of the entry with everything small.
pub(super) const HEADER: &str = "outcome.json";

/// Most bytes of the header that are read.
pub(super) const HEADER_LIMIT: u64 = 64 << 20; // 64 MiB: plans are kilobytes, meshes are in the arrays

/// Numbers of an array that are encoded at a time.
const PIECE: usize = 8192;

/// A number as it lies in an array.
pub(super) trait Element: Copy {
    /// Bytes of one.
    const BYTES: usize;
    /// Appends its bytes.
    fn put(self, bytes: &mut Vec<u8>);
    /// Reads it from exactly its bytes.
    fn get(bytes: &[u8]) -> Self;
}

/// Numbers of the standard library: little-endian.
macro_rules! plain {
    ($($number:ty),*) => {$(
        impl Element for $number {
            const BYTES: usize = size_of::<$number>();
            fn put(self, bytes: &mut Vec<u8>) {
                bytes.extend_from_slice(&self.to_le_bytes());
            }
            fn get(bytes: &[u8]) -> Self {
                let mut own = [0; size_of::<$number>()];
                own.copy_from_slice(bytes);
                Self::from_le_bytes(own)
            }
        }
    )*};
}
plain!(u8, u32, u64, f32, f64);

impl<E: Element, const N: usize> Element for [E; N] {
    const BYTES: usize = N * E::BYTES;
    fn put(self, bytes: &mut Vec<u8>) {
        for element in self {
            element.put(bytes);
        }
    }
    fn get(bytes: &[u8]) -> Self {
        std::array::from_fn(|index| E::get(&bytes[index * E::BYTES..(index + 1) * E::BYTES]))
    }
}

impl Element for DVec3 {
    const BYTES: usize = 24;
    fn put(self, bytes: &mut Vec<u8>) {
        self.to_array().put(bytes);
    }
    fn get(bytes: &[u8]) -> Self {
        Self::from_array(Element::get(bytes))
    }
}

/// Says whether a file is a container of ours, of any version.
pub(super) fn is_ours(path: &Path) -> bool {
    let read = || -> Option<Mark> {
        let mut archive = zip::ZipArchive::new(BufReader::new(File::open(path).ok()?)).ok()?;
        let header = archive.by_name(HEADER).ok()?.take(HEADER_LIMIT);
        serde_json::from_reader(BufReader::new(header)).ok()
    };
    read().is_some_and(|mark| mark.format == FORMAT)
}

/// Writes the container.
///
/// # Errors
/// Those of the writer.
pub fn write(outcome: &Outcome, writer: impl Write + Seek) -> io::Result<()> {
    let mut archive = ZipWriter::new(writer);
    let packed = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    archive.start_file(HEADER, packed)?;
    serde_json::to_writer(&mut archive, &Header::of(outcome))?;
    let mut arrays = Arrays {
        archive,
        bytes: Vec::new(),
    };
    for (index, part) in outcome.parts.iter().enumerate() {
        arrays.part(&format!("part-{index}"), part)?;
    }
    for (index, body) in outcome.bodies.iter().enumerate() {
        arrays.put(
            &format!("body-{index}/vertices"),
            body.vertices_m.iter().copied(),
        )?;
        arrays.put(
            &format!("body-{index}/triangles"),
            body.triangles.iter().copied(),
        )?;
    }
    for (index, (_, points)) in outcome.probes.iter().enumerate() {
        arrays.probe(&format!("probe-{index}"), points)?;
    }
    arrays.archive.finish()?.flush()
}

/// Arrays on their way into the container.
struct Arrays<W: Write + Seek> {
    archive: ZipWriter<W>,
    bytes: Vec<u8>,
}

impl<W: Write + Seek> Arrays<W> {
    /// Writes one array as a stored entry, piece by piece.
    fn put<E: Element>(
        &mut self,
        name: &str,
        elements: impl ExactSizeIterator<Item = E>,
    ) -> io::Result<()> {
        let large = elements.len().saturating_mul(E::BYTES) > u32::MAX as usize;
        let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
        self.archive.start_file(name, stored.large_file(large))?;
        self.bytes.clear();
        for element in elements {
            element.put(&mut self.bytes);
            if self.bytes.len() >= PIECE * E::BYTES {
                self.archive.write_all(&self.bytes)?;
                self.bytes.clear();
            }
        }
        self.archive.write_all(&self.bytes)
    }

    fn part(&mut self, at: &str, part: &PartOutcome) -> io::Result<()> {
        self.put(&format!("{at}/vertices"), part.vertices_m.iter().copied())?;
        self.put(&format!("{at}/triangles"), part.triangles.iter().copied())?;
        self.rows(at, &part.rows)?;
        self.facets(at, part)?;
        for (step, of_step) in part.by_step_m.iter().enumerate() {
            self.put(&format!("{at}/step-{step}"), of_step.iter().copied())?;
        }
        for (metal, of_metal) in part.by_metal_m.iter().enumerate() {
            self.put(&format!("{at}/metal-{metal}"), of_metal.iter().copied())?;
        }
        Ok(())
    }

    fn rows(&mut self, at: &str, rows: &[RowFilm]) -> io::Result<()> {
        let none = f64::NAN;
        self.put(
            &format!("{at}/row/centroid"),
            rows.iter().map(|row| row.centroid_m),
        )?;
        self.put(
            &format!("{at}/row/area"),
            rows.iter().map(|row| row.area_m2),
        )?;
        self.put(
            &format!("{at}/row/thickness"),
            rows.iter().map(|row| row.thickness_m),
        )?;
        self.put(
            &format!("{at}/row/std_error"),
            rows.iter().map(|row| row.std_error_m),
        )?;
        self.put(
            &format!("{at}/row/back"),
            rows.iter().map(|row| row.back_m.unwrap_or(none)),
        )?;
        self.put(
            &format!("{at}/row/incidence"),
            rows.iter().map(|row| row.incidence_rad.unwrap_or(none)),
        )?;
        self.put(
            &format!("{at}/row/scattered"),
            rows.iter().map(|row| row.scattered),
        )?;
        self.put(
            &format!("{at}/row/visible"),
            rows.iter().map(|row| row.visible),
        )?;
        self.put(
            &format!("{at}/row/state"),
            rows.iter().map(|row| state_code(row.state)),
        )?;
        self.put(
            &format!("{at}/row/shares"),
            rows.iter().map(|row| row.shares),
        )?;
        self.put(
            &format!("{at}/row/bound"),
            rows.iter().map(|row| row.bound_m.unwrap_or(none)),
        )?;
        let row_metals = rows.first().map_or(0, |row| row.by_metal_m.len());
        for metal in 0..row_metals {
            self.put(
                &format!("{at}/row/metal-{metal}"),
                rows.iter().map(|row| row.by_metal_m[metal]),
            )?;
        }
        Ok(())
    }

    fn facets(&mut self, at: &str, part: &PartOutcome) -> io::Result<()> {
        let facets: Vec<&Facet> = part.facets.iter().chain(&part.back_facets).collect();
        let facets = || facets.iter();
        self.put(&format!("{at}/facet/row"), facets().map(|facet| facet.row))?;
        self.put(
            &format!("{at}/facet/thickness"),
            facets().map(|facet| facet.thickness_m),
        )?;
        self.put(
            &format!("{at}/facet/std_error"),
            facets().map(|facet| facet.std_error_m),
        )?;
        self.put(
            &format!("{at}/facet/incidence"),
            facets().map(|facet| facet.incidence_rad),
        )?;
        self.put(
            &format!("{at}/facet/state"),
            facets().map(|facet| state_code(facet.state)),
        )?;
        self.put(
            &format!("{at}/facet/shares"),
            facets().map(|facet| facet.shares),
        )?;
        self.put(
            &format!("{at}/facet/regions"),
            facets().map(|facet| facet.regions),
        )?;
        let whole = |facet: &&Facet| whole_row(&part.vertices_m, &part.triangles, facet);
        self.put(
            &format!("{at}/facet/whole"),
            facets().map(|facet| u8::from(whole(facet))),
        )?;
        let pieces: Vec<[DVec3; 3]> = facets()
            .filter(|facet| !whole(facet))
            .map(|facet| facet.corners_m)
            .collect();
        self.put(&format!("{at}/facet/corners"), pieces.into_iter())?;
        Ok(())
    }

    fn probe(&mut self, at: &str, points: &[ProbePoint]) -> io::Result<()> {
        self.put(&format!("{at}/s"), points.iter().map(|point| point.s_m))?;
        self.put(
            &format!("{at}/position"),
            points.iter().map(|point| point.position_m),
        )?;
        let sums = || points.iter().map(|point| point.sums);
        self.put(
            &format!("{at}/thickness"),
            sums().map(|sums| sums.thickness_m),
        )?;
        self.put(
            &format!("{at}/std_error"),
            sums().map(|sums| sums.std_error_m),
        )?;
        self.put(
            &format!("{at}/incidence"),
            sums().map(|sums| sums.incidence_rad),
        )?;
        self.put(&format!("{at}/visible"), sums().map(|sums| sums.visible))?;
        self.put(&format!("{at}/shares"), sums().map(|sums| sums.shares))?;
        self.put(
            &format!("{at}/open"),
            sums().map(|sums| sums.open_thickness_m),
        )?;
        self.put(
            &format!("{at}/samples"),
            sums().map(|sums| [sums.samples, sums.arrived]),
        )
    }
}
