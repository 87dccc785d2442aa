//! The outcome: all that a run says, self-contained.
//!
//! In: scene, rates, tally and film (`outcome::assemble`). Out: the folder (`outcome::write`), report,
//! pictures, and whoever reads `coat.evenfall` back.

mod flight;
mod worth;

use crate::film::RowFilm;
use crate::mesh::MeshHealth;
use crate::scene::motion::AxisMotion;
use crate::transport::{Balance, Method, ProbePoint, Stopped};
pub use flight::*;
use glam::{DAffine3, DVec3};
use std::collections::BTreeMap;
use std::f64::consts::TAU;
pub use worth::*;

/// Everything a run says.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// What `summary.json` holds.
    pub summary: Summary,
    /// Text of the plan file as used, and of the files it includes, by file name.
    pub plan_files: Vec<(String, String)>,
    /// Parts with their film.
    pub parts: Vec<PartOutcome>,
    /// Everything else solid, for pictures.
    pub bodies: Vec<BodyOutcome>,
    /// Sources, for pictures and the card.
    pub sources: Vec<SourceOutcome>,
    /// The schedule, for the card and the time strip.
    pub steps: Vec<StepOutcome>,
    /// Rotations: unit axis, point on it (m).
    pub rotations: Vec<(DVec3, DVec3)>,
    /// Chamber, if any.
    pub chamber: Option<crate::plan::model::ChamberShape>,
    /// Probes, by plan order.
    pub probes: Vec<(String, Vec<ProbePoint>)>,
    /// Names of the parts that the probes lie on, in their order; empty in outcomes of earlier versions.
    pub probe_parts: Vec<String>,
    /// Files of stencils, name and text: profiles across edges, corrected drawings. They lie beside `coat.evenfall`, not in it.
    pub stencil_files: Vec<(String, String)>,
    /// Clearances through the schedule and a full turn.
    pub clearances: Vec<crate::scene::facts::Clearance>,
    /// Names of the plan's regions in plan order: bit i of [`Facet::regions`] belongs to the i-th.
    pub region_names: Vec<String>,
    /// Metals in use, in the order of [`PartOutcome::by_metal_m`].
    pub metal_names: Vec<String>,
}

/// A part with its film.
#[derive(Debug, Clone)]
pub struct PartOutcome {
    /// Name from the plan.
    pub name: String,
    /// Corners after unit and scale, part's coordinates, m.
    pub vertices_m: Vec<DVec3>,
    /// Rows of the mesh file.
    pub triangles: Vec<[u32; 3]>,
    /// Film per row.
    pub rows: Vec<RowFilm>,
    /// The mesh as refined: facets of the front side, rows ascending (needles have none).
    pub facets: Vec<Facet>,
    /// Facets of the back side, where both sides count (same order).
    pub back_facets: Vec<Facet>,
    /// Film per step on the facets, m: `[step][front facets then back facets]`.
    pub by_step_m: Vec<Vec<f32>>,
    /// Film per metal on the facets, m; empty when there is one metal.
    pub by_metal_m: Vec<Vec<f32>>,
    /// chamber_from_part at angles 0, before the first step.
    pub chamber_from_part: DAffine3,
    /// Whether the part counts both sides.
    pub both_sides: bool,
    /// Mesh health.
    pub health: MeshHealth,
    /// Material as the plan says it, for cautions.
    pub material: Option<String>,
}

/// A facet of the refined mesh with its film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facet {
    /// Row of the mesh file.
    pub row: u32,
    /// Corners, part's coordinates, m.
    pub corners_m: [DVec3; 3],
    /// Thickness, m.
    pub thickness_m: f64,
    /// Standard error, m.
    pub std_error_m: f64,
    /// Mean incidence, rad; NaN without film.
    pub incidence_rad: f64,
    /// State.
    pub state: crate::film::State,
    /// Shares: direct, facing, self, fixtures, mask, shutter, gas; NaN where the method does not look.
    pub shares: [f32; 7],
    /// Bits of regions.
    pub regions: u64,
}

/// A body that is not a part.
#[derive(Debug, Clone)]
pub struct BodyOutcome {
    /// Name.
    pub name: String,
    /// "fixture", "shutter", "coupon", "source" or "mask".
    pub kind: String,
    /// Turns with the part.
    pub riding: bool,
    /// Corners, chamber frame at angles 0, m.
    pub vertices_m: Vec<DVec3>,
    /// Triangles.
    pub triangles: Vec<[u32; 3]>,
}

/// A source as the card and the pictures need it.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct SourceOutcome {
    /// Name.
    pub name: String,
    /// "sputter" or "boat".
    pub kind: String,
    /// Metal.
    pub metal: String,
    /// Centre of the face, m.
    pub at_m: [f64; 3],
    /// Normal.
    pub facing: [f64; 3],
    /// Radius of a circle around the footprint, m.
    pub reach_m: f64,
    /// Footprint in words, e.g. "ring 12–21 mm".
    pub footprint: String,
    /// Output in words as the plan says it, e.g. "250 mg of charge".
    pub output: String,
    /// Atoms per second at power 1.
    pub atoms_per_second: f64,
}

/// A step as the card needs it.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct StepOutcome {
    /// Note.
    pub note: Option<String>,
    /// Duration, s.
    pub lasts_s: f64,
    /// Power per source.
    pub power: Vec<f64>,
    /// Names of shutters that are shut.
    pub shut: Vec<String>,
    /// Per source: power above 0 and no shutter that belongs to it is shut.
    pub open: Vec<bool>,
    /// In words per rotation: "turning at 6 rpm", "parked at 90 deg", …
    pub turning: Vec<String>,
    /// Angles at its beginning, rad.
    pub start_rad: Vec<f64>,
    /// Turns made per rotation during it (signed).
    pub turns: Vec<f64>,
    /// Vented before it, with what is re-posed in words.
    pub vent: Option<String>,
    /// What the rotations do, for replaying it; empty in outcomes of earlier versions.
    #[serde(default)]
    pub motion: Vec<AxisMotion>,
    /// chamber_from_part of each part at angles 0 during it; empty where all are as first placed.
    #[serde(default)]
    pub placed: Vec<DAffine3>,
}

impl StepOutcome {
    /// Angles of the rotations after a time, rad.
    ///
    /// - `time_s`: since the step's beginning, s
    pub fn angles_at(&self, time_s: f64) -> Vec<f64> {
        if self.motion.len() == self.start_rad.len() {
            return self
                .motion
                .iter()
                .map(|axis| axis.angle_at(time_s))
                .collect();
        }
        // an earlier version kept first angle and turns alone
        let share = time_s / self.lasts_s;
        let both = self.start_rad.iter().zip(&self.turns);
        both.map(|(start, turns)| start + turns * TAU * share)
            .collect()
    }

    /// True when some source coats during the step.
    pub fn coats(&self) -> bool {
        self.open.contains(&true)
    }
}

/// `summary.json`.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Summary {
    /// Format name, "evenfall-outcome".
    pub format: String,
    /// Format version.
    pub version: u32,
    /// Version of the program.
    pub program: String,
    /// Title.
    pub title: String,
    /// Seed.
    pub seed: u64,
    /// Method.
    pub method: Method,
    /// Why it ended.
    pub stopped: Stopped,
    /// Accuracy asked, relative.
    pub accuracy_asked: f64,
    /// Accuracy reached, relative.
    pub accuracy_reached: f64,
    /// Parts.
    pub parts: Vec<PartSummary>,
    /// Verdict on the film wanted, if any was.
    pub film: Option<FilmVerdict>,
    /// Coupons.
    pub coupons: Vec<CouponSummary>,
    /// Tooling factors.
    pub tooling: Vec<Tooling>,
    /// Fates of simulated atoms.
    pub balance: Balance,
    /// Real atoms emitted.
    pub emitted_real: f64,
    /// Metal used, mg, by metal.
    pub metal_used_mg: BTreeMap<String, f64>,
    /// Firing against gathering, per part.
    pub audit: Vec<Audit>,
    /// How atoms flew, where not all of them flew straight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flight: Option<FlightSummary>,
    /// How each part looks, by its name; only for films of one metal.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub looks: BTreeMap<String, PartLooks>,
    /// How each part conducts, by its name; only for films of one metal.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub conducts: BTreeMap<String, PartConducts>,
    /// How each part's film grows, by its name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub grows: BTreeMap<String, PartGrowth>,
    /// How warm each part gets, by its name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub heat: BTreeMap<String, PartHeat>,
    /// How much water comes with the metal, by part; only where the plan says a base pressure.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub purity: BTreeMap<String, PartPurity>,
    /// What the run takes from each source, by its name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub target: BTreeMap<String, SourceWear>,
    /// How far the rates may be off, by source; only of those that no coupon sets.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub doubt: BTreeMap<String, RateDoubt>,
    /// Stencils: edges, finest openings, where they fall short, corrections.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stencils: Vec<super::stencils::StencilSummary>,
    /// Absolute numbers rest on an uncalibrated rate.
    pub uncalibrated: bool,
    /// Warnings.
    pub warnings: Vec<String>,
    /// Times, s.
    pub timing: BTreeMap<String, f64>,
}

/// A part in the summary.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PartSummary {
    /// Name.
    pub name: String,
    /// Rows of the mesh file.
    pub triangles: usize,
    /// Facets after refining.
    pub facets: usize,
    /// Counted area, mm².
    pub area_mm2: f64,
    /// Extent, mm.
    pub size_mm: [f64; 3],
    /// Distribution of thickness over the counted area.
    pub thickness_nm: ThicknessSummary,
    /// Share of the counted area that reaches the wanted thickness (1 − thin − bare where nothing is wanted: share reached).
    pub reached_want_fraction: f64,
    /// Share that gets film, but less than wanted.
    pub thin_fraction: f64,
    /// Share where none was seen.
    pub none_seen_fraction: f64,
    /// Share proved unreached.
    pub unreached_fraction: f64,
    /// Share buried.
    pub buried_fraction: f64,
    /// Why the thin and bare area is so: area-weighted shares over it, by name
    /// (facing, self, fixtures, mask, shutter, gas).
    pub causes: BTreeMap<String, f64>,
    /// Mesh health.
    pub health: MeshHealth,
}

/// Area-weighted distribution, nm.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ThicknessSummary {
    /// Least.
    pub min: f64,
    /// 5th percentile.
    pub p05: f64,
    /// Median.
    pub median: f64,
    /// Mean.
    pub mean: f64,
    /// Standard error of the mean.
    pub mean_stderr: f64,
    /// 95th percentile.
    pub p95: f64,
    /// Most.
    pub max: f64,
    /// Noise floor of the extremes: area-weighted root mean square of the facets' standard errors.
    pub noise: f64,
}

/// Verdict on the film wanted.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct FilmVerdict {
    /// Wanted thickness, nm, by metal ("all" for all together).
    pub want_nm: BTreeMap<String, f64>,
    /// Wanted share of area.
    pub on: f64,
    /// Share reached over the wanted regions, with its standard error.
    pub reached_fraction: f64,
    /// Standard error of it.
    pub reached_stderr: f64,
    /// Area looked at, mm².
    pub area_mm2: f64,
    /// Per region (or part).
    pub regions: Vec<RegionVerdict>,
    /// "met", "missed" or "too close to call" (missed by less than two standard errors).
    pub verdict: String,
}

/// Verdict on one region.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct RegionVerdict {
    /// Region (or part).
    pub name: String,
    /// "coat" or "bare".
    pub wanted: String,
    /// mm².
    pub area_mm2: f64,
    /// Share of it as wanted.
    pub fraction: f64,
    /// Standard error of it.
    pub stderr: f64,
    /// Mean thickness, nm.
    pub mean_nm: f64,
    /// "met", "missed" or "too close to call", as for the whole.
    pub verdict: String,
}

/// A coupon in the summary.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct CouponSummary {
    /// Name.
    pub name: String,
    /// nm.
    pub thickness_nm: f64,
    /// nm.
    pub stderr_nm: f64,
}

/// Part over coupon.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Tooling {
    /// Part.
    pub part: String,
    /// Coupon.
    pub coupon: String,
    /// Mean thickness on the part over thickness on the coupon.
    pub factor: f64,
    /// Standard error of it.
    pub stderr: f64,
}

/// Audit by firing.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Audit {
    /// Part or coupon.
    pub name: String,
    /// Mean thickness by the run's method, nm.
    pub mean_nm: f64,
    /// Its standard error.
    pub mean_stderr_nm: f64,
    /// Mean thickness by firing, nm.
    pub fired_nm: f64,
    /// Its standard error.
    pub fired_stderr_nm: f64,
    /// Difference in standard errors.
    pub z: f64,
}
