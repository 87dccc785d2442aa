//! What holds for any mesh and for any bytes.

use super::files::{PlyKind, Solid, obj, ply, stl, stl_ascii};
use super::{MM, read};
use glam::DVec3;
use proptest::prelude::*;

/// Any triangles over up to 20 corners with coordinates of any size.
fn solids() -> impl Strategy<Value = Solid> {
    let axis = prop_oneof![
        -10.0_f32..10.0,
        -1e30_f32..1e30,
        -1e-30_f32..1e-30,
        Just(0.0_f32),
        Just(-0.0_f32),
    ];
    let corners = prop::collection::vec(prop::array::uniform3(axis), 1..20);
    (
        corners,
        prop::collection::vec(prop::array::uniform3(0_u32..1000), 1..40),
    )
        .prop_map(|(corners, rows)| {
            let count = u32::try_from(corners.len()).unwrap();
            let faces = rows
                .iter()
                .map(|row| row.map(|corner| corner % count).to_vec())
                .collect();
            Solid { corners, faces }
        })
}

/// Corners of each row, in a form that does not ask which way round closed shells were turned.
fn as_sets(rows: impl Iterator<Item = [DVec3; 3]>) -> Vec<[[u64; 3]; 3]> {
    rows.map(|row| {
        let mut row = row.map(|corner| (corner + DVec3::ZERO).to_array().map(f64::to_bits));
        row.sort_unstable();
        row
    })
    .collect()
}

fn written(solid: &Solid) -> Vec<[[u64; 3]; 3]> {
    as_sets(solid.triangles().into_iter().map(|row| {
        row.map(|corner| DVec3::from_array(solid.corners[corner as usize].map(f64::from)) * 0.5)
    }))
}

#[track_caller]
fn reads_back(name: &str, bytes: &[u8], solid: &Solid) {
    let mesh = read(name, bytes, Some(0.5)).unwrap().mesh;
    let found = as_sets((0..mesh.triangles.len()).map(|row| mesh.corners(row)));
    assert_eq!(found, written(solid), "{name}");
    for row in 0..mesh.triangles.len() {
        assert_eq!(
            mesh.needle[row],
            mesh.area_m2(row) == 0.0 || {
                let [a, b, c] = mesh.triangles[row];
                a == b || b == c || c == a
            }
        );
        assert_eq!(mesh.needle[row], mesh.shell_of[row] == u32::MAX);
    }
    let in_shells: u32 = mesh.shells.iter().map(|shell| shell.triangles).sum();
    assert_eq!(
        in_shells as usize + mesh.health.needles,
        mesh.triangles.len()
    );
}

proptest! {
    #[test]
    fn what_was_written_is_read_back(solid in solids()) {
        reads_back("x.stl", &stl(&solid, b""), &solid);
        reads_back("y.stl", stl_ascii(&solid, "body").as_bytes(), &solid);
        reads_back("x.obj", obj(&solid).as_bytes(), &solid);
        for kind in [PlyKind::Ascii, PlyKind::Little, PlyKind::Big] {
            reads_back("x.ply", &ply(&solid, kind), &solid);
        }
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        for (name, unit_m, start) in [
            ("x.stl", MM, &b""[..]),
            ("x.stl", MM, b"solid "),
            ("x.obj", MM, b""),
            ("x.ply", MM, b"ply\nformat binary_big_endian 1.0\n"),
            ("x.3mf", None, b"PK\x03\x04"),
            ("x.gltf", None, b"{"),
            ("x.glb", None, b"glTF\x02\0\0\0"),
        ] {
            drop(read(name, &[start, &bytes].concat(), unit_m));
        }
    }

    #[test]
    fn random_words_never_panic(words in prop::collection::vec(
        prop::sample::select(vec![
            "solid", "facet", "normal", "outer", "loop", "vertex", "endloop", "endfacet", "endsolid",
            "v", "f", "o", "g", "l", "1", "-1", "0", "2/3", "1e39", "nan", "\n", "\n", "\n", "\\\n", "#",
        ]), 0..80,
    )) {
        let text = words.join(" ");
        drop(read("x.obj", text.as_bytes(), MM));
        drop(read("x.stl", text.as_bytes(), MM));
    }

    #[test]
    fn a_changed_byte_never_panics(solid in solids(), at in any::<prop::sample::Index>(), byte: u8) {
        for (name, mut bytes) in [
            ("x.stl", stl(&solid, b"")),
            ("x.stl", stl_ascii(&solid, "body").into_bytes()),
            ("x.obj", obj(&solid).into_bytes()),
            ("x.ply", ply(&solid, PlyKind::Ascii)),
            ("x.ply", ply(&solid, PlyKind::Little)),
        ] {
            let at = at.index(bytes.len());
            bytes[at] = byte;
            drop(read(name, &bytes, MM));
        }
    }
}
