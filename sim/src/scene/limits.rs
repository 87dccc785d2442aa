//! What is too big, too small, outside, or looks the wrong way.
//!
//! In: a scene whose bodies stand. Out: issues and warnings, worded so that a wrong unit is seen at once.

use super::approach::{Wanted, to_place};
use super::clearance::key_of;
use super::issue::{Problem, SceneIssue};
use super::meshes::Meshes;
use super::model::{BodyKind, Scene, Source};
use super::sweep::{Stretch, Sweep};
use crate::emission::{EmissionLaw, FootprintShape};
use crate::geometry::{Tree, bounds};
use crate::plan::model::ChamberShape;
use crate::units::{mm, mm_and_inch, significant};
use glam::DVec3;

/// Parts smaller than this are suspected of a wrong unit, m.
const SMALL_M: f64 = 3e-3;

/// Units that meshes come in, with their length in m.
const UNITS: [(&str, f64); 5] = [
    ("um", 1e-6),
    ("mm", 1e-3),
    ("cm", 1e-2),
    ("in", 0.0254),
    ("m", 1.0),
];

/// Parts bigger than the chamber (issues), or hardly there at all (warnings).
pub(super) fn sizes(
    scene: &Scene,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
    warnings: &mut Vec<String>,
) {
    for (part, planned) in scene.parts.iter().zip(&scene.plan.parts) {
        let Some([low, high]) = bounds(part.mesh.vertices.iter().copied()) else {
            continue;
        };
        let extent_m = (high - low).max_element();
        let key = match planned.mesh.unit_m {
            Some(_) => format!("part.{}.unit", planned.name),
            None => format!("part.{}.mesh", planned.name),
        };
        let as_written = extent_m / meshes.unit_m(&planned.mesh);
        if let Some(chamber_m) = scene
            .chamber
            .as_ref()
            .map(diagonal_m)
            .filter(|d| extent_m > *d)
        {
            issues.push(SceneIssue {
                key,
                problem: Problem::PartTooBig {
                    extent_m,
                    chamber_m,
                    units: in_other_units(as_written),
                },
            });
        } else if extent_m < SMALL_M {
            warnings.push(format!(
                "part {} is {} across (smaller than 3 mm is rare); {}: correct `unit` or `scale` if it \
                 should be larger",
                planned.name,
                mm_and_inch(extent_m),
                in_other_units(as_written)
            ));
        }
    }
}

/// The longest straight line in a chamber, m.
fn diagonal_m(chamber: &ChamberShape) -> f64 {
    match *chamber {
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => diameter_m.hypot(height_m),
        ChamberShape::Box { size_m } => size_m.length(),
    }
}

/// What a number of a mesh file would be in each unit.
fn in_other_units(as_written: f64) -> String {
    let lengths = UNITS.map(|(unit, unit_m)| format!("{} as {unit}", mm(as_written * unit_m)));
    format!(
        "{} in the file is {}",
        significant(as_written, 4),
        lengths.join(", ")
    )
}

/// Sources and still coupons outside the chamber.
pub(super) fn outside(scene: &Scene, issues: &mut Vec<SceneIssue>) {
    let Some(chamber) = &scene.chamber else {
        return;
    };
    for source in &scene.sources {
        let beyond_m = source_beyond_m(source, chamber);
        if beyond_m > 1e-9 {
            issues.push(SceneIssue {
                key: format!("source.{}.at", source.name),
                problem: Problem::StillOutside {
                    what: format!("source {}", source.name),
                    beyond_m,
                },
            });
        }
    }
    for body in scene
        .bodies
        .iter()
        .zip(0..)
        .filter(|(body, _)| !body.riding)
    {
        let (body, id) = body;
        if !matches!(body.kind, BodyKind::Coupon(_)) {
            continue;
        }
        let groups = scene
            .configurations
            .iter()
            .map(|configuration| &configuration.still);
        let poses = groups.filter_map(|group| {
            let index = group.bodies.iter().position(|(known, _)| known.0 == id)?;
            Some(group.poses[index])
        });
        let Some(pose) = poses.into_iter().next() else {
            continue;
        };
        let corners = body
            .vertices
            .iter()
            .map(|&corner| pose.transform_point3(corner));
        let beyond_m = corners.map(|at| beyond_m(chamber, at)).fold(0.0, f64::max);
        if beyond_m > 1e-9 {
            issues.push(SceneIssue {
                key: format!("{}.at", key_of(body)),
                problem: Problem::StillOutside {
                    what: format!("coupon {}", body.name),
                    beyond_m,
                },
            });
        }
    }
}

/// How far a point is outside the chamber, m; 0 or below inside.
fn beyond_m(chamber: &ChamberShape, at: DVec3) -> f64 {
    match *chamber {
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            let side = at.x.hypot(at.y) - 0.5 * diameter_m;
            side.max(-at.z).max(at.z - height_m)
        }
        ChamberShape::Box { size_m } => {
            let side = (at.x.abs() - 0.5 * size_m.x).max(at.y.abs() - 0.5 * size_m.y);
            side.max(-at.z).max(at.z - size_m.z)
        }
    }
}

/// How far a footprint reaches out of the chamber, m: exact for planes, over 360 directions for a round wall.
fn source_beyond_m(source: &Source, chamber: &ChamberShape) -> f64 {
    let reach = |direction: DVec3| source.footprint.support(direction);
    let (height_m, sides) = match *chamber {
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            let directions = (0..360)
                .map(|i| DVec3::from((glam::DVec2::from_angle(f64::from(i).to_radians()), 0.0)));
            let side = directions.map(reach).fold(f64::NEG_INFINITY, f64::max);
            (height_m, side - 0.5 * diameter_m)
        }
        ChamberShape::Box { size_m } => {
            let x = reach(DVec3::X).max(reach(-DVec3::X)) - 0.5 * size_m.x;
            let y = reach(DVec3::Y).max(reach(-DVec3::Y)) - 0.5 * size_m.y;
            (size_m.z, x.max(y))
        }
    };
    sides.max(reach(-DVec3::Z)).max(reach(DVec3::Z) - height_m)
}

/// Sources that have every part behind their face through all angles.
///
/// An issue where atoms fly straight; a warning in a gas, which can turn them round.
pub(super) fn facing(scene: &Scene, issues: &mut Vec<SceneIssue>, warnings: &mut Vec<String>) {
    for (number, source) in scene.sources.iter().enumerate() {
        let all_round = source.law == EmissionLaw::Isotropic
            || matches!(source.footprint.shape, FootprintShape::Mesh(_));
        if all_round || !scene.steps.iter().any(|step| step.power[number] > 0.0) {
            continue;
        }
        if !has_parts_behind(scene, number) {
            continue;
        }
        if scene.plan.gas.is_some() {
            warnings.push(format!(
                "source {} has every part behind its face (only scattered atoms reach them)",
                source.name
            ));
        } else {
            issues.push(SceneIssue {
                key: format!("source.{}.facing", source.name),
                problem: Problem::FacesAway {
                    name: source.name.clone(),
                },
            });
        }
    }
}

/// Whether all parts are behind the plane of a source's face in all steps that power it.
fn has_parts_behind(scene: &Scene, source: usize) -> bool {
    let footprint = &scene.sources[source].footprint;
    let (normal, centre) = (footprint.frame[2], footprint.centre_m);
    let behind_m = |at: DVec3| -normal.dot(at - centre);
    let powered = || scene.steps.iter().filter(|step| step.power[source] > 0.0);
    scene.parts.iter().all(|part| {
        powered().all(|step| {
            let riding = &scene.configurations[step.configuration].riding;
            let Some(index) = riding.bodies.iter().position(|(id, _)| *id == part.body) else {
                return true;
            };
            let pose = scene.motion.pose(&step.motion.angles_at(0.0)) * riding.poses[index];
            let mut corners = part.mesh.vertices.iter();
            if corners.any(|&corner| behind_m(pose.transform_point3(corner)) < 0.0) {
                return false;
            }
            let rows = part.mesh.triangles.iter();
            let rows = rows.map(|row| {
                row.map(|corner| {
                    riding.poses[index].transform_point3(part.mesh.vertices[corner as usize])
                })
            });
            let tree = Tree::build((0..).zip(rows));
            let mut sweep = Sweep::new(&scene.motion, [Stretch::of_step(&step.motion)]);
            let nearest = to_place(&tree, &mut sweep, &behind_m, (Wanted::Distance, 200_000));
            nearest.distance_m >= 0.0
        })
    })
}
