//! Rays that start and end on triangles.

use super::super::Kernel;
use super::shapes::{Dice, Shape, box_with_hollow, closed, cube, cup, sphere, torus};
use glam::{DVec2, DVec3};

/// Weights of a point of a triangle: anywhere, or on and very near edges and corners.
fn weights(dice: &mut Dice) -> DVec2 {
    let tiny = || [0.0, 1e-17, 1e-15, 1e-13, 1e-11, 1e-9, 1e-7];
    let (mut first, mut second) = (dice.unit(), dice.unit());
    if dice.below(4) > 0 {
        first = tiny()[dice.below(7)];
    }
    if dice.below(4) == 0 {
        second = tiny()[dice.below(7)];
    }
    let (v, w) = (first, (1.0 - first) * second);
    let rest = 1.0 - v - w;
    match dice.below(3) {
        0 => DVec2::new(v, w),
        1 => DVec2::new(w, rest.max(0.0)),
        _ => DVec2::new(rest.max(0.0), v),
    }
}

/// A start on a triangle and a direction away from it, to the front (1) or the back (−1).
fn start(kernel: &Kernel, dice: &mut Dice, side: f64) -> (u32, DVec3, DVec3) {
    let triangle = u32::try_from(dice.below(kernel.len())).unwrap();
    let [a, b, c] = kernel.triangle(triangle);
    let normal = (b - a).cross(c - a).normalize();
    loop {
        let direction = dice.direction();
        let direction = if dice.below(4) == 0 {
            direction + 20.0 * direction.cross(normal)
        } else {
            direction
        };
        let up = direction.dot(normal) / direction.length();
        if up.abs() > 1e-6 {
            return (
                triangle,
                kernel.point(triangle, weights(dice)),
                direction * side * up.signum(),
            );
        }
    }
}

#[test]
fn nothing_stands_in_the_way_out_of_a_convex_body() {
    let mut dice = Dice(21);
    for shape in closed() {
        if !matches!(shape.name, "cube" | "sphere")
            || shape.triangles.len() > 2000 && shape.name == "cube"
        {
            continue;
        }
        let kernel = Kernel::build(shape.soup());
        for _ in 0..100_000 {
            let (skip, from, out) = start(&kernel, &mut dice, 1.0);
            let by = kernel.blocked_by(from, from + out * 10.0, Some(skip));
            // Rounding corners to f32 bends coplanar quads inward by up to 1e-7: only steeper rays are free.
            assert_eq!(by, None, "{} {skip} {from} {out}", shape.name);
        }
    }
}

#[test]
fn no_ray_from_a_wall_leaves_its_cavity() {
    let mut dice = Dice(22);
    for shape in closed() {
        let kernel = Kernel::build(shape.soup());
        for _ in 0..100_000 {
            let (skip, from, inward) = start(&kernel, &mut dice, -1.0);
            assert!(
                kernel.blocked(from, from + inward * 10.0, Some(skip)),
                "{} {skip} {from} {inward}",
                shape.name
            );
            assert!(
                kernel
                    .first_hit(from, inward, f64::INFINITY, Some(skip))
                    .is_some()
            );
        }
    }
}

#[test]
fn the_cavity_check_notices_a_wall_that_is_gone() {
    let mut dice = Dice(23);
    for mut shape in [sphere(24, 48), torus(40, 20), cup(64)] {
        shape.triangles.remove(5);
        let kernel = Kernel::build(shape.soup());
        let gone = (0..100_000)
            .filter(|_| {
                let (skip, from, inward) = start(&kernel, &mut dice, -1.0);
                !kernel.blocked(from, from + inward * 10.0, Some(skip))
            })
            .count();
        assert!(gone > 0);
    }
}

#[test]
fn an_end_on_a_face_is_not_blocked_by_that_face() {
    let mut dice = Dice(24);
    let shape: Shape = sphere(24, 48);
    let kernel = Kernel::build(shape.soup());
    for _ in 0..100_000 {
        let (triangle, to, out) = start(&kernel, &mut dice, 1.0);
        assert_eq!(kernel.blocked_by(to + out * 3.0, to, None), None);
        let middle = kernel.point(triangle, DVec2::new(0.2, 0.3));
        assert_eq!(kernel.blocked_by(middle + out * 3.0, middle, None), None);
        assert!(kernel.blocked(middle + out * 3.0, middle - out * 1e-4, None));
    }
}

#[test]
fn a_groove_blocks_however_near_its_bottom_the_start_is() {
    // The inner box seen from the hollow: every edge is concave.
    let mut shape = box_with_hollow(0.25, 1);
    let outer = shape.triangles.len() / 2;
    shape.triangles.drain(..outer);
    let kernel = Kernel::build(shape.soup());
    let mut dice = Dice(25);
    for _ in 0..100_000 {
        let (skip, from, inward) = start(&kernel, &mut dice, 1.0);
        assert!(
            kernel.blocked(from, from + inward * 10.0, Some(skip)),
            "{skip} {from} {inward}"
        );
    }
}

#[test]
fn a_cube_hides_its_far_side() {
    let kernel = Kernel::build(cube(3).soup());
    let light = DVec3::new(0.2, 0.3, 5.0);
    for triangle in 0..u32::try_from(kernel.len()).unwrap() {
        let [a, b, c] = kernel.triangle(triangle);
        let faces_light = (b - a).cross(c - a).z > 0.0;
        let from = (a + b + c) / 3.0;
        assert_eq!(kernel.blocked(from, light, Some(triangle)), !faces_light);
    }
}
