//! Meshes for the checks: sheets of patches, plates, prisms, spheres and tubes in rings.
//!
//! In: sizes in metres. Out: [`Sheet`]s, whose corner order turns right-handed about the coated side.

use evenfall_sim::mesh::Mesh;
use glam::DVec3;
use std::f64::consts::{PI, TAU};

/// Triangles with corners of their own.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    /// Corners of each triangle, m.
    pub triangles: Vec<[DVec3; 3]>,
}

impl Sheet {
    /// The triangles as the mesh of a part or a source, in metres.
    ///
    /// # Panics
    ///
    /// If the program refuses the mesh.
    pub fn mesh(&self) -> Mesh {
        let corners: Vec<DVec3> = self.triangles.iter().flatten().copied().collect();
        let count = u32::try_from(self.triangles.len()).expect("a small mesh");
        let rows: Vec<[u32; 3]> = (0..count).map(|k| [3 * k, 3 * k + 1, 3 * k + 2]).collect();
        Mesh::from_triangles(&corners, &rows).expect("a usable mesh")
    }

    /// Adds the triangles of another sheet.
    pub fn add(&mut self, other: &Self) {
        self.triangles.extend(&other.triangles);
    }

    /// Adds one triangle, turned so that its normal is on the side of `towards`.
    pub fn triangle(&mut self, [a, b, c]: [DVec3; 3], towards: DVec3) {
        if (b - a).cross(c - a).dot(towards) < 0.0 {
            self.triangles.push([a, c, b]);
        } else {
            self.triangles.push([a, b, c]);
        }
    }

    /// Adds a flat quadrangle as two triangles, corners in order around it.
    pub fn quad(&mut self, [a, b, c, d]: [DVec3; 4], towards: DVec3) {
        self.triangle([a, b, c], towards);
        self.triangle([a, c, d], towards);
    }

    /// Adds a square patch.
    pub fn patch(&mut self, centre: DVec3, normal: DVec3, edge: f64) {
        let (x, y) = normal.normalize().any_orthonormal_pair();
        let [x, y] = [0.5 * edge * x, 0.5 * edge * y];
        self.quad(
            [
                centre - x - y,
                centre + x - y,
                centre + x + y,
                centre - x + y,
            ],
            normal,
        );
    }

    /// Adds the parallelogram `corner` + [0, 1] `u` + [0, 1] `v` in cells, facing along u × v.
    pub fn grid(&mut self, corner: DVec3, [u, v]: [DVec3; 2], [columns, rows]: [u32; 2]) {
        let at = |i: u32, j: u32| {
            corner + u * (f64::from(i) / f64::from(columns)) + v * (f64::from(j) / f64::from(rows))
        };
        for i in 0..columns {
            for j in 0..rows {
                self.quad(
                    [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)],
                    u.cross(v),
                );
            }
        }
    }

    /// The same triangles facing the other way.
    #[must_use]
    pub fn turned_over(&self) -> Self {
        Self {
            triangles: self.triangles.iter().map(|&[a, b, c]| [a, c, b]).collect(),
        }
    }

    /// The same triangles moved.
    #[must_use]
    pub fn moved(&self, by: DVec3) -> Self {
        Self {
            triangles: self
                .triangles
                .iter()
                .map(|corners| corners.map(|c| c + by))
                .collect(),
        }
    }
}

/// A disc about z at height 0 facing down: a regular polygon of the disc's area.
///
/// ½ N R² sin(2π/N) = π r²
pub fn disc(radius: f64, sides: u32) -> Sheet {
    let turn = TAU / f64::from(sides);
    rings(
        &[(0.0, 0.0), (radius * (turn / turn.sin()).sqrt(), 0.0)],
        sides,
    )
}

/// A surface of rings about z: its profile as (radius, z), between regular polygons of `sides` corners.
///
/// Faces point to the right of the way along the profile, seen with z up and radius to the right:
/// outward for a profile that runs upward.
///
/// - returns the sheet; triangles of ring k (between profile points k and k + 1) follow those of ring
///   k − 1, two per side, one where the profile touches the axis
pub fn rings(profile: &[(f64, f64)], sides: u32) -> Sheet {
    let mut sheet = Sheet::default();
    let corner = |(radius, z): (f64, f64), k: u32| {
        let angle = TAU * f64::from(k % sides) / f64::from(sides);
        DVec3::new(radius * angle.cos(), radius * angle.sin(), z)
    };
    for ends in profile.windows(2) {
        for k in 0..sides {
            let [a, b] = [corner(ends[0], k), corner(ends[0], k + 1)];
            let [c, d] = [corner(ends[1], k + 1), corner(ends[1], k)];
            if ends[0].0 > 0.0 {
                sheet.triangles.push([a, b, c]);
            }
            if ends[1].0 > 0.0 {
                sheet.triangles.push([a, c, d]);
            }
        }
    }
    sheet
}

/// Profile of a unit sphere from the polar angle `from_rad` (0 at +z) to `to_rad`, in `steps` equal steps
/// of the cosine (equal areas), running downward.
pub fn sphere_profile(from_rad: f64, to_rad: f64, steps: u32) -> Vec<(f64, f64)> {
    let [top, end] = [from_rad.cos(), to_rad.cos()];
    (0..=steps)
        .map(|k| {
            let z = top + (end - top) * f64::from(k) / f64::from(steps);
            ((1.0 - z * z).max(0.0).sqrt(), z)
        })
        .collect()
}

/// A closed ball of radius 1 in `zones` rings of equal height, facing outward; first ring at −z.
pub fn ball(zones: u32, sides: u32) -> Sheet {
    let mut profile = sphere_profile(PI, 0.0, zones);
    profile[0].0 = 0.0;
    profile[zones as usize].0 = 0.0;
    rings(&profile, sides)
}

/// A closed box between two corners, facing outward.
pub fn block(low: DVec3, high: DVec3) -> Sheet {
    let at = |x: f64, y: f64, z: f64| low + (high - low) * DVec3::new(x, y, z);
    let mut sheet = Sheet::default();
    for axis in 0..3 {
        for side in [0.0, 1.0] {
            let corner = |u: f64, v: f64| match axis {
                0 => at(side, u, v),
                1 => at(u, side, v),
                _ => at(u, v, side),
            };
            let mut towards = DVec3::ZERO;
            towards[axis] = 2.0 * side - 1.0;
            sheet.quad(
                [
                    corner(0.0, 0.0),
                    corner(1.0, 0.0),
                    corner(1.0, 1.0),
                    corner(0.0, 1.0),
                ],
                towards,
            );
        }
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volume(sheet: &Sheet) -> f64 {
        sheet
            .triangles
            .iter()
            .map(|[a, b, c]| a.dot(b.cross(*c)) / 6.0)
            .sum()
    }

    #[test]
    fn closed_solids_face_outward() {
        assert!((volume(&block(DVec3::ZERO, DVec3::new(2.0, 3.0, 4.0))) - 24.0).abs() < 1e-12);
        let ball = ball(60, 96);
        assert!((volume(&ball) / (4.0 / 3.0 * PI) - 1.0).abs() < 0.005);
        assert!(ball.mesh().shells[0].closed);
        let mut grid = Sheet::default();
        grid.grid(DVec3::ZERO, [DVec3::X, DVec3::Y], [3, 2]);
        assert_eq!(grid.triangles.len(), 12);
        assert!(
            grid.triangles
                .iter()
                .all(|[a, b, c]| (*b - *a).cross(*c - *a).z > 0.0)
        );
    }

    #[test]
    fn patches_face_along_their_normal() {
        let mut sheet = Sheet::default();
        let normal = DVec3::new(0.3, -0.5, -0.2).normalize();
        sheet.patch(DVec3::ONE, normal, 0.1);
        for [a, b, c] in &sheet.triangles {
            assert!((*b - *a).cross(*c - *a).normalize().dot(normal) > 1.0 - 1e-12);
        }
    }
}
