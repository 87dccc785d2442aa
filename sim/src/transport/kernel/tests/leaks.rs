//! Rays aimed at corners and edges of closed meshes: none slips through.

use super::super::Kernel;
use super::super::fan::Fan;
use super::shapes::{Dice, Shape, box_with_hollow, closed, cup, sphere, torus};
use crate::lanes::Level;
use glam::DVec3;

/// A corner or a point of an edge, as exactly as f64 has it.
fn aim(shape: &Shape, dice: &mut Dice) -> DVec3 {
    let triangle = shape.triangles[dice.below(shape.triangles.len())];
    let [a, b, _] = triangle.map(|i| shape.corners[i].as_dvec3());
    match dice.below(4) {
        0 | 1 => a,
        2 => a + (b - a) * 0.5,
        _ => a + (b - a) * dice.unit(),
    }
}

/// A point inside the closed mesh: the known one, moved a little.
fn within(shape: &Shape, dice: &mut Dice) -> DVec3 {
    let exact = (dice.cube() * 0.02 * 64.0).round() / 64.0;
    let moved = if dice.below(2) == 0 {
        exact
    } else {
        dice.cube() * 0.02
    };
    shape.inside + moved * shape.scale
}

fn leaks(shape: &Shape, dice: &mut Dice, rays: usize) -> usize {
    let kernel = Kernel::build(shape.soup());
    (0..rays)
        .filter(|_| {
            let (origin, target) = (within(shape, dice), aim(shape, dice));
            let direction = target - origin;
            let far = origin + direction * 100.0;
            !kernel.blocked(origin, far, None)
                || kernel
                    .first_hit(origin, direction, f64::INFINITY, None)
                    .is_none()
        })
        .count()
}

#[test]
fn no_ray_at_a_corner_or_edge_leaves_a_closed_mesh() {
    let mut dice = Dice(11);
    for shape in closed() {
        assert_eq!(leaks(&shape, &mut dice, 100_000), 0, "{}", shape.name);
    }
}

/// Lines of fans from outside through corners and edges of one triangle to one place inside that slip
/// through, or are judged otherwise than alone.
fn fan_leaks(shape: &Shape, level: Level, dice: &mut Dice, fans: usize) -> usize {
    let mut kernel = Kernel::build(shape.soup());
    kernel.level = level;
    let open = kernel.footings(&[]);
    let mut slipped = 0;
    for _ in 0..fans {
        let to = within(shape, dice);
        let triangle = shape.triangles[dice.below(shape.triangles.len())];
        let corners = triangle.map(|i| shape.corners[i].as_dvec3());
        // the larger ones: out of every body
        let far = [1.5, 30.0, 100.0][dice.below(3)];
        let starts: [DVec3; 8] = std::array::from_fn(|_| {
            let (a, b) = (corners[dice.below(3)], corners[dice.below(3)]);
            let share = [0.0, 0.5, dice.unit()][dice.below(3)];
            to + (a + (b - a) * share - to) * far
        });
        let fan = Fan {
            from: &[0, 1, 2].map(|axis| starts.map(|start| start[axis])),
            to,
            footings: &open,
            begin: &[0.0; 8],
        };
        let met = kernel.blocked_fan(&fan, 0xFF);
        for (line, start) in starts.iter().enumerate() {
            let blocked = met >> line & 1 != 0;
            let right = blocked == kernel.blocked(*start, to, None) && (blocked || far < 2.0);
            slipped += usize::from(!right);
        }
    }
    slipped
}

#[test]
fn no_line_of_a_fan_at_a_corner_or_edge_gets_into_a_closed_mesh() {
    let mut dice = Dice(15);
    for level in Level::all() {
        for shape in closed() {
            let slipped = fan_leaks(&shape, level, &mut dice, 10_000);
            assert_eq!(slipped, 0, "{} {level:?}", shape.name);
        }
    }
}

#[test]
fn the_leak_check_of_fans_notices_a_single_missing_triangle() {
    let mut dice = Dice(16);
    for mut shape in [sphere(24, 48), torus(40, 20)] {
        shape.triangles.pop();
        assert!(fan_leaks(&shape, Level::best(), &mut dice, 100_000) > 0);
    }
}

#[test]
fn no_ray_leaves_a_small_mesh_far_from_the_origin() {
    let mut dice = Dice(14);
    for shape in [
        sphere(24, 48),
        torus(40, 20),
        cup(64),
        box_with_hollow(0.01, 4),
    ] {
        for (scale, shift) in [(1e-3, 1.0), (0.01, 30.0), (100.0, 0.0)] {
            let shape = shape.clone().placed(scale, DVec3::splat(shift));
            assert_eq!(
                leaks(&shape, &mut dice, 25_000),
                0,
                "{} {scale} {shift}",
                shape.name
            );
        }
    }
}

#[test]
fn the_leak_check_notices_a_single_missing_triangle() {
    let mut dice = Dice(12);
    for mut shape in [
        sphere(24, 48),
        torus(40, 20),
        cup(64),
        box_with_hollow(0.01, 4),
    ] {
        let inner = shape.triangles.len() - 1;
        shape.triangles.remove(inner);
        if shape.name == "box" {
            // The outer wall would still stop it.
            shape.triangles.drain(..shape.triangles.len() / 2);
        }
        assert!(leaks(&shape, &mut dice, 100_000) > 0, "{}", shape.name);
    }
}

#[test]
fn a_line_crosses_a_closed_mesh_as_often_inward_as_outward() {
    let mut dice = Dice(13);
    for shape in closed() {
        let kernel = Kernel::build(shape.soup());
        for _ in 0..20_000 {
            let target = aim(&shape, &mut dice);
            let outside = target + dice.direction() * 10.0;
            let signed = |from: DVec3, to: DVec3| {
                let hits = kernel.crossings(from, to - from, f64::INFINITY, None);
                hits.iter()
                    .map(|hit| if hit.from_front { 1 } else { -1 })
                    .sum::<i32>()
            };
            assert_eq!(signed(outside, target), 0, "{}", shape.name);
            // In the hollow of the box one has come out of the solid again.
            let inside = within(&shape, &mut dice);
            let walls = if shape.name == "box" { 0 } else { -1 };
            assert_eq!(signed(inside, target), walls, "{}", shape.name);
        }
    }
}

#[test]
fn rays_along_the_axes_meet_walls_across_them() {
    let kernel = Kernel::build(
        closed()
            .into_iter()
            .find(|s| s.name == "cube")
            .unwrap()
            .soup(),
    );
    for axis in [
        DVec3::X,
        DVec3::Y,
        DVec3::Z,
        DVec3::NEG_X,
        DVec3::NEG_Y,
        DVec3::NEG_Z,
    ] {
        for start in [DVec3::ZERO, DVec3::splat(0.25), DVec3::new(0.5, -0.5, 0.0)] {
            let hit = kernel.first_hit(start, axis, f64::INFINITY, None).unwrap();
            let expected = 1.0 - start.dot(axis);
            assert!((hit.t - expected).abs() < 1e-15, "{hit:?} {expected}");
            assert!(!hit.from_front);
        }
    }
}
