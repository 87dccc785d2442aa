//! Densities against integrals, draws against densities, extents against points.

use super::*;
use crate::stats::{chi_squared_upper, z_limit};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Probability of a false alarm of one check, so that 1000 checks alarm once in 1000 suites.
const FALSE_ALARM: f64 = 1e-6;
/// Draws per χ².
const DRAWS: usize = 2_000_000;

/// A plain stream of uniform variates (SplitMix64, G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014).
struct Stream(u64);

impl Stream {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^= x >> 31;
        f64::from((x >> 32) as u32) / 4_294_967_296.0
    }
    fn pair(&mut self) -> [f64; 2] {
        [self.next(), self.next()]
    }
}

/// Composite Gauss–Legendre rule of five points on `panels` panels.
fn integral(from: f64, to: f64, panels: u32, f: impl Fn(f64) -> f64) -> f64 {
    const NODES: [(f64, f64); 5] = [
        (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
        (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.0, 0.568_888_888_888_888_9),
        (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
        (0.906_179_845_938_664, 0.236_926_885_056_189_1),
    ];
    let half = 0.5 * (to - from) / f64::from(panels);
    let panel = |k: u32| {
        let middle = from + half * f64::from(2 * k + 1);
        NODES
            .iter()
            .map(|&(x, w)| w * f(middle + half * x))
            .sum::<f64>()
            * half
    };
    (0..panels).map(panel).sum()
}

/// χ² of counts in cells against their probabilities, as a share of what it may be.
///
/// Cells that expect fewer than ten are pooled. Above 1 the two do not belong together.
fn misfit(counts: &[u32], probabilities: &[f64]) -> f64 {
    let draws: f64 = counts.iter().map(|&count| f64::from(count)).sum();
    assert!(
        (probabilities.iter().sum::<f64>() - 1.0).abs() < 1e-6,
        "cells do not cover everything"
    );
    let (mut chi_squared, mut cells) = (0.0, 0);
    let (mut seen, mut expected) = (0.0, 0.0);
    let mut take = |seen: f64, expected: f64| {
        chi_squared += (seen - expected) * (seen - expected) / expected;
        cells += 1;
    };
    for (&count, &probability) in counts.iter().zip(probabilities) {
        if probability * draws >= 10.0 {
            take(f64::from(count), probability * draws);
        } else {
            seen += f64::from(count);
            expected += probability * draws;
        }
    }
    if expected >= 10.0 {
        take(seen, expected);
    } else {
        assert!(
            seen <= expected + 30.0,
            "{seen} draws where {expected} were expected"
        );
    }
    chi_squared / chi_squared_upper(cells - 1, FALSE_ALARM)
}

/// Cell of a value in [0, 1) among `cells`.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of a small number of cells; `as` saturates"
)]
fn cell(share: f64, cells: usize) -> usize {
    ((share * cells as f64) as usize).min(cells - 1)
}

/// Draws from `sampled`, counted in 36 × 8 cells of angle and azimuth, against the density of `stated`.
fn law_misfit(sampled: &EmissionLaw, stated: &EmissionLaw, seed: u64) -> f64 {
    const ANGLES: usize = 36; // of 5°, so that the jump of the table at 85° is an edge
    const TURNS: usize = 8;
    let mut stream = Stream(seed);
    let mut counts = vec![0; ANGLES * TURNS];
    for _ in 0..DRAWS {
        let direction = sampled.sample(stream.pair());
        assert!((direction.length() - 1.0).abs() < 1e-12);
        let turn = direction.y.atan2(direction.x).rem_euclid(TAU) / TAU;
        let angle = direction.z.clamp(-1.0, 1.0).acos() / PI;
        counts[cell(angle, ANGLES) * TURNS + cell(turn, TURNS)] += 1;
    }
    let edge = |k: usize| PI * k as f64 / ANGLES as f64;
    let mut probabilities = Vec::new();
    for k in 0..ANGLES {
        // θ = upper edge − width · s⁵ tames laws that grow without bound towards the face.
        let [from, to] = [edge(k), edge(k + 1)];
        let density = |s: f64| {
            let angle = to - (to - from) * s.powi(5);
            let stretch = 5.0 * (to - from) * s.powi(4);
            stated.pdf_per_sr(angle.cos()) * TAU * angle.sin() * stretch
        };
        let share = integral(0.0, 1.0, 2000, density);
        probabilities.extend([share / TURNS as f64; TURNS]);
    }
    misfit(&counts, &probabilities)
}

fn lobe() -> EmissionLaw {
    let rows = [
        (0.0, 0.6),
        (20.0, 1.0),
        (20.5, 2.0),
        (45.0, 0.0),
        (60.0, 0.0),
        (85.0, 0.3),
    ];
    let rows = rows.map(|(degrees, weight): (f64, f64)| (degrees.to_radians(), weight));
    EmissionLaw::Table(TableLaw::new(&rows).unwrap())
}

fn cosine(exponent: f64) -> EmissionLaw {
    EmissionLaw::cosine_power(exponent).unwrap()
}

fn laws() -> Vec<(&'static str, EmissionLaw)> {
    vec![
        ("cosine", cosine(1.0)),
        ("flat", cosine(0.0)),
        ("forward", cosine(4.0)),
        ("sharp", cosine(37.5)),
        ("under cosine", cosine(-0.4)),
        ("table", lobe()),
        (
            "table of two",
            EmissionLaw::Table(TableLaw::new(&[(0.0, 0.0), (FRAC_PI_2, 3.0)]).unwrap()),
        ),
        ("isotropic", EmissionLaw::Isotropic),
    ]
}

#[test]
fn every_law_integrates_to_one() {
    for (name, law) in laws() {
        if name == "under cosine" {
            continue; // unbounded at the face: the quadrature is not made for it, the χ² below is
        }
        let density = |angle: f64| law.pdf_per_sr(angle.cos()) * TAU * angle.sin();
        // Panels of a quarter degree, so that the rows of the table fall on their edges.
        let total = integral(0.0, PI, 720, density);
        assert!((total - 1.0).abs() < 1e-9, "{name}: {total}");
    }
}

#[test]
fn draws_of_every_law_follow_its_density() {
    for (seed, (name, law)) in laws().into_iter().enumerate() {
        let misfit = law_misfit(&law, &law, seed as u64);
        assert!(misfit < 1.0, "{name}: χ² at {misfit} of its limit");
    }
}

#[test]
fn draws_of_a_law_notice_a_slightly_wrong_density() {
    assert!(law_misfit(&cosine(1.0), &cosine(1.03), 1) > 1.0);
    assert!(law_misfit(&cosine(0.0), &cosine(0.02), 2) > 1.0);
    let rows: Vec<_> = match lobe() {
        EmissionLaw::Table(table) => table
            .angles_rad
            .iter()
            .copied()
            .zip(table.pdf_per_sr)
            .collect(),
        _ => unreachable!(),
    };
    let mut wrong = rows.clone();
    wrong[1].1 *= 1.05;
    let wrong = EmissionLaw::Table(TableLaw::new(&wrong).unwrap());
    assert!(law_misfit(&lobe(), &wrong, 3) > 1.0);
}

#[test]
fn mean_cosine_of_the_cosine_power_law_is_n_plus_1_over_n_plus_2() {
    // ∫ cos θ p dΩ = (n + 1)/(n + 2), variance (n + 1)/(n + 3) − mean².
    for (seed, exponent) in [0.0, 1.0, 2.5, 20.0].into_iter().enumerate() {
        let mut stream = Stream(100 + seed as u64);
        let law = cosine(exponent);
        let sum: f64 = (0..DRAWS).map(|_| law.sample(stream.pair()).z).sum();
        let mean = (exponent + 1.0) / (exponent + 2.0);
        let variance = (exponent + 1.0) / (exponent + 3.0) - mean * mean;
        let error = (variance / DRAWS as f64).sqrt();
        let z = (sum / DRAWS as f64 - mean) / error;
        assert!(z.abs() < z_limit(1000, 1e-3), "n = {exponent}: z = {z}");
    }
}

#[test]
fn angle_drawn_from_a_table_has_the_share_below_it() {
    let EmissionLaw::Table(table) = lobe() else {
        unreachable!()
    };
    for k in 1..200 {
        let u = f64::from(k) / 200.0;
        let direction = EmissionLaw::Table(table.clone()).sample([u, 0.0]);
        let angle = direction.x.atan2(direction.z);
        let edges: Vec<f64> = table.angles_rad.iter().map(|&row| row.min(angle)).collect();
        let density = |angle: f64| table.pdf_per_sr_at(angle) * TAU * angle.sin();
        let below: f64 = edges
            .windows(2)
            .map(|ends| integral(ends[0], ends[1], 200, density))
            .sum();
        assert!(
            (below - u).abs() < 1e-10,
            "u = {u}: {below} below {angle} rad"
        );
    }
}

#[test]
fn short_pieces_of_a_table_lose_no_digits() {
    // A table of 100 001 rows of the cosine law must give the cosine law.
    let rows: Vec<_> = (0..=100_000)
        .map(|k| FRAC_PI_2 * f64::from(k) / 100_000.0)
        .map(|angle| (angle, angle.cos().max(0.0)))
        .collect();
    let table = TableLaw::new(&rows).unwrap();
    for angle in [1e-3_f64, 0.3, 1.0, 1.5] {
        let inside = table.cumulative[table.angles_rad.partition_point(|&row| row < angle)];
        let edge = table.angles_rad[table.angles_rad.partition_point(|&row| row < angle)];
        let exact = edge.sin() * edge.sin();
        assert!(
            (inside - exact).abs() < 1e-9 * exact + 1e-12,
            "{inside} against {exact}"
        );
        let density = table.pdf_per_sr_at(angle);
        assert!((density * PI - angle.cos()).abs() < 1e-9);
    }
}

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

#[test]
fn laws_and_tables_without_meaning_are_refused_in_words() {
    let text = |error: Result<_, EmissionError>| error.map(|_: ()| ()).unwrap_err().to_string();
    assert_eq!(
        text(EmissionLaw::cosine_power(-2.0).map(|_| ())),
        "emission exponent -2 (must be above -1, otherwise the law has no finite total); \
         use 1 for a flat evaporating surface"
    );
    let lobe = |rows: &[(f64, f64)]| {
        let rows: Vec<_> = rows.iter().map(|row| (row.0.to_radians(), row.1)).collect();
        text(TableLaw::new(&rows).map(|_| ()))
    };
    assert_eq!(
        lobe(&[(0.0, 1.0)]),
        "1 rows in the table of the emission law (at least 2 are needed to draw a line between them); add rows"
    );
    assert_eq!(
        lobe(&[(0.0, 1.0), (30.0, 1.0), (30.0, 0.0)]),
        "row 3 of the table of the emission law has 30 deg after 30 deg (the first column must increase); sort the rows"
    );
    assert_eq!(
        lobe(&[(10.0, 1.0), (30.0, 1.0)]),
        "the table of the emission law begins at 10 deg (must begin at 0 deg, the normal of the face); add a row for 0 deg"
    );
    assert_eq!(
        lobe(&[(0.0, 1.0), (95.0, 1.0)]),
        "row 2 of the table of the emission law is at 95 deg (90 deg is the face itself, nothing leaves behind it); end the table at 90 deg"
    );
    assert_eq!(
        lobe(&[(0.0, 0.0), (90.0, 0.0)]),
        "all weights of the table of the emission law are 0 (nothing would leave); give one row a weight above 0"
    );
    let groove = |rows: &[(f64, f64)]| text(GrooveTable::new(rows).map(|_| ()));
    assert_eq!(
        groove(&[(0.0, 1.0), (0.02, -0.5)]),
        "row 2 of the table of the erosion groove has weight -0.5 (a share of the emission cannot be below 0); correct the row"
    );
    assert_eq!(
        groove(&[(-0.001, 1.0), (0.02, 0.5)]),
        "row 1 of the table of the erosion groove is at -1 mm (a radius cannot be below 0 mm); correct the row"
    );
    assert_eq!(
        groove(&[(0.0, f64::NAN), (0.02, 0.5)]),
        "row 1 of the table of the erosion groove holds NaN (must be a finite number); correct the row"
    );
    assert_eq!(
        text(MeshFootprint::new(&[[DVec3::ZERO; 3]]).map(|_| ())),
        "the 1 faces of the emitting mesh have an area of 0 mm2 (nothing could leave); give a mesh with area"
    );
}
