//! The plan as meant: SI values, defaults filled in, names not yet resolved to things.
//!
//! In: the key table and the reader of `plan`. Out: `scene::lower` turns it into a [`crate::scene::Scene`].

mod bodies;
mod schedule;
mod sources;

pub use bodies::*;
pub use schedule::*;
pub use sources::*;

use crate::metals::{self, Metal};
use glam::DVec3;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A place in a plan file, for diagnostics.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Place {
    /// File the value stands in (the plan itself or an included one).
    pub file: PathBuf,
    /// Byte offset of the value's first byte in that file.
    pub start: usize,
    /// Byte offset one past the value's last byte.
    pub end: usize,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
}

/// A plan file as meant: every quantity in SI, every default of the contract filled in.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// Path of the plan file; relative paths in the plan were resolved against it.
    pub path: PathBuf,
    /// Text of the plan file (without included files).
    pub text: String,
    /// Texts of all files read, the plan first, by path: what a diagnostic underlines.
    pub files: Vec<(PathBuf, String)>,
    /// Headline of report and bench card.
    pub title: String,
    /// Vacuum chamber; without it nothing has walls.
    pub chamber: Option<Chamber>,
    /// Working gas; without it atoms fly straight.
    pub gas: Option<Gas>,
    /// Metals the plan defines itself.
    pub metals: Vec<OwnMetal>,
    /// What emits.
    pub sources: Vec<Source>,
    /// What stands in the way.
    pub fixtures: Vec<Fixture>,
    /// Shutters, in plan order.
    pub shutters: Vec<Shutter>,
    /// What is to be coated.
    pub parts: Vec<Part>,
    /// Named places on parts.
    pub regions: Vec<Region>,
    /// Witness coupons.
    pub coupons: Vec<Coupon>,
    /// Chain of rotations, the first acting first on the parts.
    pub rotations: Vec<Rotation>,
    /// The schedule.
    pub steps: Vec<Step>,
    /// What film is wanted.
    pub film: Option<FilmWanted>,
    /// Stencils.
    pub masks: Vec<Mask>,
    /// Lines along which thickness is evaluated.
    pub probes: Vec<Probe>,
    /// What `advise` may vary.
    pub advise: Option<Advise>,
    /// Where each value stands, keyed as in `source.head.at`, `step.2.lasts`, `chamber.diameter`
    /// (entries of arrays by name, steps and rotations by number from 1; an entry itself as `source.head`).
    pub places: BTreeMap<String, Place>,
}

impl Plan {
    /// Where a key stands, as in `source.head.at`; where it is not written, the nearest enclosing
    /// key that is.
    pub fn place_of(&self, key: &str) -> Option<&Place> {
        let mut key = key;
        loop {
            if let Some(place) = self.places.get(key) {
                return Some(place);
            }
            key = key.rsplit_once('.')?.0;
        }
    }

    /// The metal of this name: one of the plan's own, else one of those that every plan knows.
    pub fn metal(&self, name: &str) -> Option<Metal> {
        self.metals
            .iter()
            .find(|own| own.name == name)
            .map(|own| Metal {
                name: own.name.clone(),
                density_kg_per_m3: own.density_kg_per_m3,
                molar_mass_kg_per_mol: own.molar_mass_kg_per_mol,
                surface_binding_j: own.surface_binding_j,
                melting_point_k: own.melting_point_k,
                diameter_m: own.diameter_m,
            })
            .or_else(|| metals::built_in(name))
    }
}

/// Shape of the vacuum chamber; it stands on z = 0 around the z axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChamberShape {
    /// Upright cylinder.
    Cylinder {
        /// Inner diameter, m.
        diameter_m: f64,
        /// Inner height, m.
        height_m: f64,
    },
    /// Box, centred on the axis in x and y.
    Box {
        /// Inner extent in x, y and z, m.
        size_m: DVec3,
    },
}

/// The vacuum chamber.
#[derive(Debug, Clone, PartialEq)]
pub struct Chamber {
    /// Shape and inner size.
    pub shape: ChamberShape,
    /// Sticking of its walls, 0..=1.
    pub sticking: f64,
}
