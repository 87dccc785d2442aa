//! Sheets as solids: closed, of the right volume, where they belong.

use crate::mesh::Mesh;
use crate::stencil::{Laid, Lay, Opens, cut, read_artwork_bytes, sheet_area};
use crate::transport::kernel::Kernel;
use glam::{DVec2, DVec3, Vec3};

fn laid(inside: &str, opens: Opens, lay: Lay, heights: [f64; 2]) -> Laid {
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"40mm\" height=\"40mm\" viewBox=\"-20 -20 40 40\">{inside}</svg>"
    );
    let artwork = read_artwork_bytes("x.svg", text.as_bytes(), None).unwrap();
    let ground = [DVec2::splat(-0.02), DVec2::splat(0.02)];
    let sheet = cut(&sheet_area(&artwork, ground, opens).unwrap()).unwrap();
    lay.lay(sheet, heights[0], heights[1])
}

/// Volume of a closed solid, m³; panics if an edge has not one neighbour each way.
fn volume(laid: &Laid) -> f64 {
    let mut edges = std::collections::BTreeMap::new();
    for &[a, b, c] in &laid.triangles {
        for (from, to) in [(a, b), (b, c), (c, a)] {
            *edges.entry((from.min(to), from.max(to))).or_insert(0) +=
                if from < to { 1 } else { -1 };
        }
    }
    assert!(edges.values().all(|&sum| sum == 0), "the solid is open");
    let corner = |i: u32| laid.vertices[i as usize];
    laid.triangles
        .iter()
        .map(|&[a, b, c]| corner(a).dot(corner(b).cross(corner(c))) / 6.0)
        .sum()
}

/// Ring with an island that has a hole, a square that touches another at a corner, and a slit.
const SHAPES: &str = r#"<path fill-rule="evenodd" d="M-10 -10H10V10H-10Z M-8 -8H8V8H-8Z M-4 -4H4V4H-4Z M-1 -1H1V1H-1Z"/>
    <rect x="10" y="10" width="3" height="3"/><rect x="-15" y="-15" width="0.01" height="12"/>"#;
const AREA_MM2: f64 = 400.0 - 256.0 + 64.0 - 4.0 + 9.0 + 0.12;

#[test]
fn sheets_are_closed_solids_of_their_area_times_their_thickness() {
    let heights = [0.2e-3, 0.1e-3];
    let inside = laid(SHAPES, Opens::Ground, Lay::Flat, heights);
    assert!((volume(&inside) / (AREA_MM2 * 1e-10) - 1.0).abs() < 1e-5);
    let outside = laid(SHAPES, Opens::Shapes, Lay::Flat, heights);
    assert!((volume(&outside) / ((1600.0 - AREA_MM2) * 1e-10) - 1.0).abs() < 1e-5);
    let z: Vec<f64> = outside.vertices.iter().map(|v| v.z).collect();
    assert!(
        z.iter()
            .all(|z| (z - 0.2e-3).abs() < 1e-15 || (z - 0.3e-3).abs() < 1e-15)
    );
}

#[test]
fn a_wrapped_sheet_stands_evenly_over_its_cylinder() {
    let (radius, [lift, thick]) = (12e-3, [0.05e-3, 0.08e-3]);
    let laid = laid(SHAPES, Opens::Ground, Lay::Wrapped(radius), [lift, thick]);
    // area × thickness × mean radius over radius
    let grown = (radius + lift + 0.5 * thick) / radius;
    let exact = AREA_MM2 * 1e-6 * thick * grown;
    assert!(
        (volume(&laid) / exact - 1.0).abs() < 1e-3,
        "{}",
        volume(&laid) / exact
    );
    for v in &laid.vertices {
        let over = (v.x * v.x + (v.z + radius).powi(2)).sqrt() - radius;
        assert!((over - lift).abs() < 1e-9 || (over - lift - thick).abs() < 1e-9);
    }
    // middles of edges stray by no more than the sag of a chord
    for &[a, b, _] in &laid.triangles {
        let m = 0.5 * (laid.vertices[a as usize] + laid.vertices[b as usize]);
        let over = (m.x * m.x + (m.z + radius).powi(2)).sqrt() - radius;
        assert!(over > lift - 2.2e-6, "{over}");
    }
}

/// A roof whose ridge runs along y at x = 0, falling 1 in 2, under z = 0.
fn roof() -> Kernel {
    let at = |x: f32, y: f32| Vec3::new(x, y, -0.001 - 0.5 * x.abs());
    let [s, t] = [0.03, 0.03];
    Kernel::build(vec![
        [at(-s, -t), at(0.0, -t), at(0.0, t)],
        [at(-s, -t), at(0.0, t), at(-s, t)],
        [at(0.0, -t), at(s, -t), at(s, t)],
        [at(0.0, -t), at(s, t), at(0.0, t)],
    ])
}

#[test]
fn a_pushed_sheet_lies_on_the_surface_and_keeps_its_thickness() {
    let surface = roof();
    let square = r#"<rect x="-9" y="-9" width="18" height="18"/>"#;
    let thick = 0.1e-3;
    let laid = laid(
        square,
        Opens::Ground,
        Lay::Pushed(DVec3::NEG_Z, &surface),
        [0.0, thick],
    );
    assert_eq!(laid.missed, 0);
    // each side of the roof is √1.25 longer than its plan; the ridge's own prism is small
    let exact = 18e-3 * 18e-3 * 1.25_f64.sqrt() * thick;
    assert!(
        (volume(&laid) / exact - 1.0).abs() < 0.01,
        "{}",
        volume(&laid) / exact
    );
    let half = laid.vertices.len() / 2;
    for (low, high) in laid.vertices[..half].iter().zip(&laid.vertices[half..]) {
        let over = low.z + 0.001 + 0.5 * low.x.abs();
        assert!(
            over.abs() < 1e-7 || low.x.abs() < 0.2e-3 && over.abs() < 5e-5,
            "{low}"
        );
        if low.x.abs() > 0.5e-3 {
            assert!((low.distance(*high) / thick - 1.0).abs() < 1e-6);
        }
    }
    // what finds no surface hangs on, and is counted
    let wide = r#"<rect x="-9" y="-9" width="18" height="18"/>"#;
    let aside = laid_beside(wide, &surface);
    assert!(aside.missed > 0 && aside.vertices.iter().all(|v| v.is_finite()));
}

fn laid_beside(inside: &str, surface: &Kernel) -> Laid {
    // pushed at a slant, so that one side misses
    laid(
        inside,
        Opens::Shapes,
        Lay::Pushed(DVec3::new(3.0, 0.0, -1.0).normalize(), surface),
        [0.0, 1e-4],
    )
}

/// Top of a ball of this radius, m, out to 12 mm from its axis; its highest point is the origin.
fn cap(radius: f64) -> Kernel {
    let (rings, sectors) = (60, 240);
    let at = |ring: i32, sector: i32| {
        let angle = (12e-3 / radius).asin() * f64::from(ring) / f64::from(rings);
        let round = std::f64::consts::TAU * f64::from(sector % sectors) / f64::from(sectors);
        let aside = DVec2::from_angle(round) * radius * angle.sin();
        aside.extend(radius * (angle.cos() - 1.0)).as_vec3()
    };
    let quads = (0..rings).flat_map(|ring| (0..sectors).map(move |sector| (ring, sector)));
    let rows = quads.flat_map(|(i, j)| {
        let [a, b, c, d] = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(i, j)| at(i, j));
        [[a, b, c], [a, c, d]]
    });
    Kernel::build(rows.collect())
}

/// A round hole makes a fan of slivers out to the corners of the sheet, beside the surface.
#[test]
fn a_pushed_sheet_that_reaches_beyond_a_cap_bends_up_to_its_rim() {
    let (radius, thick) = (25e-3, 0.1e-3);
    let surface = cap(radius);
    let hole = r#"<circle cx="6" cy="0" r="0.5"/>"#;
    let down = Lay::Pushed(DVec3::NEG_Z, &surface);
    let laid = laid(hole, Opens::Shapes, down, [0.0, thick]);
    assert!(!laid.is_coarse && laid.missed > 0);
    assert!(volume(&laid) > 0.0);
    assert!(laid.triangles.len() < 200_000, "{}", laid.triangles.len());
    let half = laid.vertices.len() / 2;
    // walls of the hole stand square on the ball: they lean by no more than its facets do, 0.25 degrees
    let ball = radius * DVec3::NEG_Z;
    let walls = laid.vertices[..half].iter().zip(&laid.vertices[half..]);
    let walls = walls.filter(|(low, _)| low.truncate().distance(DVec2::X * 6e-3) < 0.6e-3);
    let off = walls.map(|(low, high)| {
        let square = *low + (*low - ball).normalize() * thick;
        square.distance(*high)
    });
    let off: Vec<f64> = off.collect();
    let worst = off.iter().copied().fold(0.0, f64::max);
    assert!(off.len() > 60 && worst < 0.5e-6, "{} {worst:e}", off.len());
    let mut seen = 0;
    for &[a, b, _] in &laid.triangles {
        let ends = [a as usize, b as usize];
        // half a step inside the rim, where the last edges may hang over
        let on_cap = |c: &usize| laid.vertices[*c].truncate().length() < 11.5e-3;
        if ends.iter().any(|c| *c >= half) || !ends.iter().all(on_cap) {
            continue;
        }
        let [p, q] = ends.map(|c| laid.vertices[c]);
        let over = (0.5 * (p + q) + radius * DVec3::Z).length() - radius;
        // sag of the chord, or short; and the sag of the cap's own facets, 0.3 mm wide
        assert!(
            over.abs() < 2.6e-6 + p.distance(q).min(1e-4) * 5e-3,
            "{over:e}"
        );
        seen += 1;
    }
    assert!(seen > 3000, "{seen}");
}

#[test]
fn a_sheet_is_a_usable_mesh() {
    let laid = laid(SHAPES, Opens::Shapes, Lay::Flat, [0.0, 1e-4]);
    let mesh = Mesh::from_triangles(&laid.vertices, &laid.triangles).unwrap();
    assert!(mesh.total_area_m2() > 2.0 * (1600.0 - AREA_MM2) * 1e-6);
}
