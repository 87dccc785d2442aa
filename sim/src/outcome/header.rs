//! The header of `coat.evenfall`: everything small, and the number of everything large.
//!
//! In: an [`Outcome`]. Out: what `container` writes as `outcome.json` and `read` reads back.

use super::model::{BodyOutcome, Facet, Outcome, PartOutcome, SourceOutcome, StepOutcome, Summary};
use crate::mesh::MeshHealth;
use crate::plan::model::ChamberShape;
use crate::scene::facts::Clearance;
use glam::DVec3;
use serde::{Deserialize, Serialize};

/// The mark of a container, the first thing that is read.
#[derive(Debug, Deserialize)]
pub(super) struct Mark {
    /// Format.
    pub format: String,
    /// Version.
    pub version: u64,
}

/// Everything small, and the number of everything large.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Header {
    pub format: String,
    pub version: u32,
    pub summary: Summary,
    pub plan_files: Vec<(String, String)>,
    pub metal_names: Vec<String>,
    pub region_names: Vec<String>,
    /// Names of the parts that the probes lie on.
    #[serde(default)]
    pub probe_parts: Vec<String>,
    pub parts: Vec<PartHeader>,
    pub bodies: Vec<BodyHeader>,
    pub sources: Vec<SourceOutcome>,
    pub steps: Vec<StepOutcome>,
    pub rotations: Vec<[[f64; 3]; 2]>,
    pub chamber: Option<ChamberHeader>,
    pub probes: Vec<ProbeHeader>,
    pub clearances: Vec<ClearanceHeader>,
}

/// A part without its arrays.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct PartHeader {
    pub name: String,
    pub vertices: usize,
    pub triangles: usize,
    pub row_metals: usize,
    pub facets: usize,
    pub back_facets: usize,
    /// Facets that are a piece of their row, not all of it: only their corners are stored.
    pub pieces: usize,
    pub steps: usize,
    pub metals: usize,
    pub chamber_from_part: [f64; 12],
    pub both_sides: bool,
    pub health: MeshHealth,
    pub material: Option<String>,
}

/// A body without its arrays.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct BodyHeader {
    pub name: String,
    pub kind: String,
    pub riding: bool,
    pub vertices: usize,
    pub triangles: usize,
}

/// A probe without its points.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct ProbeHeader {
    pub name: String,
    pub points: usize,
}

/// The chamber, m.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum ChamberHeader {
    Cylinder { diameter_m: f64, height_m: f64 },
    Box { size_m: [f64; 3] },
}

/// A clearance.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct ClearanceHeader {
    pub riding: String,
    pub still: String,
    pub scheduled_m: f64,
    pub scheduled_at_rad: Vec<f64>,
    #[serde(default)]
    pub scheduled_is_bound: bool,
    pub full_turn_m: f64,
    pub full_turn_at_rad: Vec<f64>,
    #[serde(default)]
    pub full_turn_is_bound: bool,
}

impl Header {
    /// Header of an outcome.
    pub fn of(outcome: &Outcome) -> Self {
        Self {
            format: outcome.summary.format.clone(),
            version: outcome.summary.version,
            summary: outcome.summary.clone(),
            plan_files: outcome.plan_files.clone(),
            metal_names: outcome.metal_names.clone(),
            region_names: outcome.region_names.clone(),
            probe_parts: outcome.probe_parts.clone(),
            parts: outcome.parts.iter().map(part_header).collect(),
            bodies: outcome.bodies.iter().map(body_header).collect(),
            sources: outcome.sources.clone(),
            steps: outcome.steps.clone(),
            rotations: outcome
                .rotations
                .iter()
                .map(|axis| [axis.0.to_array(), axis.1.to_array()])
                .collect(),
            chamber: outcome.chamber.map(|shape| match shape {
                ChamberShape::Cylinder {
                    diameter_m,
                    height_m,
                } => ChamberHeader::Cylinder {
                    diameter_m,
                    height_m,
                },
                ChamberShape::Box { size_m } => ChamberHeader::Box {
                    size_m: size_m.to_array(),
                },
            }),
            probes: outcome
                .probes
                .iter()
                .map(|(name, points)| ProbeHeader {
                    name: name.clone(),
                    points: points.len(),
                })
                .collect(),
            clearances: outcome.clearances.iter().map(clearance_header).collect(),
        }
    }
}

fn part_header(part: &PartOutcome) -> PartHeader {
    let facets = part.facets.iter().chain(&part.back_facets);
    let pieces = facets.filter(|facet| !whole_row(&part.vertices_m, &part.triangles, facet));
    PartHeader {
        name: part.name.clone(),
        vertices: part.vertices_m.len(),
        triangles: part.triangles.len(),
        row_metals: part.rows.first().map_or(0, |row| row.by_metal_m.len()),
        facets: part.facets.len(),
        back_facets: part.back_facets.len(),
        pieces: pieces.count(),
        steps: part.by_step_m.len(),
        metals: part.by_metal_m.len(),
        chamber_from_part: part.chamber_from_part.to_cols_array(),
        both_sides: part.both_sides,
        health: part.health.clone(),
        material: part.material.clone(),
    }
}

fn body_header(body: &BodyOutcome) -> BodyHeader {
    BodyHeader {
        name: body.name.clone(),
        kind: body.kind.clone(),
        riding: body.riding,
        vertices: body.vertices_m.len(),
        triangles: body.triangles.len(),
    }
}

fn clearance_header(clearance: &Clearance) -> ClearanceHeader {
    ClearanceHeader {
        riding: clearance.riding.clone(),
        still: clearance.still.clone(),
        scheduled_m: clearance.scheduled_m,
        scheduled_at_rad: clearance.scheduled_at_rad.clone(),
        scheduled_is_bound: clearance.scheduled_is_bound,
        full_turn_m: clearance.full_turn_m,
        full_turn_at_rad: clearance.full_turn_at_rad.clone(),
        full_turn_is_bound: clearance.full_turn_is_bound,
    }
}

/// True when a facet is all of its row, corner by corner and bit by bit.
pub(super) fn whole_row(vertices_m: &[DVec3], triangles: &[[u32; 3]], facet: &Facet) -> bool {
    let row = triangles[facet.row as usize].map(|corner| vertices_m[corner as usize]);
    let bits = |corner: DVec3| corner.to_array().map(f64::to_bits);
    row.map(bits) == facet.corners_m.map(bits)
}
