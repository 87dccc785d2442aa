//! Boxes and blocks let through whatever the exact test meets.

use super::super::build::has_area;
use super::super::layout::{Block, Child, Node};
use super::super::ray::Ray;
use super::super::triangle::{edge, meet};
use super::super::walk::{Lanes, Sieve};
use super::shapes::Dice;
use glam::{DVec3, Vec3};
use obvhs::aabb::Aabb;

/// A triangle of any size, thickness and place, often with corners on round coordinates.
fn triangle(dice: &mut Dice) -> [Vec3; 3] {
    let middle = dice.cube() * [0.0, 1.0, 30.0][dice.below(3)];
    let extent = DVec3::new(
        [0.0, 1e-6, 1e-3, 1.0][dice.below(4)],
        [1e-6, 1e-3, 1.0][dice.below(3)],
        [1e-3, 1.0][dice.below(2)],
    );
    let round = dice.below(2) == 0;
    let mut corner = || {
        let at = middle + dice.cube() * extent;
        (if round {
            (at * 64.0).round() / 64.0
        } else {
            at
        })
        .as_vec3()
    };
    [corner(), corner(), corner()]
}

/// A ray at a corner, an edge or the inside, often along an axis or within rounding of it.
fn aimed(triangle: &[Vec3; 3], dice: &mut Dice) -> Option<Ray> {
    let [a, b, c] = triangle.map(|corner| corner.as_dvec3());
    let (u, v) = [(0.0, 0.0), (0.5, 0.0), (dice.unit(), 0.0), (0.3, 0.4)][dice.below(4)];
    let target = a + (b - a) * u + (c - a) * v;
    let mut direction = dice.direction();
    for axis in 0..3 {
        if dice.below(3) == 0 {
            direction[axis] = [0.0, -0.0, 1e-300, 1e-40, -1e-25, 1e-20, 1e-12][dice.below(7)];
        }
    }
    let origin = target - direction * [1e-3, 1.0, 100.0][dice.below(3)];
    let corners = [a, b, c].map(|corner| corner.abs().max_element());
    let size = corners.into_iter().fold(0.0, f64::max);
    Ray::new::<wide::f64x4>(origin, direction, f64::INFINITY, size)
}

/// A triangle with area, and a ray at it.
fn shot(dice: &mut Dice) -> Option<([Vec3; 3], Ray)> {
    let corners = triangle(dice);
    let ray = has_area(&corners).then(|| aimed(&corners, dice))??;
    Some((corners, ray))
}

#[test]
fn boxes_and_blocks_let_through_what_is_met() {
    let mut dice = Dice(31);
    let mut met = 0;
    for _ in 0..400_000 {
        let Some((corners, ray)) = shot(&mut dice) else {
            continue;
        };
        let Some(meeting) = meet(&ray, &corners.map(|corner| corner.to_array())) else {
            continue;
        };
        if meeting.depth <= 0.0 {
            continue;
        }
        met += 1;
        let along =
            |corner: &Vec3| ray.sign * (f64::from(corner[ray.axes[2]]) - ray.origin[ray.axes[2]]);
        let farthest = corners.iter().map(along).fold(0.0, f64::max);
        let lanes = Lanes::<wide::f32x8>::new(&ray);
        let [a, b, c] = corners;
        let around = Aabb::new(a.min(b).min(c).into(), a.max(b).max(c).into());
        let mut node = Node::empty();
        node.set(3, &around, Child::leaf(0, 1));
        let (near, hits) = lanes.enter(&node, Ray::box_depth(farthest));
        assert_eq!(hits, 1 << 3, "{corners:?} {ray:?} {meeting:?}");
        assert!(near.as_array()[3] >= 0.0);
        let block = Block::new(&[[Vec3::ZERO; 3], corners]);
        let [may, _] = Sieve::new(&ray).sift(&block);
        assert!(may & 2 != 0, "{corners:?} {ray:?} {meeting:?}");
    }
    assert!(met > 100_000, "{met}");
}

#[test]
fn blocks_rule_out_what_is_clearly_missed() {
    let mut dice = Dice(32);
    let (mut missed, mut ruled_out) = (0, 0);
    for _ in 0..100_000 {
        let corners = [(); 3].map(|()| dice.cube().as_vec3());
        let ray = Ray::new::<wide::f64x4>(dice.cube() * 2.0, dice.direction(), f64::INFINITY, 1.0)
            .unwrap();
        if meet(&ray, &corners.map(|corner| corner.to_array())).is_none() {
            missed += 1;
            let [may, surely] = Sieve::new(&ray).sift(&Block::new(&[corners]));
            ruled_out += usize::from(may & 1 == 0);
            assert_eq!(surely, 0, "{corners:?} {ray:?}");
        }
    }
    // The band of doubt is 10⁻⁵ wide here.
    assert!(ruled_out * 1000 > missed * 999, "{ruled_out} of {missed}");
}

/// Rays at a triangle, often at its edges and corners; of those that are said to meet it surely and do not, and that do;
/// and of all that do between their ends. The rays that are asked exactly go `aside` as far as the scene is large.
fn sure(aside: f64) -> [usize; 3] {
    let mut dice = Dice(34);
    let mut counts = [0; 3];
    for _ in 0..400_000 {
        let Some((corners, ray)) = shot(&mut dice) else {
            continue;
        };
        let [_, surely] = Sieve::new(&ray).sift(&Block::new(&[corners]));
        let moved = DVec3::from_array(ray.origin) + dice.direction() * (aside * ray.size);
        let Some(exact) = Ray::new::<wide::f64x4>(moved, ray.slope(), f64::INFINITY, ray.size)
        else {
            continue;
        };
        let corners = corners.map(|corner| corner.to_array());
        let met = meet(&exact, &corners).is_some_and(|met| !exact.outside(&corners, met.depth));
        counts[0] += usize::from(surely & 1 != 0 && !met);
        counts[1] += usize::from(surely & 1 != 0 && met);
        counts[2] += usize::from(met);
    }
    counts
}

#[test]
fn what_is_said_to_be_met_surely_is_met() {
    let [wrong, right, all] = sure(0.0);
    assert_eq!(wrong, 0);
    // many are aimed at edges, and small triangles are all edge
    assert!(10 * right > all, "{right} of {all}");
}

#[test]
fn a_line_moved_aside_is_noticed() {
    assert!(sure(0.01)[0] > 100);
}

#[test]
fn the_sign_of_an_edge_function_is_that_of_whole_number_arithmetic() {
    let mut dice = Dice(33);
    let whole = |x: i64| {
        f64::from(i32::try_from(x >> 26).unwrap()) * 2f64.powi(26)
            + f64::from(i32::try_from(x & 0x3FF_FFFF).unwrap())
    };
    let (mut ties, mut zeros) = (0, 0);
    for _ in 0..200_000 {
        // Nearly along one line: a = k·(p, q) and b = m·(p, q), each off by a unit or none.
        let mut below = |bound: usize| i64::try_from(dice.below(bound)).unwrap();
        let (p, q) = (below(1 << 26) + 1, below(1 << 26) - (1 << 25));
        let (k, m) = (below(1 << 26), below(1 << 26) - (1 << 25));
        let a = [k * p + below(3) - 1, k * q + below(3) - 1];
        let b = [m * p + below(3) - 1, m * q + below(3) - 1];
        let exact = i128::from(a[0]) * i128::from(b[1]) - i128::from(a[1]) * i128::from(b[0]);
        let (a, b) = (a.map(whole), b.map(whole));
        let found = edge([a[0], a[1], 0.0], [b[0], b[1], 0.0]);
        let sign = if found > 0.0 {
            1
        } else if found < 0.0 {
            -1
        } else {
            0
        };
        assert_eq!(sign, exact.signum(), "{a:?} {b:?}");
        ties += usize::from((a[0] * b[1] - a[1] * b[0]).abs() <= 0.0 && exact != 0);
        zeros += usize::from(exact == 0);
    }
    assert!(
        ties > 1000 && zeros > 1000,
        "{ties} ties of unequal products, {zeros} zeros"
    );
}
