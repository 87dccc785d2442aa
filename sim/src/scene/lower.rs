//! From plan to scene: the one way to make a [`Scene`].
//!
//! In: a plan and the meshes it names. Out: bodies as triangles, footprints, receivers, the schedule with
//! the geometries its steps need, and what `check` reports. Next on the road: `transport`.

use super::emitters::emitters;
use super::groups::Groups;
use super::issue::{Problem, SceneIssue, SceneIssues};
use super::meshes::Meshes;
use super::model::{Body, BodyId, BodyKind, Coupon, Part, Scene, Source, Step};
use super::motion::Motion;
use super::receivers::Receivers;
use super::shapes::{self, Placed, number};
use super::stencils::{self, Stencil};
use super::{clearance, covered, facts, limits, regions, schedule, subdivide, unreached};
use crate::gas::Medium;
use crate::mesh::Mesh;
use crate::metals::Metal;
use crate::plan::Plan;
use glam::DAffine3;
use std::sync::Arc;

/// Makes the scene of a plan, or says everything that keeps it from being one.
///
/// # Errors
///
/// If a mesh is missing, a shape cannot be built, names do not resolve, the schedule opens nothing, or
/// bodies are where they cannot be; all problems at once.
pub fn lower(plan: Arc<Plan>, meshes: &Meshes) -> Result<Scene, SceneIssues> {
    draft(plan, meshes)?.prove()
}

/// A scene of which one thing is not proven yet: that no body comes where it cannot be, through the whole turn.
///
/// For a first look at a scene that is still being edited, since that proof takes longer than the look
/// ([`crate::transport::sketch`]).
#[derive(Debug)]
pub struct Draft {
    scene: Scene,
}

/// Makes the scene of a plan except for the clearances.
///
/// # Errors
///
/// As [`lower`], except for bodies that cut each other or reach out of the chamber.
pub fn draft(plan: Arc<Plan>, meshes: &Meshes) -> Result<Draft, SceneIssues> {
    let mut issues = Vec::new();
    what_is_missing(&plan, &mut issues);
    let materials = materials(&plan, meshes, &mut issues);
    let motion = schedule::chain(&plan, &mut issues);
    let needs = schedule::steps(&plan, &mut issues);
    what_never_opens(&plan, &needs, &mut issues);
    let Some(materials) = materials.filter(|_| issues.is_empty()) else {
        return Err(SceneIssues { issues });
    };
    let mut scene = assembled(plan, materials, motion, needs);
    let mut warnings = stencils::findings(&scene);
    limits::sizes(&scene, meshes, &mut issues, &mut warnings);
    limits::outside(&scene, &mut issues);
    regions_of(&mut scene, meshes, &mut issues);
    if !issues.is_empty() {
        return Err(SceneIssues { issues }); // what follows would drown it in its consequences
    }
    limits::facing(&scene, &mut issues, &mut warnings);
    if !issues.is_empty() {
        clearance::measure(&scene, &mut issues); // all problems at once
        return Err(SceneIssues { issues });
    }
    unreached::buried(&mut scene);
    unreached::prove(&mut scene);
    receivers(&mut scene, &mut warnings);
    covered::prove(&mut scene);
    scene.facts.warnings = warnings;
    Ok(Draft { scene })
}

impl Draft {
    /// The scene as far as it is proven; its clearances are missing.
    pub fn scene(&self) -> &Scene {
        &self.scene
    }

    /// Finds out whether [`Draft::prove`] would find something wrong, far sooner: how near things come is not measured.
    ///
    /// # Errors
    ///
    /// As [`Draft::prove`].
    pub fn stands(&self) -> Result<(), SceneIssues> {
        let mut issues = Vec::new();
        clearance::faults(&self.scene, &mut issues);
        if issues.is_empty() {
            Ok(())
        } else {
            Err(SceneIssues { issues })
        }
    }

    /// Measures all clearances; what exists afterwards is valid.
    ///
    /// # Errors
    ///
    /// If bodies cut each other or reach out of the chamber; all problems at once.
    pub fn prove(self) -> Result<Scene, SceneIssues> {
        let mut scene = self.scene;
        let mut issues = Vec::new();
        let mut facts = clearance::measure(&scene, &mut issues);
        if !issues.is_empty() {
            return Err(SceneIssues { issues });
        }
        scene.facts.warnings.append(&mut facts.warnings);
        scene.facts.clearances = facts.clearances;
        Ok(scene)
    }
}

/// Puts bodies, sources and steps together; nothing is proved of it yet and nothing receives film.
fn assembled(
    plan: Arc<Plan>,
    materials: Materials,
    motion: Motion,
    needs: Vec<schedule::StepNeeds>,
) -> Scene {
    let parts = (0..)
        .map(BodyId)
        .zip(&materials.part_meshes)
        .zip(&plan.parts);
    let parts = parts
        .map(|((body, mesh), part)| Part::new(body, mesh, part.faces))
        .collect();
    let mut groups = Groups::new(&materials.bodies, &materials.poses);
    let open_configuration = groups.open(&plan);
    let steps = needs.into_iter().map(|needs| Step {
        configuration: groups.configuration(&needs.shut, &needs.placements),
        lasts_s: needs.motion.lasts_s,
        power: needs.power,
        open: needs.open,
        motion: needs.motion,
    });
    let steps = steps.collect();
    let configurations = groups.finish();
    Scene {
        metals: materials.metals,
        gas: materials.gas,
        sources: materials.sources,
        bodies: materials.bodies,
        parts,
        coupons: Vec::new(),
        stencils: materials.stencils,
        receivers: Vec::new(),
        steps,
        configurations,
        open_configuration,
        free_motion: schedule::free_motion(&plan),
        chamber: plan.chamber.as_ref().map(|chamber| chamber.shape),
        motion,
        facts: facts::SceneFacts::default(),
        plan,
    }
}

fn regions_of(scene: &mut Scene, meshes: &Meshes, issues: &mut Vec<SceneIssue>) {
    regions::check(&scene.plan, issues);
    for (index, part) in scene.parts.iter_mut().enumerate() {
        part.regions = regions::regions(&scene.plan, index, &part.mesh, meshes, issues);
    }
}

/// Cuts rows into facets and lists all receivers: parts in plan order, then coupons.
fn receivers(scene: &mut Scene, warnings: &mut Vec<String>) {
    let bodies: Vec<(BodyId, &Mesh)> = scene
        .parts
        .iter()
        .map(|part| (part.body, &*part.mesh))
        .collect();
    let cut = subdivide::subdivide(scene, &bodies, warnings);
    let mut receivers = Receivers::default();
    for (part, cut) in scene.parts.iter_mut().zip(&cut) {
        receivers.part(part, cut);
    }
    scene.coupons = coupons(&scene.bodies, &mut receivers);
    scene.receivers = receivers.all;
}

/// Bodies and sources, before anything is proved about them.
struct Materials {
    bodies: Vec<Body>,
    /// chamber_from_body at angles 0.
    poses: Vec<DAffine3>,
    part_meshes: Vec<Arc<Mesh>>,
    stencils: Vec<Stencil>,
    sources: Vec<Source>,
    metals: Vec<Metal>,
    gas: Option<Medium>,
}

/// Builds all bodies: parts first, then fixtures, shutters, coupons, faces of sources, sheets of stencils.
fn materials(plan: &Plan, meshes: &Meshes, issues: &mut Vec<SceneIssue>) -> Option<Materials> {
    let mut emitters = emitters(plan, meshes, issues);
    let part_meshes = shapes::part_meshes(plan, meshes, issues);
    let others = shapes::fixtures_and_shutters(plan, meshes, issues);
    let part_meshes: Vec<Arc<Mesh>> = part_meshes.into_iter().collect::<Option<_>>()?;
    let parts = part_meshes.iter().enumerate();
    let mut placed: Vec<Placed> = parts.map(|(i, mesh)| shapes::part(plan, i, mesh)).collect();
    placed.extend(others);
    placed.extend(
        plan.coupons
            .iter()
            .enumerate()
            .map(|(i, c)| shapes::coupon(i, c)),
    );
    for (source, face) in emitters.sources.iter_mut().zip(emitters.faces) {
        if let Some(face) = face {
            source.face = Some(BodyId(number(placed.len())));
            placed.push(face);
        }
    }
    let mut stencils = Vec::new();
    for (placed_sheet, mut stencil) in stencils::sheets(plan, meshes, &part_meshes, issues) {
        stencil.body = BodyId(number(placed.len()));
        stencils.push(stencil);
        placed.push(placed_sheet);
    }
    let (bodies, poses) = placed
        .into_iter()
        .map(|placed| (placed.body, placed.pose))
        .unzip();
    Some(Materials {
        bodies,
        poses,
        part_meshes,
        stencils,
        sources: emitters.sources,
        metals: emitters.metals,
        gas: emitters.gas,
    })
}

/// The coupons with their receivers.
fn coupons(bodies: &[Body], receivers: &mut Receivers) -> Vec<Coupon> {
    let mut coupons = Vec::new();
    for (id, body) in (0..).map(BodyId).zip(bodies) {
        if matches!(body.kind, BodyKind::Coupon(_)) {
            coupons.push(Coupon {
                name: body.name.clone(),
                body: id,
                receivers: receivers.coupon(id, body),
            });
        }
    }
    coupons
}

fn what_is_missing(plan: &Plan, issues: &mut Vec<SceneIssue>) {
    let needed = [
        (
            plan.parts.is_empty(),
            "part",
            "[[part]]",
            "nothing would be coated",
        ),
        (
            plan.sources.is_empty(),
            "source",
            "[[source]]",
            "nothing would emit",
        ),
        (
            plan.steps.is_empty(),
            "step",
            "[[step]]",
            "nothing would happen",
        ),
    ];
    for (missing, key, what, why) in needed {
        if missing {
            issues.push(SceneIssue {
                key: key.to_owned(),
                problem: Problem::Missing { what, why },
            });
        }
    }
}

fn what_never_opens(plan: &Plan, needs: &[schedule::StepNeeds], issues: &mut Vec<SceneIssue>) {
    let opens = needs.iter().any(|step| step.open.contains(&true));
    if !opens && !plan.steps.is_empty() && !plan.sources.is_empty() {
        issues.push(SceneIssue {
            key: "step".to_owned(),
            problem: Problem::NoOpenStep {
                steps: plan.steps.len(),
            },
        });
    }
}

#[cfg(test)]
pub(crate) mod tests;
