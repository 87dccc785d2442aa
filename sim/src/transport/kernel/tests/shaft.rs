//! Proofs that bundles are clear, against lines drawn in them.
//!
//! Reference: [`Kernel::blocked`], which `brute` holds against every triangle one by one.

use super::super::Kernel;
use super::super::shaft::{Base, Shaft};
use super::shapes::{Dice, closed, sphere};
use glam::{DVec2, DVec3};

/// A facet's front.
fn base(kernel: &Kernel, triangle: u32, turn: f64) -> Base {
    let corners = kernel.triangle(triangle);
    let [a, b, c] = corners;
    Base {
        corners,
        normal: (b - a).cross(c - a).normalize() * turn,
    }
}

/// Bundles from facets to one or two balls that were proved clear, and those of them in which a line to balls
/// `wider` times as large is blocked.
fn proved(wider: f64) -> [usize; 2] {
    let mut dice = Dice(5);
    let mut counts = [0, 0];
    for shape in closed() {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        for _ in 0..1500 {
            let on = u32::try_from(dice.below(kernel.len())).unwrap();
            let turn = if dice.below(2) == 0 { 1.0 } else { -1.0 };
            let base = base(&kernel, on, turn);
            let (middle, radius) = (dice.cube() * 3.0, 0.5 * dice.unit());
            let balls = [(middle, radius), (middle + dice.cube() * 0.5, radius)];
            let balls = &balls[..=dice.below(2)];
            if !kernel.is_clear(&Shaft::new(&base, balls), Some(on)) {
                continue;
            }
            counts[0] += 1;
            let blocked = (0..64).any(|_| {
                let (u, v) = (dice.unit().sqrt(), dice.unit());
                let from = kernel.point(on, DVec2::new(u * (1.0 - v), u * v));
                let share = dice.unit() * (balls.len() - 1) as f64;
                let centre = balls[0].0.lerp(balls[balls.len() - 1].0, share);
                let to = centre + dice.direction() * radius * wider;
                (to - from).dot(base.normal) > 0.0 && kernel.blocked(from, to, Some(on))
            });
            counts[1] += usize::from(blocked);
        }
    }
    counts
}

#[test]
fn lines_in_a_bundle_that_is_proved_clear_are_clear() {
    let [proved, wrong] = proved(1.0);
    assert_eq!(wrong, 0, "of {proved}");
    assert!(proved > 500, "{proved} were proved at all");
}

#[test]
fn the_check_notices_balls_that_are_larger_than_those_of_the_proof() {
    let [_, wrong] = proved(2.5);
    assert!(wrong > 5, "{wrong}");
}

#[test]
fn a_convex_body_hides_nothing_above_the_horizon_and_a_closed_one_everything() {
    let shape = sphere(24, 48);
    let kernel = Kernel::build(shape.soup());
    let mut dice = Dice(8);
    let mut points = 0;
    for triangle in 0..u32::try_from(kernel.len()).unwrap() {
        let outside = base(&kernel, triangle, 1.0);
        let middle = outside.corners.iter().sum::<DVec3>() / 3.0;
        let aside = (outside.normal + 0.7 * dice.direction()).normalize();
        let ball = (middle + aside * 2.0, 0.3);
        assert!(kernel.is_clear(&Shaft::new(&outside, &[ball]), Some(triangle)));
        // Inward the wall opposite is in the way, from a point as from the facet.
        let point = Base {
            corners: [middle; 3],
            normal: -outside.normal,
        };
        for inside in [base(&kernel, triangle, -1.0), point] {
            let ball = (middle - outside.normal * 4.0, 0.1);
            assert!(!kernel.is_clear(&Shaft::new(&inside, &[ball]), Some(triangle)));
        }
        let outward = Base {
            normal: outside.normal,
            ..point
        };
        points += usize::from(kernel.is_clear(&Shaft::new(&outward, &[ball]), Some(triangle)));
    }
    // The other half of a flat square may rise above a point by rounding, all about it.
    assert!(points * 2 > kernel.len(), "{points}");
}
