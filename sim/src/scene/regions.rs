//! Regions: which rows of a part belong to which named place.
//!
//! In: regions of the plan, the part's mesh. Out: a bit per region and row.

use super::issue::{Problem, SceneIssue};
use super::meshes::Meshes;
use super::schedule::unknown;
use super::shapes::{pose_of, solid};
use crate::geometry::Solid;
use crate::mesh::Mesh;
use crate::plan::Plan;
use crate::plan::model::{BodyShape, Region};
use crate::transport::kernel::Kernel;
use glam::{DAffine3, DVec3};
use rayon::prelude::*;

/// Regions that can be told apart: one bit each.
const MOST: usize = 64;

/// How far outside a shape a centroid still counts as inside, m: rounding of coordinates.
const ROUNDING_M: f64 = 1e-12;

/// Regions of each row of a part, as bits by their number in the plan.
pub(super) fn regions(
    plan: &Plan,
    part: usize,
    mesh: &Mesh,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
) -> Vec<u64> {
    let mut bits = vec![0_u64; mesh.triangles.len()];
    let name = &plan.parts[part].name;
    for (number, region) in plan.regions.iter().enumerate().take(MOST) {
        if region.part != *name {
            continue;
        }
        let Some(place) = Place::of(region, mesh, meshes, issues) else {
            continue;
        };
        let rows = bits.par_iter_mut().enumerate().map(|(row, bits)| {
            let belongs = !mesh.needle[row] && place.holds(mesh, row);
            *bits |= u64::from(belongs) << number;
            usize::from(belongs)
        });
        if rows.sum::<usize>() == 0 {
            issues.push(SceneIssue {
                key: format!("region.{}", region.name),
                problem: Problem::EmptyRegion {
                    part: name.clone(),
                    rows: mesh.triangles.len(),
                },
            });
        }
    }
    bits
}

/// Regions that name no part, and more regions than bits.
pub(super) fn check(plan: &Plan, issues: &mut Vec<SceneIssue>) {
    let parts = || plan.parts.iter().map(|part| part.name.as_str());
    for region in &plan.regions {
        if !parts().any(|part| part == region.part) {
            let key = format!("region.{}.part", region.name);
            issues.push(unknown(key, "part", &region.part, parts()));
        }
    }
    if let Some(region) = plan.regions.get(MOST) {
        issues.push(SceneIssue {
            key: format!("region.{}", region.name),
            problem: Problem::TooManyRegions {
                count: plan.regions.len(),
                most: MOST,
            },
        });
    }
}

/// What a region asks of a row; all that is said must hold.
struct Place<'a> {
    inside: Option<(Inside<'a>, DAffine3)>,
    rows: Option<Vec<std::ops::Range<usize>>>,
    facing: Option<(DVec3, f64)>,
}

/// A shape that can tell whether it holds a point.
enum Inside<'a> {
    Shape(&'a BodyShape),
    /// The surface of a mesh.
    Within(Kernel),
}

impl<'a> Place<'a> {
    fn of(
        region: &'a Region,
        mesh: &Mesh,
        meshes: &Meshes,
        issues: &mut Vec<SceneIssue>,
    ) -> Option<Self> {
        let inside = match &region.inside {
            None => None,
            Some((shape, placement)) => {
                let key = format!("region.{}.inside", region.name);
                let solid = solid(shape, &key, meshes, issues)?;
                let inside = match shape {
                    BodyShape::Mesh(_) => Inside::Within(kernel_of(&solid)),
                    plain => Inside::Shape(plain),
                };
                Some((inside, pose_of(placement).inverse()))
            }
        };
        let rows = match &region.object {
            None => None,
            Some(object) => {
                let named = mesh.objects.iter().filter(|(name, _)| name == object);
                let rows: Vec<_> = named.map(|(_, rows)| rows.clone()).collect();
                if rows.is_empty() {
                    let key = format!("region.{}.object", region.name);
                    let known = mesh.objects.iter().map(|(name, _)| name.as_str());
                    issues.push(unknown(key, "object", object, known));
                    return None;
                }
                Some(rows)
            }
        };
        Some(Self {
            inside,
            rows,
            facing: region.facing,
        })
    }

    fn holds(&self, mesh: &Mesh, row: usize) -> bool {
        let corners = mesh.triangles[row].map(|corner| mesh.vertices[corner as usize]);
        let [a, b, c] = corners;
        let inside = self.inside.as_ref().is_none_or(|(shape, shape_from_part)| {
            shape.holds(shape_from_part.transform_point3((a + b + c) / 3.0))
        });
        let named = self.rows.as_ref();
        let named = named.is_none_or(|ranges| ranges.iter().any(|rows| rows.contains(&row)));
        let facing = self.facing.is_none_or(|(direction, within_rad)| {
            let normal = (b - a).cross(c - a).normalize_or_zero();
            // 1e-12: a normal just at the limit counts
            normal.dot(direction.normalize_or_zero()) >= within_rad.cos() - 1e-12
        });
        inside && named && facing
    }
}

impl Inside<'_> {
    fn holds(&self, at: DVec3) -> bool {
        let from_axis = at.truncate().length();
        let within = |x: f64, limit: f64| x.abs() <= limit + ROUNDING_M;
        match *self {
            Self::Shape(&BodyShape::Plate {
                size_m,
                hole_diameter_m,
            }) => {
                let half = 0.5 * size_m;
                within(at.x, half.x)
                    && within(at.y, half.y)
                    && within(at.z, half.z)
                    && from_axis >= 0.5 * hole_diameter_m.unwrap_or(0.0) - ROUNDING_M
            }
            Self::Shape(&BodyShape::Cylinder {
                diameter_m,
                length_m,
            }) => within(from_axis, 0.5 * diameter_m) && within(at.z, 0.5 * length_m),
            Self::Shape(&BodyShape::Tube {
                outer_diameter_m,
                inner_diameter_m,
                length_m,
            }) => {
                within(from_axis, 0.5 * outer_diameter_m)
                    && from_axis >= 0.5 * inner_diameter_m - ROUNDING_M
                    && within(at.z, 0.5 * length_m)
            }
            Self::Shape(&BodyShape::Sphere { diameter_m }) => within(at.length(), 0.5 * diameter_m),
            Self::Shape(BodyShape::Mesh(_)) => false, // meshes are held as `Within`
            Self::Within(ref kernel) => {
                // in a closed shell every way out leaves through a face's back; two of three ways decide
                let ways = [
                    DVec3::new(0.8, 0.53, 0.28),
                    DVec3::new(-0.31, 0.77, -0.56),
                    DVec3::new(-0.62, -0.41, 0.67),
                ];
                let leaves = ways.iter().filter(|&&way| {
                    let hit = kernel.first_hit(at, way, f64::INFINITY, None);
                    hit.is_some_and(|hit| !hit.from_front)
                });
                leaves.count() >= 2
            }
        }
    }
}

fn kernel_of(solid: &Solid) -> Kernel {
    let corners = solid
        .corners()
        .map(|corners| corners.map(|corner| corner.as_vec3()));
    Kernel::build(corners.collect())
}
