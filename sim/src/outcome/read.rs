//! Reads an outcome back: from its folder or from `coat.evenfall`.
//!
//! In: a path, and bytes that nobody has to be trusted for. Out: an [`Outcome`] equal to the one that was written, or a
//! typed error. Nothing is allocated from a number that the file's own length does not bear out.

use super::coated::state_of;
use super::container::{Element, HEADER, HEADER_LIMIT};
use super::error::{Damage, Defect, ReadError};
use super::header::{
    BodyHeader, ChamberHeader, ClearanceHeader, Header, Mark, PartHeader, ProbeHeader,
};
use super::model::{BodyOutcome, Facet, Outcome, PartOutcome};
use super::{FORMAT, VERSION, folder, validate};
use crate::film::{RowFilm, State};
use crate::plan::model::ChamberShape;
use crate::scene::facts::Clearance;
use crate::transport::{ProbePoint, Sums};
use glam::{DAffine3, DVec3};
use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::Path;
use zip::{CompressionMethod, ZipArchive};

/// Bytes that are read at a time.
const PIECE_BYTES: usize = 1 << 16;

/// Reads an outcome from its folder or from its `coat.evenfall`.
///
/// # Errors
/// When there is none, it is damaged, or a newer build wrote it.
pub fn read(path: &Path) -> Result<Outcome, ReadError> {
    let good = folder::last_good(path);
    let good = good.as_path();
    let file_path = if good.is_dir() {
        good.join("coat.evenfall")
    } else {
        good.to_path_buf()
    };
    let file = File::open(&file_path).map_err(|source| match source.kind() {
        io::ErrorKind::NotFound if good.is_dir() => ReadError::NoContainer {
            folder: path.to_path_buf(),
        },
        io::ErrorKind::NotFound => ReadError::Missing {
            path: path.to_path_buf(),
        },
        _ => ReadError::Io {
            path: file_path.clone(),
            source,
        },
    })?;
    let length = file.metadata().map_err(|source| ReadError::Io {
        path: file_path.clone(),
        source,
    })?;
    from_bytes(BufReader::new(file), length.len(), &file_path)
}

/// Reads an outcome from the bytes of a `coat.evenfall`.
///
/// - `file_bytes`: length of the file, bounds what its entries may claim
/// - `path`: named in errors
///
/// # Errors
/// When the bytes are no outcome, are damaged, or a newer build wrote them.
pub fn from_bytes(
    reader: impl Read + Seek,
    file_bytes: u64,
    path: &Path,
) -> Result<Outcome, ReadError> {
    let not_ours = |detail: String| ReadError::NotOurs {
        path: path.to_path_buf(),
        detail,
    };
    let mut archive =
        ZipArchive::new(reader).map_err(|error| not_ours(format!("no container: {error}")))?;
    let header =
        header_bytes(&mut archive).map_err(|error| not_ours(format!("{HEADER}: {error}")))?;
    let mark: Mark = serde_json::from_slice(&header)
        .map_err(|_| not_ours(format!("{HEADER} carries no mark")))?;
    if mark.format != FORMAT {
        return Err(not_ours(format!(
            "marked {:?}, not {FORMAT:?}",
            mark.format
        )));
    }
    if mark.version > u64::from(VERSION) {
        return Err(ReadError::Newer {
            path: path.to_path_buf(),
            found: mark.version,
            known: VERSION,
        });
    }
    let damaged = |detail: Damage| ReadError::Damaged {
        path: path.to_path_buf(),
        detail,
    };
    let header: Header =
        serde_json::from_slice(&header).map_err(|source| damaged(Damage::Header { source }))?;
    let arrays = Arrays {
        archive,
        file_bytes,
        claimed_bytes: 0,
    };
    let outcome = outcome(header, arrays).map_err(damaged)?;
    validate(&outcome).map_err(|defect| damaged(defect.into()))?;
    Ok(outcome)
}

fn header_bytes<R: Read + Seek>(archive: &mut ZipArchive<R>) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let entry = archive.by_name(HEADER)?;
    entry.take(HEADER_LIMIT + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > HEADER_LIMIT {
        return Err(io::Error::other(format!(
            "longer than {HEADER_LIMIT} bytes"
        )));
    }
    Ok(bytes)
}

fn outcome<R: Read + Seek>(header: Header, mut arrays: Arrays<R>) -> Result<Outcome, Damage> {
    let mut parts = Vec::new();
    for (index, part) in header.parts.into_iter().enumerate() {
        parts.push(arrays.part(&format!("part-{index}"), part)?);
    }
    let mut bodies = Vec::new();
    for (index, body) in header.bodies.into_iter().enumerate() {
        bodies.push(arrays.body(&format!("body-{index}"), body)?);
    }
    let mut probes = Vec::new();
    for (index, probe) in header.probes.into_iter().enumerate() {
        let points = arrays.probe(&format!("probe-{index}"), &probe)?;
        probes.push((probe.name, points));
    }
    Ok(Outcome {
        summary: header.summary,
        plan_files: header.plan_files,
        parts,
        bodies,
        sources: header.sources,
        steps: header.steps,
        rotations: header
            .rotations
            .iter()
            .map(|axis| (axis[0].into(), axis[1].into()))
            .collect(),
        chamber: header.chamber.map(|shape| match shape {
            ChamberHeader::Cylinder {
                diameter_m,
                height_m,
            } => ChamberShape::Cylinder {
                diameter_m,
                height_m,
            },
            ChamberHeader::Box { size_m } => ChamberShape::Box {
                size_m: size_m.into(),
            },
        }),
        probes,
        clearances: header.clearances.into_iter().map(clearance).collect(),
        region_names: header.region_names,
        probe_parts: header.probe_parts,
        stencil_files: Vec::new(),
        metal_names: header.metal_names,
    })
}

fn clearance(header: ClearanceHeader) -> Clearance {
    Clearance {
        riding: header.riding,
        still: header.still,
        scheduled_m: header.scheduled_m,
        scheduled_at_rad: header.scheduled_at_rad,
        scheduled_is_bound: header.scheduled_is_bound,
        full_turn_m: header.full_turn_m,
        full_turn_at_rad: header.full_turn_at_rad,
        full_turn_is_bound: header.full_turn_is_bound,
    }
}

/// Arrays on their way out of the container.
struct Arrays<R: Read + Seek> {
    archive: ZipArchive<R>,
    file_bytes: u64,
    /// Bytes that the entries read so far have claimed; never more than the file has.
    claimed_bytes: u64,
}

impl<R: Read + Seek> Arrays<R> {
    /// Reads one stored array of exactly `count` elements.
    fn take<E: Element>(&mut self, name: &str, count: usize) -> Result<Vec<E>, Damage> {
        let entry = name.to_owned();
        let mut stored = match self.archive.by_name(name) {
            Ok(stored) => stored,
            Err(zip::result::ZipError::FileNotFound) => return Err(Damage::Missing { entry }),
            Err(error) => {
                return Err(Damage::Unpack {
                    entry,
                    source: error.into(),
                });
            }
        };
        let expected = count as u128 * E::BYTES as u128;
        let found = stored.size();
        let plain =
            stored.compression() == CompressionMethod::Stored && stored.compressed_size() == found;
        if u128::from(found) != expected || !plain {
            return Err(Damage::Size {
                entry,
                found,
                expected,
            });
        }
        self.claimed_bytes = self.claimed_bytes.saturating_add(found);
        if self.claimed_bytes > self.file_bytes {
            return Err(Damage::Overlap {
                file_bytes: self.file_bytes,
            });
        }
        let mut elements = Vec::with_capacity(count);
        let mut piece = vec![0; (PIECE_BYTES / E::BYTES).max(1) * E::BYTES];
        let mut left = count;
        let unpack = |source| Damage::Unpack {
            entry: name.to_owned(),
            source,
        };
        while left > 0 {
            let now = left.min(piece.len() / E::BYTES);
            let bytes = &mut piece[..now * E::BYTES];
            stored.read_exact(bytes).map_err(unpack)?;
            elements.extend(bytes.chunks_exact(E::BYTES).map(E::get));
            left -= now;
        }
        // One more read lets the archive compare its checksum.
        match stored.read(&mut [0]).map_err(unpack)? {
            0 => Ok(elements),
            _ => Err(Damage::Size {
                entry,
                found: found + 1,
                expected,
            }),
        }
    }

    fn states(&mut self, name: &str, count: usize) -> Result<Vec<State>, Damage> {
        let codes: Vec<u8> = self.take(name, count)?;
        let state = |(index, code): (usize, u8)| {
            state_of(code).ok_or_else(|| Damage::State {
                entry: name.to_owned(),
                index,
                code,
            })
        };
        codes.into_iter().enumerate().map(state).collect()
    }

    fn part(&mut self, at: &str, header: PartHeader) -> Result<PartOutcome, Damage> {
        let vertices_m: Vec<DVec3> = self.take(&format!("{at}/vertices"), header.vertices)?;
        let triangles: Vec<[u32; 3]> = self.take(&format!("{at}/triangles"), header.triangles)?;
        validate::triangles(&header.name, &triangles, vertices_m.len())?;
        let rows = self.rows(at, &header)?;
        let mut facets = self.facets(at, &header, (&vertices_m, &triangles))?;
        let back_facets = facets.split_off(header.facets);
        let count = facets.len() + back_facets.len();
        let mut by_step_m = Vec::new();
        for step in 0..header.steps {
            by_step_m.push(self.take(&format!("{at}/step-{step}"), count)?);
        }
        let mut by_metal_m = Vec::new();
        for metal in 0..header.metals {
            by_metal_m.push(self.take(&format!("{at}/metal-{metal}"), count)?);
        }
        Ok(PartOutcome {
            name: header.name,
            vertices_m,
            triangles,
            rows,
            facets,
            back_facets,
            by_step_m,
            by_metal_m,
            chamber_from_part: DAffine3::from_cols_array(&header.chamber_from_part),
            both_sides: header.both_sides,
            health: header.health,
            material: header.material,
        })
    }

    fn rows(&mut self, at: &str, header: &PartHeader) -> Result<Vec<RowFilm>, Damage> {
        let count = header.triangles;
        let centroid: Vec<DVec3> = self.take(&format!("{at}/row/centroid"), count)?;
        let mut column = |name: &str| self.take::<f64>(&format!("{at}/row/{name}"), count);
        let (area, thickness, std_error) =
            (column("area")?, column("thickness")?, column("std_error")?);
        let (back, incidence, bound) = (column("back")?, column("incidence")?, column("bound")?);
        let (scattered, visible) = (column("scattered")?, column("visible")?);
        let mut metals = Vec::new();
        for metal in 0..header.row_metals {
            metals.push(column(&format!("metal-{metal}"))?);
        }
        let state = self.states(&format!("{at}/row/state"), count)?;
        let shares: Vec<[f64; 7]> = self.take(&format!("{at}/row/shares"), count)?;
        let some = |number: f64| Some(number).filter(|number| !number.is_nan());
        let row = |index: usize| RowFilm {
            centroid_m: centroid[index],
            area_m2: area[index],
            thickness_m: thickness[index],
            std_error_m: std_error[index],
            back_m: some(back[index]),
            incidence_rad: some(incidence[index]),
            scattered: scattered[index],
            visible: visible[index],
            state: state[index],
            shares: shares[index],
            bound_m: some(bound[index]),
            by_metal_m: metals.iter().map(|of_one| of_one[index]).collect(),
        };
        Ok((0..count).map(row).collect())
    }

    /// Facets of the front, then of the back.
    fn facets(
        &mut self,
        at: &str,
        header: &PartHeader,
        (vertices_m, triangles): (&[DVec3], &[[u32; 3]]),
    ) -> Result<Vec<Facet>, Damage> {
        let count = header.facets.saturating_add(header.back_facets);
        let row: Vec<u32> = self.take(&format!("{at}/facet/row"), count)?;
        let thickness_m: Vec<f64> = self.take(&format!("{at}/facet/thickness"), count)?;
        let std_error_m: Vec<f64> = self.take(&format!("{at}/facet/std_error"), count)?;
        let incidence_rad: Vec<f64> = self.take(&format!("{at}/facet/incidence"), count)?;
        let state = self.states(&format!("{at}/facet/state"), count)?;
        let shares: Vec<[f32; 7]> = self.take(&format!("{at}/facet/shares"), count)?;
        let regions: Vec<u64> = self.take(&format!("{at}/facet/regions"), count)?;
        let whole: Vec<u8> = self.take(&format!("{at}/facet/whole"), count)?;
        let pieces: Vec<[DVec3; 3]> = self.take(&format!("{at}/facet/corners"), header.pieces)?;
        let cut = whole.iter().filter(|&&whole| whole == 0).count();
        if cut != pieces.len() {
            return Err(Damage::Content(Defect::Count {
                owner: header.name.clone(),
                what: "facets with corners of their own",
                found: pieces.len(),
                expected: cut,
            }));
        }
        let mut pieces = pieces.into_iter();
        let mut facets = Vec::with_capacity(count);
        for index in 0..count {
            let of_row = || {
                let corners = triangles.get(row[index] as usize)?;
                let [a, b, c] = corners.map(|corner| vertices_m.get(corner as usize).copied());
                Some([a?, b?, c?])
            };
            let corners_m = if whole[index] == 0 {
                pieces.next()
            } else {
                of_row()
            };
            facets.push(Facet {
                row: row[index],
                corners_m: corners_m.ok_or_else(|| Defect::Row {
                    owner: header.name.clone(),
                    facet: index,
                    row: row[index],
                    rows: triangles.len(),
                })?,
                thickness_m: thickness_m[index],
                std_error_m: std_error_m[index],
                incidence_rad: incidence_rad[index],
                state: state[index],
                shares: shares[index],
                regions: regions[index],
            });
        }
        Ok(facets)
    }

    fn body(&mut self, at: &str, header: BodyHeader) -> Result<BodyOutcome, Damage> {
        Ok(BodyOutcome {
            name: header.name,
            kind: header.kind,
            riding: header.riding,
            vertices_m: self.take(&format!("{at}/vertices"), header.vertices)?,
            triangles: self.take(&format!("{at}/triangles"), header.triangles)?,
        })
    }

    fn probe(&mut self, at: &str, header: &ProbeHeader) -> Result<Vec<ProbePoint>, Damage> {
        let count = header.points;
        let position_m: Vec<DVec3> = self.take(&format!("{at}/position"), count)?;
        let mut column = |name: &str| self.take::<f64>(&format!("{at}/{name}"), count);
        let (s_m, thickness_m, std_error_m) =
            (column("s")?, column("thickness")?, column("std_error")?);
        let (incidence_rad, visible, open_m) =
            (column("incidence")?, column("visible")?, column("open")?);
        let shares: Vec<[f64; 7]> = self.take(&format!("{at}/shares"), count)?;
        let samples: Vec<[u32; 2]> = self.take(&format!("{at}/samples"), count)?;
        let point = |index: usize| ProbePoint {
            s_m: s_m[index],
            position_m: position_m[index],
            sums: Sums {
                thickness_m: thickness_m[index],
                std_error_m: std_error_m[index],
                incidence_rad: incidence_rad[index],
                visible: visible[index],
                shares: shares[index],
                open_thickness_m: open_m[index],
                samples: samples[index][0],
                arrived: samples[index][1],
            },
        };
        Ok((0..count).map(point).collect())
    }
}
