//! Measures of a mesh: areas, normals, bounds, volume.
//!
//! In: a [`Mesh`]. Out: numbers in SI.

use super::error::{MeshPlace, MeshProblem};
use super::rows::Rows;
use super::{Mesh, MeshError};
use glam::DVec3;

impl Mesh {
    /// Makes a mesh from corners in metres and triples of their numbers, welded and oriented as if
    /// read from a file.
    ///
    /// # Errors
    /// Corners that are not finite, numbers that point nowhere, no triangles.
    pub fn from_triangles(corners: &[DVec3], triangles: &[[u32; 3]]) -> Result<Self, MeshError> {
        let error = |place: String, problem| MeshError {
            file: "mesh".to_owned(),
            place: MeshPlace::Element(place),
            problem,
        };
        let size = 24 * corners.len() + 12 * triangles.len();
        let mut rows = Rows::new(1.0, size);
        let mut welded = Vec::with_capacity(corners.len());
        for (number, corner) in corners.iter().enumerate() {
            let corner = rows.corner(*corner);
            welded.push(corner.map_err(|problem| error(format!("corner {number}"), problem))?);
        }
        for (row, triangle) in triangles.iter().enumerate() {
            let place = || format!("triangle {row}");
            let mut numbers = [0; 3];
            for (number, index) in numbers.iter_mut().zip(triangle) {
                *number = *welded.get(*index as usize).ok_or_else(|| {
                    let problem = MeshProblem::OutOfRange {
                        what: "corner",
                        index: i64::from(*index),
                        count: corners.len() as u64,
                    };
                    error(place(), problem)
                })?;
            }
            rows.push(numbers)
                .map_err(|problem| error(place(), problem))?;
        }
        rows.finish(|| format!("{} corners", corners.len()))
            .map_err(|problem| error("as a whole".to_owned(), problem))
    }

    /// The three corners of a row, m.
    ///
    /// # Panics
    /// If there is no such row.
    pub fn corners(&self, row: usize) -> [DVec3; 3] {
        self.triangles[row].map(|corner| self.vertices[corner as usize])
    }

    /// Centroid of a row, m: (a + b + c) / 3.
    ///
    /// # Panics
    /// If there is no such row.
    pub fn centroid(&self, row: usize) -> DVec3 {
        let [a, b, c] = self.corners(row);
        (a + b + c) / 3.0
    }

    /// Area of a row, m²: |(b − a) × (c − a)| / 2.
    ///
    /// # Panics
    /// If there is no such row.
    pub fn area_m2(&self, row: usize) -> f64 {
        area_m2(self.corners(row))
    }

    /// Unit normal of a row on the side of its corner order (right hand); `None` for a needle.
    ///
    /// # Panics
    /// If there is no such row.
    pub fn normal(&self, row: usize) -> Option<DVec3> {
        normal(self.corners(row))
    }

    /// Smallest and largest coordinates, m; `None` for a mesh without corners.
    pub fn bounds(&self) -> Option<(DVec3, DVec3)> {
        let first = *self.vertices.first()?;
        Some(
            self.vertices
                .iter()
                .fold((first, first), |(low, high), corner| {
                    (low.min(*corner), high.max(*corner))
                }),
        )
    }

    /// Area of all rows, m².
    pub fn total_area_m2(&self) -> f64 {
        (0..self.triangles.len()).map(|row| self.area_m2(row)).sum()
    }

    /// Enclosed volume, m³, hollows taken off; `None` unless every shell is closed.
    ///
    /// V = Σ a · (b × c) / 6 over all rows, by Gauss's theorem with the field r / 3; taken about the
    /// middle of the bounds. Solids that overlap count twice where they do.
    pub fn volume_m3(&self) -> Option<f64> {
        if self.shells.is_empty() || self.shells.iter().any(|shell| !shell.closed) {
            return None;
        }
        let (low, high) = self.bounds()?;
        let middle = low.midpoint(high);
        let six_volumes: f64 = (0..self.triangles.len())
            .filter(|row| !self.needle[*row])
            .map(|row| {
                let [a, b, c] = self.corners(row).map(|corner| corner - middle);
                a.dot(b.cross(c))
            })
            .sum();
        Some(six_volumes / 6.0)
    }

    /// The same mesh with all lengths times `factor`, which must be above 0.
    ///
    /// Rows, needles, shells and counts stay as they are.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let mut scaled = self.clone();
        for corner in &mut scaled.vertices {
            *corner *= factor;
        }
        scaled
    }
}

/// Area of a triangle, m²: |(b − a) × (c − a)| / 2.
pub(super) fn area_m2([a, b, c]: [DVec3; 3]) -> f64 {
    0.5 * (b - a).cross(c - a).length()
}

/// Unit normal of a triangle by the right hand; `None` without an area.
pub(super) fn normal([a, b, c]: [DVec3; 3]) -> Option<DVec3> {
    (b - a).cross(c - a).try_normalize()
}
