//! The store of meshes: each file once, shared by every scene that needs it.
//!
//! In: the files that a plan names, or meshes from memory. Out: shared meshes in metres for `lower`.

use crate::mesh::Mesh;
use crate::plan::model::MeshFile;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// Meshes in metres, by file and unit.
#[derive(Debug, Clone, Default)]
pub struct Meshes {
    read: BTreeMap<(PathBuf, Option<u64>), Arc<Mesh>>,
    in_memory: BTreeMap<PathBuf, Arc<Mesh>>,
}

impl Meshes {
    /// Puts in a mesh that is already in metres: it stands for the file of that path, whatever its unit.
    pub fn insert(&mut self, path: impl Into<PathBuf>, mesh: Mesh) {
        self.in_memory.insert(path.into(), Arc::new(mesh));
    }

    /// Puts in a mesh as read from a file with the unit that the plan says.
    pub fn insert_read(&mut self, file: &MeshFile, mesh: Mesh) {
        self.read.insert(key(file), Arc::new(mesh));
    }

    /// The mesh of a file.
    pub fn get(&self, file: &MeshFile) -> Option<Arc<Mesh>> {
        let found = self.in_memory.get(&file.path);
        found.or_else(|| self.read.get(&key(file))).cloned()
    }
}

fn key(file: &MeshFile) -> (PathBuf, Option<u64>) {
    (file.path.clone(), file.unit_m.map(f64::to_bits))
}
