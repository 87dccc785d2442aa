//! What stands around the parts: bodies, poses, clearances, probes, and the plan's own text.
//!
//! In: scene and tally. Out: what `assemble` puts beside the film.

use super::model::BodyOutcome;
use crate::scene::facts::Clearance;
use crate::scene::{Body, BodyId, BodyKind, Scene, pose_of};
use crate::transport::{ProbePoint, Tally};
use glam::DAffine3;
use std::path::Path;

/// A body by its number.
pub fn body(scene: &Scene, id: BodyId) -> &Body {
    &scene.bodies[id.0 as usize]
}

/// Clearances that are distances: with nothing to come near, a distance is infinite.
pub fn clearances(scene: &Scene) -> Vec<Clearance> {
    let all = scene.facts.clearances.iter();
    all.filter(|clearance| clearance.scheduled_m.is_finite() && clearance.full_turn_m.is_finite())
        .cloned()
        .collect()
}

/// Texts of the plan's files, named from the plan's folder; files elsewhere by their bare name.
pub fn plan_files(scene: &Scene) -> Vec<(String, String)> {
    let folder = scene.plan.path.parent().unwrap_or(Path::new(""));
    let name = |path: &Path| {
        let below = path.strip_prefix(folder).ok().map(Path::to_path_buf);
        let bare = || path.file_name().map(Into::into);
        let shown = below.or_else(bare).unwrap_or_default();
        shown.to_string_lossy().into_owned()
    };
    let files = scene.plan.files.iter();
    files
        .map(|(path, text)| (name(path), text.clone()))
        .collect()
}

pub fn probes(scene: &Scene, tally: &Tally) -> Vec<(String, Vec<ProbePoint>)> {
    let both = scene.plan.probes.iter().zip(&tally.probes);
    both.map(|(probe, points)| (probe.name.clone(), points.clone()))
        .collect()
}

/// Everything solid that is not a part, where it stands at angles 0 (shutters: where they stand when shut).
pub fn bodies(scene: &Scene) -> Vec<BodyOutcome> {
    let mut all = Vec::new();
    for (number, body) in (0_u32..).zip(&scene.bodies) {
        let kind = match body.kind {
            BodyKind::Part(_) => continue,
            BodyKind::Fixture(_) => "fixture",
            BodyKind::Shutter(_) => "shutter",
            BodyKind::Coupon(_) => "coupon",
            BodyKind::SourceFace(_) => "source",
            BodyKind::Mask { .. } => "mask",
        };
        let chamber_from_body = pose(scene, BodyId(number));
        let corners = body.vertices.iter();
        all.push(BodyOutcome {
            name: body.name.clone(),
            kind: kind.to_owned(),
            riding: body.riding,
            vertices_m: corners
                .map(|&corner| chamber_from_body.transform_point3(corner))
                .collect(),
            triangles: body.triangles.to_vec(),
        });
    }
    all
}

/// chamber_from_body at angles 0, in the first configuration that has the body.
pub fn pose(scene: &Scene, id: BodyId) -> DAffine3 {
    let groups = scene
        .configurations
        .iter()
        .flat_map(|configuration| [&configuration.still, &configuration.riding]);
    let mut poses = groups.flat_map(|group| group.bodies.iter().zip(&group.poses));
    let found = poses.find(|((body, _), _)| *body == id);
    match (found, body(scene, id).kind) {
        (Some((_, pose)), _) => *pose,
        // A shutter that is never shut stands in no configuration.
        (None, BodyKind::Shutter(index)) => pose_of(&scene.plan.shutters[index as usize].placement),
        (None, _) => DAffine3::IDENTITY,
    }
}
