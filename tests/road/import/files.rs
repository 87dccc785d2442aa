//! Writers of mesh files for the checks: plain, and independent of the readers.

use std::fmt::Write as _;
use std::io::{Cursor, Write as _};

/// Corners and polygons. Text formats get every digit of the corners.
#[derive(Debug, Clone)]
pub struct Solid {
    pub corners: Vec<[f32; 3]>,
    pub faces: Vec<Vec<u32>>,
}

/// A box of 2 × 3 × 4 with its lower corner at (1, 1, 1), as six quads that point outward.
pub fn brick() -> Solid {
    let corners = (0..8_u8)
        .map(|corner| {
            let pick = |axis: u8, size: f32| {
                if corner >> axis & 1 == 1 {
                    1.0 + size
                } else {
                    1.0
                }
            };
            [pick(0, 2.0), pick(1, 3.0), pick(2, 4.0)]
        })
        .collect();
    let faces = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    Solid {
        corners,
        faces: faces.map(Vec::from).to_vec(),
    }
}

impl Solid {
    /// The faces fanned from their first corners.
    pub fn triangles(&self) -> Vec<[u32; 3]> {
        let fan = |face: &Vec<u32>| {
            let face = face.clone();
            (1..face.len() - 1).map(move |place| [face[0], face[place], face[place + 1]])
        };
        self.faces.iter().flat_map(fan).collect()
    }
}

/// Binary STL with this header, cut or filled to 80 bytes.
pub fn stl(solid: &Solid, header: &[u8]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, b' ');
    let triangles = solid.triangles();
    bytes.extend(u32::try_from(triangles.len()).unwrap().to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]);
        for corner in triangle {
            for axis in solid.corners[corner as usize] {
                bytes.extend(axis.to_le_bytes());
            }
        }
        bytes.extend([0; 2]);
    }
    bytes
}

/// ASCII STL.
pub fn stl_ascii(solid: &Solid, name: &str) -> String {
    let mut text = format!("solid {name}\n");
    for triangle in solid.triangles() {
        text.push_str("  facet normal 0 0 0\n    outer loop\n");
        for corner in triangle {
            let [x, y, z] = solid.corners[corner as usize].map(f64::from);
            writeln!(text, "      vertex {x} {y} {z}").unwrap();
        }
        text.push_str("    endloop\n  endfacet\n");
    }
    writeln!(text, "endsolid {name}").unwrap();
    text
}

/// OBJ.
pub fn obj(solid: &Solid) -> String {
    let mut text = String::from("# a body\n");
    for [x, y, z] in solid.corners.iter().map(|corner| corner.map(f64::from)) {
        writeln!(text, "v {x} {y} {z}").unwrap();
    }
    for face in &solid.faces {
        text.push('f');
        for corner in face {
            write!(text, " {}", corner + 1).unwrap();
        }
        text.push('\n');
    }
    text
}

/// How a PLY is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlyKind {
    Ascii,
    Little,
    Big,
}

/// PLY with an element and properties that a reader must pass over.
pub fn ply(solid: &Solid, kind: PlyKind) -> Vec<u8> {
    let format = match kind {
        PlyKind::Ascii => "ascii",
        PlyKind::Little => "binary_little_endian",
        PlyKind::Big => "binary_big_endian",
    };
    let mut bytes = format!(
        "ply\nformat {format} 1.0\ncomment a body\nelement vertex {}\nproperty uchar red\n\
         property float x\nproperty float y\nproperty float z\n\
         element note 1\nproperty list uchar short words\nproperty double value\n\
         element face {}\nproperty list uchar int vertex_indices\nproperty char flag\nend_header\n",
        solid.corners.len(),
        solid.faces.len()
    )
    .into_bytes();
    let ordered = |little: &[u8]| {
        let mut piece = little.to_vec();
        if kind == PlyKind::Big {
            piece.reverse();
        }
        piece
    };
    for [x, y, z] in &solid.corners {
        if kind == PlyKind::Ascii {
            let [x, y, z] = [x, y, z].map(|axis| f64::from(*axis));
            bytes.extend(format!("200 {x} {y} {z}\n").bytes());
        } else {
            bytes.push(200);
            for axis in [x, y, z] {
                bytes.extend(ordered(&axis.to_le_bytes()));
            }
        }
    }
    if kind == PlyKind::Ascii {
        bytes.extend(b"2 7 -7 0.5\n");
    } else {
        bytes.push(2);
        bytes.extend(ordered(&7_i16.to_le_bytes()));
        bytes.extend(ordered(&(-7_i16).to_le_bytes()));
        bytes.extend(ordered(&0.5_f64.to_le_bytes()));
    }
    for face in &solid.faces {
        let count = u8::try_from(face.len()).unwrap();
        if kind == PlyKind::Ascii {
            let words: Vec<_> = face.iter().map(u32::to_string).collect();
            bytes.extend(format!("{count} {} -1\n", words.join(" ")).bytes());
        } else {
            bytes.push(count);
            for corner in face {
                bytes.extend(ordered(&corner.to_le_bytes()));
            }
            bytes.push(0xff);
        }
    }
    bytes
}

/// A zip of these members.
pub fn archive(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in members {
        let options = zip::write::SimpleFileOptions::default();
        writer.start_file(*name, options).unwrap();
        writer.write_all(content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

/// The `<mesh>` of a 3MF object.
pub fn mesh_xml(solid: &Solid) -> String {
    let mut text = String::from("<mesh><vertices>");
    for [x, y, z] in &solid.corners {
        write!(text, "<vertex x=\"{x}\" y=\"{y}\" z=\"{z}\"/>").unwrap();
    }
    text.push_str("</vertices><triangles>");
    for [a, b, c] in solid.triangles() {
        write!(text, "<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>").unwrap();
    }
    text.push_str("</triangles></mesh>");
    text
}

/// A 3MF model file around resources and build.
pub fn model_xml(attributes: &str, resources: &str, build: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <model xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\" {attributes}>\
         <resources>{resources}</resources><build>{build}</build></model>"
    )
}

/// A 3MF archive of one model file.
pub fn threemf(model: &str) -> Vec<u8> {
    archive(&[("3D/3dmodel.model", model.as_bytes())])
}

/// Positions as 32-bit floats, then indices of 32 bits.
pub fn gltf_buffer(solid: &Solid) -> Vec<u8> {
    let mut bytes = Vec::new();
    for axis in solid.corners.iter().flatten() {
        bytes.extend(axis.to_le_bytes());
    }
    for corner in solid.triangles().iter().flatten() {
        bytes.extend(corner.to_le_bytes());
    }
    bytes
}

/// A glTF of one mesh over the buffer of [`gltf_buffer`], with this `uri` entry and these nodes.
pub fn gltf_json(solid: &Solid, uri: &str, nodes: &str) -> String {
    let positions = 12 * solid.corners.len();
    let indices = 12 * solid.triangles().len();
    format!(
        r#"{{"asset": {{"version": "2.0"}}, "scene": 0, "scenes": [{{"nodes": [0]}}],
        "nodes": [{nodes}], "meshes": [{{"name": "body", "primitives": [
            {{"attributes": {{"POSITION": 0}}, "indices": 1}}]}}],
        "accessors": [
            {{"bufferView": 0, "componentType": 5126, "count": {}, "type": "VEC3"}},
            {{"bufferView": 1, "componentType": 5125, "count": {}, "type": "SCALAR"}}],
        "bufferViews": [
            {{"buffer": 0, "byteLength": {positions}}},
            {{"buffer": 0, "byteOffset": {positions}, "byteLength": {indices}}}],
        "buffers": [{{"byteLength": {}{uri}}}]}}"#,
        solid.corners.len(),
        indices / 4,
        positions + indices,
    )
}

/// A GLB around JSON and a binary chunk.
pub fn glb(json: &str, binary: &[u8]) -> Vec<u8> {
    let mut json = json.as_bytes().to_vec();
    json.resize(json.len().next_multiple_of(4), b' ');
    let mut binary = binary.to_vec();
    binary.resize(binary.len().next_multiple_of(4), 0);
    let word = |value: usize| u32::try_from(value).unwrap().to_le_bytes();
    let mut bytes = b"glTF".to_vec();
    bytes.extend(word(2));
    bytes.extend(word(12 + 8 + json.len() + 8 + binary.len()));
    bytes.extend(word(json.len()));
    bytes.extend(b"JSON");
    bytes.extend(json);
    bytes.extend(word(binary.len()));
    bytes.extend(b"BIN\0");
    bytes.extend(binary);
    bytes
}
