//! The scene: everything solid, everything that emits, everything that moves, in SI and proven.
//!
//! In: `scene::lower`. Out: `transport` flies atoms through it. Immutable.
//!
//! Two rigid groups exist: what stands still in the chamber and what rides the whole chain of
//! rotations. Frames: *chamber* (x, y, z as in the plan) and *riding* (equal to the chamber frame
//! when all angles are 0). A pose is `chamber_from_riding`.

use crate::emission::{EmissionLaw, Footprint, StartEnergy};
use crate::gas::Medium;
use crate::metals::Metal;
use crate::plan::model::{Faces, Plan};
use crate::transport::kernel::Kernel;
use glam::{DAffine3, DVec2, DVec3};
use std::sync::Arc;

/// Index into [`Scene::bodies`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BodyId(pub u32);

/// A proven scene.
#[derive(Debug, Clone)]
pub struct Scene {
    /// The plan it was made from.
    pub plan: Arc<Plan>,
    /// Metals in use; sources refer to them by index.
    pub metals: Vec<Metal>,
    /// The gas, with its metals in the same order; none in high vacuum.
    pub gas: Option<Medium>,
    /// What emits.
    pub sources: Vec<Source>,
    /// Everything solid.
    pub bodies: Vec<Body>,
    /// What is coated, in plan order.
    pub parts: Vec<Part>,
    /// Coupons, in plan order.
    pub coupons: Vec<Coupon>,
    /// Stencils, in plan order.
    pub stencils: Vec<super::stencils::Stencil>,
    /// The receivers of film: facets of parts (front, then back where both sides count) and coupons.
    pub receivers: Vec<Receiver>,
    /// The schedule, lowered.
    pub steps: Vec<Step>,
    /// The geometries that steps refer to (they differ by shutters and by re-posing after a vent).
    pub configurations: Vec<Configuration>,
    /// Index of the configuration with every shutter open and the parts as first placed: what a rate
    /// scaled to a coupon is computed in (always present, also when no step uses it).
    pub open_configuration: usize,
    /// What the rotations do when left to the plan's own speeds from angle 0 on (`lasts_s` is set by the user of it).
    pub free_motion: super::motion::StepMotion,
    /// The chamber.
    pub chamber: Option<crate::plan::model::ChamberShape>,
    /// The rotations.
    pub motion: super::motion::Motion,
    /// Clearances and other facts for `check`.
    pub facts: super::facts::SceneFacts,
}

impl Scene {
    /// Whether every atom flies straight from a footprint to where it ends: no gas, and everything sticks.
    pub fn is_straight(&self) -> bool {
        self.plan.is_straight()
    }
}

/// What kind of thing a body is; decides the fate of an atom that sticks to it and the share it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BodyKind {
    /// Part of this index.
    Part(u32),
    /// Fixture of this index.
    Fixture(u32),
    /// Shutter of this index.
    Shutter(u32),
    /// Coupon of this index.
    Coupon(u32),
    /// Emitting face of the source of this index.
    SourceFace(u32),
    /// Sheet of a stencil.
    Mask {
        /// Index of the stencil.
        mask: u32,
        /// Index of the part it lies on.
        part: u32,
    },
}

/// A solid thing.
#[derive(Debug, Clone)]
pub struct Body {
    /// Kind and index within its kind.
    pub kind: BodyKind,
    /// Name from the plan.
    pub name: String,
    /// Rides the chain of rotations.
    pub riding: bool,
    /// Sticking, 0..=1.
    pub sticking: f64,
    /// Corners in the body's own coordinates after unit and scale, m.
    pub vertices: Arc<Vec<DVec3>>,
    /// Corner indices; for parts the rows of the mesh file, needles included.
    pub triangles: Arc<Vec<[u32; 3]>>,
}

impl Body {
    /// Corners of a triangle in the body's own coordinates, m.
    ///
    /// # Panics
    /// When the body has no such triangle.
    pub fn corners(&self, triangle: u32) -> [DVec3; 3] {
        self.triangles[triangle as usize].map(|corner| self.vertices[corner as usize])
    }
}

/// Something that emits.
#[derive(Debug, Clone)]
pub struct Source {
    /// Name from the plan.
    pub name: String,
    /// Index into [`Scene::metals`].
    pub metal: usize,
    /// Footprint in the chamber frame.
    pub footprint: Footprint,
    /// Emission law.
    pub law: EmissionLaw,
    /// Starting energies, where enough is known of the metal; always there in gas.
    pub energy: Option<StartEnergy>,
    /// What the plan says of the rate.
    pub output: crate::plan::model::Output,
    /// Factor on it.
    pub correction: f64,
    /// Index of the body that is its solid face, if it has one.
    pub face: Option<BodyId>,
}

/// A part to be coated.
#[derive(Debug, Clone)]
pub struct Part {
    /// Its body.
    pub body: BodyId,
    /// The mesh it came from, in metres after unit and scale.
    pub mesh: Arc<crate::mesh::Mesh>,
    /// Which sides count.
    pub faces: Faces,
    /// Its facets in [`Scene::receivers`], front side, grouped by row, rows ascending.
    pub front: std::ops::Range<usize>,
    /// Its facets, back side (empty unless both sides count), same order as `front`.
    pub back: std::ops::Range<usize>,
    /// Where each row's facets begin, counted from the start of `front` (and of `back`); one entry more
    /// than rows, a needle has no facets.
    pub first_facet: Vec<u32>,
    /// How rows are subdivided: the bisections of a row begin at its first facet's number; empty when no
    /// row is subdivided. See [`Part::facet_at`].
    pub bisections: Vec<super::receivers::Bisection>,
    /// Per row: no line from outside can reach it (closed cavity, or below every horizon): exactly 0.
    /// Front side, then back side for "both".
    pub unreached: [Vec<bool>; 2],
    /// Per row: nothing comes straight to it (it is unreached, or stays below every horizon while some comes from
    /// gas or walls). Front side, then back side for "both".
    pub dark: [Vec<bool>; 2],
    /// Per row: inside another solid of the part.
    pub buried: Vec<bool>,
    /// Per row: bits of the regions (index into the plan's regions) it belongs to.
    pub regions: Vec<u64>,
}

/// A witness coupon.
#[derive(Debug, Clone)]
pub struct Coupon {
    /// Name from the plan.
    pub name: String,
    /// Its body (two triangles).
    pub body: BodyId,
    /// Its facets in [`Scene::receivers`].
    pub receivers: std::ops::Range<usize>,
}

/// Side of a triangle on which film is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The side of the corner-order normal.
    Front,
    /// The other one.
    Back,
}

/// A facet: a triangle of a body, or a piece of one, on one side.
#[derive(Debug, Clone, Copy)]
pub struct Receiver {
    /// Body.
    pub body: BodyId,
    /// Triangle (row) of the body.
    pub triangle: u32,
    /// Side.
    pub side: Side,
    /// Corners in the triangle: weights of its second and third corner (the first takes the rest).
    pub corners: [DVec2; 3],
    /// Area, m².
    pub area_m2: f64,
    /// A bit for each of 64 pieces (quarters of quarters of quarters) that lines from footprints may arrive on: those of
    /// which a stencil hides all are proved dark.
    pub lit: u64,
}

/// A step, lowered.
#[derive(Debug, Clone)]
pub struct Step {
    /// Index into [`Scene::configurations`].
    pub configuration: usize,
    /// Duration, s.
    pub lasts_s: f64,
    /// Power of each source.
    pub power: Vec<f64>,
    /// For each source: power above 0 and no shutter that names it is shut.
    pub open: Vec<bool>,
    /// What the rotations do.
    pub motion: super::motion::StepMotion,
}

/// Geometry during some steps.
#[derive(Debug, Clone)]
pub struct Configuration {
    /// Which shutters are shut.
    pub shut: Vec<bool>,
    /// What stands still, chamber frame (source faces, still fixtures and coupons, shut shutters).
    pub still: Group,
    /// What rides, riding frame.
    pub riding: Group,
}

/// A rigid group of bodies as the ray kernel sees it.
///
/// Corners are rounded to f32 in the group's frame; that rounded geometry is what every ray meets
/// and what every receiver lies on.
#[derive(Debug, Clone)]
pub struct Group {
    /// Ray kernel over all triangles of the group.
    pub kernel: Arc<Kernel>,
    /// Bodies of the group in ascending order, with the first kernel triangle of each; needles of a body
    /// keep their number, so kernel triangle = first + row.
    pub bodies: Vec<(BodyId, u32)>,
    /// group_from_body for each entry of `bodies`.
    pub poses: Vec<DAffine3>,
}
