//! Hostile STL, OBJ and PLY files: each ends in an error that names its place, none in a panic.

use super::files::{PlyKind, brick, obj, ply, stl, stl_ascii};
use super::{MM, mesh, refused};

#[test]
fn counts_of_a_binary_stl_that_lie_are_refused() {
    let whole = stl(&brick(), b"brick");
    let with_count = |count: u32| {
        let mut bytes = whole.clone();
        bytes[80..84].copy_from_slice(&count.to_le_bytes());
        bytes
    };
    let lie = with_count(u32::MAX);
    refused(
        "x.stl",
        &lie,
        MM,
        &["byte 80", "4294967295", "214748364834 bytes", "684 bytes"],
    );
    refused("x.stl", &lie[..100], MM, &["4294967295", "100 bytes"]);
    for count in [0, 11, 13] {
        refused("x.stl", &with_count(count), MM, &["announces"]);
    }
    for length in 0..whole.len() {
        refused("x.stl", &whole[..length], MM, &[]);
    }
    let solid = stl(&brick(), b"solid brick\0");
    refused("x.stl", &solid[..600], MM, &["600 bytes"]);
    let mut longer = whole.clone();
    longer.push(0);
    refused("x.stl", &longer, MM, &["685 bytes"]);
}

#[test]
fn an_empty_stl_is_refused() {
    refused("x.stl", &[], MM, &["0 are left"]);
    refused("x.stl", &[0; 84], MM, &["no triangles"]);
    refused(
        "x.stl",
        b"solid nothing\nendsolid nothing\n",
        MM,
        &["no triangles"],
    );
    refused("x.stl", b"solid", MM, &[":1", "the end of the file"]);
}

#[test]
fn coordinates_that_are_no_place_are_refused_at_their_byte() {
    for (value, fragment) in [
        (f32::NAN, "NaN"),
        (f32::INFINITY, "inf"),
        (f32::NEG_INFINITY, "-inf"),
    ] {
        let mut bytes = stl(&brick(), b"");
        // Second record, second corner, y.
        let at = 84 + 50 + 12 + 12 + 4;
        bytes[at..at + 4].copy_from_slice(&value.to_le_bytes());
        refused("x.stl", &bytes, MM, &["byte 158", "y coordinate", fragment]);
    }
    let mut bytes = stl(&brick(), b"");
    bytes[96..100].copy_from_slice(&f32::MAX.to_le_bytes());
    refused("x.stl", &bytes, Some(1000.0), &["x coordinate", "3.4e38 m"]);
    assert!(super::read("x.stl", &bytes, Some(0.5)).is_ok());
}

#[test]
fn a_wrong_line_of_an_ascii_stl_is_named() {
    let text = stl_ascii(&brick(), "brick");
    let cases = [
        (
            "vertex 1 1 1",
            "vertex 1,0 1 1",
            &[":4", "decimal point", "1,0"][..],
        ),
        ("vertex 1 1 1", "vertex 1 1", &[":5", "\"vertex\""]),
        (
            "vertex 1 1 1",
            "vertex 1 1 nan",
            &[":4", "z coordinate", "NaN"],
        ),
        (
            "vertex 1 1 1",
            "vertex 1 1e400 1",
            &[":4", "y coordinate", "inf"],
        ),
        ("endloop", "vertex 0 0 0\nendloop", &[":7", "three corners"]),
        ("endfacet", "", &["\"endfacet\""]),
        ("facet normal", "fact normal", &[":2", "\"fact\""]),
        ("endsolid", "endsolt", &["\"endsolt\""]),
    ];
    for (old, new, fragments) in cases {
        refused(
            "x.stl",
            text.replacen(old, new, 1).as_bytes(),
            MM,
            fragments,
        );
    }
    let end = text.find("endsolid").unwrap();
    for length in 0..end {
        refused("x.stl", &text.as_bytes()[..length], MM, &[]);
    }
    refused(
        "x.stl",
        (text.clone() + "more").as_bytes(),
        MM,
        &["\"solid\"", "\"more\""],
    );
    refused(
        "x.stl",
        format!("solid {}", "x".repeat(12 << 20)).as_bytes(),
        MM,
        &["end of the file"],
    );
    refused(
        "x.stl",
        format!("solid\n{}", "x".repeat(12 << 20)).as_bytes(),
        MM,
        &["xxx…"],
    );
}

#[test]
fn a_wrong_line_of_an_obj_is_named() {
    let text = obj(&brick());
    let cases = [
        (
            "f 1 3 4 2",
            "f 0 3 4 2",
            &[":10", "corner 0 does not exist"][..],
        ),
        (
            "f 1 3 4 2",
            "f 1 3 9 2",
            &[":10", "corner 9", "there are 8"],
        ),
        ("f 1 3 4 2", "f 1 3 -9 2", &[":10", "corner -9"]),
        (
            "f 1 3 4 2",
            "f 1 3 -9223372036854775808",
            &[":10", "corner -9223372036854775808"],
        ),
        (
            "f 1 3 4 2",
            "f 1 3 99999999999999999999",
            &[":10", "number of a corner"],
        ),
        ("f 1 3 4 2", "f 1 3 four 2", &[":10", "\"four\""]),
        ("f 1 3 4 2", "f 1 3", &[":10", "2 corners"]),
        ("f 1 3 4 2", "f", &[":10", "0 corners"]),
        ("f 1 3 4 2", "f /1/1 2 3", &[":10", "number of a corner"]),
        ("f 1 3 4 2", "f 1 4 3 8 2 5 1 7", &[":10", "crosses itself"]),
        ("v 1 1 1", "v 1 1", &[":2", "three coordinates"]),
        ("v 1 1 1", "v 1 1 inf", &[":2", "z coordinate"]),
        ("v 1 1 1", "v 1 1 1 0.5", &[":2", "weight"]),
        ("v 1 1 1", "w 1 1 1", &[":2", "OBJ statement"]),
        ("# a body", "cstype bspline", &[":1", "polygons only"]),
        ("# a body", "call other.obj", &[":1", "one file"]),
        ("# a body", "\u{0}\u{1}\u{2}", &[":1"]),
    ];
    for (old, new, fragments) in cases {
        assert!(text.contains(old), "{old} in {text}");
        refused(
            "x.obj",
            text.replacen(old, new, 1).as_bytes(),
            MM,
            fragments,
        );
    }
    refused("x.obj", b"", MM, &["no triangles"]);
    refused("x.obj", b"v 0 0 0\nl 1 1 1\n", MM, &["no triangles"]);
    let mut foreign = b"o caf\xe9\n# \xff\xfe\n".to_vec();
    foreign.extend(text.bytes());
    assert_eq!(mesh("x.obj", &foreign, MM).objects[0].0, "caf\u{fffd}");
    let long = format!("{text}f {}", "1 ".repeat(6 << 20));
    assert!(long.len() > 12 << 20);
    drop(super::read("x.obj", long.as_bytes(), MM));
    refused("x.obj", "x".repeat(12 << 20).as_bytes(), MM, &["xxx…"]);
}

#[test]
fn a_wrong_header_of_a_ply_is_named() {
    let text = String::from_utf8(ply(&brick(), PlyKind::Ascii)).unwrap();
    let cases = [
        (
            "format ascii 1.0",
            "format utf-8 1.0",
            &["binary_big_endian"][..],
        ),
        ("format ascii 1.0\n", "", &["no format"]),
        ("property float x", "property quad x", &[":6", "\"quad\""]),
        (
            "property float x",
            "property float u",
            &["property x is missing"],
        ),
        (
            "property float x",
            "property list uchar float x",
            &["property x is missing"],
        ),
        ("vertex_indices", "corners", &["vertex_indices"]),
        ("element vertex 8", "element vertex -8", &[":4", "\"-8\""]),
        (
            "element vertex 8",
            "element vertex",
            &[":4", "number of elements"],
        ),
        ("element vertex 8\n", "", &["\"element\" first"]),
        ("element vertex", "element corner", &["faces before"]),
        ("element note", "element vertex", &["further element"]),
        ("element note", "element tristrips", &["further element"]),
        ("comment a body", "remark a body", &[":3", "remark"]),
        ("end_header", "end_head", &["end_head"]),
        (
            "int vertex_indices",
            "float vertex_indices\nproperty int x",
            &[],
        ),
    ];
    for (old, new, fragments) in cases {
        assert!(text.contains(old), "{old} in {text}");
        refused(
            "x.ply",
            text.replacen(old, new, 1).as_bytes(),
            MM,
            fragments,
        );
    }
    refused("x.ply", b"ply\n", MM, &["end_header"]);
    let endless = format!("ply\n{}", "comment x\n".repeat(200_000));
    refused("x.ply", endless.as_bytes(), MM, &["within a megabyte"]);
    refused("x.ply", b"", MM, &[]);
}

#[test]
fn a_wrong_line_of_an_ascii_ply_is_named() {
    let text = String::from_utf8(ply(&brick(), PlyKind::Ascii)).unwrap();
    let first = text.find("end_header\n").unwrap();
    let line = text[..first].lines().count() + 2;
    let here = format!(":{line}");
    let face = format!(":{}", line + 9);
    let cases = [
        (
            "\n200 1 1 1\n",
            "\n200 1 1\n",
            &[here.as_str(), "another value"][..],
        ),
        (
            "\n200 1 1 1\n",
            "\n200 1 1 1 1\n",
            &[&here, "end of the line"],
        ),
        ("\n200 1 1 1\n", "\n200 1 x 1\n", &[&here, "\"x\""]),
        ("\n200 1 1 1\n", "\n200 1 1 NaN\n", &[&here, "z coordinate"]),
        ("\n4 0 2 3 1 -1\n", "\n4 0 2 3 8 -1\n", &[&face, "corner 8"]),
        (
            "\n4 0 2 3 1 -1\n",
            "\n4 0 2 3 -1 -1\n",
            &[&face, "corner -1"],
        ),
        (
            "\n4 0 2 3 1 -1\n",
            "\n4 0 2 3 1.5 -1\n",
            &[&face, "whole number"],
        ),
        (
            "\n4 0 2 3 1 -1\n",
            "\n-4 0 2 3 1 -1\n",
            &[&face, "list length -4"],
        ),
        (
            "\n4 0 2 3 1 -1\n",
            "\n4000000000 0 2 3 1 -1\n",
            &[&face, "4000000000 bytes"],
        ),
        ("\n4 0 2 3 1 -1\n", "\n2 0 2 -1\n", &[&face, "2 corners"]),
        (
            "element face 6",
            "element face 4000000000",
            &["end of the file"],
        ),
        ("element face 6", "element face 5", &["more bytes"]),
        (
            "element vertex 8",
            "element vertex 4000000000",
            &["end of the"],
        ),
    ];
    for (old, new, fragments) in cases {
        assert!(text.contains(old), "{old:?} in {text}");
        refused(
            "x.ply",
            text.replacen(old, new, 1).as_bytes(),
            MM,
            fragments,
        );
    }
    // All but the last line break is needed.
    for length in 0..text.len() - 3 {
        refused("x.ply", &text.as_bytes()[..length], MM, &[]);
    }
}

#[test]
fn counts_of_a_binary_ply_that_lie_are_refused() {
    for kind in [PlyKind::Little, PlyKind::Big] {
        let whole = ply(&brick(), kind);
        for length in 0..whole.len() {
            refused("x.ply", &whole[..length], MM, &[]);
        }
        let mut longer = whole.clone();
        longer.push(0);
        refused("x.ply", &longer, MM, &["1 more bytes"]);
        let replaced = |old: &str, new: &str| {
            let at = whole
                .windows(old.len())
                .position(|window| window == old.as_bytes())
                .unwrap();
            [&whole[..at], new.as_bytes(), &whole[at + old.len()..]].concat()
        };
        refused(
            "x.ply",
            &replaced("vertex 8", "vertex 4294967295"),
            MM,
            &["byte"],
        );
        refused(
            "x.ply",
            &replaced("face 6", "face 18446744073709551615"),
            MM,
            &["byte"],
        );
        refused(
            "x.ply",
            &replaced("note 1", "note 4294967295"),
            MM,
            &["byte"],
        );
    }
    // Elements without properties take no bytes: their number costs nothing either.
    let text = String::from_utf8(ply(&brick(), PlyKind::Ascii)).unwrap();
    let empty = text.replacen(
        "element vertex",
        "element nothing 18446744073709551615\nelement vertex",
        1,
    );
    assert_eq!(mesh("x.ply", empty.as_bytes(), MM).triangles.len(), 12);
}

#[test]
fn thousands_of_shells_within_shells_do_not_hang() {
    // Boxes around one middle, each a hair larger than the one before: every pair overlaps.
    let mut solid = brick();
    let shape = solid.clone();
    for layer in 1..2000_u16 {
        let shift = u32::try_from(solid.corners.len()).unwrap();
        let factor = 1.0 + f32::from(layer) / 1000.0;
        solid.corners.extend(shape.corners.iter().map(|corner| {
            [0, 1, 2].map(|axis| {
                let middle = [2.0, 2.5, 3.0][axis];
                middle + (corner[axis] - middle) * factor
            })
        }));
        solid.faces.extend(
            shape
                .faces
                .iter()
                .map(|face| face.iter().map(|corner| corner + shift).collect()),
        );
    }
    refused(
        "x.stl",
        &stl(&solid, b""),
        MM,
        &["2000 closed shells", "split the file"],
    );
    // A tenth of them is sorted out: 100 walls of solids, 100 of hollows.
    solid.corners.truncate(8 * 200);
    solid.faces.truncate(6 * 200);
    let mesh = mesh("x.stl", &stl(&solid, b""), MM);
    assert_eq!(mesh.health.hollows, 100);
    assert_eq!(mesh.shells.iter().map(|shell| shell.depth).max(), Some(199));
}

#[test]
fn a_comb_of_polygons_that_cannot_be_fanned_does_not_hang() {
    // A spiral of 6000 corners has few ears at a time; many copies of it exhaust the tests.
    let mut text = String::new();
    let corners = 3000;
    for side in [1.0, 0.98] {
        for place in 0..corners {
            let place = f64::from(if side < 1.0 {
                corners - 1 - place
            } else {
                place
            });
            let (angle, radius) = (place * 0.05, side * (10.0 + place));
            text += &format!("v {} {} 0\n", radius * angle.cos(), radius * angle.sin());
        }
    }
    let face: String = (1..=2 * corners)
        .map(|corner| format!(" {corner}"))
        .collect();
    for _ in 0..50 {
        text += &format!("f{face}\n");
    }
    refused(
        "x.obj",
        text.as_bytes(),
        MM,
        &["6000 corners", "before export"],
    );
}
