//! Meshes: read from files, welded, oriented, and judged.
//!
//! In: a file and, for formats that carry none, its unit. Out: a [`Mesh`] in metres whose triangles
//! are the file's triangles, in file order, each with its row. Next on the road: `scene`.

mod boxes;
mod edges;
mod error;
mod gltf;
mod measure;
mod nest;
mod obj;
mod ply;
mod ply_body;
mod polygon;
mod read;
mod rows;
mod shells;
mod solid;
mod stl;
mod text;
mod threemf;

pub use error::{MeshError, MeshPlace, MeshProblem};
pub use read::{Beside, MeshFormat, MeshRead, is_named_as_mesh, read_mesh, read_mesh_bytes};

#[cfg(test)]
mod tests;

use glam::DVec3;

/// A triangle mesh in metres, as the file gave it, welded and oriented.
#[derive(Debug, Clone, Default)]
pub struct Mesh {
    /// Distinct corners, m (bit-equal corners of the file are one).
    pub vertices: Vec<DVec3>,
    /// Corner indices, one row per triangle of the file in file order, polygons as split by the reader.
    /// Needles (see [`Mesh::needle`]) keep their row.
    pub triangles: Vec<[u32; 3]>,
    /// True for rows that have no area: two corners equal after welding, or an f64 area of exactly 0.
    pub needle: Vec<bool>,
    /// Shell (edge-connected component) of each row; `u32::MAX` for needles.
    pub shell_of: Vec<u32>,
    /// The shells.
    pub shells: Vec<Shell>,
    /// Named objects of the file and their rows, in file order; may be empty.
    pub objects: Vec<(String, std::ops::Range<usize>)>,
    /// Per row: see [`find_buried`].
    pub buried: Vec<bool>,
    /// Per row: see [`closed_cavity`].
    pub sealed: Vec<bool>,
    /// What was found and mended.
    pub health: MeshHealth,
}

/// An edge-connected component of a mesh.
///
/// Triangles are connected through edges that exactly two of them share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shell {
    /// Every edge is shared by exactly two of its triangles that run through it in opposite
    /// directions (after orienting).
    pub closed: bool,
    /// Number of closed shells around this one: 0 outermost, odd depth is the wall of a hollow.
    pub depth: u32,
    /// Number of its triangles, needles aside.
    pub triangles: u32,
}

/// What was found in a mesh and what was mended, as counts.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct MeshHealth {
    /// Rows in the file.
    pub triangles: usize,
    /// Corners of the file that were welded onto an equal one.
    pub welded_corners: usize,
    /// Rows without area.
    pub needles: usize,
    /// Edges that belong to one triangle only.
    pub open_edges: usize,
    /// Edges that belong to three or more triangles.
    pub non_manifold_edges: usize,
    /// Triangles turned round to make closed shells point outward (hollows inward).
    pub flipped: usize,
    /// Edges of open sheets whose two triangles disagree about the side.
    pub flip_edges: usize,
    /// Closed shells.
    pub closed_shells: usize,
    /// Open sheets.
    pub open_sheets: usize,
    /// Closed shells that wall a hollow.
    pub hollows: usize,
    /// Rows that lie inside another solid of the part.
    pub buried: usize,
}

/// Rows of closed shells whose outer side lies inside another solid of the same part.
///
/// Row r is buried if Σ over the other closed shells of the winding number just outside its
/// centroid (solids +1, hollows −1, its own hollow −1) is at least 1. Found while reading, from
/// the unscaled mesh; scaling does not change it.
///
/// Neglects: shells that pass through themselves; rows that are buried in part are told by their
/// centroid.
pub fn find_buried(mesh: &Mesh) -> Vec<bool> {
    mesh.buried.clone()
}

/// Rows that wall a closed cavity or stand in one: no line from outside the part can reach them.
///
/// True for closed shells at odd depth that neither touch nor cross another closed shell, and for
/// what lies within them; false in doubt.
pub fn closed_cavity(mesh: &Mesh) -> Vec<bool> {
    mesh.sealed.clone()
}
