//! What was understood of a plan: the facts that `check` tells, in words or as JSON.
//!
//! In: the scene, and the rates where they need no simulation. Out: [`Understood`], plain data in
//! the units of its field names.

use evenfall_sim::mesh::{Mesh, MeshHealth};
use evenfall_sim::outcome::{StepOutcome, words};
use evenfall_sim::plan::model::{ChamberShape, EmissionLaw, Faces, Output, Plan, Rides, Want};
use evenfall_sim::scene::{BodyKind, Scene, pose_of};
use evenfall_sim::transport::Rates;
use glam::DVec3;
use serde::Serialize;

/// Everything that `check` tells.
#[derive(Debug, Serialize)]
pub struct Understood {
    /// Name of the format.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// Title of the plan.
    pub title: String,
    /// Inner extent of the chamber in x, y and z.
    pub chamber_mm: Option<[f64; 3]>,
    /// "cylinder" or "box".
    pub chamber_shape: Option<&'static str>,
    /// Working gas in words.
    pub gas: Option<String>,
    pub sources: Vec<SourceFacts>,
    pub parts: Vec<PartFacts>,
    pub regions: Vec<RegionFacts>,
    /// Fixtures, shutters, coupons and stencils.
    pub bodies: Vec<BodyFacts>,
    pub rotations: Vec<RotationFacts>,
    pub steps: Vec<StepFacts>,
    /// Length of the schedule.
    pub total_s: f64,
    pub clearances: Vec<ClearanceFacts>,
    pub film: Option<FilmFacts>,
    /// Probes, by name.
    pub probes: Vec<String>,
    /// Pieces of surface on which film is counted, after refining.
    pub facets: usize,
    /// What is usable, but odd.
    pub warnings: Vec<String>,
}

#[derive(Debug, Serialize)]
pub struct SourceFacts {
    pub name: String,
    pub kind: String,
    pub metal: String,
    pub at_mm: [f64; 3],
    pub facing: [f64; 3],
    pub footprint: String,
    pub law: String,
    pub output: String,
    /// Atoms per second at power 1, where it is known without simulating.
    pub atoms_per_second: Option<f64>,
    /// Atoms over the whole schedule, where known.
    pub atoms: Option<f64>,
}

#[derive(Debug, Serialize)]
pub struct PartFacts {
    pub name: String,
    pub mesh: String,
    pub triangles: usize,
    pub facets: usize,
    pub size_mm: [f64; 3],
    pub area_mm2: f64,
    pub at_mm: [f64; 3],
    pub turn_deg: [f64; 3],
    pub both_sides: bool,
    pub material: Option<String>,
    /// Triangles that are proved out of reach of every source.
    pub unreached: usize,
    pub health: MeshHealth,
}

#[derive(Debug, Serialize)]
pub struct RegionFacts {
    pub name: String,
    pub part: String,
    pub triangles: usize,
    pub area_mm2: f64,
}

#[derive(Debug, Serialize)]
pub struct BodyFacts {
    pub kind: &'static str,
    pub name: String,
    /// Extent along its own axes.
    pub size_mm: [f64; 3],
    pub at_mm: [f64; 3],
    pub rides_part: bool,
}

#[derive(Debug, Serialize)]
pub struct RotationFacts {
    pub axis: [f64; 3],
    pub through_mm: [f64; 3],
    pub speed_rpm: f64,
    pub swing_deg: Option<f64>,
}

#[derive(Debug, Serialize)]
pub struct StepFacts {
    /// Running clock at its beginning.
    pub from_s: f64,
    pub step: StepOutcome,
}

#[derive(Debug, Serialize)]
pub struct ClearanceFacts {
    pub riding: String,
    pub still: String,
    pub schedule_mm: f64,
    pub schedule_at_deg: Vec<f64>,
    /// The distance is what was proved: it may be larger.
    pub schedule_is_bound: bool,
    pub full_turn_mm: f64,
    pub full_turn_at_deg: Vec<f64>,
    pub full_turn_is_bound: bool,
}

#[derive(Debug, Serialize)]
pub struct FilmFacts {
    /// Metal ("all" for all together) and thickness wanted, nm.
    pub want_nm: Vec<(String, f64)>,
    pub on: f64,
    pub regions: Vec<String>,
    pub bare: Vec<String>,
    pub bare_under_nm: f64,
}

impl Understood {
    /// Gathers the facts.
    pub fn of(scene: &Scene, rates: Option<&Rates>) -> Self {
        let plan = &scene.plan;
        let mut from_s = 0.0;
        let steps = words::steps(scene)
            .into_iter()
            .map(|step| {
                let facts = StepFacts { from_s, step };
                from_s += facts.step.lasts_s;
                facts
            })
            .collect();
        Self {
            format: "evenfall-check",
            version: 1,
            title: plan.title.clone(),
            chamber_mm: plan.chamber.as_ref().map(|chamber| match chamber.shape {
                ChamberShape::Cylinder {
                    diameter_m,
                    height_m,
                } => mm(DVec3::new(diameter_m, diameter_m, height_m)),
                ChamberShape::Box { size_m } => mm(size_m),
            }),
            chamber_shape: plan.chamber.as_ref().map(|chamber| match chamber.shape {
                ChamberShape::Cylinder { .. } => "cylinder",
                ChamberShape::Box { .. } => "box",
            }),
            gas: scene.gas.as_ref().map(|gas| {
                let paths = scene.metals.iter().zip(&gas.pairs).map(|(metal, pair)| {
                    let path_mm = words::decimal(pair.free_path_m * 1e3);
                    format!(", free path of fast {} {path_mm} mm", metal.name)
                });
                format!(
                    "{} at {} Pa, {} K{}",
                    gas.state.species.name(),
                    words::decimal(gas.state.pressure_pa),
                    words::decimal(gas.state.temperature_k),
                    paths.collect::<String>()
                )
            }),
            sources: sources(scene, rates),
            parts: parts(scene),
            regions: regions(scene),
            bodies: bodies(scene),
            rotations: rotations(plan),
            steps,
            total_s: from_s,
            clearances: clearances(scene),
            film: film(plan),
            probes: plan.probes.iter().map(|probe| probe.name.clone()).collect(),
            facets: scene.receivers.len(),
            warnings: scene.facts.warnings.clone(),
        }
    }
}

/// Whether the rates follow from the plan alone, without flying atoms to a coupon.
pub fn rates_need_no_flight(plan: &Plan) -> bool {
    !plan
        .sources
        .iter()
        .any(|source| matches!(source.output, Output::Coupon { .. }))
}

fn sources(scene: &Scene, rates: Option<&Rates>) -> Vec<SourceFacts> {
    let none = Rates::default();
    let in_words = words::sources(scene, rates.unwrap_or(&none));
    scene
        .plan
        .sources
        .iter()
        .zip(in_words)
        .enumerate()
        .map(|(index, (planned, told))| SourceFacts {
            name: told.name,
            kind: told.kind,
            metal: told.metal,
            at_mm: mm(planned.at_m),
            facing: planned.facing.to_array(),
            footprint: told.footprint,
            law: match &planned.law {
                EmissionLaw::CosinePower { exponent } => {
                    format!("cosine law, exponent {}", words::decimal(*exponent))
                }
                EmissionLaw::Table { table, .. } => format!("table {}", file_name(table)),
            },
            output: told.output,
            atoms_per_second: rates.map(|_| told.atoms_per_second),
            atoms: rates
                .and_then(|rates| rates.atoms.get(index))
                .map(|steps| steps.iter().sum()),
        })
        .collect()
}

fn parts(scene: &Scene) -> Vec<PartFacts> {
    scene
        .plan
        .parts
        .iter()
        .zip(&scene.parts)
        .map(|(planned, part)| PartFacts {
            name: planned.name.clone(),
            mesh: file_name(&planned.mesh.path),
            triangles: part.mesh.triangles.len(),
            facets: part.front.len() + part.back.len(),
            size_mm: mm(extent(&part.mesh.vertices)),
            area_mm2: area_mm2(&part.mesh, |_| true),
            at_mm: mm(planned.placement.at_m),
            turn_deg: planned.placement.turn_rad.to_array().map(f64::to_degrees),
            both_sides: planned.faces == Faces::Both,
            material: planned.material.clone(),
            unreached: part.unreached[0].iter().filter(|bare| **bare).count(),
            health: part.mesh.health.clone(),
        })
        .collect()
}

fn regions(scene: &Scene) -> Vec<RegionFacts> {
    let plan = &scene.plan;
    plan.regions
        .iter()
        .enumerate()
        .filter_map(|(index, region)| {
            let number = plan
                .parts
                .iter()
                .position(|part| part.name == region.part)?;
            let part = &scene.parts[number];
            let inside = |row: usize| {
                part.regions
                    .get(row)
                    .is_some_and(|bits| bits >> index & 1 == 1)
            };
            Some(RegionFacts {
                name: region.name.clone(),
                part: region.part.clone(),
                triangles: (0..part.mesh.triangles.len())
                    .filter(|row| inside(*row))
                    .count(),
                area_mm2: area_mm2(&part.mesh, inside),
            })
        })
        .collect()
}

fn bodies(scene: &Scene) -> Vec<BodyFacts> {
    let plan = &scene.plan;
    scene
        .bodies
        .iter()
        .filter_map(|body| {
            let (kind, at_m, rides) = match body.kind {
                BodyKind::Fixture(index) => {
                    let fixture = &plan.fixtures[index as usize];
                    ("fixture", fixture.placement.at_m, fixture.rides)
                }
                BodyKind::Shutter(index) => {
                    let shutter = &plan.shutters[index as usize];
                    ("shutter", shutter.placement.at_m, Rides::Chamber)
                }
                BodyKind::Coupon(index) => {
                    let coupon = &plan.coupons[index as usize];
                    ("coupon", coupon.at_m, coupon.rides)
                }
                BodyKind::Mask { mask, part } => {
                    let placed = pose_of(&plan.parts[part as usize].placement);
                    let at_m = plan.masks[mask as usize].placement.at_m;
                    ("stencil", placed.transform_point3(at_m), Rides::Part)
                }
                BodyKind::Part(_) | BodyKind::SourceFace(_) => return None,
            };
            Some(BodyFacts {
                kind,
                name: body.name.clone(),
                size_mm: mm(extent(&body.vertices)),
                at_mm: mm(at_m),
                rides_part: rides == Rides::Part,
            })
        })
        .collect()
}

fn rotations(plan: &Plan) -> Vec<RotationFacts> {
    plan.rotations
        .iter()
        .map(|rotation| RotationFacts {
            axis: rotation.axis.to_array(),
            through_mm: mm(rotation.through_m),
            speed_rpm: rotation.speed_rad_per_s / std::f64::consts::TAU * 60.0,
            swing_deg: rotation.swing_rad.map(f64::to_degrees),
        })
        .collect()
}

fn clearances(scene: &Scene) -> Vec<ClearanceFacts> {
    let degrees = |angles: &[f64]| angles.iter().map(|angle| angle.to_degrees()).collect();
    scene
        .facts
        .clearances
        .iter()
        .map(|clearance| ClearanceFacts {
            riding: clearance.riding.clone(),
            still: clearance.still.clone(),
            schedule_mm: clearance.scheduled_m * 1e3,
            schedule_at_deg: degrees(&clearance.scheduled_at_rad),
            schedule_is_bound: clearance.scheduled_is_bound,
            full_turn_mm: clearance.full_turn_m * 1e3,
            full_turn_at_deg: degrees(&clearance.full_turn_at_rad),
            full_turn_is_bound: clearance.full_turn_is_bound,
        })
        .collect()
}

fn film(plan: &Plan) -> Option<FilmFacts> {
    plan.film.as_ref().map(|film| FilmFacts {
        want_nm: match &film.want {
            Want::Total(thickness_m) => vec![("all".to_owned(), thickness_m * 1e9)],
            Want::PerMetal(metals) => metals
                .iter()
                .map(|(metal, thickness_m)| (metal.clone(), thickness_m * 1e9))
                .collect(),
        },
        on: film.on,
        regions: film.regions.clone().unwrap_or_default(),
        bare: film.bare.clone(),
        bare_under_nm: film.bare_under_m * 1e9,
    })
}

/// Extent of a cloud of corners along x, y and z, m.
fn extent(corners: &[DVec3]) -> DVec3 {
    let low = corners.iter().copied().reduce(DVec3::min);
    let high = corners.iter().copied().reduce(DVec3::max);
    low.zip(high).map_or(DVec3::ZERO, |(low, high)| high - low)
}

/// Area of the rows that hold, mm².
fn area_mm2(mesh: &Mesh, holds: impl Fn(usize) -> bool) -> f64 {
    mesh.triangles
        .iter()
        .enumerate()
        .filter(|(row, _)| holds(*row))
        .map(|(_, corners)| {
            let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
            0.5 * (b - a).cross(c - a).length() * 1e6
        })
        .sum()
}

fn mm(metres: DVec3) -> [f64; 3] {
    metres.to_array().map(|value| value * 1e3)
}

fn file_name(path: &std::path::Path) -> String {
    path.file_name()
        .unwrap_or(path.as_os_str())
        .to_string_lossy()
        .into_owned()
}
