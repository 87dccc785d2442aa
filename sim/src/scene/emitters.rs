//! Sources: footprints in the chamber frame, laws, metals.
//!
//! In: sources of the plan. Out: [`Source`] values and, where a face is solid, its body.

use super::issue::{Problem, SceneIssue};
use super::meshes::Meshes;
use super::model::Source;
use super::shapes::{Placed, loaded, source_face};
use crate::emission::{
    EmissionLaw, Footprint, FootprintShape, GrooveTable, MeshFootprint, StartEnergy, TableLaw,
};
use crate::gas::{GasState, Medium};
use crate::mesh::Mesh;
use crate::metals::Metal;
use crate::plan::model::{self as plan_model, Plan, SourceKind};
use glam::DVec3;
use std::sync::Arc;

/// Temperature of a boat over the melting point of what it holds, where the plan gives none (common practice,
/// no source).
const OVER_MELTING: f64 = 1.1;

/// Everything that emits.
pub(super) struct Emitters {
    pub sources: Vec<Source>,
    pub faces: Vec<Option<Placed>>,
    pub metals: Vec<Metal>,
    pub gas: Option<Medium>,
}

/// Lowers the sources, as far as they can be built.
pub(super) fn emitters(plan: &Plan, meshes: &Meshes, issues: &mut Vec<SceneIssue>) -> Emitters {
    let mut all = Emitters {
        sources: Vec::new(),
        faces: Vec::new(),
        metals: Vec::new(),
        gas: None,
    };
    for (index, source) in plan.sources.iter().enumerate() {
        let key = format!("source.{}", source.name);
        let metal = metal(plan, &source.metal, &mut all.metals);
        if metal.is_none() {
            issues.push(SceneIssue {
                key: format!("{key}.metal"),
                problem: Problem::UnknownMetal {
                    name: source.metal.clone(),
                },
            });
        }
        let law = law(source).map_err(|problem| {
            issues.push(SceneIssue {
                key: format!("{key}.law"),
                problem,
            })
        });
        let footprint = footprint(source, meshes, issues);
        let (Some(metal), Ok(law), Some((footprint, mesh))) = (metal, law, footprint) else {
            continue;
        };
        all.faces.push(source_face(
            index,
            &source.name,
            &footprint,
            mesh.as_deref(),
        ));
        all.sources.push(Source {
            name: source.name.clone(),
            metal,
            footprint,
            law,
            energy: energy(source, &all.metals[metal]),
            output: source.output.clone(),
            correction: source.correction,
            face: None,
        });
    }
    all.gas = gas(plan, &all, issues);
    all
}

/// Energies with which a source's atoms start, if enough is known of its metal.
fn energy(source: &plan_model::Source, metal: &Metal) -> Option<StartEnergy> {
    match source.kind {
        SourceKind::Sputter { energy_cut_j } => Some(StartEnergy::Thompson {
            binding_j: metal.surface_binding_j?,
            cut_j: energy_cut_j,
        }),
        SourceKind::Boat { temperature_k } => {
            let from_output = match source.output {
                plan_model::Output::Temperature { temperature_k, .. } => Some(temperature_k),
                _ => None,
            };
            let molten = || Some(OVER_MELTING * metal.melting_point_k?);
            Some(StartEnergy::Effusive {
                temperature_k: temperature_k.or(from_output).or_else(molten)?,
            })
        }
    }
}

/// The gas with the metals in it; says what of a metal is not known that flying in gas needs.
fn gas(plan: &Plan, all: &Emitters, issues: &mut Vec<SceneIssue>) -> Option<Medium> {
    let gas = plan.gas.as_ref()?;
    let state = GasState {
        species: gas.species,
        pressure_pa: gas.pressure_pa,
        temperature_k: gas.temperature_k,
        free_path_m: gas.free_path_m,
        scatter: gas.scatter,
    };
    let of_metal = |metal: &Metal, what, key| SceneIssue {
        key: format!("metal.{}", metal.name),
        problem: Problem::MetalInGas {
            metal: metal.name.clone(),
            what,
            key,
        },
    };
    for metal in &all.metals {
        if Medium::new(&state, std::slice::from_ref(metal)).is_none() {
            issues.push(of_metal(metal, "how large its atoms are", "diameter"));
        }
    }
    for source in &all.sources {
        if source.energy.is_none() {
            let metal = &all.metals[source.metal];
            let sputters = plan.sources.iter().any(|of_plan| {
                of_plan.name == source.name && matches!(of_plan.kind, SourceKind::Sputter { .. })
            });
            issues.push(if sputters {
                of_metal(metal, "how fast sputtered atoms start", "surface_binding")
            } else {
                of_metal(metal, "how fast evaporated atoms start", "melting_point")
            });
        }
    }
    Medium::new(&state, &all.metals)
}

/// Index of a metal among those in use.
fn metal(plan: &Plan, name: &str, in_use: &mut Vec<Metal>) -> Option<usize> {
    if let Some(known) = in_use.iter().position(|metal| metal.name == name) {
        return Some(known);
    }
    in_use.push(plan.metal(name)?);
    Some(in_use.len() - 1)
}

fn law(source: &plan_model::Source) -> Result<EmissionLaw, Problem> {
    if matches!(source.footprint, plan_model::Footprint::Point) {
        return Ok(EmissionLaw::Isotropic);
    }
    Ok(match &source.law {
        plan_model::EmissionLaw::CosinePower { exponent } => EmissionLaw::cosine_power(*exponent)?,
        plan_model::EmissionLaw::Table { rows, .. } => EmissionLaw::Table(TableLaw::new(rows)?),
    })
}

/// The footprint in the chamber frame and, where it is one, its mesh.
fn footprint(
    source: &plan_model::Source,
    meshes: &Meshes,
    issues: &mut Vec<SceneIssue>,
) -> Option<(Footprint, Option<Arc<Mesh>>)> {
    let key = format!("source.{}.footprint", source.name);
    let mut mesh = None;
    let mut facing = source.facing;
    let shape = match &source.footprint {
        plan_model::Footprint::Mesh(file) => {
            let found = loaded(file, &format!("{key}.file"), meshes, issues)?;
            facing = DVec3::Z;
            let shape = emitting_faces(&found, source.at_m);
            mesh = Some(found);
            shape
        }
        plain => plain_shape(plain),
    };
    let axis_free = source.along.is_none_or(|along| {
        along
            .normalize_or_zero()
            .cross(facing.normalize_or_zero())
            .length()
            > 1e-9
    });
    let needs_axis = match source.footprint {
        plan_model::Footprint::Rectangle { .. } => Some("rectangle"),
        plan_model::Footprint::Line { .. } => Some("line"),
        _ => None,
    };
    if let Some(footprint) = needs_axis.filter(|_| !axis_free) {
        issues.push(SceneIssue {
            key: format!("source.{}.along", source.name),
            problem: Problem::AlongNormal { footprint },
        });
        return None;
    }
    match shape {
        Ok(shape) => Some((
            Footprint::new(source.at_m, facing, source.along, shape),
            mesh,
        )),
        Err(problem) => {
            issues.push(SceneIssue { key, problem });
            None
        }
    }
}

fn plain_shape(footprint: &plan_model::Footprint) -> Result<FootprintShape, Problem> {
    let extent = |what, size_m: f64| {
        if size_m > 0.0 {
            Ok(())
        } else {
            Err(Problem::NoExtent { what })
        }
    };
    Ok(match *footprint {
        plan_model::Footprint::Disc { radius_m } => {
            extent("radius of a disc", radius_m)?;
            FootprintShape::Ring {
                inner_radius_m: 0.0,
                outer_radius_m: radius_m,
            }
        }
        plan_model::Footprint::Ring {
            inner_radius_m,
            outer_radius_m,
        } => {
            if inner_radius_m >= outer_radius_m {
                return Err(Problem::NoRingWidth {
                    inner_m: inner_radius_m,
                    outer_m: outer_radius_m,
                });
            }
            FootprintShape::Ring {
                inner_radius_m,
                outer_radius_m,
            }
        }
        plan_model::Footprint::Rectangle { width_m, depth_m } => {
            extent("width or depth of a rectangle", width_m.min(depth_m))?;
            FootprintShape::Rectangle { width_m, depth_m }
        }
        plan_model::Footprint::Line { length_m } => {
            extent("length of a line", length_m)?;
            FootprintShape::Line { length_m }
        }
        plan_model::Footprint::Groove { ref rows, .. } => {
            FootprintShape::Groove(GrooveTable::new(rows)?)
        }
        plan_model::Footprint::Spot
        | plan_model::Footprint::Point
        | plan_model::Footprint::Mesh(_) => FootprintShape::Spot,
    })
}

fn emitting_faces(mesh: &Mesh, at_m: DVec3) -> Result<FootprintShape, Problem> {
    let faces: Vec<[DVec3; 3]> = mesh
        .triangles
        .iter()
        .map(|row| row.map(|corner| at_m + mesh.vertices[corner as usize]))
        .collect();
    Ok(FootprintShape::Mesh(MeshFootprint::new(&faces)?))
}
