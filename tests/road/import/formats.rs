//! The same body in STL, OBJ and PLY, and what each format can say beyond it.

use super::files::{PlyKind, brick, obj, ply, stl, stl_ascii};
use super::{MM, mesh, read};
use evenfall_sim::mesh::{Beside, Mesh, MeshFormat, read_mesh, read_mesh_bytes};
use glam::DVec3;

/// Asserts that a mesh is the box of 2 × 3 × 4 in units of `unit_m`: 52 of area, 24 of volume.
#[track_caller]
pub fn is_brick(mesh: &Mesh, unit_m: f64) {
    assert_eq!(mesh.triangles.len(), 12);
    assert_eq!(mesh.health.closed_shells, 1);
    let area = mesh.total_area_m2() / unit_m.powi(2);
    assert!((area - 52.0).abs() < 1e-9, "area {area}");
    let volume = mesh.volume_m3().unwrap() / unit_m.powi(3);
    assert!((volume - 24.0).abs() < 1e-9, "volume {volume}");
}

/// The corners of each row in the file's unit, as the file's order gives them.
fn rows(mesh: &Mesh) -> Vec<[DVec3; 3]> {
    (0..mesh.triangles.len())
        .map(|row| mesh.corners(row))
        .collect()
}

#[test]
fn every_plain_format_gives_the_same_rows() {
    let solid = brick();
    let expected: Vec<[DVec3; 3]> = solid
        .triangles()
        .iter()
        .map(|row| {
            row.map(|corner| {
                DVec3::from_array(solid.corners[corner as usize].map(f64::from)) * 0.001
            })
        })
        .collect();
    let files = [
        ("a.stl", stl(&solid, b"made by hand")),
        ("b.stl", stl(&solid, b"solid made by hand")),
        ("c.STL", stl_ascii(&solid, "brick").into_bytes()),
        ("d.obj", obj(&solid).into_bytes()),
        ("e.ply", ply(&solid, PlyKind::Ascii)),
        ("f.ply", ply(&solid, PlyKind::Little)),
        ("g.Ply", ply(&solid, PlyKind::Big)),
    ];
    for (name, bytes) in files {
        let read = mesh(name, &bytes, MM);
        is_brick(&read, 0.001);
        assert_eq!(rows(&read), expected, "{name}");
        assert_eq!(read.health.flipped, 0, "{name}");
        assert_eq!(read.vertices.len(), 8, "{name}");
    }
}

#[test]
fn a_binary_stl_whose_header_says_solid_is_binary() {
    let bytes = stl(&brick(), b"solid brick\nfacet normal 0 0 1\nouter loop");
    assert_eq!(
        read("x.stl", &bytes, MM).unwrap().format,
        MeshFormat::StlBinary
    );
    let text = stl_ascii(&brick(), "brick");
    assert_eq!(
        read("x.stl", text.as_bytes(), MM).unwrap().format,
        MeshFormat::StlAscii
    );
}

#[test]
fn a_binary_stl_may_start_with_the_mark_of_another_format() {
    for mark in [&b"PK\x03\x04"[..], b"glTF", b"ply\n", b"{"] {
        is_brick(&mesh("x.stl", &stl(&brick(), mark), MM), 0.001);
    }
}

#[test]
fn an_inch_is_25_4_times_a_millimetre() {
    let bytes = stl(&brick(), b"");
    is_brick(&mesh("x.stl", &bytes, Some(0.0254)), 0.0254);
}

#[test]
fn solids_of_an_ascii_stl_are_named_objects() {
    let text = stl_ascii(&brick(), "left half") + &stl_ascii(&brick(), "right half");
    let mesh = mesh("x.stl", text.as_bytes(), MM);
    let expected = [
        ("left half".to_owned(), 0..12),
        ("right half".to_owned(), 12..24),
    ];
    assert_eq!(mesh.objects, expected);
}

#[test]
fn an_ascii_stl_is_read_in_any_case_layout_and_encoding_of_its_name() {
    let text = stl_ascii(&brick(), "brick")
        .to_uppercase()
        .replace('\n', "\r\n")
        .replace("NORMAL 0 0 0", "NORMAL nan -nan inf");
    let mut bytes = b"\xef\xbb\xbf".to_vec();
    bytes.extend(text.bytes());
    let at = bytes
        .windows(5)
        .position(|window| window == b"BRICK")
        .unwrap();
    bytes[at] = 0xfc;
    let mesh = mesh("x.stl", &bytes, MM);
    is_brick(&mesh, 0.001);
    assert_eq!(mesh.objects[0].0, "\u{fffd}RICK");
}

#[test]
fn an_obj_may_count_corners_from_the_end_and_name_normals_and_textures() {
    let mut text = obj(&brick())
        .lines()
        .filter(|line| line.starts_with('v'))
        .fold(String::new(), |text, line| text + line + " 0.5 0.25 1\n");
    text +=
        "vn 0 0 1\nvt 0 0\nvt 1 0 0\ns off\nusemtl steel\nmtllib ../../secret.mtl /etc/passwd\n";
    text += "o body\nf -8/1/1 -6/1/1 -5/2/1 -7/-1/-1\nf 5//1 6//1 8//1 7//1\n";
    text += "g low sides\nf 1 2 6 5 # a comment\nf 3 \\\n 7 8 4\nf 1/1 5/2 7/1 3/1\n";
    text += "l 1 2 3 4\np 1\no lid\nf 2 4 8 6";
    let mesh = mesh("x.obj", text.as_bytes(), MM);
    is_brick(&mesh, 0.001);
    let expected = [
        ("body".to_owned(), 0..10),
        ("low".to_owned(), 4..12),
        ("sides".to_owned(), 4..12),
        ("lid".to_owned(), 10..12),
    ];
    assert_eq!(mesh.objects, expected);
}

#[test]
fn an_l_shaped_face_is_split_inside_itself() {
    // An L of area 3 as one hexagon, from each of its corners: the fan from some of them would
    // cover the notch and count it against itself.
    let outline = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)];
    for first in 0..6 {
        let mut text = String::new();
        for place in 0..6 {
            let (x, y) = outline[(first + place) % 6];
            text += &format!("v {x} {y} 0\n");
        }
        let mesh = mesh("x.obj", (text + "f 1 2 3 4 5 6\n").as_bytes(), Some(1.0));
        assert_eq!(mesh.triangles.len(), 4);
        assert!(
            (mesh.total_area_m2() - 3.0).abs() < 1e-12,
            "from corner {first}"
        );
        assert_eq!(mesh.health.flip_edges, 0);
    }
}

#[test]
fn the_obj_reader_agrees_with_a_general_purpose_library() {
    // Outside check: tobj 4, which fans every polygon; the bodies are convex.
    let text = obj(&brick()) + "v 9 9 9\nv 10 9 9.5\nv 9 10 8\nf -3 -2 -1\n";
    let (models, _) = tobj::load_obj_buf(
        &mut text.as_bytes(),
        &tobj::LoadOptions {
            triangulate: true,
            ..tobj::LoadOptions::default()
        },
        |_| Err(tobj::LoadError::OpenFileFailed),
    )
    .unwrap();
    let library: Vec<DVec3> = models
        .iter()
        .flat_map(|model| {
            model.mesh.indices.iter().map(|index| {
                let at = 3 * *index as usize;
                DVec3::from_slice(&model.mesh.positions[at..at + 3])
            })
        })
        .collect();
    let ours = mesh("x.obj", text.as_bytes(), Some(1.0));
    assert_eq!(rows(&ours).concat(), library);
}

#[test]
fn numbers_of_text_formats_keep_double_precision() {
    // 0.1 has no single-precision neighbour nearer than 1.5e-9.
    let text = "v 0.1 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n";
    let mesh = mesh("x.obj", text.as_bytes(), Some(1.0));
    assert_eq!(mesh.vertices[0], DVec3::new(0.1, 0.0, 0.0));
}

#[test]
fn units_are_required_where_files_have_none_and_must_be_lengths() {
    let bytes = stl(&brick(), b"");
    for (unit_m, fragment) in [
        (None, "carry no unit"),
        (Some(0.0), "above 0"),
        (Some(-0.001), "-0.001 m"),
        (Some(f64::NAN), "NaN"),
        (Some(f64::INFINITY), "inf"),
    ] {
        super::refused("x.stl", &bytes, unit_m, &[fragment]);
    }
    super::refused(
        "x.obj",
        obj(&brick()).as_bytes(),
        None,
        &["OBJ", "unit = \"mm\""],
    );
    super::refused(
        "x.ply",
        &ply(&brick(), PlyKind::Big),
        None,
        &["PLY", "carry no unit"],
    );
}

#[test]
fn name_and_content_must_agree() {
    let ply = ply(&brick(), PlyKind::Ascii);
    super::refused("x.stl", &ply, MM, &["binary STL", "PLY"]);
    super::refused("x.obj", &ply, MM, &["OBJ", "PLY"]);
    super::refused("x.ply", b"PK\x03\x04", MM, &["PLY", "3MF"]);
    super::refused("x.3mf", b"glTF", None, &["3MF", "GLB"]);
    super::refused("x.step", b"ISO-10303-21;", MM, &["\"step\"", ".stl"]);
    super::refused("noextension", b"solid", MM, &["\"\""]);
}

#[test]
fn a_mesh_is_read_from_its_path() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brick.stl");
    std::fs::write(&path, stl(&brick(), b"")).unwrap();
    is_brick(&read_mesh(&path, MM).unwrap().mesh, 0.001);
    let missing = folder.path().join("none.stl");
    let text = read_mesh(&missing, MM).unwrap_err().to_string();
    assert!(text.contains("none.stl: cannot be read"), "{text}");
    let directory = folder.path().join("folder.stl");
    std::fs::create_dir(&directory).unwrap();
    let text = read_mesh(&directory, MM).unwrap_err().to_string();
    assert!(text.contains("not a regular file"), "{text}");
    let held = read_mesh_bytes(
        "x.stl",
        &stl(&brick(), b""),
        MM,
        Beside::Folder(folder.path()),
    );
    is_brick(&held.unwrap().mesh, 0.001);
}

#[cfg(unix)]
#[test]
fn devices_are_no_mesh_files() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("endless.stl");
    std::os::unix::fs::symlink("/dev/zero", &path).unwrap();
    let text = read_mesh(&path, MM).unwrap_err().to_string();
    assert!(text.contains("not a regular file"), "{text}");
}
