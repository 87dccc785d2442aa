//! The hierarchy against every triangle one by one.
//!
//! Reference: Möller and Trumbore, "Fast, minimum storage ray/triangle intersection", Journal of
//! Graphics Tools 2(1), 1997, in f64. It is not exact about edges, so rays that pass an edge closer than the
//! margin are left to the leak checks; the share left out is limited.

use super::super::ray::Ray;
use super::super::stack::ROOM;
use super::super::triangle::{meet, owns};
use super::super::{Hit, Kernel};
use super::shapes::{Dice, closed};
use glam::{DVec2, DVec3, Vec3};

const MARGIN: f64 = 1e-9;

/// Hits away from edges, by t; none when some triangle is passed near an edge or edge-on.
fn reference(soup: &[[Vec3; 3]], origin: DVec3, direction: DVec3) -> Option<Vec<Hit>> {
    let mut hits = Vec::new();
    for (triangle, corners) in (0..).zip(soup) {
        let [a, b, c] = corners.map(|corner| corner.as_dvec3());
        let (e, f) = (b - a, c - a);
        let p = direction.cross(f);
        let det = e.dot(p);
        if det.abs() < 1e-14 {
            return None;
        }
        let s = origin - a;
        let u = s.dot(p) / det;
        let q = s.cross(e);
        let v = direction.dot(q) / det;
        let least = u.min(v).min(1.0 - u - v);
        if least.abs() < MARGIN {
            return None;
        }
        let t = f.dot(q) / det;
        if least > 0.0 && t > 0.0 {
            hits.push(Hit {
                triangle,
                t,
                bary: DVec2::new(u, v),
                from_front: det > 0.0,
            });
        }
    }
    hits.sort_by(|a, b| a.t.total_cmp(&b.t));
    Some(hits)
}

fn agree(found: &Hit, expected: &Hit) -> bool {
    found.triangle == expected.triangle
        && (found.t - expected.t).abs() < 1e-9 * (1.0 + expected.t)
        && (found.bary - expected.bary).length() < 1e-6
        && found.from_front == expected.from_front
}

fn compare(soup: &[[Vec3; 3]], dice: &mut Dice, rays: usize) {
    let kernel = Kernel::build(soup.to_vec());
    let mut left_out = 0;
    for _ in 0..rays {
        let (origin, direction) = (dice.cube() * 1.5, dice.direction());
        let Some(expected) = reference(soup, origin, direction) else {
            left_out += 1;
            continue;
        };
        let all = kernel.crossings(origin, direction, f64::INFINITY, None);
        assert_eq!(all.len(), expected.len(), "{all:?} {expected:?}");
        assert!(
            all.iter().zip(&expected).all(|(a, b)| agree(a, b)),
            "{all:?} {expected:?}"
        );
        let first = kernel.first_hit(origin, direction, f64::INFINITY, None);
        assert_eq!(first.is_some(), !expected.is_empty());
        if let Some(first) = first {
            assert!(agree(&first, &expected[0]), "{first:?} {expected:?}");
            let to = |share: f64| origin + direction * (first.t * share);
            assert!(!kernel.blocked(origin, to(0.999), None));
            assert!(kernel.blocked(origin, to(1.001), None));
            let skipped = kernel.first_hit(origin, direction, f64::INFINITY, Some(first.triangle));
            assert_eq!(
                skipped.map(|hit| hit.triangle),
                expected.get(1).map(|hit| hit.triangle)
            );
        } else {
            assert!(!kernel.blocked(origin, origin + direction * 10.0, None));
        }
    }
    assert!(left_out * 20 < rays, "{left_out} of {rays} left out");
}

fn random_soup(dice: &mut Dice, count: usize, extent: f64) -> Vec<[Vec3; 3]> {
    (0..count)
        .map(|_| {
            let middle = dice.cube();
            [(); 3].map(|()| (middle + dice.cube() * extent).as_vec3())
        })
        .collect()
}

#[test]
fn soups_of_any_size_are_met_as_one_by_one() {
    let mut dice = Dice(1);
    for (count, extent) in [
        (1, 1.0),
        (2, 1.0),
        (7, 0.7),
        (9, 0.5),
        (40, 0.3),
        (300, 0.1),
        (2000, 0.05),
    ] {
        let soup = random_soup(&mut dice, count, extent);
        compare(&soup, &mut dice, 2000);
    }
}

#[test]
fn closed_meshes_are_met_as_one_by_one() {
    let mut dice = Dice(2);
    for shape in closed() {
        if shape.name != "cube" && shape.name != "box" {
            compare(&shape.soup(), &mut dice, 300);
        }
    }
}

/// Numbers of the triangles that the exact test finds, without boxes and blocks.
fn exact_one_by_one(soup: &[[Vec3; 3]], ray: &Ray) -> Vec<u32> {
    (0..)
        .zip(soup)
        .map(|(number, triangle)| (number, triangle.map(|corner| corner.to_array())))
        .filter(|(_, corners)| {
            meet(ray, corners).is_some_and(|met| !ray.outside(corners, met.depth))
                && owns(ray, corners)
        })
        .map(|(number, _)| number)
        .collect()
}

#[test]
fn a_hierarchy_too_deep_for_the_usual_stack_is_met_as_one_by_one() {
    let mut dice = Dice(4);
    let soup: Vec<[Vec3; 3]> = (0..400)
        .map(|level| [(); 3].map(|()| (dice.cube() * 0.9f64.powi(level)).as_vec3()))
        .collect();
    let kernel = Kernel::build(soup.clone());
    assert!(kernel.stack > ROOM, "{} {}", kernel.stack, kernel.depth);
    let mut met = 0;
    for level in 0..2000 {
        // All triangles lie about 0: whoever passes near it may meet many.
        let origin = dice.cube() * 2.0;
        let target = dice.cube() * 0.9f64.powi(level % 400);
        let ray =
            Ray::new::<wide::f64x4>(origin, target - origin, f64::INFINITY, kernel.size).unwrap();
        let mut found: Vec<u32> = kernel
            .crossings(origin, target - origin, f64::INFINITY, None)
            .iter()
            .map(|hit| hit.triangle)
            .collect();
        let first = kernel.first_hit(origin, target - origin, f64::INFINITY, None);
        assert_eq!(first.map(|hit| hit.triangle), found.first().copied());
        found.sort_unstable();
        assert_eq!(found, exact_one_by_one(&soup, &ray));
        met += found.len();
    }
    assert!(met > 20_000, "{met}");
}

#[test]
fn triangles_on_one_another_are_all_met_and_the_lowest_number_comes_first() {
    let triangle = [Vec3::ZERO, Vec3::X, Vec3::Y];
    let kernel = Kernel::build(vec![triangle; 1000]);
    let (origin, direction) = (DVec3::new(0.2, 0.3, 1.0), DVec3::NEG_Z);
    let hits = kernel.crossings(origin, direction, 2.0, None);
    assert_eq!(hits.len(), 1000);
    assert!(
        hits.iter()
            .zip(0..)
            .all(|(hit, number)| hit.triangle == number && hit.from_front)
    );
    assert_eq!(
        kernel
            .first_hit(origin, direction, 2.0, None)
            .unwrap()
            .triangle,
        0
    );
    assert_eq!(
        kernel
            .first_hit(origin, direction, 2.0, Some(0))
            .unwrap()
            .triangle,
        1
    );
    assert!(kernel.first_hit(origin, direction, 1.0, None).is_none());
}

#[test]
fn a_flat_sheet_is_met_across_and_not_along() {
    let at = |i: u8, k: u8| Vec3::new(f32::from(i), f32::from(k), 0.5);
    let mut soup = Vec::new();
    for i in 0..10 {
        for k in 0..10 {
            soup.push([at(i, k), at(i + 1, k), at(i + 1, k + 1)]);
            soup.push([at(i, k), at(i + 1, k + 1), at(i, k + 1)]);
        }
    }
    let kernel = Kernel::build(soup);
    for (x, y) in [
        (5.0, 5.0),
        (0.0, 0.0),
        (10.0, 10.0),
        (2.5, 2.5),
        (3.0, 2.2),
        (10.0, 7.7),
    ] {
        let below = DVec3::new(x, y, 0.0);
        assert!(kernel.blocked(below, below + DVec3::Z, None), "{below}");
        assert!(kernel.blocked(below + DVec3::Z, below, None), "{below}");
    }
    assert!(!kernel.blocked(DVec3::new(10.1, 5.0, 0.0), DVec3::new(10.1, 5.0, 1.0), None));
    assert!(!kernel.blocked(DVec3::new(-1.0, 5.0, 0.5), DVec3::new(11.0, 5.2, 0.5), None));
}

#[test]
fn doubling_every_length_changes_no_answer() {
    let mut dice = Dice(5);
    let soup = random_soup(&mut dice, 300, 0.2);
    let double = soup
        .iter()
        .map(|triangle| triangle.map(|corner| corner * 2.0))
        .collect();
    let (once, twice) = (Kernel::build(soup), Kernel::build(double));
    for _ in 0..5000 {
        let (origin, direction) = (dice.cube(), dice.direction());
        let expected = once.first_hit(origin, direction, 3.0, None);
        let found = twice.first_hit(origin * 2.0, direction * 2.0, 3.0, None);
        assert_eq!(found, expected);
    }
}

#[test]
fn nearest_points_are_nearest_one_by_one() {
    let mut dice = Dice(3);
    let soup = random_soup(&mut dice, 200, 0.2);
    let kernel = Kernel::build(soup.clone());
    for _ in 0..300 {
        let point = dice.cube() * 1.5;
        let found = kernel.nearest_point(point).unwrap();
        let there = kernel.point(found.triangle, found.bary);
        assert!((there.distance(point) - found.distance).abs() < 1e-12);
        assert!(found.bary.min_element() >= 0.0 && found.bary.element_sum() <= 1.0 + 1e-12);
        // No point of a fine net over any triangle is nearer, and the net comes near the least.
        let net = (0..200u32).flat_map(|triangle| {
            (0..=40).flat_map(move |i| {
                (0..=40 - i).map(move |k| (triangle, DVec2::new(f64::from(i), f64::from(k)) / 40.0))
            })
        });
        let least = net
            .map(|(triangle, bary)| kernel.point(triangle, bary).distance(point))
            .fold(f64::INFINITY, f64::min);
        assert!(
            found.distance <= least + 1e-12,
            "{} {least}",
            found.distance
        );
        assert!(found.distance > least - 0.02, "{} {least}", found.distance);
    }
}

#[test]
fn triangles_without_area_keep_their_number_and_are_never_met() {
    let (x, y, z) = (Vec3::X, Vec3::Y, Vec3::Z);
    let flat = [Vec3::ZERO, x, x * 2.0];
    let point = [y, y, y];
    let broken = [Vec3::new(f32::NAN, 0.0, 0.0), x, y];
    let kernel = Kernel::build(vec![
        flat,
        [x, y, z],
        point,
        broken,
        [x * 2.0, y * 2.0, z * 2.0],
    ]);
    assert_eq!(kernel.len(), 5);
    let hits = kernel.crossings(DVec3::ZERO, DVec3::ONE, f64::INFINITY, None);
    assert_eq!(
        hits.iter().map(|hit| hit.triangle).collect::<Vec<_>>(),
        [1, 4]
    );
    assert_eq!(kernel.triangle(0)[2], DVec3::new(2.0, 0.0, 0.0));
    assert!(
        kernel
            .first_hit(DVec3::new(0.5, -1.0, 0.0), DVec3::Y, 1.5, None)
            .is_none()
    );
    let (least, most) = kernel.bounds().unwrap();
    assert_eq!((least, most), (Vec3::ZERO, Vec3::splat(2.0)));
}

#[test]
fn nothing_blocks_in_an_empty_kernel() {
    for kernel in [
        Kernel::default(),
        Kernel::build(vec![]),
        Kernel::build(vec![[Vec3::ONE; 3]]),
    ] {
        assert!(!kernel.blocked(DVec3::ZERO, DVec3::ONE, None));
        assert!(
            kernel
                .first_hit(DVec3::ZERO, DVec3::ONE, f64::INFINITY, None)
                .is_none()
        );
        assert!(kernel.nearest_point(DVec3::ZERO).is_none());
    }
}

#[test]
fn rays_without_length_or_not_finite_meet_nothing() {
    let kernel = Kernel::build(closed()[0].soup());
    let nan = DVec3::new(f64::NAN, 0.0, 0.0);
    assert!(!kernel.blocked(DVec3::ZERO, DVec3::ZERO, None));
    assert!(!kernel.blocked(DVec3::ZERO, nan, None));
    assert!(kernel.first_hit(nan, DVec3::X, 1.0, None).is_none());
    assert!(
        kernel
            .first_hit(DVec3::ZERO, DVec3::ZERO, 1.0, None)
            .is_none()
    );
    assert!(kernel.first_hit(DVec3::ZERO, DVec3::X, 0.0, None).is_none());
    assert!(
        kernel
            .first_hit(DVec3::ZERO, DVec3::X * 1e-300, 1e301, None)
            .is_some()
    );
    assert!(
        kernel
            .first_hit(DVec3::ZERO, DVec3::X * 1e200, 1.0, None)
            .is_some()
    );
}
