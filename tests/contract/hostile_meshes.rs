//! What mesh files get that lie, explode, or merely look odd: a sentence or the right mesh, in bounded
//! time and memory, never a panic.

use crate::program::{Folder, Ran};
use crate::sample::{ascii_stl, cube, cube_folder, cube_plan_with, stl};
use std::io::Write;
use zip::write::SimpleFileOptions;

/// A folder whose plan names this mesh, with the unit said or not.
fn with_mesh(name: &str, unit: &str, content: impl AsRef<[u8]>) -> Folder {
    let folder = Folder::new();
    let plan = cube_plan_with("mesh = \"cube.stl\"", &format!("mesh = \"{name}\""))
        .replace("unit = \"mm\"\n", unit);
    folder.write("cube.toml", plan);
    folder.write(name, content);
    folder
}

const MM: &str = "unit = \"mm\"\n";

fn check(folder: &Folder) -> Ran {
    folder.run_limited(&["check", "cube.toml", "--json"])
}

/// The mesh is refused with a sentence that names its file, at the place of the plan that names it.
#[track_caller]
fn refused(name: &str, content: impl AsRef<[u8]>, said: &[&str]) {
    let folder = with_mesh(name, unit_for(name), content);
    let before = folder.names();
    let ran = check(&folder).refuses_with(said);
    assert!(ran.stderr.contains(name), "{}", ran.stderr);
    assert!(ran.stderr.starts_with("cube.toml:"), "{}", ran.stderr);
    let coat = folder.run_limited(&["coat", "cube.toml", "--quiet"]);
    coat.refuses_with(said);
    assert_eq!(folder.names(), before, "something was written");
}

/// The mesh is understood as this many triangles of this size.
#[track_caller]
fn understood(name: &str, content: impl AsRef<[u8]>, triangles: u64, size_mm: f64) {
    let json = check(&with_mesh(name, unit_for(name), content))
        .ends_with(0)
        .json();
    let part = &json["parts"][0];
    assert_eq!(part["triangles"], triangles, "{part}");
    for axis in 0..3 {
        let size = part["size_mm"][axis].as_f64().unwrap();
        assert!((size - size_mm).abs() < 1e-4 * size_mm, "{part}");
    }
}

fn unit_for(name: &str) -> &'static str {
    if name.ends_with(".3mf") || name.ends_with(".glb") || name.ends_with(".gltf") {
        ""
    } else {
        MM
    }
}

#[test]
fn a_binary_stl_that_begins_like_a_text_is_read_as_binary() {
    let mut bytes = stl(&cube(20.0));
    bytes[..11].copy_from_slice(b"solid cube\n");
    understood("cube.stl", bytes, 12, 20.0);
}

#[test]
fn a_text_stl_is_read() {
    understood("cube.stl", ascii_stl(&cube(20.0)), 12, 20.0);
}

#[test]
fn an_empty_file_is_refused() {
    for name in [
        "cube.stl",
        "cube.obj",
        "cube.ply",
        "cube.3mf",
        "cube.glb",
        "cube.gltf",
    ] {
        refused(name, "", &[]);
    }
}

#[test]
fn a_file_without_triangles_is_refused() {
    refused("cube.stl", stl(&[]), &[]);
    refused("cube.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n", &[]);
    refused("cube.stl", "solid nothing\nendsolid nothing\n", &[]);
}

#[test]
fn a_truncated_file_is_refused_wherever_it_ends() {
    let bytes = stl(&cube(20.0));
    for length in [1, 79, 83, 84, 100, bytes.len() - 1] {
        refused("cube.stl", &bytes[..length], &[]);
    }
    let text = ascii_stl(&cube(20.0));
    refused("cube.stl", &text[..text.len() / 2], &[]);
    let ply = binary_ply(false, &cube(20.0));
    refused("cube.ply", &ply[..ply.len() - 5], &[]);
    refused("cube.ply", &ply[..60], &[]);
    let archive = threemf("millimeter", CUBE_3MF_OBJECT, "<item objectid=\"1\"/>");
    refused("cube.3mf", &archive[..archive.len() / 2], &[]);
}

#[test]
fn coordinates_that_are_no_numbers_are_refused() {
    for value in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mut triangles = cube(20.0);
        triangles[3][1][2] = value;
        refused("cube.stl", stl(&triangles), &[]);
        refused("cube.stl", ascii_stl(&triangles), &[]);
        refused("cube.ply", binary_ply(true, &triangles), &[]);
    }
    refused("cube.obj", "v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", &[]);
    refused("cube.obj", "v 1e999 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", &[]);
}

#[test]
fn a_count_that_lies_is_refused_without_believing_it() {
    let mut bytes = stl(&cube(20.0));
    for count in [11_u32, 13, 1_000_000, u32::MAX] {
        bytes[80..84].copy_from_slice(&count.to_le_bytes());
        refused("cube.stl", &bytes, &[]);
    }
    refused(
        "cube.ply",
        "ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty float x\n\
         property float y\nproperty float z\nelement face 4000000000\n\
         property list uchar int vertex_indices\nend_header\n",
        &[],
    );
    refused(
        "cube.ply",
        "ply\nformat ascii 1.0\nelement vertex 18446744073709551615\nproperty float x\n\
         property float y\nproperty float z\nend_header\n",
        &[],
    );
}

#[test]
fn an_index_beyond_the_corners_is_refused() {
    refused("cube.obj", "v 0 0 0\nv 9 0 0\nv 0 9 0\nf 1 2 4\n", &[]);
    refused("cube.obj", "v 0 0 0\nv 9 0 0\nv 0 9 0\nf 1 2 -9\n", &[]);
    refused("cube.obj", "v 0 0 0\nv 9 0 0\nv 0 9 0\nf 0 1 2\n", &[]);
    refused(
        "cube.ply",
        "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n\
         property float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n\
         0 0 0\n9 0 0\n0 9 0\n3 0 1 7\n",
        &[],
    );
}

#[test]
fn an_obj_with_quads_negative_indices_and_objects_is_read() {
    let text = "\
o lower
v -10 -10 -10\nv 10 -10 -10\nv 10 10 -10\nv -10 10 -10
f 4 3 2 1
o upper
v -10 -10 10\nv 10 -10 10\nv 10 10 10\nv -10 10 10
f -4 -3 -2 -1
f 1 2 6 5
f 2 3 7 6
f 3 4 8 7
f 4 1 5 8
";
    understood("cube.obj", text, 12, 20.0);
}

#[test]
fn an_obj_with_an_octagon_keeps_its_outline() {
    let mut text = String::new();
    for z in [-10.0, 10.0] {
        for corner in 0..8 {
            let angle = f64::from(corner) * std::f64::consts::FRAC_PI_4;
            text.push_str(&format!(
                "v {} {} {z}\n",
                10.0 * angle.cos(),
                10.0 * angle.sin()
            ));
        }
    }
    text.push_str("f 8 7 6 5 4 3 2 1\nf 9 10 11 12 13 14 15 16\n");
    for corner in 0..8 {
        let next = (corner + 1) % 8;
        let (a, b) = (corner + 1, next + 1);
        text.push_str(&format!("f {a} {b} {} {}\n", b + 8, a + 8));
    }
    // Two octagons of six triangles each, eight sides of two.
    understood("cube.obj", text, 28, 20.0);
}

#[test]
fn a_ply_of_either_byte_order_is_read() {
    for big_endian in [false, true] {
        understood("cube.ply", binary_ply(big_endian, &cube(20.0)), 12, 20.0);
    }
}

#[test]
fn a_3mf_in_inches_with_components_and_transforms_is_read() {
    // A cube of 0.5 inch as a component that doubles it, placed by an item: 1 inch.
    let objects = format!(
        "{CUBE_3MF_OBJECT}<object id=\"2\" type=\"model\"><components><component objectid=\"1\" \
         transform=\"2 0 0 0 2 0 0 0 2 0 0 0\"/></components></object>"
    );
    let archive = threemf("inch", &objects, "<item objectid=\"2\"/>");
    understood("cube.3mf", archive, 12, 25.4);
}

#[test]
fn a_3mf_whose_components_go_in_a_circle_is_refused() {
    let objects = "<object id=\"1\" type=\"model\"><components><component objectid=\"2\"/>\
                   </components></object><object id=\"2\" type=\"model\"><components>\
                   <component objectid=\"1\"/></components></object>";
    refused(
        "cube.3mf",
        threemf("millimeter", objects, "<item objectid=\"1\"/>"),
        &[],
    );
}

#[test]
fn a_3mf_whose_components_multiply_is_refused() {
    let mut objects = CUBE_3MF_OBJECT.to_owned();
    for id in 2..40 {
        let inner = format!("<component objectid=\"{}\"/>", id - 1).repeat(10);
        objects.push_str(&format!(
            "<object id=\"{id}\" type=\"model\"><components>{inner}</components></object>"
        ));
    }
    refused(
        "cube.3mf",
        threemf("millimeter", &objects, "<item objectid=\"39\"/>"),
        &[],
    );
}

#[test]
fn an_archive_that_explodes_is_refused() {
    // A gigabyte of blanks in a few hundred kilobytes.
    let mut archive = Archive::new();
    archive.begin("3D/3dmodel.model");
    let blanks = vec![b' '; 1 << 20];
    archive.add(b"<?xml version=\"1.0\"?><model unit=\"millimeter\">");
    for _ in 0..1024 {
        archive.add(&blanks);
    }
    archive.add(b"</model>");
    refused("cube.3mf", archive.finish(), &[]);
}

#[test]
fn xml_entities_do_not_explode() {
    let model = "<?xml version=\"1.0\"?><!DOCTYPE model [<!ENTITY a \"aaaaaaaaaa\">\
                 <!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;\"><!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;\
                 &b;\">]><model unit=\"millimeter\">&c;<resources/><build/></model>";
    let mut archive = Archive::new();
    archive.begin("3D/3dmodel.model");
    archive.add(model.as_bytes());
    refused("cube.3mf", archive.finish(), &[]);
}

#[test]
fn a_file_inside_a_mesh_is_read_only_from_beside_it() {
    for uri in [
        "../secret.bin",
        "/etc/passwd",
        "a/../../secret.bin",
        "file:///etc/passwd",
    ] {
        refused("cube.gltf", gltf(uri, 36), &[uri]);
    }
    refused("cube.gltf", gltf("missing.bin", 36), &["missing.bin"]);
}

#[test]
fn a_gltf_accessor_beyond_its_buffer_is_refused() {
    let folder = with_mesh("cube.gltf", "", gltf("cube.bin", 4_000_000_000));
    folder.write("cube.bin", [0; 432]);
    check(&folder).refuses_with(&["cube.gltf"]);
}

#[test]
fn triangles_without_area_keep_their_row_and_are_counted() {
    let mut triangles = cube(20.0);
    triangles.insert(4, [triangles[0][0]; 3]);
    let folder = with_mesh("cube.stl", MM, stl(&triangles));
    let json = check(&folder).ends_with(0).json();
    assert_eq!(json["parts"][0]["triangles"], 13);
    assert_eq!(json["parts"][0]["health"]["needles"], 1);
}

#[test]
fn a_closed_shell_inside_out_is_turned_and_counted() {
    let mut triangles = cube(20.0);
    for triangle in &mut triangles {
        triangle.swap(0, 1);
    }
    let json = check(&with_mesh("cube.stl", MM, stl(&triangles)))
        .ends_with(0)
        .json();
    assert_eq!(json["parts"][0]["health"]["flipped"], 12);
}

#[test]
fn a_unit_is_required_where_the_file_has_none_and_refused_where_it_has_one() {
    let folder = with_mesh("cube.stl", "", stl(&cube(20.0)));
    check(&folder).refuses_with(&["part.cube", "unit"]);
    let archive = threemf("millimeter", CUBE_3MF_OBJECT, "<item objectid=\"1\"/>");
    check(&with_mesh("cube.3mf", MM, archive)).refuses_with(&["unit"]);
}

#[test]
fn a_mesh_of_an_unknown_format_or_a_folder_is_refused() {
    refused("cube.step", "ISO-10303-21;", &[".step"]);
    let folder = cube_folder();
    std::fs::remove_file(folder.join("cube.stl")).unwrap();
    check(&folder).refuses_with(&["cube.stl"]);
    std::fs::create_dir(folder.join("cube.stl")).unwrap();
    check(&folder).refuses_with(&["cube.stl"]);
}

#[test]
fn noise_under_any_ending_is_refused() {
    // A fixed stream of bytes from a linear congruential generator (Numerical Recipes' constants).
    let mut state = 1_u32;
    let noise: Vec<u8> = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state.to_be_bytes()[0]
    })
    .take(100_000)
    .collect();
    for ending in ["stl", "obj", "ply", "3mf", "glb", "gltf"] {
        refused(&format!("cube.{ending}"), &noise, &[]);
    }
}

/// A binary PLY file.
fn binary_ply(big_endian: bool, triangles: &[[[f32; 3]; 3]]) -> Vec<u8> {
    let order = if big_endian { "big" } else { "little" };
    let mut bytes = format!(
        "ply\nformat binary_{order}_endian 1.0\nelement vertex {}\nproperty float x\n\
         property float y\nproperty float z\nelement face {}\n\
         property list uchar int vertex_indices\nend_header\n",
        3 * triangles.len(),
        triangles.len()
    )
    .into_bytes();
    let mut put = |word: [u8; 4]| {
        let mut word = word;
        if !big_endian {
            word.reverse();
        }
        bytes.extend(word);
    };
    for coordinate in triangles.iter().flatten().flatten() {
        put(coordinate.to_be_bytes());
    }
    let mut faces = Vec::new();
    for index in 0..u32::try_from(triangles.len()).unwrap() {
        faces.push(3_u8);
        for corner in 0..3 {
            let mut word = (3 * index + corner).to_be_bytes();
            if !big_endian {
                word.reverse();
            }
            faces.extend(word);
        }
    }
    bytes.extend(faces);
    bytes
}

/// A cube of edge 0.5 around its origin.
const CUBE_3MF_OBJECT: &str = "<object id=\"1\" type=\"model\"><mesh><vertices>\
    <vertex x=\"-0.25\" y=\"-0.25\" z=\"-0.25\"/><vertex x=\"0.25\" y=\"-0.25\" z=\"-0.25\"/>\
    <vertex x=\"-0.25\" y=\"0.25\" z=\"-0.25\"/><vertex x=\"0.25\" y=\"0.25\" z=\"-0.25\"/>\
    <vertex x=\"-0.25\" y=\"-0.25\" z=\"0.25\"/><vertex x=\"0.25\" y=\"-0.25\" z=\"0.25\"/>\
    <vertex x=\"-0.25\" y=\"0.25\" z=\"0.25\"/><vertex x=\"0.25\" y=\"0.25\" z=\"0.25\"/>\
    </vertices><triangles>\
    <triangle v1=\"0\" v2=\"2\" v3=\"3\"/><triangle v1=\"0\" v2=\"3\" v3=\"1\"/>\
    <triangle v1=\"4\" v2=\"5\" v3=\"7\"/><triangle v1=\"4\" v2=\"7\" v3=\"6\"/>\
    <triangle v1=\"0\" v2=\"1\" v3=\"5\"/><triangle v1=\"0\" v2=\"5\" v3=\"4\"/>\
    <triangle v1=\"2\" v2=\"6\" v3=\"7\"/><triangle v1=\"2\" v2=\"7\" v3=\"3\"/>\
    <triangle v1=\"0\" v2=\"4\" v3=\"6\"/><triangle v1=\"0\" v2=\"6\" v3=\"2\"/>\
    <triangle v1=\"1\" v2=\"3\" v3=\"7\"/><triangle v1=\"1\" v2=\"7\" v3=\"5\"/>\
    </triangles></mesh></object>";

/// A 3MF archive with these objects and build items.
fn threemf(unit: &str, objects: &str, items: &str) -> Vec<u8> {
    let mut archive = Archive::new();
    archive.begin("[Content_Types].xml");
    archive.add(
        b"<?xml version=\"1.0\"?><Types xmlns=\"http://schemas.openxmlformats.org/package/2006/\
          content-types\"><Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-\
          package.relationships+xml\"/><Default Extension=\"model\" ContentType=\"application/\
          vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>",
    );
    archive.begin("_rels/.rels");
    archive.add(
        b"<?xml version=\"1.0\"?><Relationships xmlns=\"http://schemas.openxmlformats.org/package/\
          2006/relationships\"><Relationship Target=\"/3D/3dmodel.model\" Id=\"rel0\" Type=\"http://\
          schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>",
    );
    archive.begin("3D/3dmodel.model");
    archive.add(
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?><model unit=\"{unit}\" xmlns=\"http://\
             schemas.microsoft.com/3dmanufacturing/core/2015/02\"><resources>{objects}</resources>\
             <build>{items}</build></model>"
        )
        .as_bytes(),
    );
    archive.finish()
}

/// A zip archive in memory.
struct Archive {
    writer: zip::ZipWriter<std::io::Cursor<Vec<u8>>>,
}

impl Archive {
    fn new() -> Self {
        Self {
            writer: zip::ZipWriter::new(std::io::Cursor::new(Vec::new())),
        }
    }

    fn begin(&mut self, name: &str) {
        self.writer
            .start_file(name, SimpleFileOptions::default())
            .unwrap();
    }

    fn add(&mut self, bytes: &[u8]) {
        self.writer.write_all(bytes).unwrap();
    }

    fn finish(self) -> Vec<u8> {
        self.writer.finish().unwrap().into_inner()
    }
}

/// A glTF that takes its positions (f32 triples) from another file.
fn gltf(uri: &str, count: u64) -> String {
    format!(
        r#"{{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],"nodes":[{{"mesh":0}}],
"meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}}}}]}}],
"accessors":[{{"bufferView":0,"componentType":5126,"count":{count},"type":"VEC3","min":[0,0,0],"max":[1,1,1]}}],
"bufferViews":[{{"buffer":0,"byteLength":432}}],"buffers":[{{"uri":"{uri}","byteLength":432}}]}}"#
    )
}
