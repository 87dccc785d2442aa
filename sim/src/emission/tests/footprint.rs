//! Footprints: draws, extents, areas, frames.

use super::*;
use std::f64::consts::{PI, TAU};

fn groove() -> GrooveTable {
    let rows = [
        (0.004, 0.0),
        (0.010, 0.2),
        (0.016, 1.0),
        (0.021, 0.7),
        (0.024, 0.0),
        (0.03, 0.0),
    ];
    GrooveTable::new(&rows).unwrap()
}

fn shapes() -> Vec<(&'static str, FootprintShape)> {
    let corner = |x: f64, y: f64, z: f64| DVec3::new(x, y, z);
    let apex = corner(0.01, 0.02, 0.05);
    let [a, b, c] = [
        corner(0.0, 0.0, 0.0),
        corner(0.04, 0.0, 0.01),
        corner(0.0, 0.03, 0.0),
    ];
    let mesh = MeshFootprint::new(&[[a, b, apex], [b, c, apex], [a, a, b], [c, a, apex]]).unwrap();
    vec![
        ("spot", FootprintShape::Spot),
        (
            "disc",
            FootprintShape::Ring {
                inner_radius_m: 0.0,
                outer_radius_m: 0.02,
            },
        ),
        (
            "ring",
            FootprintShape::Ring {
                inner_radius_m: 0.012,
                outer_radius_m: 0.021,
            },
        ),
        (
            "rectangle",
            FootprintShape::Rectangle {
                width_m: 0.05,
                depth_m: 0.02,
            },
        ),
        ("line", FootprintShape::Line { length_m: 0.04 }),
        ("groove", FootprintShape::Groove(groove())),
        ("mesh", FootprintShape::Mesh(mesh)),
    ]
}

fn placed(shape: FootprintShape) -> Footprint {
    let along = Some(DVec3::new(1.0, 0.2, -0.4));
    Footprint::new(
        DVec3::new(0.01, -0.02, 0.06),
        DVec3::new(0.3, -0.2, 1.0),
        along,
        shape,
    )
}

/// Position of a drawn point as two shares of the footprint and its cell count, and cell probabilities.
fn footprint_misfit(sampled: &Footprint, stated: &Footprint, seed: u64) -> f64 {
    const N: usize = 24;
    let mut stream = Stream(1000 + seed);
    let mut counts = Vec::new();
    let mut probabilities = Vec::new();
    let reach = stated.reach_m();
    for _ in 0..DRAWS {
        let point = sampled.sample(stream.pair());
        assert!((point.normal.length() - 1.0).abs() < 1e-12);
        let from = point.position_m - stated.centre_m;
        let [x, y] = [from.dot(stated.frame[0]), from.dot(stated.frame[1])];
        let index = match &stated.shape {
            FootprintShape::Spot => 0,
            FootprintShape::Ring { .. } | FootprintShape::Groove(_) => {
                let turn = y.atan2(x).rem_euclid(TAU) / TAU;
                cell(x.hypot(y) / reach, N) * N + cell(turn, N)
            }
            FootprintShape::Rectangle { width_m, depth_m } => {
                cell(x / width_m + 0.5, N) * N + cell(y / depth_m + 0.5, N)
            }
            FootprintShape::Line { length_m } => cell(x / length_m + 0.5, N),
            FootprintShape::Mesh(mesh) => mesh_cell(mesh, &point, N),
        };
        counts.resize(counts.len().max(index + 1), 0);
        counts[index] += 1;
    }
    let edge = |k: usize| reach * k as f64 / N as f64;
    match &stated.shape {
        FootprintShape::Spot => return 0.0,
        FootprintShape::Line { .. } => probabilities.extend([1.0 / N as f64; N]),
        FootprintShape::Rectangle { .. } => probabilities.extend([1.0 / (N * N) as f64; N * N]),
        FootprintShape::Ring {
            inner_radius_m: inner,
            outer_radius_m: outer,
        } => {
            for k in 0..N {
                let [low, high] = [edge(k).max(*inner), edge(k + 1).max(*inner)];
                let share = (high * high - low * low) / (outer * outer - inner * inner);
                probabilities.extend([share / N as f64; N]);
            }
        }
        FootprintShape::Groove(groove) => {
            for k in 0..N {
                let density = |r: f64| groove.density_per_m2(r) * TAU * r;
                let share = integral(edge(k), edge(k + 1), 2000, density);
                probabilities.extend([share / N as f64; N]);
            }
        }
        FootprintShape::Mesh(mesh) => {
            for face in &mesh.faces {
                let [a, b, c] = face;
                let share = 0.5 * (*b - *a).cross(*c - *a).length() / mesh.area_m2;
                // Of N² small triangles per face, each has the same share (N − 1 squares' halves too).
                probabilities.extend(triangle_cells(N).map(|part| share * part));
            }
        }
    }
    counts.resize(probabilities.len(), 0);
    misfit(&counts, &probabilities)
}

/// Shares of the N × N cells of (weight of the second, of the third corner) inside a triangle.
fn triangle_cells(n: usize) -> impl Iterator<Item = f64> {
    let whole = 2.0 / (n * n) as f64;
    (0..n * n).map(move |index| match (index / n + index % n).cmp(&(n - 1)) {
        std::cmp::Ordering::Less => whole,
        std::cmp::Ordering::Equal => 0.5 * whole,
        std::cmp::Ordering::Greater => 0.0,
    })
}

fn mesh_cell(mesh: &MeshFootprint, point: &FootprintPoint, n: usize) -> usize {
    let found = mesh
        .faces
        .iter()
        .enumerate()
        .find_map(|(index, [a, b, c])| {
            let [u, v, from] = [*b - *a, *c - *a, point.position_m - *a];
            let normal = u.cross(v);
            let on_plane = from.dot(normal).abs() < 1e-12 * normal.length();
            let weights = [from.cross(v).dot(normal), u.cross(from).dot(normal)]
                .map(|weight| weight / normal.length_squared());
            let inside =
                weights[0] > -1e-9 && weights[1] > -1e-9 && weights[0] + weights[1] < 1.0 + 1e-9;
            (on_plane && inside && point.normal.dot(normal.normalize()) > 1.0 - 1e-12)
                .then(|| index * n * n + cell(weights[0], n) * n + cell(weights[1], n))
        });
    found.expect("a drawn point lies on a face")
}

#[test]
fn points_of_every_footprint_follow_its_density() {
    for (seed, (name, shape)) in shapes().into_iter().enumerate() {
        let footprint = placed(shape);
        let misfit = footprint_misfit(&footprint, &footprint, seed as u64);
        assert!(misfit < 1.0, "{name}: χ² at {misfit} of its limit");
    }
}

#[test]
fn points_of_a_footprint_notice_a_slightly_wrong_density() {
    let ring = |inner_radius_m| {
        placed(FootprintShape::Ring {
            inner_radius_m,
            outer_radius_m: 0.021,
        })
    };
    assert!(footprint_misfit(&ring(0.012), &ring(0.0118), 1) > 1.0);
    let mut rows: Vec<_> = groove()
        .radii_m
        .iter()
        .copied()
        .zip(groove().weights)
        .collect();
    rows[2].1 *= 1.05;
    let wrong = placed(FootprintShape::Groove(GrooveTable::new(&rows).unwrap()));
    let right = placed(FootprintShape::Groove(groove()));
    assert!(footprint_misfit(&right, &wrong, 2) > 1.0);
}

#[test]
fn extents_enclose_every_point_and_are_reached() {
    for (name, shape) in shapes() {
        let footprint = placed(shape);
        let (centre, radius) = footprint.bounding_sphere();
        let reach = footprint.reach_m();
        let mut farthest = 0.0_f64;
        for direction in [
            DVec3::X,
            DVec3::new(-0.4, 0.9, 0.3),
            DVec3::new(0.0, -1.0, 2.0),
        ] {
            let support = footprint.support(direction);
            let mut highest = f64::NEG_INFINITY;
            for k in 0..160_000 {
                let u = [f64::from(k % 400) / 399.0, f64::from(k / 400) / 399.0];
                let point = footprint.sample(u.map(|v| v.min(1.0 - f64::EPSILON)));
                highest = highest.max(point.position_m.dot(direction));
                farthest = farthest.max(point.position_m.distance(footprint.centre_m));
                assert!(
                    point.position_m.distance(centre) <= radius + 1e-12,
                    "{name}"
                );
            }
            assert!(
                highest <= support + 1e-12,
                "{name}: {highest} above {support}"
            );
            assert!(
                highest > support - 2e-4 * direction.length(),
                "{name}: {highest} far below {support}"
            );
        }
        assert!(
            farthest <= reach + 1e-12 && farthest > reach - 2e-4,
            "{name}: {farthest}, {reach}"
        );
    }
}

#[test]
fn areas_are_those_of_the_shapes() {
    let area = |shape| placed(shape).area_m2();
    let ring = FootprintShape::Ring {
        inner_radius_m: 0.3,
        outer_radius_m: 0.5,
    };
    assert!((area(ring) - 0.16 * PI).abs() < 1e-15);
    assert!(
        (area(FootprintShape::Groove(groove())) - PI * (0.024_f64.powi(2) - 0.004_f64.powi(2)))
            .abs()
            < 1e-15
    );
    let square = [DVec3::ZERO, DVec3::X, DVec3::new(1.0, 1.0, 0.0)];
    let mesh = MeshFootprint::new(&[square, [DVec3::ZERO; 3]]).unwrap();
    assert_eq!(mesh.faces.len(), 1);
    assert!((area(FootprintShape::Mesh(mesh)) - 0.5).abs() < 1e-15);
}

#[test]
fn frame_is_right_handed_and_along_is_projected_onto_the_face() {
    let footprint = placed(FootprintShape::Spot);
    let [along, across, normal] = footprint.frame;
    assert!((along.cross(across) - normal).length() < 1e-15);
    assert!(along.dot(normal).abs() < 1e-15);
    assert!(along.dot(DVec3::new(1.0, 0.2, -0.4)) > 0.0);
}

#[test]
fn directions_turn_with_the_normal() {
    let point = FootprintPoint {
        position_m: DVec3::ZERO,
        normal: DVec3::new(0.6, 0.0, -0.8),
    };
    let direction = point.direction(DVec3::new(0.48, 0.64, 0.6));
    assert!((direction.length() - 1.0).abs() < 1e-15);
    assert!((direction.dot(point.normal) - 0.6).abs() < 1e-15);
}
