//! Bodies of the plan as triangles.
//!
//! In: shapes and placements of the plan. Out: [`Body`] values, each with its place at angles 0.

use super::issue::{Problem, SceneIssue};
use super::meshes::Meshes;
use super::model::{Body, BodyKind};
use crate::emission::{Footprint, FootprintShape};
use crate::geometry::Solid;
use crate::geometry::solids;
use crate::mesh::Mesh;
use crate::plan::model::{BodyShape, Coupon, MeshFile, Placement, Plan, Rides};
use glam::{DAffine3, DMat3, DVec3};
use std::sync::Arc;

/// A body and where it stands at angles 0: chamber_from_body.
pub(super) struct Placed {
    pub body: Body,
    pub pose: DAffine3,
}

/// chamber_from_body of a placement: x ↦ at + Rz·Ry·Rx·x.
pub fn pose_of(placement: &Placement) -> DAffine3 {
    let turn = DMat3::from_rotation_z(placement.turn_rad.z)
        * DMat3::from_rotation_y(placement.turn_rad.y)
        * DMat3::from_rotation_x(placement.turn_rad.x);
    DAffine3::from_mat3_translation(turn, placement.at_m)
}

/// A loaded mesh with area, or the issue that it is not there.
pub(super) fn loaded(
    file: &MeshFile,
    key: &str,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
) -> Option<Arc<Mesh>> {
    let mesh = meshes.get(file);
    let path = file.path.clone();
    let problem = match &mesh {
        None => Problem::MeshNotLoaded { path },
        Some(mesh) if mesh.needle.iter().all(|&needle| needle) => Problem::MeshWithoutArea {
            path,
            rows: mesh.triangles.len(),
        },
        Some(_) => return mesh,
    };
    let key = key.to_owned();
    issues.push(SceneIssue { key, problem });
    None
}

/// A part's mesh in metres after scale.
pub(super) fn part_meshes(
    plan: &Plan,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
) -> Vec<Option<Arc<Mesh>>> {
    let parts = plan.parts.iter().map(|part| {
        let name = &part.name;
        let mesh = loaded(&part.mesh, &format!("part.{name}.mesh"), meshes, issues)?;
        if !(part.scale > 0.0 && part.scale.is_finite()) {
            let key = format!("part.{name}.scale");
            let problem = Problem::Scale { scale: part.scale };
            issues.push(SceneIssue { key, problem });
            return None;
        }
        if part.scale.to_bits() == 1.0_f64.to_bits() {
            return Some(mesh);
        }
        Some(Arc::new(mesh.scaled(part.scale)))
    });
    parts.collect()
}

/// A part as a body.
pub(super) fn part(plan: &Plan, index: usize, mesh: &Mesh) -> Placed {
    let part = &plan.parts[index];
    let body = Body {
        kind: BodyKind::Part(number(index)),
        name: part.name.clone(),
        riding: true,
        sticking: part.sticking,
        vertices: Arc::new(mesh.vertices.clone()),
        triangles: Arc::new(mesh.triangles.clone()),
    };
    let pose = pose_of(&part.placement);
    Placed { body, pose }
}

/// Fixtures and shutters, as far as their shapes can be built.
pub(super) fn fixtures_and_shutters(
    plan: &Plan,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
) -> Vec<Placed> {
    let fixtures = plan.fixtures.iter().enumerate().map(|(i, fixture)| {
        let kind = BodyKind::Fixture(number(i));
        let key = format!("fixture.{}", fixture.name);
        let riding = fixture.rides == Rides::Part;
        let head = (kind, fixture.name.clone(), riding, fixture.sticking);
        (head, key, &fixture.body, &fixture.placement)
    });
    let shutters = plan.shutters.iter().enumerate().map(|(i, shutter)| {
        let kind = BodyKind::Shutter(number(i));
        let key = format!("shutter.{}", shutter.name);
        let head = (kind, shutter.name.clone(), false, shutter.sticking);
        (head, key, &shutter.body, &shutter.placement)
    });
    let mut placed = Vec::new();
    for ((kind, name, riding, sticking), key, shape, placement) in fixtures.chain(shutters) {
        let Some(solid) = solid(shape, &format!("{key}.body"), meshes, issues) else {
            continue;
        };
        let body = Body {
            kind,
            name,
            riding,
            sticking,
            vertices: Arc::new(solid.vertices),
            triangles: Arc::new(solid.triangles),
        };
        let pose = pose_of(placement);
        placed.push(Placed { body, pose });
    }
    placed
}

/// A coupon: a square of two triangles, front side along +z of its own frame.
///
/// Two of its edges lie along the projection of the chamber's x axis onto it (of y where it faces
/// along x).
pub(super) fn coupon(index: usize, coupon: &Coupon) -> Placed {
    let solid = solids::grid(coupon.size_m, coupon.size_m, [1, 1]);
    let normal = coupon.facing.normalize_or(DVec3::Z);
    let in_face = |axis: DVec3| axis.reject_from_normalized(normal);
    let along = if in_face(DVec3::X).length_squared() > 1e-6 {
        in_face(DVec3::X)
    } else {
        in_face(DVec3::Y)
    };
    let along = along.normalize_or(DVec3::X);
    let frame = DMat3::from_cols(along, normal.cross(along), normal);
    let body = Body {
        kind: BodyKind::Coupon(number(index)),
        name: coupon.name.clone(),
        riding: coupon.rides == Rides::Part,
        sticking: coupon.sticking,
        vertices: Arc::new(solid.vertices),
        triangles: Arc::new(solid.triangles),
    };
    Placed {
        body,
        pose: DAffine3::from_mat3_translation(frame, coupon.at_m),
    }
}

/// The solid face of a source; spot, line and point have none.
///
/// - `mesh`: the emitting mesh, where the footprint is one
pub(super) fn source_face(
    index: usize,
    name: &str,
    footprint: &Footprint,
    mesh: Option<&Mesh>,
) -> Option<Placed> {
    let solid = match &footprint.shape {
        FootprintShape::Spot | FootprintShape::Line { .. } => return None,
        FootprintShape::Ring { outer_radius_m, .. } => solids::disc(*outer_radius_m),
        FootprintShape::Rectangle { width_m, depth_m } => solids::grid(*width_m, *depth_m, [1, 1]),
        FootprintShape::Groove(groove) => solids::disc(groove.radii_m.last().copied()?),
        FootprintShape::Mesh(_) => {
            let mesh = mesh?;
            Solid {
                vertices: mesh.vertices.clone(),
                triangles: mesh.triangles.clone(),
            }
        }
    };
    let pose = match &footprint.shape {
        FootprintShape::Mesh(_) => DAffine3::from_translation(footprint.centre_m),
        _ => {
            let [along, across, normal] = footprint.frame;
            let frame = DMat3::from_cols(along, across, normal);
            DAffine3::from_mat3_translation(frame, footprint.centre_m)
        }
    };
    let body = Body {
        kind: BodyKind::SourceFace(number(index)),
        name: name.to_owned(),
        riding: false,
        sticking: 1.0, // what comes back to an emitting face stays there
        vertices: Arc::new(solid.vertices),
        triangles: Arc::new(solid.triangles),
    };
    Some(Placed { body, pose })
}

/// The triangles of a shape, or the issue that it cannot be built.
pub(super) fn solid(
    shape: &BodyShape,
    key: &str,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
) -> Option<Solid> {
    let problem = match *shape {
        BodyShape::Mesh(ref file) => {
            let mesh = loaded(file, key, meshes, issues)?;
            return Some(Solid {
                vertices: mesh.vertices.clone(),
                triangles: mesh.triangles.clone(),
            });
        }
        BodyShape::Plate { size_m, .. } if size_m.min_element() <= 0.0 => Problem::NoExtent {
            what: "size of a plate",
        },
        BodyShape::Plate {
            size_m,
            hole_diameter_m: Some(hole_m),
        } if hole_m > 0.0 => {
            if hole_m < size_m.x.min(size_m.y) {
                return Some(solids::plate_with_hole(size_m, hole_m));
            }
            Problem::HoleTooWide {
                hole_m,
                width_m: size_m.x,
                depth_m: size_m.y,
            }
        }
        BodyShape::Plate { size_m, .. } => return Some(solids::cuboid(size_m)),
        BodyShape::Cylinder {
            diameter_m,
            length_m,
        } => {
            if diameter_m.min(length_m) > 0.0 {
                return Some(solids::cylinder(diameter_m, length_m));
            }
            Problem::NoExtent {
                what: "diameter or length of a cylinder",
            }
        }
        BodyShape::Tube {
            outer_diameter_m,
            inner_diameter_m,
            length_m,
        } => {
            if length_m <= 0.0 {
                Problem::NoExtent {
                    what: "length of a tube",
                }
            } else if inner_diameter_m >= outer_diameter_m {
                Problem::NoTubeWall {
                    inner_m: inner_diameter_m,
                    outer_m: outer_diameter_m,
                }
            } else if inner_diameter_m <= 0.0 {
                return Some(solids::cylinder(outer_diameter_m, length_m));
            } else {
                return Some(solids::tube(outer_diameter_m, inner_diameter_m, length_m));
            }
        }
        BodyShape::Sphere { diameter_m } => {
            if diameter_m > 0.0 {
                return Some(solids::sphere(diameter_m));
            }
            Problem::NoExtent {
                what: "diameter of a sphere",
            }
        }
    };
    let key = key.to_owned();
    issues.push(SceneIssue { key, problem });
    None
}

/// An index as it is stored in kinds and ids; plans have fewer than 2³² entries.
pub(super) fn number(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}
