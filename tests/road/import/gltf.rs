//! glTF and GLB: where buffers may come from, how nodes place meshes, and what is not read.

use super::files::{brick, glb, gltf_buffer, gltf_json};
use super::formats::is_brick;
use super::{mesh, refused};
use base64::Engine;
use evenfall_sim::mesh::{Beside, read_mesh, read_mesh_bytes};
use glam::DVec3;

const PLAIN: &str = r#"{"mesh": 0}"#;

fn data_uri() -> String {
    let data = base64::engine::general_purpose::STANDARD.encode(gltf_buffer(&brick()));
    format!(r#", "uri": "data:application/octet-stream;base64,{data}""#)
}

fn embedded(nodes: &str) -> String {
    gltf_json(&brick(), &data_uri(), nodes)
}

#[test]
fn gltf_is_in_metres_and_keeps_its_axes() {
    let json = embedded(PLAIN);
    let mesh = mesh("x.gltf", json.as_bytes(), None);
    is_brick(&mesh, 1.0);
    assert_eq!(mesh.bounds().unwrap().1, DVec3::new(3.0, 4.0, 5.0));
    assert_eq!(mesh.objects, [("body".to_owned(), 0..12)]);
    refused(
        "x.gltf",
        json.as_bytes(),
        Some(1.0),
        &["carry their own unit"],
    );
}

#[test]
fn a_glb_carries_its_buffer() {
    let bytes = glb(&gltf_json(&brick(), "", PLAIN), &gltf_buffer(&brick()));
    is_brick(&mesh("x.glb", &bytes, None), 1.0);
    for length in 0..bytes.len() {
        refused("x.glb", &bytes[..length], None, &[]);
    }
    for at in 0..bytes.len() {
        let mut wrong = bytes.clone();
        wrong[at] ^= 0x15;
        drop(super::read("x.glb", &wrong, None));
    }
}

#[test]
fn nodes_place_meshes_from_the_inside_out() {
    // Inner: shift by 10 along x. Outer: a quarter turn about z (x to y), then twice as large:
    // (1, 1, 1) → (11, 1, 1) → (−2, 22, 2).
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let nodes = format!(
        r#"{{"name": "outer", "rotation": [0, 0, {half}, {half}], "scale": [2, 2, 2], "children": [1]}},
           {{"name": "inner", "mesh": 0, "matrix": [1,0,0,0, 0,1,0,0, 0,0,1,0, 10,0,0,1]}}"#
    );
    let mesh = mesh("x.gltf", embedded(&nodes).as_bytes(), None);
    let corner = mesh.corners(0)[0];
    assert!(
        (corner - DVec3::new(-2.0, 22.0, 2.0)).length() < 1e-5,
        "{corner}"
    );
    assert!((mesh.volume_m3().unwrap() / (8.0 * 24.0) - 1.0).abs() < 1e-6);
    let names: Vec<_> = mesh.objects.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["inner", "outer"]);
}

#[test]
fn a_mirrored_node_still_points_outward() {
    let mesh = mesh(
        "x.gltf",
        embedded(r#"{"mesh": 0, "scale": [1, -1, 1]}"#).as_bytes(),
        None,
    );
    is_brick(&mesh, 1.0);
    assert_eq!(mesh.health.flipped, 0);
}

#[test]
fn strips_fans_and_lists_of_every_index_size_are_read() {
    // A tetrahedron with corners 0 1 2 3; its volume is 1/6 whichever way it is written.
    let corners: [[f32; 3]; 4] = [[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let positions: Vec<u8> = corners
        .iter()
        .flatten()
        .flat_map(|axis| axis.to_le_bytes())
        .collect();
    // The strip 0 1 2 3 0 1 is (0 1 2) (1 3 2) (2 3 0) (3 1 0).
    let strip = [0_u32, 1, 2, 3, 0, 1];
    let list = [0_u32, 2, 1, 0, 1, 3, 1, 2, 3, 0, 3, 2];
    let cases: [(u32, u32, Vec<u8>, usize); 4] = [
        (5, 5121, vec![0, 1, 2, 3, 0, 1], 6),
        (
            5,
            5125,
            strip.iter().flat_map(|index| index.to_le_bytes()).collect(),
            6,
        ),
        (
            4,
            5125,
            list.iter().flat_map(|index| index.to_le_bytes()).collect(),
            12,
        ),
        (
            4,
            5123,
            [0_u16, 2, 1, 0, 1, 3, 1, 2, 3, 0, 3, 2]
                .iter()
                .flat_map(|index| index.to_le_bytes())
                .collect(),
            12,
        ),
    ];
    for (mode, kind, indices, count) in cases {
        let json = format!(
            r#"{{"asset": {{"version": "2.0"}}, "nodes": [{{"mesh": 0}}],
            "meshes": [{{"primitives": [{{"attributes": {{"POSITION": 0}}, "indices": 1, "mode": {mode}}}]}}],
            "accessors": [{{"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"}},
                {{"bufferView": 1, "componentType": {kind}, "count": {count}, "type": "SCALAR"}}],
            "bufferViews": [{{"buffer": 0, "byteLength": 48}},
                {{"buffer": 0, "byteOffset": 48, "byteLength": {}}}],
            "buffers": [{{"byteLength": {}}}]}}"#,
            indices.len(),
            48 + indices.len()
        );
        let mesh = mesh(
            "x.glb",
            &glb(&json, &[positions.clone(), indices].concat()),
            None,
        );
        assert_eq!(mesh.triangles.len(), 4);
        let volume = mesh.volume_m3().unwrap();
        assert!((volume - 1.0 / 6.0).abs() < 1e-12, "mode {mode}: {volume}");
        assert!(mesh.health.flipped == 0 || mesh.health.flipped == 4);
    }
    // A fan without indices: (1 2 0) (2 3 0).
    let json = r#"{"asset": {"version": "2.0"}, "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "mode": 6}]}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"}],
        "bufferViews": [{"buffer": 0, "byteLength": 48}], "buffers": [{"byteLength": 48}]}"#;
    let mesh = mesh("x.glb", &glb(json, &positions), None);
    let corner = |index: usize| DVec3::from_array(corners[index].map(f64::from));
    assert_eq!(mesh.corners(0), [corner(1), corner(2), corner(0)]);
    assert_eq!(mesh.corners(1), [corner(2), corner(3), corner(0)]);
}

#[test]
fn buffers_are_read_from_the_own_folder_or_below_only() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("inner");
    std::fs::create_dir_all(inner.join("deep er")).unwrap();
    let buffer = gltf_buffer(&brick());
    std::fs::write(inner.join("deep er/body.bin"), &buffer).unwrap();
    std::fs::write(folder.path().join("body.bin"), &buffer).unwrap();
    let outside = folder.path().join("body.bin");
    let with = |uri: &str| {
        let path = inner.join("x.gltf");
        let uri = format!(r#", "uri": {}"#, serde_json::to_string(uri).unwrap());
        std::fs::write(&path, gltf_json(&brick(), &uri, PLAIN)).unwrap();
        read_mesh(&path, None)
    };
    is_brick(&with("deep%20er/body.bin").unwrap().mesh, 1.0);
    is_brick(&with("./deep er/body.bin").unwrap().mesh, 1.0);
    for climbing in [
        "../body.bin",
        "deep er/../../body.bin",
        "%2e%2e/body.bin",
        "..%2fbody.bin",
        outside.to_str().unwrap(),
        "file:///etc/passwd",
        "http://localhost/body.bin",
        "C:\\body.bin",
        "..\\body.bin",
        "\\\\server\\share\\body.bin",
        "",
    ] {
        let text = with(climbing).unwrap_err().to_string();
        assert!(text.contains("own folder or below"), "{climbing:?}: {text}");
    }
    for missing in ["none.bin", "deep er", "body.bin"] {
        let text = with(missing).unwrap_err().to_string();
        assert!(text.contains("cannot be read"), "{missing:?}: {text}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&outside, inner.join("link.bin")).unwrap();
        let text = with("link.bin").unwrap_err().to_string();
        assert!(text.contains("own folder or below"), "{text}");
        std::os::unix::fs::symlink("/dev/zero", inner.join("zero.bin")).unwrap();
        assert!(with("zero.bin").is_err());
    }
    std::fs::write(inner.join("short.bin"), &buffer[..20]).unwrap();
    let text = with("short.bin").unwrap_err().to_string();
    assert!(text.contains("20 are left"), "{text}");
}

#[test]
fn buffers_may_be_held_in_memory() {
    let json = gltf_json(&brick(), r#", "uri": "body.bin""#, PLAIN);
    let buffer = gltf_buffer(&brick());
    let held: [(&str, &[u8]); 1] = [("body.bin", &buffer)];
    let read = read_mesh_bytes("x.gltf", json.as_bytes(), None, Beside::Held(&held));
    is_brick(&read.unwrap().mesh, 1.0);
    refused(
        "x.gltf",
        json.as_bytes(),
        None,
        &["body.bin", "beside the mesh"],
    );
}

#[test]
fn what_is_not_read_of_a_gltf_is_refused_by_name() {
    let json = embedded(PLAIN);
    let cases = [
        (
            r#""scene": 0"#,
            r#""scene": 0, "extensionsRequired": ["KHR_draco_mesh_compression"]"#,
            "draco",
        ),
        (
            r#""scene": 0"#,
            r#""scene": 0, "extensionsRequired": ["KHR_mesh_quantization"]"#,
            "quanti",
        ),
        (
            r#""scene": 0"#,
            r#""scene": 0, "extensionsUsed": ["EXT_mesh_gpu_instancing"]"#,
            "instancing",
        ),
        (r#""version": "2.0""#, r#""version": "1.0""#, "1.0"),
        (
            r#""count": 8"#,
            r#""normalized": true, "count": 8"#,
            "normalised",
        ),
        (
            r#""count": 8"#,
            r#""sparse": {"count": 1, "indices": {"bufferView": 0, "componentType": 5121},
                "values": {"bufferView": 0}}, "count": 8"#,
            "sparse",
        ),
        ("5126", "5122", "VEC3 of FLOAT"),
        ("5126", "1234", "VEC3 of FLOAT"),
        ("VEC3", "VEC2", "VEC3 of FLOAT"),
        ("5125", "5126", "UNSIGNED_INT"),
        (
            r#""indices": 1"#,
            r#""indices": 1, "targets": [{"POSITION": 0}]"#,
            "morph",
        ),
        (r#""indices": 1"#, r#""indices": 1, "mode": 9"#, "mode"),
        (r#""POSITION": 0"#, r#""NORMAL": 0"#, "POSITION is missing"),
        (
            r#""scene": 0, "scenes": ["#,
            r#""scenes": [{"nodes": []}, "#,
            "2 scenes",
        ),
    ];
    for (old, new, fragment) in cases {
        assert!(json.contains(old), "{old}");
        refused(
            "x.gltf",
            json.replace(old, new).as_bytes(),
            None,
            &[fragment],
        );
    }
    let skinned = embedded(r#"{"mesh": 0, "skin": 0}"#);
    refused("x.gltf", skinned.as_bytes(), None, &["skin"]);
    let harmless = json.replace(
        r#""scene": 0"#,
        r#""scene": 0, "extensionsRequired": ["KHR_materials_unlit", "KHR_texture_transform"]"#,
    );
    is_brick(&mesh("x.gltf", harmless.as_bytes(), None), 1.0);
}

#[test]
fn counts_and_references_of_a_gltf_must_hold() {
    let json = embedded(PLAIN);
    let cases = [
        (r#""count": 8"#, r#""count": 4294967295"#, "bytes"),
        (r#""count": 8"#, r#""count": 18446744073709551615"#, "bytes"),
        (r#""count": 8"#, r#""count": 7"#, "corner 7"),
        (r#""count": 36"#, r#""count": 35"#, "35 corners"),
        (
            r#""count": 8"#,
            r#""byteOffset": 18446744073709551615, "count": 8"#,
            "bytes",
        ),
        (
            r#""byteLength": 96"#,
            r#""byteStride": 0, "byteLength": 96"#,
            "stride",
        ),
        (
            r#""byteLength": 96"#,
            r#""byteStride": 4, "byteLength": 96"#,
            "stride",
        ),
        (
            r#""byteLength": 96"#,
            r#""byteStride": 252, "byteLength": 96"#,
            "bytes",
        ),
        (r#""byteLength": 96"#, r#""byteLength": 99999"#, "bytes"),
        (
            r#""byteOffset": 96"#,
            r#""byteOffset": 18446744073709551615"#,
            "bytes",
        ),
        (
            r#""byteLength": 240"#,
            r#""byteLength": 99999999999"#,
            "99999999999 bytes",
        ),
        (r#""POSITION": 0"#, r#""POSITION": 9"#, "accessor 9"),
        (r#""bufferView": 1"#, r#""bufferView": 9"#, "buffer view 9"),
        (r#""buffer": 0"#, r#""buffer": 3"#, "buffer 3"),
        (r#""scene": 0"#, r#""scene": 4"#, "scene 4"),
        (r#""nodes": [0]"#, r#""nodes": [5]"#, "node 5"),
        (r#""mesh": 0"#, r#""mesh": 2"#, "mesh 2"),
        (r#""mesh": 0"#, r#""children": [0]"#, "contains itself"),
        (
            r#""mesh": 0"#,
            r#""mesh": 0, "scale": [1, 0, 1]"#,
            "keeps volumes",
        ),
        (
            r#""mesh": 0"#,
            r#""mesh": 0, "rotation": [0, 0, 0, 0]"#,
            "length 0",
        ),
        (
            r#""mesh": 0"#,
            r#""mesh": 0, "matrix": [1,0,0,1, 0,1,0,0, 0,0,1,0, 0,0,0,1]"#,
            "last row",
        ),
        ("base64,", "base64,?", "base64"),
        (";base64,", ",", "base64"),
    ];
    for (old, new, fragment) in cases {
        assert!(json.contains(old), "{old} in {json}");
        refused(
            "x.gltf",
            json.replacen(old, new, 1).as_bytes(),
            None,
            &[fragment],
        );
    }
    refused(
        "x.gltf",
        format!("{}1", "{\"a\":".repeat(100_000)).as_bytes(),
        None,
        &["JSON"],
    );
    refused("x.gltf", b"{", None, &["JSON"]);
    refused("x.gltf", b"", None, &["JSON"]);
    refused(
        "x.gltf",
        b"{\"asset\": {\"version\": \"2.0\"}}",
        None,
        &["holds no triangles"],
    );
}

#[test]
fn nodes_that_copy_without_end_are_refused() {
    let doubling: Vec<_> = (0..30)
        .map(|node| format!(r#"{{"children": [{}, {}]}}"#, node + 1, node + 1))
        .collect();
    for last in [PLAIN, "{}"] {
        let nodes = format!("{},{last}", doubling.join(","));
        refused(
            "x.gltf",
            embedded(&nodes).as_bytes(),
            None,
            &["more than", "copies"],
        );
    }
    let chain: Vec<_> = (0..100)
        .map(|node| format!(r#"{{"children": [{}]}}"#, node + 1))
        .collect();
    let nodes = format!("{},{PLAIN}", chain.join(","));
    refused("x.gltf", embedded(&nodes).as_bytes(), None, &["64 deep"]);
}
