//! What can be wrong with a plan once its bodies stand in the chamber: one value per problem.
//!
//! In: findings of the files of `scene`. Out: messages for whoever draws diagnostics; [`SceneIssue::key`]
//! finds the place in the plan.

use crate::emission::EmissionError;
use crate::mesh::MeshError;
use crate::stencil::ArtworkError;
use crate::units::{degrees, mm, mm_and_inch};
use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;

/// Everything that is wrong with a scene, all of it at once, in plan order.
#[derive(Debug, Clone)]
pub struct SceneIssues {
    /// The problems; never empty.
    pub issues: Vec<SceneIssue>,
}

impl fmt::Display for SceneIssues {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, issue) in self.issues.iter().enumerate() {
            let separator = if i > 0 { "\n" } else { "" };
            write!(f, "{separator}{}: {issue}", issue.key())?;
        }
        Ok(())
    }
}

impl std::error::Error for SceneIssues {}

/// One problem of a scene with the plan key it belongs to.
#[derive(Debug, Clone)]
pub struct SceneIssue {
    /// Key in full, as in `part.horn.at`.
    pub key: String,
    /// What is wrong.
    pub problem: Problem,
}

impl SceneIssue {
    /// The plan key that the problem belongs to, as in `source.head.at` or `step.2`.
    pub fn key(&self) -> &str {
        &self.key
    }
}

impl fmt::Display for SceneIssue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem.fmt(f)
    }
}

impl std::error::Error for SceneIssue {}

/// What is wrong.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Problem {
    /// A mesh file that cannot be used.
    #[error(transparent)]
    Mesh(Arc<MeshError>),
    /// An artwork file that cannot be used.
    #[error(transparent)]
    Artwork(Arc<ArtworkError>),
    /// An artwork that is not among those loaded.
    #[error("artwork {} was not loaded (its outlines are needed here); load the plan's files first", .path.display())]
    ArtworkNotLoaded {
        /// File.
        path: PathBuf,
    },
    /// A sheet that goes round a cylinder more than once.
    #[error("artwork is {} wide (more than the {} round a cylinder of that radius); make `wrap` larger or the artwork smaller", mm(*.width_m), mm(*.round_m))]
    WrapsTwice {
        /// Width of the artwork, m.
        width_m: f64,
        /// Circumference, m.
        round_m: f64,
    },
    /// Openings that leave no sheet, or shapes that are no sheet.
    #[error(
        "the artwork leaves no sheet over the part (its outlines are nowhere near it, or open everything); correct `at`, the scale or `opens`"
    )]
    NoSheet,
    /// A direction of pushing along the sheet.
    #[error(
        "conform points along the artwork's plane (a sheet cannot be pushed sideways onto a surface); point it against the artwork's +z"
    )]
    PushedAside,
    /// A mesh that is not among those loaded.
    #[error("mesh {} was not loaded (its triangles are needed here); load the plan's meshes first", .path.display())]
    MeshNotLoaded {
        /// File.
        path: PathBuf,
    },
    /// An output that no rate follows from.
    #[error("{why}; say the output by coupon, charge or atoms_per_second")]
    RateUnknown {
        /// What is not known, and why that matters.
        why: String,
    },
    /// A coupon that says nothing about its source.
    #[error(
        "coupon \"{coupon}\" catches {:.2} % of what it would catch facing this source with nothing in the way (below 1 % it cannot scale the rate); move it where it sees the source", .share * 100.0
    )]
    CouponUnlit {
        /// Coupon.
        coupon: String,
        /// Share of its open flux.
        share: f64,
    },
    /// A mesh without area.
    #[error("mesh {} has {rows} triangles and all are without area (nothing can be coated or be in the way); export it again", .path.display())]
    MeshWithoutArea {
        /// File.
        path: PathBuf,
        /// Rows.
        rows: usize,
    },
    /// A law or a footprint that cannot be built.
    #[error(transparent)]
    Emission(#[from] EmissionError),
    /// A name that nothing in the plan bears.
    #[error(
        "{what} \"{name}\" does not exist (there are: {known}); correct the name or add the table"
    )]
    UnknownName {
        /// Kind of thing: "source", "part", …
        what: &'static str,
        /// The name.
        name: String,
        /// Names that exist.
        known: String,
    },
    /// A metal that is neither built in nor in the plan.
    #[error(
        "metal \"{name}\" is not known (its density is needed to turn atoms into thickness); use a built-in metal or add a [[metal]]"
    )]
    UnknownMetal {
        /// The name.
        name: String,
    },
    /// A metal of the plan's own of which too little is said to fly it through gas.
    #[error(
        "metal \"{metal}\" has no {key} (in gas it matters {what}); add {key} to its [[metal]]"
    )]
    MetalInGas {
        /// Metal.
        metal: String,
        /// What it tells.
        what: &'static str,
        /// Key.
        key: &'static str,
    },
    /// A table is missing altogether.
    #[error("the plan has no {what} ({why}); add one")]
    Missing {
        /// "[[part]]", "[[source]]" or "[[step]]".
        what: &'static str,
        /// Why it is needed.
        why: &'static str,
    },
    /// A scale that cannot be used.
    #[error(
        "scale {scale} (must be above 0, otherwise the part has no size or is mirrored); use 1 for the size in the file"
    )]
    Scale {
        /// The scale.
        scale: f64,
    },
    /// A size of 0 where a solid needs an extent.
    #[error("{what} is 0 mm (a solid needs an extent above 0 mm); give its size")]
    NoExtent {
        /// Which size.
        what: &'static str,
    },
    /// A hole that is wider than its plate.
    #[error("hole of {} in a plate of {} by {} (no metal would be left beside it); make the hole smaller", mm(*.hole_m), mm(*.width_m), mm(*.depth_m))]
    HoleTooWide {
        /// Diameter, m.
        hole_m: f64,
        /// Plate, m.
        width_m: f64,
        /// Plate, m.
        depth_m: f64,
    },
    /// A tube with a bore as wide as itself.
    #[error("inner diameter {} of a tube with outer diameter {} (no wall would be left); make the bore smaller", mm(*.inner_m), mm(*.outer_m))]
    NoTubeWall {
        /// m.
        inner_m: f64,
        /// m.
        outer_m: f64,
    },
    /// A ring with no width.
    #[error("inner radius {} of a ring with outer radius {} (nothing is left to emit); make the inner radius smaller", mm(*.inner_m), mm(*.outer_m))]
    NoRingWidth {
        /// m.
        inner_m: f64,
        /// m.
        outer_m: f64,
    },
    /// A direction that lies along the normal.
    #[error(
        "`along` is parallel to `facing` (it must point along the face to say how the {footprint} lies); give a direction in the face"
    )]
    AlongNormal {
        /// "rectangle" or "line".
        footprint: &'static str,
    },
    /// More rotations than can be followed.
    #[error("{count} rotations (at most {most} can be chained); leave out those that do not move")]
    TooManyRotations {
        /// In the plan.
        count: usize,
        /// Allowed.
        most: usize,
    },
    /// A list per rotation of the wrong length.
    #[error(
        "{given} entries for {rotations} rotations (one per rotation, in their order); give {rotations}"
    )]
    PerRotation {
        /// Given.
        given: usize,
        /// Rotations.
        rotations: usize,
    },
    /// A swing that cannot go on from where it was parked.
    #[error("swing goes on from {} where it was parked (outside its {} to {}); park it inside, or park it inside again before it moves", degrees(*.parked_rad), degrees(*.from_rad), degrees(*.to_rad))]
    SwingParkedOutside {
        /// rad.
        parked_rad: f64,
        /// rad.
        from_rad: f64,
        /// rad.
        to_rad: f64,
    },
    /// A step without duration.
    #[error(
        "step lasts {lasts_s} s (nothing happens in it); give it a time above 0 s or leave it out"
    )]
    NoDuration {
        /// s.
        lasts_s: f64,
    },
    /// No step lets anything through.
    #[error(
        "no source is open in any of the {steps} steps (nothing can land); open the shutter and give power in one of them"
    )]
    NoOpenStep {
        /// Steps.
        steps: usize,
    },
    /// More regions than are followed.
    #[error("{count} regions (at most {most} can be told apart); leave some out")]
    TooManyRegions {
        /// In the plan.
        count: usize,
        /// Allowed.
        most: usize,
    },
    /// More triangles than can be numbered.
    #[error(
        "{triangles} triangles in one rigid group (at most {most} can be numbered); use coarser meshes"
    )]
    TooManyTriangles {
        /// Found.
        triangles: usize,
        /// Allowed.
        most: u32,
    },
    /// A riding body that cuts something that stands still.
    #[error(
        "{riding} cuts {still} {at} (two solids cannot be in one place); move one of them, or change the angles that the schedule visits"
    )]
    Cuts {
        /// What rides.
        riding: String,
        /// What stands still.
        still: String,
        /// Where.
        at: String,
    },
    /// A part or coupon that leaves the chamber.
    #[error("{what} is {} beyond the {wall} {at} (it must stay inside the chamber through every angle that the schedule visits); move it, or make the chamber larger", mm_and_inch(*.beyond_m))]
    OutsideChamber {
        /// What.
        what: String,
        /// "wall", "base plate" or "lid".
        wall: &'static str,
        /// m.
        beyond_m: f64,
        /// Where.
        at: String,
    },
    /// A part that does not fit into the chamber however it lies.
    #[error("part is {} across (the chamber holds nothing longer than {}); {units}: correct `unit` or `scale`", mm_and_inch(*.extent_m), mm_and_inch(*.chamber_m))]
    PartTooBig {
        /// Largest extent, m.
        extent_m: f64,
        /// Longest line in the chamber, m.
        chamber_m: f64,
        /// The same number in other units.
        units: String,
    },
    /// A source or still coupon outside the chamber.
    #[error("{what} reaches {} out of the chamber (nothing is there); move it, or make the chamber larger", mm_and_inch(*.beyond_m))]
    StillOutside {
        /// What.
        what: String,
        /// m.
        beyond_m: f64,
    },
    /// A source with every part behind its face.
    #[error(
        "source {name} has every part behind its face through all angles (atoms leave in front of it and fly straight); turn `facing` round or move the source"
    )]
    FacesAway {
        /// The source.
        name: String,
    },
    /// A region without triangles.
    #[error(
        "region holds none of the {rows} triangles of part {part} (no film could be judged in it); correct its shape, object or direction"
    )]
    EmptyRegion {
        /// The part.
        part: String,
        /// Its rows.
        rows: usize,
    },
}
