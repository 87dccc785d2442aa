//! glTF and GLB: a scene of nodes that place meshes.
//!
//! In: JSON or a binary file, with buffers inside it, in data URIs or in files beside it. Out: the
//! triangles of the chosen scene, node by node in its order, in metres. The axes stay glTF's own:
//! y is up by its standard.

mod data;

use super::error::{At, Fault, MeshProblem, shortened};
use super::read::Beside;
use super::rows::Rows;
use data::Data;
use glam::{DAffine3, DMat4, DQuat, DVec3, DVec4};
use gltf_json::mesh::{Mode, Primitive, Semantic};
use gltf_json::scene::Node;
use gltf_json::validation::Checked;
use gltf_json::{Index, Root};

/// Deepest nesting of nodes.
const DEPTH_LIMIT: usize = 64;
/// Most nodes placed, those without triangles included.
const NODES_LIMIT: usize = 200_000;
/// Extensions that change no triangle start with one of these.
const HARMLESS: [&str; 8] = [
    "KHR_materials_",
    "KHR_texture_",
    "KHR_lights_",
    "KHR_xmp",
    "KHR_node_visibility",
    "EXT_texture_",
    "EXT_lights_",
    "MSFT_texture_",
];
/// Extensions that are refused even where a file only uses them: without them the shape is another.
const SHAPING: [&str; 1] = ["EXT_mesh_gpu_instancing"];

/// Reads a glTF as JSON.
pub(super) fn read_json(bytes: &[u8], beside: Beside<'_>, rows: &mut Rows) -> Result<(), Fault> {
    read(bytes, None, beside, rows)
}

/// Reads a GLB: a header of 12 bytes, a JSON chunk, and perhaps a binary one.
pub(super) fn read_binary(bytes: &[u8], beside: Beside<'_>, rows: &mut Rows) -> Result<(), Fault> {
    let word = |at: usize| {
        let word = bytes.get(at..at + 4)?.try_into().ok()?;
        Some(u32::from_le_bytes(word))
    };
    let cut = |what, needs: u64, at: usize| MeshProblem::Truncated {
        what,
        needs,
        has: bytes.len().saturating_sub(at) as u64,
    };
    let (Some(version), Some(length)) = (word(4), word(8)) else {
        return Err(cut("the header of a GLB", 12, 0).into());
    };
    if version != 2 {
        return Err(wrong_version(&version.to_string()).into());
    }
    if u64::from(length) != bytes.len() as u64 {
        return Err(cut("the whole GLB by its header", u64::from(length), 0)).at_byte(8);
    }
    let mut at = 12;
    let mut chunks = Vec::new();
    while at < bytes.len() {
        let (Some(size), Some(kind)) = (word(at), word(at + 4)) else {
            return Err(cut("the header of a chunk", 8, at)).at_byte(at);
        };
        let chunk = (at + 8)
            .checked_add(size as usize)
            .and_then(|end| bytes.get(at + 8..end))
            .ok_or_else(|| cut("a chunk", u64::from(size), at + 8))
            .at_byte(at)?;
        chunks.push((kind.to_le_bytes(), chunk));
        at += 8 + chunk.len();
        if chunks.len() == 2 {
            break;
        }
    }
    match *chunks.as_slice() {
        [(kind, json)] if kind == *b"JSON" => read(json, None, beside, rows),
        [(json_kind, json), (kind, binary)] if json_kind == *b"JSON" => {
            let binary = (kind == *b"BIN\0").then_some(binary);
            read(json, binary, beside, rows)
        }
        _ => Err(MeshProblem::Unexpected {
            expected: "a JSON chunk first",
            found: chunks
                .first()
                .map_or_else(String::new, |(kind, _)| shortened(kind)),
        })
        .at_byte(12),
    }
}

fn read(
    json: &[u8],
    binary: Option<&[u8]>,
    beside: Beside<'_>,
    rows: &mut Rows,
) -> Result<(), Fault> {
    let root = Root::from_slice(json).map_err(|error| MeshProblem::Json {
        detail: error.to_string(),
    })?;
    refuse_what_is_not_read(&root)?;
    let mut walk = Walk {
        data: Data::new(&root, binary, beside),
        root: &root,
        rows,
        nodes: 0,
        open: Vec::new(),
    };
    for node in start_nodes(&root)? {
        walk.node(node, DAffine3::IDENTITY)?;
    }
    Ok(())
}

fn refuse_what_is_not_read(root: &Root) -> Result<(), MeshProblem> {
    if !root.asset.version.starts_with("2.") {
        return Err(wrong_version(&root.asset.version));
    }
    let harmless = |name: &&String| !HARMLESS.iter().any(|start| name.starts_with(start));
    let required = root.extensions_required.iter().find(harmless);
    let shaping = root
        .extensions_used
        .iter()
        .find(|name| SHAPING.contains(&name.as_str()));
    match required.or(shaping) {
        Some(name) => Err(MeshProblem::Unsupported {
            feature: format!("the extension {:?}", shortened(name.as_bytes())),
            instead: "export it without compression, quantisation or instancing",
        }),
        None => Ok(()),
    }
}

/// The nodes at the top: of the chosen scene, of the only one, or without any scene all that no node
/// carries.
fn start_nodes(root: &Root) -> Result<Vec<usize>, Fault> {
    let scene = match (root.scene, root.scenes.as_slice()) {
        (Some(index), scenes) => Some(scenes.get(index.value()).ok_or(out_of_range(
            "scene",
            index.value(),
            scenes.len(),
        ))?),
        (None, [only]) => Some(only),
        (None, []) => None,
        (None, _) => {
            return Err(MeshProblem::Unsupported {
                feature: format!("{} scenes without a chosen one", root.scenes.len()),
                instead: "export one scene",
            }
            .into());
        }
    };
    if let Some(scene) = scene {
        return Ok(scene.nodes.iter().map(Index::value).collect());
    }
    let mut carried = vec![false; root.nodes.len()];
    for child in root
        .nodes
        .iter()
        .flat_map(|node| node.children.iter().flatten())
    {
        if let Some(carried) = carried.get_mut(child.value()) {
            *carried = true;
        }
    }
    Ok((0..root.nodes.len())
        .filter(|node| !carried[*node])
        .collect())
}

/// A walk through the nodes.
struct Walk<'a, 'b> {
    root: &'a Root,
    data: Data<'a>,
    rows: &'b mut Rows,
    nodes: usize,
    /// Nodes being walked through, outermost first.
    open: Vec<usize>,
}

impl Walk<'_, '_> {
    fn node(&mut self, index: usize, outer: DAffine3) -> Result<(), Fault> {
        let place = || format!("node {index}");
        self.nodes += 1;
        if self.nodes > NODES_LIMIT {
            let limit = NODES_LIMIT;
            return Err(MeshProblem::TooManyCopies { limit }).at_element(place);
        }
        if self.open.contains(&index) {
            return Err(MeshProblem::Circle { what: "a node" }).at_element(place);
        }
        if self.open.len() >= DEPTH_LIMIT {
            let (what, limit) = ("nodes", DEPTH_LIMIT);
            return Err(MeshProblem::TooDeep { what, limit }).at_element(place);
        }
        let root = self.root;
        let node = root
            .nodes
            .get(index)
            .ok_or_else(|| out_of_range("node", index, root.nodes.len()))
            .at_element(place)?;
        if node.skin.is_some() {
            return Err(MeshProblem::Unsupported {
                feature: "a skin".to_owned(),
                instead: "apply the pose before export",
            })
            .at_element(place);
        }
        let placed = outer * transform(node).at_element(place)?;
        let start = self.rows.len();
        if let Some(mesh) = node.mesh {
            self.mesh(mesh.value(), placed, node.name.is_none())?;
        }
        self.open.push(index);
        for child in node.children.iter().flatten() {
            self.node(child.value(), placed)?;
        }
        self.open.pop();
        if let Some(name) = &node.name {
            self.rows.name_from(start, name);
        }
        Ok(())
    }

    /// Places a mesh; it gives its own name to its rows if its node has none.
    fn mesh(&mut self, index: usize, placed: DAffine3, nameless: bool) -> Result<(), Fault> {
        let root = self.root;
        let mesh = root
            .meshes
            .get(index)
            .ok_or_else(|| out_of_range("mesh", index, root.meshes.len()))
            .at_element(|| format!("mesh {index}"))?;
        let start = self.rows.len();
        for (number, primitive) in mesh.primitives.iter().enumerate() {
            let place = || format!("mesh {index}, primitive {number}");
            self.primitive(primitive, placed, &place)?;
        }
        if let Some(name) = mesh.name.as_ref().filter(|_| nameless) {
            self.rows.name_from(start, name);
        }
        Ok(())
    }

    fn primitive(
        &mut self,
        primitive: &Primitive,
        placed: DAffine3,
        place: &dyn Fn() -> String,
    ) -> Result<(), Fault> {
        let Checked::Valid(mode) = primitive.mode else {
            return Err(MeshProblem::Unexpected {
                expected: "a primitive mode from 0 to 6",
                found: "another one".to_owned(),
            })
            .at_element(place);
        };
        // Points and lines have no area.
        if !matches!(
            mode,
            Mode::Triangles | Mode::TriangleStrip | Mode::TriangleFan
        ) {
            return Ok(());
        }
        if primitive
            .targets
            .as_ref()
            .is_some_and(|targets| !targets.is_empty())
        {
            return Err(MeshProblem::Unsupported {
                feature: "morph targets".to_owned(),
                instead: "apply them before export",
            })
            .at_element(place);
        }
        let key = "attribute POSITION";
        let positions = primitive
            .attributes
            .get(&Checked::Valid(Semantic::Positions))
            .ok_or(MeshProblem::Missing { key })
            .at_element(place)?;
        let loaded = self.data.loaded;
        let positions = self.data.positions(positions.value())?;
        let mut corners = Vec::with_capacity(positions.len());
        for (number, position) in positions.iter().enumerate() {
            let corner = self.rows.corner(placed.transform_point3(*position));
            corners.push(corner.at_element(|| format!("{}, corner {number}", place()))?);
        }
        let indices = match primitive.indices {
            Some(indices) => Some(self.data.indices(indices.value())?),
            None => None,
        };
        self.rows.allow_for(self.data.loaded - loaded);
        let count = indices.as_ref().map_or(corners.len(), Vec::len);
        if mode == Mode::Triangles && count % 3 != 0 {
            return Err(MeshProblem::Unexpected {
                expected: "three corners for each triangle",
                found: format!("{count} corners"),
            })
            .at_element(place);
        }
        // A mirrored copy would otherwise show its inside.
        let mirrored = placed.matrix3.determinant() < 0.0;
        for number in 0..triangle_count(mode, count) {
            let triangle = || format!("{}, triangle {number}", place());
            let [a, b, c] = triangle_places(mode, number);
            let mut row = [0; 3];
            for (corner, place) in row
                .iter_mut()
                .zip(if mirrored { [a, c, b] } else { [a, b, c] })
            {
                let index = indices
                    .as_ref()
                    .map_or(place, |indices| indices[place] as usize);
                *corner = *corners
                    .get(index)
                    .ok_or_else(|| out_of_range("corner", index, corners.len()))
                    .at_element(triangle)?;
            }
            self.rows.push(row).at_element(triangle)?;
        }
        Ok(())
    }
}

fn triangle_count(mode: Mode, corners: usize) -> usize {
    match mode {
        Mode::Triangles => corners / 3,
        _ => corners.saturating_sub(2),
    }
}

/// Places of a triangle's corners in the list (glTF 2.0, section 3.7.2.1).
fn triangle_places(mode: Mode, number: usize) -> [usize; 3] {
    match mode {
        Mode::TriangleStrip => [number, number + 1 + number % 2, number + 2 - number % 2],
        Mode::TriangleFan => [number + 1, number + 2, 0],
        _ => [3 * number, 3 * number + 1, 3 * number + 2],
    }
}

/// Where a node puts what it carries.
fn transform(node: &Node) -> Result<DAffine3, MeshProblem> {
    let transform = match node.matrix {
        Some(matrix) => {
            let matrix = DMat4::from_cols_array(&matrix.map(f64::from));
            if matrix.row(3) != DVec4::W {
                return Err(MeshProblem::Unexpected {
                    expected: "a matrix whose last row is 0 0 0 1",
                    found: format!("{}", matrix.row(3)),
                });
            }
            DAffine3::from_mat4(matrix)
        }
        None => {
            let [x, y, z, w] = node.rotation.unwrap_or_default().0.map(f64::from);
            let rotation = DQuat::from_xyzw(x, y, z, w);
            let near_one = (0.999..1.001).contains(&rotation.length());
            if !near_one {
                return Err(MeshProblem::Unexpected {
                    expected: "a rotation of length 1",
                    found: format!("length {}", rotation.length()),
                });
            }
            DAffine3::from_scale_rotation_translation(
                vector(node.scale.unwrap_or([1.0; 3])),
                rotation.normalize(),
                vector(node.translation.unwrap_or([0.0; 3])),
            )
        }
    };
    let determinant = transform.matrix3.determinant();
    if !transform.is_finite() || !determinant.is_finite() || determinant == 0.0 {
        return Err(MeshProblem::Unexpected {
            expected: "a finite transform that keeps volumes above 0",
            found: format!("determinant {determinant}"),
        });
    }
    Ok(transform)
}

fn vector(axes: [f32; 3]) -> DVec3 {
    DVec3::from_array(axes.map(f64::from))
}

fn wrong_version(version: &str) -> MeshProblem {
    MeshProblem::Unsupported {
        feature: format!("glTF version {:?}", shortened(version.as_bytes())),
        instead: "export as glTF 2.0",
    }
}

fn out_of_range(what: &'static str, index: usize, count: usize) -> MeshProblem {
    MeshProblem::OutOfRange {
        what,
        index: i64::try_from(index).unwrap_or(i64::MAX),
        count: count as u64,
    }
}
