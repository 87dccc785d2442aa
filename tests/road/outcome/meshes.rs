//! `coat.ply`, `coat.vtu`, `coat.glb`, each read by something that did not write it.

use super::tables::file_of;
use base64::Engine;
use evenfall_sim::film::State;
use evenfall_sim::outcome::{Facet, Outcome};
use evenfall_tests::made_up;
use glam::DVec3;
use quick_xml::Reader;
use quick_xml::events::Event;
use std::collections::BTreeMap;

/// Facets with the index of their part, in the order of the files.
fn facets(outcome: &Outcome) -> Vec<(usize, &Facet)> {
    let parts = outcome.parts.iter().enumerate();
    parts
        .flat_map(|(index, part)| {
            part.facets
                .iter()
                .chain(&part.back_facets)
                .map(move |facet| (index, facet))
        })
        .collect()
}

/// Corners in the chamber, mm; those of a back side as a set, since it runs the other way round.
fn corners_mm(outcome: &Outcome, (part, facet): (usize, &Facet)) -> [DVec3; 3] {
    let pose = outcome.parts[part].chamber_from_part;
    facet
        .corners_m
        .map(|corner_m| pose.transform_point3(corner_m) * 1e3)
}

fn normal(corners: [DVec3; 3]) -> DVec3 {
    (corners[1] - corners[0]).cross(corners[2] - corners[0])
}

#[test]
fn ply_holds_every_facet_with_thickness_error_and_state() {
    let outcome = made_up::outcome();
    let bytes = file_of(&outcome, "coat.ply");
    let end = b"end_header\n";
    let body = bytes
        .windows(end.len())
        .position(|window| window == end)
        .unwrap()
        + end.len();
    let head = std::str::from_utf8(&bytes[..body]).unwrap();
    assert!(
        head.starts_with("ply\nformat binary_little_endian 1.0\n"),
        "{head}"
    );
    let count = |what: &str| -> usize {
        let line = head
            .lines()
            .find_map(|line| line.strip_prefix(&format!("element {what} ")));
        line.unwrap().parse().unwrap()
    };
    let (vertices, faces) = (count("vertex"), count("face"));
    let facets = facets(&outcome);
    assert_eq!(faces, facets.len());
    let face_bytes = 1 + 3 * 4 + 4 + 4 + 1 + 4 + 4;
    assert_eq!(bytes.len(), body + vertices * 24 + faces * face_bytes);
    let double = |at: usize| f64::from_le_bytes(bytes[at..at + 8].try_into().unwrap());
    let float = |at: usize| f32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
    let int = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
    let corner = |number: usize| {
        let at = body + number * 24;
        DVec3::new(double(at), double(at + 8), double(at + 16))
    };
    for (number, &(part, facet)) in facets.iter().enumerate() {
        let at = body + vertices * 24 + number * face_bytes;
        assert_eq!(bytes[at], 3);
        let found = [1, 5, 9].map(|offset| corner(int(at + offset)));
        let expected = corners_mm(&outcome, (part, facet));
        let back = part == 0 && number >= 6;
        let turned = if back { -1.0 } else { 1.0 };
        assert!(found[0].abs_diff_eq(expected[0], 1e-9));
        assert!(
            normal(found).abs_diff_eq(turned * normal(expected), 1e-9),
            "facet {number}"
        );
        assert!((f64::from(float(at + 13)) - facet.thickness_m * 1e9).abs() < 1e-4);
        assert!((f64::from(float(at + 17)) - facet.std_error_m * 1e9).abs() < 1e-6);
        let states = [
            State::Reached,
            State::NoneSeen,
            State::Unreached,
            State::Buried,
            State::Needle,
        ];
        assert_eq!(states[usize::from(bytes[at + 21])], facet.state);
        assert_eq!((int(at + 22), int(at + 26)), (part, facet.row as usize));
    }
}

/// Arrays of an XML grid by name: their attributes' type and their bytes after the length.
fn arrays(xml: &[u8]) -> BTreeMap<String, (String, Vec<u8>)> {
    let mut reader = Reader::from_reader(xml);
    let mut found = BTreeMap::new();
    let mut open: Option<(String, String)> = None;
    loop {
        match reader.read_event().unwrap() {
            Event::Start(tag) if tag.name().as_ref() == "DataArray" => {
                let attribute = |key: &str| {
                    let value = tag.try_get_attribute(key).unwrap().unwrap();
                    value.value.into_owned()
                };
                open = Some((attribute("Name"), attribute("type")));
            }
            Event::Text(text) => {
                if let Some((name, kind)) = open.take() {
                    let bytes = base64::engine::general_purpose::STANDARD
                        .decode(text.as_ref())
                        .unwrap();
                    let length = u64::from_le_bytes(bytes[..8].try_into().unwrap());
                    assert_eq!(length as usize, bytes.len() - 8, "{name}");
                    found.insert(name, (kind, bytes[8..].to_vec()));
                }
            }
            Event::Eof => return found,
            _ => {}
        }
    }
}

#[test]
fn vtu_is_well_formed_and_holds_every_facet_with_its_film() {
    let outcome = made_up::outcome();
    let arrays = arrays(&file_of(&outcome, "coat.vtu"));
    let facets = facets(&outcome);
    let of = |name: &str, kind: &str| -> &[u8] {
        assert_eq!(arrays[name].0, kind, "{name}");
        &arrays[name].1
    };
    let points: Vec<f64> = of("Points", "Float64")
        .chunks(8)
        .map(|bytes| f64::from_le_bytes(bytes.try_into().unwrap()))
        .collect();
    let connectivity: Vec<u32> = of("connectivity", "Int32")
        .chunks(4)
        .map(|bytes| u32::from_le_bytes(bytes.try_into().unwrap()))
        .collect();
    let offsets: Vec<u64> = of("offsets", "Int64")
        .chunks(8)
        .map(|bytes| u64::from_le_bytes(bytes.try_into().unwrap()))
        .collect();
    let thickness: Vec<f32> = of("thickness_nm", "Float32")
        .chunks(4)
        .map(|bytes| f32::from_le_bytes(bytes.try_into().unwrap()))
        .collect();
    assert_eq!(
        offsets,
        (1..=facets.len() as u64)
            .map(|face| 3 * face)
            .collect::<Vec<_>>()
    );
    assert!(
        of("types", "UInt8").iter().all(|&kind| kind == 5)
            && arrays["types"].1.len() == facets.len()
    );
    assert_eq!(arrays["nm_gold"].1.len(), 4 * facets.len());
    assert_eq!(arrays["state"].1.len(), facets.len());
    for (number, &facet) in facets.iter().enumerate() {
        let first = connectivity[3 * number] as usize;
        let found = DVec3::from_slice(&points[3 * first..]);
        assert!(found.abs_diff_eq(corners_mm(&outcome, facet)[0], 1e-9));
        assert!((f64::from(thickness[number]) - facet.1.thickness_m * 1e9).abs() < 1e-4);
    }
}

#[test]
fn glb_passes_a_general_reader_and_stands_upright_in_metres() {
    let outcome = made_up::outcome();
    let bytes = file_of(&outcome, "coat.glb");
    // Parses and validates references, required members, types and ranges.
    let gltf::Gltf { document, blob } = gltf::Gltf::from_slice(&bytes).unwrap();
    let blob = blob.unwrap();
    assert_eq!(
        u32::from_le_bytes(bytes[8..12].try_into().unwrap()) as usize,
        bytes.len()
    );
    let facets = facets(&outcome);
    let root = document.default_scene().unwrap().nodes().next().unwrap();
    let turn = glam::Mat4::from_cols_array_2d(&root.transform().matrix());
    // The chamber's up is glTF's up.
    assert!(
        turn.transform_vector3(glam::Vec3::Z)
            .abs_diff_eq(glam::Vec3::Y, 1e-6)
    );
    let mut faces = 0;
    for node in root.children() {
        for primitive in node.mesh().unwrap().primitives() {
            let reader = primitive.reader(|_| Some(&blob));
            let places: Vec<[f32; 3]> = reader.read_positions().unwrap().collect();
            let colours: Vec<[f32; 4]> = reader.read_colors(0).unwrap().into_rgba_f32().collect();
            assert_eq!(places.len(), colours.len());
            let bounds = primitive.bounding_box();
            for (place, of_face) in places.chunks(3).zip(colours.chunks(3)) {
                let (part, facet) = facets[faces];
                let expected = corners_mm(&outcome, (part, facet))[0] * 1e-3;
                let found = glam::Vec3::from_array(place[0]).as_dvec3();
                assert!(found.abs_diff_eq(expected, 1e-6));
                assert!(place[0].iter().zip(bounds.min).all(|(&x, low)| x >= low));
                assert!(place[0].iter().zip(bounds.max).all(|(&x, high)| x <= high));
                let [red, green, blue, opacity] = of_face[0];
                let grey = (red - green).abs() < 1e-6 && (green - blue).abs() < 1e-6;
                assert_eq!(grey, facet.state != State::Reached, "face {faces}");
                assert!((opacity - 1.0).abs() < 1e-6);
                faces += 1;
            }
        }
    }
    assert_eq!(faces, facets.len());
    // The legend says what the colours mean.
    let json_length = u32::from_le_bytes(bytes[12..16].try_into().unwrap()) as usize;
    let json: serde_json::Value = serde_json::from_slice(&bytes[20..20 + json_length]).unwrap();
    let legend = &json["scenes"][0]["extras"];
    assert_eq!(legend["colour_map"], "viridis");
    let thickest = facets
        .iter()
        .map(|(_, facet)| facet.thickness_m * 1e9)
        .fold(0.0, f64::max);
    let to_nm = legend["to_nm"].as_f64().unwrap();
    assert!(to_nm > 0.0 && to_nm <= thickest + 1e-9);
}

#[test]
fn glb_colours_are_linear_and_end_at_the_ends_of_viridis() {
    let mut outcome = made_up::outcome();
    outcome.parts.truncate(1);
    outcome.summary.parts.truncate(1);
    let part = &mut outcome.parts[0];
    part.back_facets.clear();
    part.both_sides = false;
    for of_one in part.by_step_m.iter_mut().chain(&mut part.by_metal_m) {
        of_one.truncate(6);
    }
    // The first facet is the largest: its thickness is the 99th percentile by area.
    let thicknesses_m = [2e-7, 0.0, 1e-7, 0.0, 0.0, 0.0];
    for (facet, thickness_m) in part.facets.iter_mut().zip(thicknesses_m) {
        facet.thickness_m = thickness_m;
        facet.state = if facet.row < 2 {
            State::Reached
        } else {
            State::NoneSeen
        };
    }
    let bytes = file_of(&outcome, "coat.glb");
    let gltf::Gltf { document, blob } = gltf::Gltf::from_slice(&bytes).unwrap();
    let primitive = document
        .meshes()
        .next()
        .unwrap()
        .primitives()
        .next()
        .unwrap();
    let blob = blob.unwrap();
    let reader = primitive.reader(|_| Some(&blob));
    let colours: Vec<[f32; 4]> = reader.read_colors(0).unwrap().into_rgba_f32().collect();
    // Ends of viridis #440154 and #fde725 (van der Walt & Smith 2015, CC0, from memory); sRGB to linear by
    // IEC 61966-2-1: 0x44 → 0.0578, 0x01 → 0.000304, 0x54 → 0.0887; 0xfd → 0.982, 0xe7 → 0.799, 0x25 → 0.0185.
    let ends = [
        (3, [0.0578, 0.000_304, 0.0887]),
        (0, [0.9823, 0.7991, 0.0185]),
    ];
    for (corner, expected) in ends {
        for channel in 0..3 {
            let found = colours[corner][channel];
            assert!(
                (found - expected[channel]).abs() < 2e-4,
                "corner {corner}: {:?}",
                colours[corner]
            );
        }
    }
}
