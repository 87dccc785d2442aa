//! Rigid groups and configurations: what stands still and what rides, as the ray kernel sees it.
//!
//! In: bodies with their poses, and which shutters are shut and where parts stand in each step. Out: one
//! [`Configuration`] per distinct geometry; kernels are shared where a group does not differ.

use super::model::{Body, BodyId, BodyKind, Configuration, Group};
use super::shapes::{number, pose_of};
use crate::plan::Plan;
use crate::plan::model::Placement;
use crate::transport::kernel::Kernel;
use glam::DAffine3;
use std::sync::Arc;

/// Collects the configurations of a scene.
pub(super) struct Groups<'a> {
    bodies: &'a [Body],
    poses: &'a [DAffine3],
    still: Vec<(Vec<bool>, Group)>,
    riding: Vec<(Vec<Placement>, Group)>,
    configurations: Vec<(Vec<Placement>, Configuration)>,
}

impl<'a> Groups<'a> {
    pub fn new(bodies: &'a [Body], poses: &'a [DAffine3]) -> Self {
        Self {
            bodies,
            poses,
            still: Vec::new(),
            riding: Vec::new(),
            configurations: Vec::new(),
        }
    }

    /// The configuration with every shutter open and the parts as first placed.
    pub fn open(&mut self, plan: &Plan) -> usize {
        let placements: Vec<_> = plan.parts.iter().map(|part| part.placement).collect();
        self.configuration(&vec![false; plan.shutters.len()], &placements)
    }

    /// The configuration with these shutters shut and the parts at these places.
    pub fn configuration(&mut self, shut: &[bool], placements: &[Placement]) -> usize {
        let known = |(places, known): &(Vec<Placement>, Configuration)| {
            known.shut == shut && places == placements
        };
        if let Some(index) = self.configurations.iter().position(known) {
            return index;
        }
        let configuration = Configuration {
            shut: shut.to_vec(),
            still: self.still(shut),
            riding: self.riding(placements),
        };
        self.configurations
            .push((placements.to_vec(), configuration));
        self.configurations.len() - 1
    }

    pub fn finish(self) -> Vec<Configuration> {
        self.configurations
            .into_iter()
            .map(|(_, configuration)| configuration)
            .collect()
    }

    fn still(&mut self, shut: &[bool]) -> Group {
        if let Some((_, group)) = self.still.iter().find(|(key, _)| key == shut) {
            return group.clone();
        }
        let present = |body: &Body| match body.kind {
            BodyKind::Shutter(shutter) => shut.get(shutter as usize).copied().unwrap_or(false),
            _ => !body.riding,
        };
        let group = self.group(present, |id| self.poses[id.0 as usize]);
        self.still.push((shut.to_vec(), group.clone()));
        group
    }

    fn riding(&mut self, placements: &[Placement]) -> Group {
        if let Some((_, group)) = self.riding.iter().find(|(key, _)| key == placements) {
            return group.clone();
        }
        let pose = |id: BodyId| match self.bodies[id.0 as usize].kind {
            BodyKind::Part(part) | BodyKind::Mask { part, .. } => {
                pose_of(&placements[part as usize])
            }
            _ => self.poses[id.0 as usize],
        };
        let group = self.group(|body| body.riding, pose);
        self.riding.push((placements.to_vec(), group.clone()));
        group
    }

    fn group(&self, present: impl Fn(&Body) -> bool, pose: impl Fn(BodyId) -> DAffine3) -> Group {
        let mut held = Vec::new();
        for (id, body) in (0..).map(BodyId).zip(self.bodies) {
            if present(body) {
                held.push((id, pose(id)));
            }
        }
        built(self.bodies, &held)
    }
}

/// A group of the same bodies, which may have changed, at the same places, one of them left out.
pub(super) fn rebuilt(group: &Group, bodies: &[Body], left_out: Option<BodyId>) -> Group {
    let held = group.bodies.iter().zip(&group.poses);
    let held: Vec<(BodyId, DAffine3)> = held
        .map(|((id, _), pose)| (*id, *pose))
        .filter(|(id, _)| Some(*id) != left_out)
        .collect();
    built(bodies, &held)
}

fn built(all: &[Body], held: &[(BodyId, DAffine3)]) -> Group {
    let mut triangles = Vec::new();
    let mut bodies = Vec::new();
    let mut poses = Vec::new();
    for &(id, group_from_body) in held {
        let body = &all[id.0 as usize];
        bodies.push((id, number(triangles.len())));
        poses.push(group_from_body);
        let corners: Vec<_> = body
            .vertices
            .iter()
            .map(|&corner| group_from_body.transform_point3(corner).as_vec3())
            .collect();
        let rows = body.triangles.iter();
        triangles.extend(rows.map(|row| row.map(|c| corners[c as usize])));
    }
    Group {
        kernel: Arc::new(Kernel::build(triangles)),
        bodies,
        poses,
    }
}
