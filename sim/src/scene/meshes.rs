//! The store of meshes and artworks: each file once, shared by every scene that needs it.
//!
//! In: the files that a plan names, or meshes from memory. Out: shared meshes in metres for `lower`.

use super::issue::{Problem, SceneIssue, SceneIssues};
use crate::mesh::{Mesh, read_mesh};
use crate::plan::model::{BodyShape, Footprint, Mask, MeshFile, Plan};
use crate::stencil::{Artwork, read_artwork};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// Meshes in metres, by file and unit.
#[derive(Debug, Clone, Default)]
pub struct Meshes {
    read: BTreeMap<(PathBuf, Option<u64>), (Arc<Mesh>, f64)>,
    in_memory: BTreeMap<PathBuf, Arc<Mesh>>,
    artworks: BTreeMap<(PathBuf, Option<u64>), Arc<Artwork>>,
    artworks_in_memory: BTreeMap<PathBuf, Arc<Artwork>>,
}

impl Meshes {
    /// Puts in a mesh that is already in metres: it stands for the file of that path, whatever its unit.
    pub fn insert(&mut self, path: impl Into<PathBuf>, mesh: Mesh) {
        self.in_memory.insert(path.into(), Arc::new(mesh));
    }

    /// The mesh of a file.
    pub fn get(&self, file: &MeshFile) -> Option<Arc<Mesh>> {
        if let Some(mesh) = self.in_memory.get(&file.path) {
            return Some(Arc::clone(mesh));
        }
        self.read.get(&key(file)).map(|(mesh, _)| Arc::clone(mesh))
    }

    /// Puts in an artwork: it stands for the file of that path, whatever its unit.
    pub fn insert_artwork(&mut self, path: impl Into<PathBuf>, artwork: Artwork) {
        self.artworks_in_memory
            .insert(path.into(), Arc::new(artwork));
    }

    /// The artwork of a stencil.
    pub fn artwork(&self, mask: &Mask) -> Option<Arc<Artwork>> {
        let in_memory = self.artworks_in_memory.get(&mask.artwork);
        in_memory
            .or_else(|| self.artworks.get(&artwork_key(mask)))
            .map(Arc::clone)
    }

    /// Metres per unit of a file: as read, as the plan says, else 1.
    pub fn unit_m(&self, file: &MeshFile) -> f64 {
        let read = self.read.get(&key(file)).map(|(_, unit_m)| *unit_m);
        read.or(file.unit_m).unwrap_or(1.0)
    }

    fn holds(&self, file: &MeshFile) -> bool {
        self.in_memory.contains_key(&file.path) || self.read.contains_key(&key(file))
    }
}

/// Reads every mesh and artwork that a plan names, each file once.
///
/// # Errors
///
/// If files cannot be read or are no usable meshes or artworks; all of them at once.
pub fn load_meshes(plan: &Plan) -> Result<Meshes, SceneIssues> {
    let mut meshes = Meshes::default();
    load_missing(plan, &mut meshes)?;
    Ok(meshes)
}

/// Reads those meshes of a plan that the store does not hold yet.
///
/// # Errors
///
/// As [`load_meshes`]; what could be read is in the store then.
pub fn load_missing(plan: &Plan, meshes: &mut Meshes) -> Result<(), SceneIssues> {
    let mut issues = Vec::new();
    for (plan_key, file) in mesh_files(plan) {
        if meshes.holds(file) {
            continue;
        }
        match read_mesh(&file.path, file.unit_m) {
            Ok(read) => {
                let stored = (Arc::new(read.mesh), read.unit_m);
                meshes.read.insert(key(file), stored);
            }
            Err(error) => issues.push(SceneIssue {
                key: plan_key,
                problem: Problem::Mesh(Arc::new(error)),
            }),
        }
    }
    for (number, mask) in plan.masks.iter().enumerate() {
        if meshes.artwork(mask).is_some() {
            continue;
        }
        match read_artwork(&mask.artwork, mask.unit_m) {
            Ok(artwork) => {
                meshes.artworks.insert(artwork_key(mask), Arc::new(artwork));
            }
            Err(error) => issues.push(SceneIssue {
                key: format!("mask.{}.artwork", number + 1),
                problem: Problem::Artwork(Arc::new(error)),
            }),
        }
    }
    if issues.is_empty() {
        Ok(())
    } else {
        Err(SceneIssues { issues })
    }
}

/// Every mesh file that a plan names, with its key.
fn mesh_files(plan: &Plan) -> Vec<(String, &MeshFile)> {
    let mut files: Vec<(String, &MeshFile)> = Vec::new();
    for part in &plan.parts {
        files.push((format!("part.{}.mesh", part.name), &part.mesh));
    }
    let fixtures = plan.fixtures.iter();
    let fixtures = fixtures.map(|f| (format!("fixture.{}.body.file", f.name), &f.body));
    let shutters = plan.shutters.iter();
    let shutters = shutters.map(|s| (format!("shutter.{}.body.file", s.name), &s.body));
    let regions = plan.regions.iter().filter_map(|region| {
        let (inside, _) = region.inside.as_ref()?;
        Some((format!("region.{}.inside.file", region.name), inside))
    });
    for (key, shape) in fixtures.chain(shutters).chain(regions) {
        if let BodyShape::Mesh(file) = shape {
            files.push((key, file));
        }
    }
    for source in &plan.sources {
        if let Footprint::Mesh(file) = &source.footprint {
            files.push((format!("source.{}.footprint.file", source.name), file));
        }
    }
    files
}

fn artwork_key(mask: &Mask) -> (PathBuf, Option<u64>) {
    (mask.artwork.clone(), mask.unit_m.map(f64::to_bits))
}

fn key(file: &MeshFile) -> (PathBuf, Option<u64>) {
    (file.path.clone(), file.unit_m.map(f64::to_bits))
}
