//! Rows: what every reader fills, one triangle after the other.
//!
//! In: corners in the file's unit and their triples. Out: welded corners in metres and one row per
//! triangle, for [`super::shells`] to judge.

use super::error::MeshProblem;
use super::{Mesh, polygon};
use glam::DVec3;
use std::hash::{BuildHasher, RandomState};

/// Triangles that any file may make, however short it is.
///
/// A bound on what copies of copies can make: a longer file may make one more for every four of its
/// bytes, the least that an index written out takes. The number itself is a choice of ours.
const TRIANGLES_ALWAYS: u64 = 4_000_000;
/// Bytes that pay for one more triangle.
const BYTES_PER_TRIANGLE: u64 = 4;
/// Most rows that can be numbered: a row and one bit more must fit into 32 bits.
const TRIANGLES_NUMBERED: u64 = 1 << 30;
/// A slot of the hash table that holds no corner.
const FREE: u32 = u32::MAX;

/// Welded corners and rows while a file is being read.
pub(super) struct Rows {
    unit_m: f64,
    limit: u64,
    vertices: Vec<DVec3>,
    triangles: Vec<[u32; 3]>,
    objects: Vec<(String, std::ops::Range<usize>)>,
    corners: usize,
    ear_tests: u64,
    table: Vec<u32>,
    hasher: RandomState,
}

impl Rows {
    /// Starts without rows; `bytes` is the size of the file, which bounds how many it may make.
    pub fn new(unit_m: f64, bytes: usize) -> Self {
        let bytes = bytes as u64;
        Self {
            unit_m,
            limit: (TRIANGLES_ALWAYS + bytes / BYTES_PER_TRIANGLE).min(TRIANGLES_NUMBERED),
            vertices: Vec::new(),
            triangles: Vec::new(),
            objects: Vec::new(),
            corners: 0,
            ear_tests: 0,
            table: vec![FREE; 1024],
            hasher: RandomState::new(),
        }
    }

    /// Sets metres per unit of the file, for formats that say it within.
    pub fn set_unit(&mut self, unit_m: f64) {
        self.unit_m = unit_m;
    }

    /// Lets the file make more rows: it came with `bytes` more in another file.
    pub fn allow_for(&mut self, bytes: usize) {
        let more = bytes as u64 / BYTES_PER_TRIANGLE;
        self.limit = (self.limit + more).min(TRIANGLES_NUMBERED);
    }

    /// Most rows that the file may make.
    pub fn limit(&self) -> u64 {
        self.limit
    }

    /// Number of rows so far.
    pub fn len(&self) -> usize {
        self.triangles.len()
    }

    /// Takes a corner in the file's unit and returns the number of the welded one.
    pub fn corner(&mut self, corner: DVec3) -> Result<u32, MeshProblem> {
        let scaled = corner * self.unit_m;
        // -0.0 + 0.0 is 0.0: the two zeros are one place.
        let corner_m = scaled + DVec3::ZERO;
        if !corner_m.to_array().into_iter().all(fits) {
            return Err(out_of_range(corner, corner_m));
        }
        self.corners += 1;
        if self.corners as u64 > 3 * self.limit {
            return Err(self.too_many());
        }
        if self.vertices.len() * 4 >= self.table.len() * 3 {
            self.grow();
        }
        let mut slot = self.slot(corner_m);
        loop {
            let held = self.table[slot];
            if held == FREE {
                let number = u32::try_from(self.vertices.len())
                    .ok()
                    .filter(|number| *number != FREE)
                    .ok_or_else(|| self.too_many())?;
                self.vertices.push(corner_m);
                self.table[slot] = number;
                return Ok(number);
            }
            if same_bits(self.vertices[held as usize], corner_m) {
                return Ok(held);
            }
            slot = (slot + 1) & (self.table.len() - 1);
        }
    }

    /// Adds a row.
    pub fn push(&mut self, triangle: [u32; 3]) -> Result<(), MeshProblem> {
        if self.triangles.len() as u64 >= self.limit {
            return Err(self.too_many());
        }
        self.triangles.push(triangle);
        Ok(())
    }

    /// Adds the rows of a polygon.
    pub fn push_polygon(&mut self, corners: &[u32]) -> Result<(), MeshProblem> {
        if let [a, b, c] = *corners {
            return self.push([a, b, c]);
        }
        let places: Vec<_> = corners
            .iter()
            .map(|corner| self.vertices[*corner as usize])
            .collect();
        for triple in polygon::split(&places, &mut self.ear_tests)? {
            self.push(triple.map(|place| corners[place]))?;
        }
        Ok(())
    }

    /// Names the rows from `start` to the last one. An object without rows leaves no trace.
    pub fn name_from(&mut self, start: usize, name: &str) {
        if start < self.triangles.len() && !name.is_empty() {
            let rows = start..self.triangles.len();
            self.objects.push((name.to_owned(), rows));
        }
    }

    /// Welds nothing further and judges what was read; `found` says what an empty file held.
    pub fn finish(mut self, found: impl FnOnce() -> String) -> Result<Mesh, MeshProblem> {
        if self.triangles.is_empty() {
            return Err(MeshProblem::Empty { found: found() });
        }
        let welded_corners = self.corners - self.vertices.len();
        drop(std::mem::take(&mut self.table));
        self.objects.sort_by_key(|(_, rows)| rows.start);
        self.drop_unused();
        let mut mesh = Mesh {
            vertices: self.vertices,
            triangles: self.triangles,
            objects: self.objects,
            ..Mesh::default()
        };
        mesh.health.welded_corners = welded_corners;
        super::shells::judge(&mut mesh)?;
        Ok(mesh)
    }

    /// Leaves out corners that no row uses: they are no part of the surface and must not stretch
    /// its bounds.
    fn drop_unused(&mut self) {
        let mut renumbered = vec![FREE; self.vertices.len()];
        for corner in self.triangles.iter().flatten() {
            renumbered[*corner as usize] = 0;
        }
        if !renumbered.contains(&FREE) {
            return;
        }
        let mut next = 0;
        for number in &mut renumbered {
            if *number != FREE {
                *number = next;
                next += 1;
            }
        }
        let mut numbers = renumbered.iter();
        self.vertices
            .retain(|_| numbers.next().is_some_and(|number| *number != FREE));
        for corner in self.triangles.iter_mut().flatten() {
            *corner = renumbered[*corner as usize];
        }
    }

    fn slot(&self, corner_m: DVec3) -> usize {
        let hash = self.hasher.hash_one(corner_m.to_array().map(f64::to_bits));
        #[expect(
            clippy::cast_possible_truncation,
            reason = "only the low bits of the hash are used"
        )]
        let slot = hash as usize & (self.table.len() - 1);
        slot
    }

    fn grow(&mut self) {
        self.table = vec![FREE; self.table.len() * 2];
        for number in 0..self.vertices.len() {
            let mut slot = self.slot(self.vertices[number]);
            while self.table[slot] != FREE {
                slot = (slot + 1) & (self.table.len() - 1);
            }
            #[expect(
                clippy::cast_possible_truncation,
                reason = "corners are numbered within 32 bits when they are taken"
            )]
            let number = number as u32;
            self.table[slot] = number;
        }
    }

    fn too_many(&self) -> MeshProblem {
        MeshProblem::TooManyTriangles { limit: self.limit }
    }
}

fn same_bits(a: DVec3, b: DVec3) -> bool {
    a.to_array().map(f64::to_bits) == b.to_array().map(f64::to_bits)
}

/// True for what single precision can hold; not for NaN.
fn fits(value_m: f64) -> bool {
    value_m.abs() <= f64::from(f32::MAX)
}

fn out_of_range(corner: DVec3, corner_m: DVec3) -> MeshProblem {
    for (axis, (value, value_m)) in ['x', 'y', 'z']
        .into_iter()
        .zip(corner.to_array().into_iter().zip(corner_m.to_array()))
    {
        if !value.is_finite() {
            return MeshProblem::NotFinite { axis, value };
        }
        if !fits(value_m) {
            return MeshProblem::TooLarge {
                axis,
                value,
                value_m,
            };
        }
    }
    // Not reached: the caller found one of the three out of range.
    MeshProblem::NotFinite {
        axis: 'x',
        value: corner.x,
    }
}
