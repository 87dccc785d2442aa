//! Distances against closed forms and against search by brute force, solids against their formulas.

use super::distance::*;
use super::solids;
use super::*;
use std::f64::consts::PI;

#[test]
fn solids_are_closed_and_have_their_volume() {
    let circle = PI * 0.02 * 0.02;
    let cases = [
        (solids::cuboid(DVec3::new(1.0, 2.0, 3.0)), 6.0),
        // equal-area polygons: round cross-sections are exact
        (solids::cylinder(0.04, 0.1), 0.1 * circle),
        (solids::tube(0.04, 0.02, 0.1), 0.1 * 0.75 * circle),
        (
            solids::plate_with_hole(DVec3::new(0.1, 0.08, 0.002), 0.04),
            0.002 * (0.1 * 0.08 - circle),
        ),
    ];
    for (solid, volume) in cases {
        assert!(
            (solid.volume_m3() / volume - 1.0).abs() < 1e-12,
            "{}",
            solid.volume_m3()
        );
        assert_closed(&solid);
    }
    let sphere = solids::sphere(0.04);
    let volume = 4.0 / 3.0 * PI * 0.02_f64.powi(3);
    // stated in its docs: facets within −4·10⁻⁴ and +2·10⁻⁴ of the radius
    assert!((sphere.volume_m3() / volume - 1.0).abs() < 1.2e-3);
    assert!(sphere.corners().all(|corners| {
        let middle = corners.iter().sum::<DVec3>() / 3.0;
        (middle.length() / 0.02 - 1.0 + 1e-4).abs() < 3.1e-4
    }));
    assert_closed(&sphere);
}

/// Every edge is walked once each way.
fn assert_closed(solid: &Solid) {
    let mut edges = std::collections::BTreeSet::new();
    for [a, b, c] in &solid.triangles {
        for edge in [(a, b), (b, c), (c, a)] {
            assert!(edges.insert(edge), "edge walked twice the same way");
        }
    }
    assert!(edges.iter().all(|&(a, b)| edges.contains(&(b, a))));
}

#[test]
fn a_hole_in_a_plate_is_round_to_a_thousandth() {
    let plate = solids::plate_with_hole(DVec3::new(0.1, 0.1, 0.001), 0.046);
    let rim = plate.vertices.iter().map(|v| v.truncate().length());
    let rim: Vec<f64> = rim.filter(|r| *r < 0.03).collect();
    assert_eq!(rim.len(), 2 * solids::FACETS as usize);
    let half_angle = PI / f64::from(solids::FACETS);
    for corner in rim {
        let middle_of_side = corner * half_angle.cos();
        assert!((corner / 0.023 - 1.0).abs() < 1e-4 && (middle_of_side / 0.023 - 1.0).abs() < 1e-4);
    }
}

/// Numbers in −1..1 from a multiplicative generator (Lehmer, 48271): only spread matters here.
fn scatter(count: usize) -> Vec<DVec3> {
    let mut state: u64 = 20_240_229;
    let mut next = || {
        state = state * 48_271 % 2_147_483_647;
        2.0 * (state as f64 / 2_147_483_647.0) - 1.0
    };
    (0..count)
        .map(|_| DVec3::new(next(), next(), next()))
        .collect()
}

#[test]
fn closest_points_of_triangles_are_no_further_than_any_sampled_pair() {
    let points = scatter(600);
    for corners in points.chunks_exact(6) {
        let one = [corners[0], corners[1], corners[2]];
        let other = [corners[3], corners[4], corners[5]].map(|at| at + DVec3::splat(0.3));
        let [p, q] = closest_of_triangles(one, other);
        let found = p.distance(q);
        // both points lie on their triangles
        assert!(closest_on_triangle(p, one).0.distance(p) < 1e-12);
        assert!(closest_on_triangle(q, other).0.distance(q) < 1e-12);
        let mut sampled = f64::INFINITY;
        for i in 0..=40 {
            for j in 0..=40 - i {
                let [v, w] = [i, j].map(|k| f64::from(k) / 40.0);
                let at = one[0] + (one[1] - one[0]) * v + (one[2] - one[0]) * w;
                sampled = sampled.min(closest_on_triangle(at, other).0.distance(at));
            }
        }
        assert!(found <= sampled + 1e-12, "{found} {sampled}");
        assert!(sampled - found < 0.08, "{found} {sampled}"); // grid spacing of at most 0.08
    }
}

#[test]
fn crossing_triangles_pierce_and_flush_ones_do_not() {
    let flat = [DVec3::ZERO, DVec3::X, DVec3::Y];
    let through = [
        DVec3::new(0.2, 0.2, -1.0),
        DVec3::new(0.2, 0.2, 1.0),
        DVec3::new(0.3, 0.2, 1.0),
    ];
    let [p, q] = closest_of_triangles(flat, through);
    assert!(p.distance(q) == 0.0 && pierce(flat, through, 1e-6));
    let flush = flat.map(|at| at + DVec3::new(0.1, 0.1, 0.0));
    let [p, q] = closest_of_triangles(flat, flush);
    assert!(p.distance(q) < 1e-15 && !pierce(flat, flush, 1e-6));
    let standing = through.map(|at| at + DVec3::new(0.0, 0.0, 1.0));
    assert!(!pierce(flat, standing, 1e-6));
}

#[test]
fn the_tree_finds_the_nearest_triangle_that_brute_force_finds() {
    let sphere = solids::sphere(1.0);
    let numbered = || (0..).zip(sphere.corners());
    let tree = Tree::build(numbered());
    for point in scatter(50) {
        let nearest = tree.nearest(point).unwrap();
        let brute = numbered().map(|(_, t)| closest_on_triangle(point, t).0.distance(point));
        let brute = brute.fold(f64::INFINITY, f64::min);
        assert!((nearest.distance_m - brute).abs() < 1e-15);
        let [a, b, c] = sphere.corners().nth(nearest.triangle as usize).unwrap();
        let at = a + (b - a) * nearest.bary.x + (c - a) * nearest.bary.y;
        assert!(at.distance(nearest.position_m) < 1e-14);
    }
}

#[test]
fn a_closed_shell_winds_once_around_a_point_inside() {
    let sphere = solids::sphere(1.0);
    for point in scatter(40) {
        let inside = point.length() < 0.5;
        let turns = winding(point, sphere.corners());
        assert!(
            (turns - f64::from(u8::from(inside))).abs() < 1e-9,
            "{point} {turns}"
        );
    }
}
