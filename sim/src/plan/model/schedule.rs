//! Rotations, steps, and what is wanted of the run.

use super::Placement;
use glam::DVec3;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// One rotation of the chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Rotation {
    /// Axis, unit length, at angles 0.
    pub axis: DVec3,
    /// A point on it, m, at angles 0.
    pub through_m: DVec3,
    /// Angular speed, rad/s, signed.
    pub speed_rad_per_s: f64,
    /// Swing amplitude, rad: from 0 up to it and back.
    pub swing_rad: Option<f64>,
}

/// Which shutters are shut in a step.
#[derive(Debug, Clone, PartialEq)]
pub enum ShutterState {
    /// All as said.
    All {
        /// True when shut.
        shut: bool,
    },
    /// By name; those not named are open.
    Named(BTreeMap<String, bool>),
}

/// Power of the sources in a step.
#[derive(Debug, Clone, PartialEq)]
pub enum StepPower {
    /// Times every source's output.
    All(f64),
    /// By name; those not named are off.
    Named(BTreeMap<String, f64>),
}

/// What a rotation does while held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hold {
    /// Parked at an absolute angle, rad.
    At(f64),
    /// Left turning.
    Turn,
}

/// One step of the schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Note for the bench card.
    pub note: Option<String>,
    /// Duration, s.
    pub lasts_s: f64,
    /// Shutters.
    pub shutter: ShutterState,
    /// Power.
    pub power: StepPower,
    /// Parked angles, one per rotation.
    pub hold: Option<Vec<Hold>>,
    /// Speeds for this step, rad/s, one per rotation.
    pub speed_rad_per_s: Option<Vec<f64>>,
    /// Opened up before this step.
    pub vent: bool,
    /// New angles of parts (rad), by name, from this step on.
    pub turn_rad: BTreeMap<String, DVec3>,
    /// New places of parts (m), by name, from this step on.
    pub at_m: BTreeMap<String, DVec3>,
}

/// Thickness wanted.
#[derive(Debug, Clone, PartialEq)]
pub enum Want {
    /// All metals together, m.
    Total(f64),
    /// Per metal, m.
    PerMetal(BTreeMap<String, f64>),
}

/// What film is wanted where.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmWanted {
    /// The least useful thickness.
    pub want: Want,
    /// Share of the area, 0..=1.
    pub on: f64,
    /// Names of regions; none: all parts.
    pub regions: Option<Vec<String>>,
    /// Names of regions that should stay bare.
    pub bare: Vec<String>,
    /// What still counts as bare, m.
    pub bare_under_m: f64,
}

/// A stencil.
#[derive(Debug, Clone, PartialEq)]
pub struct Mask {
    /// Name of the part it lies on.
    pub part: String,
    /// Artwork file.
    pub artwork: PathBuf,
    /// Metres per unit (DXF) or per px (SVG), where said.
    pub unit_m: Option<f64>,
    /// True when the filled shapes are open, false when the ground is.
    pub opens_shapes: bool,
    /// Sheet thickness, m.
    pub sheet_m: f64,
    /// Lift above the surface, m.
    pub lift_m: f64,
    /// Place in the part's coordinates.
    pub placement: Placement,
    /// Radius of the cylinder it is laid on, m.
    pub wrap_m: Option<f64>,
    /// Direction along which it is pushed onto the mesh.
    pub conform: Option<DVec3>,
    /// Sticking, 0..=1.
    pub sticking: f64,
}

/// A straight line along which thickness is evaluated.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// Name, used as a file name.
    pub name: String,
    /// Name of the part.
    pub part: String,
    /// Start, m, in the part's coordinates.
    pub from_m: DVec3,
    /// End, m.
    pub to_m: DVec3,
    /// Number of points.
    pub points: usize,
}

/// What `advise` makes small.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Minimise {
    /// Open time.
    Time,
    /// Metal.
    Metal,
    /// Unevenness.
    Unevenness,
}

/// How the part turns in advised plans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AdviseTurning {
    /// Steady turning.
    Steady,
    /// Hand-turned stops.
    Stops,
    /// Both tried.
    Both,
}

/// A key that `advise` varies.
#[derive(Debug, Clone, PartialEq)]
pub struct Vary {
    /// Key, as in `part.horn.turn.y`.
    pub key: String,
    /// Lower bound, SI.
    pub from: f64,
    /// Upper bound, SI.
    pub to: f64,
}

/// What `advise` may do.
#[derive(Debug, Clone, PartialEq)]
pub struct Advise {
    /// Aim.
    pub minimise: Minimise,
    /// Turning.
    pub turning: AdviseTurning,
    /// Free keys.
    pub vary: Vec<Vary>,
}
