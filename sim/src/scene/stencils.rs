//! Sheets of stencils as bodies: cut after their artwork, laid on their part.
//!
//! In: the plan's masks, artworks, meshes of parts. Out: bodies in the part's coordinates, which ride with it, and
//! what their edges are looked at by later.

use super::Scene;
use super::groups::rebuilt;
use super::issue::{Problem, SceneIssue};
use super::meshes::Meshes;
use super::model::{Body, BodyId, BodyKind, Group};
use super::shapes::{Placed, number, pose_of};
use crate::geometry::bounds;
use crate::mesh::Mesh;
use crate::plan::Plan;
use crate::plan::model::Mask;
use crate::stencil::{
    Artwork, ArtworkProblem, Lay, Opens, Outlines, cut, half_round_m, on_surface, sheet_area,
};
use crate::transport::kernel::Kernel;
use glam::{DAffine3, DVec2, DVec3};
use std::sync::Arc;

/// How far a sheet reaches beyond the bounding box of its part, m.
const BEYOND_M: f64 = 5e-3;

/// A stencil in a scene.
#[derive(Debug, Clone)]
pub struct Stencil {
    /// Its sheet.
    pub body: BodyId,
    /// Index of its part.
    pub part: usize,
    /// What it is cut after.
    pub artwork: Arc<Artwork>,
    /// The area of the sheet in the plane of the artwork.
    pub area: Outlines,
    /// part_from_artwork.
    pub placement: DAffine3,
    /// What the sheet covers before anything is cut out of it.
    pub ground: Outlines,
    /// The cylinder it is laid on; where it is.
    wrap_m: Option<f64>,
    /// Where it is pushed, frame of the artwork; where it is.
    pushed: Option<DVec3>,
    /// The surface that the sheet is pushed onto, frame of the artwork; where it is.
    surface: Option<Arc<Kernel>>,
    /// Corners under which no surface was found.
    pub missed: usize,
    /// It could not be bent as finely as it should.
    pub is_coarse: bool,
}

impl Stencil {
    /// How its sheet is laid.
    fn lay<'a>(&'a self, mask: &Mask) -> Lay<'a> {
        match (mask.wrap_m, self.pushed, &self.surface) {
            (Some(radius_m), ..) => Lay::Wrapped(radius_m),
            (None, Some(direction), Some(surface)) => Lay::Pushed(direction, surface),
            _ => Lay::Flat,
        }
    }

    /// A point of the artwork's plane on the surface that the sheet is laid on, part's coordinates, m.
    pub fn on_part(&self, p: DVec2) -> Option<DVec3> {
        let at = match (self.wrap_m, self.pushed, &self.surface) {
            (Some(radius_m), ..) => on_surface(&Lay::Wrapped(radius_m), p),
            (None, Some(direction), Some(surface)) => {
                on_surface(&Lay::Pushed(direction, surface), p)
            }
            _ => on_surface(&Lay::Flat, p),
        };
        Some(self.placement.transform_point3(at?))
    }

    /// Unit vector away from that surface, square to a direction along it; part's coordinates.
    pub fn away_at(&self, p: DVec2, along: DVec3) -> DVec3 {
        let outward = self.placement.transform_vector3(DVec3::Z);
        let beside = [DVec2::X, DVec2::Y].map(|d| {
            let ends = [p - d * 1e-5, p + d * 1e-5].map(|end| self.on_part(end));
            ends[0].zip(ends[1]).map(|(a, b)| b - a)
        });
        let normal = match beside {
            [Some(u), Some(v)] => u.cross(v).normalize_or(outward),
            _ => outward,
        };
        normal.reject_from_normalized(along).normalize_or(normal)
    }
}

/// A scene with another sheet in place of a stencil's own, or with none.
///
/// - `area`: what the sheet covers in the plane of its artwork
///
/// # Errors
/// If outlines of the sheet cross each other.
pub(crate) fn with_sheet(
    scene: &Scene,
    index: usize,
    area: Option<&Outlines>,
) -> Result<Scene, ArtworkProblem> {
    let mut scene = scene.clone();
    let id = scene.stencils[index].body;
    if let Some(area) = area {
        let mask = &scene.plan.masks[index];
        let laid = scene.stencils[index]
            .lay(mask)
            .lay(cut(area)?, mask.lift_m, mask.sheet_m);
        let placement = scene.stencils[index].placement;
        let corners = laid.vertices.iter().map(|c| placement.transform_point3(*c));
        let body = &mut scene.bodies[id.0 as usize];
        body.vertices = Arc::new(corners.collect());
        body.triangles = Arc::new(laid.triangles);
        scene.stencils[index].area = area.clone();
    }
    let left_out = area.is_none().then_some(id);
    let mut known: Vec<(Vec<DAffine3>, Group)> = Vec::new();
    for configuration in &mut scene.configurations {
        let poses = configuration.riding.poses.clone();
        let found = known.iter().find(|(key, _)| *key == poses);
        configuration.riding = match found {
            Some((_, group)) => group.clone(),
            None => rebuilt(&configuration.riding, &scene.bodies, left_out),
        };
        known.push((poses, configuration.riding.clone()));
    }
    Ok(scene)
}

/// What a stencil's artwork leaves of the sheet once its shapes are others.
pub(crate) fn area_with(
    scene: &Scene,
    index: usize,
    shapes: &Outlines,
) -> Result<Outlines, ArtworkProblem> {
    let stencil = &scene.stencils[index];
    if scene.plan.masks[index].opens_shapes {
        Ok(stencil.ground.without(shapes))
    } else {
        Ok(shapes.clone())
    }
}

/// Builds the sheets of all masks that can be built.
pub(super) fn sheets(
    plan: &Plan,
    meshes: &Meshes,
    parts: &[Arc<Mesh>],
    issues: &mut Vec<SceneIssue>,
) -> Vec<(Placed, Stencil)> {
    let masks = plan.masks.iter().enumerate();
    let built = masks.filter_map(|(index, mask)| {
        let of = |key: &str| format!("mask.{}{key}", index + 1);
        let mut refuse = |key: &str, problem: Problem| {
            issues.push(SceneIssue {
                key: of(key),
                problem,
            });
        };
        let Some(part) = plan.parts.iter().position(|part| part.name == mask.part) else {
            let known: Vec<&str> = plan.parts.iter().map(|part| part.name.as_str()).collect();
            let problem = Problem::UnknownName {
                what: "part",
                name: mask.part.clone(),
                known: known.join(", "),
            };
            refuse(".part", problem);
            return None;
        };
        let Some(artwork) = meshes.artwork(mask) else {
            let path = mask.artwork.clone();
            refuse(".artwork", Problem::ArtworkNotLoaded { path });
            return None;
        };
        match sheet(mask, &parts[part], artwork) {
            Ok(made) => Some(placed(plan, index, part, made)),
            Err((key, problem)) => {
                refuse(key, problem);
                None
            }
        }
    });
    built.collect()
}

fn placed(
    plan: &Plan,
    index: usize,
    part: usize,
    (laid, mut stencil): (crate::stencil::Laid, Stencil),
) -> (Placed, Stencil) {
    let mask = &plan.masks[index];
    let at = |corner: &DVec3| stencil.placement.transform_point3(*corner);
    let body = Body {
        kind: BodyKind::Mask {
            mask: number(index),
            part: number(part),
        },
        name: name_of(mask),
        riding: true,
        sticking: mask.sticking,
        vertices: Arc::new(laid.vertices.iter().map(at).collect()),
        triangles: Arc::new(laid.triangles),
    };
    stencil.part = part;
    let pose = pose_of(&plan.parts[part].placement);
    (Placed { body, pose }, stencil)
}

/// A stencil goes by its artwork's name.
fn name_of(mask: &Mask) -> String {
    let stem = mask.artwork.file_stem();
    stem.map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
}

type Refusal = (&'static str, Problem);

fn sheet(
    mask: &Mask,
    mesh: &Mesh,
    artwork: Arc<Artwork>,
) -> Result<(crate::stencil::Laid, Stencil), Refusal> {
    let placement = pose_of(&mask.placement);
    let artwork_from_part = placement.inverse();
    let corners = mesh.vertices.iter();
    let corners = corners.map(|corner| artwork_from_part.transform_point3(*corner));
    let ground = ground(mask, bounds(corners));
    if let Some(radius_m) = mask.wrap_m {
        let [low, high] = artwork.shapes.bounds_m().unwrap_or_default();
        let half = half_round_m(radius_m);
        if low.x < -half || high.x > half {
            let problem = Problem::WrapsTwice {
                width_m: 2.0 * high.x.max(-low.x),
                round_m: 2.0 * half,
            };
            return Err((".wrap", problem));
        }
    }
    let tangled = |problem| {
        let error = crate::stencil::ArtworkError {
            file: mask.artwork.display().to_string(),
            place: crate::stencil::ArtworkPlace::Whole,
            problem,
        };
        (".artwork", Problem::Artwork(Arc::new(error)))
    };
    let opens = if mask.opens_shapes {
        Opens::Shapes
    } else {
        Opens::Ground
    };
    let area = sheet_area(&artwork, ground, opens).map_err(tangled)?;
    let flat = cut(&area).map_err(tangled)?;
    if flat.triangles.is_empty() {
        return Err((".artwork", Problem::NoSheet));
    }
    let surface = mask.conform.map(|_| {
        let rows = mesh.triangles.iter().enumerate();
        let rows = rows.filter(|(row, _)| !mesh.needle[*row]);
        let rows = rows.map(|(_, row)| {
            row.map(|corner| {
                artwork_from_part
                    .transform_point3(mesh.vertices[corner as usize])
                    .as_vec3()
            })
        });
        Arc::new(Kernel::build(rows.collect()))
    });
    let pushed = mask.conform.map(|direction| {
        artwork_from_part
            .transform_vector3(direction)
            .normalize_or_zero()
    });
    if pushed.is_some_and(|direction| direction.z > -0.1) {
        return Err((".conform", Problem::PushedAside));
    }
    let mut stencil = Stencil {
        body: BodyId(0),
        part: 0,
        artwork,
        area,
        placement,
        ground: Outlines::rectangle(ground[0], ground[1]).map_err(tangled)?,
        wrap_m: mask.wrap_m,
        pushed,
        surface,
        missed: 0,
        is_coarse: false,
    };
    let laid = stencil.lay(mask).lay(flat, mask.lift_m, mask.sheet_m);
    (stencil.missed, stencil.is_coarse) = (laid.missed, laid.is_coarse);
    Ok((laid, stencil))
}

/// The rectangle that sheet fills, m: the part's bounding box and a margin, in the plane of the artwork; all round a
/// cylinder.
fn ground(mask: &Mask, box_m: Option<[DVec3; 2]>) -> [DVec2; 2] {
    let [low, high] = box_m.unwrap_or_default();
    let [mut low, mut high] = [
        low.truncate() - DVec2::splat(BEYOND_M),
        high.truncate() + DVec2::splat(BEYOND_M),
    ];
    if let Some(radius_m) = mask.wrap_m {
        [low.x, high.x] = [-half_round_m(radius_m), half_round_m(radius_m)];
    }
    [low, high]
}

/// What there is to say of the stencils.
pub(super) fn findings(scene: &Scene) -> Vec<String> {
    let mut said = Vec::new();
    if !scene.stencils.is_empty() && !scene.is_straight() {
        let mut what = "edges of stencils are looked at closely, and corrected, only where atoms fly straight (no [gas], every \
             sticking 1); here the map alone tells how the film ends at them, no finer than its facets"
            .to_owned();
        if scene.gas.is_some() {
            what += "; what method auto finds far under a lifted edge is good to a quarter, whatever error it states, \
                     and method fire tells more";
        }
        said.push(what);
    }
    for stencil in &scene.stencils {
        let name = &scene.bodies[stencil.body.0 as usize].name;
        let mut say = |what: String| said.push(format!("stencil {name}: {what}"));
        for finding in &stencil.artwork.findings {
            say(finding.clone());
        }
        if stencil.missed > 0 {
            say(format!(
                "{} of its corners found no surface under them and hang at the height of the nearest that did",
                stencil.missed
            ));
        }
        if stencil.is_coarse {
            say("it bends more finely than 400 000 triangles can follow; it stands off the surface by more than 2 um in places".to_owned());
        }
    }
    said
}
