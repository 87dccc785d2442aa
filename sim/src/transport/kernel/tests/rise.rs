//! How far from facets nothing rises, against lines that leave them steeply.
//!
//! Reference: [`Kernel::first_hit`] and [`Kernel::blocked`], which `brute` holds against every triangle one by one.

use super::super::Kernel;
use super::super::fan::Fan;
use super::super::shaft::{Base, Shaft};
use super::shapes::{Dice, Shape, closed, sphere, torus};
use crate::lanes::Level;
use glam::{DVec2, DVec3};

const SLOPE: f64 = 0.1;

/// Facets of triangles that follow each other in number, on one side.
fn facets(kernel: &Kernel, first: u32, turn: f64) -> Vec<(Base, u32)> {
    let count = u32::try_from(kernel.len()).unwrap();
    let numbers = (0..8).map(|k| (first + k) % count);
    numbers
        .map(|number| {
            let corners = kernel.triangle(number);
            let [a, b, c] = corners;
            let normal = (b - a).cross(c - a).normalize() * turn;
            (Base { corners, normal }, number)
        })
        .collect()
}

/// A way up from a facet at a slope or more.
fn up(dice: &mut Dice, normal: DVec3, slope: f64) -> DVec3 {
    let (across, along) = normal.any_orthonormal_pair();
    let turn = dice.unit() * std::f64::consts::TAU;
    let flat = across * turn.cos() + along * turn.sin();
    // half of the ways hardly steeper than that
    let steeper = if dice.below(2) == 0 {
        1.001
    } else {
        1.0 / dice.unit()
    };
    (flat + normal * slope * steeper).normalize()
}

/// Facets, those of them with a distance above 0, and lines that leave them at `share` of the slope that was asked
/// for and meet something before `wider` times the distance.
fn met(share: f64, wider: f64) -> [usize; 3] {
    let mut dice = Dice(21);
    let mut counts = [0; 3];
    let shapes: Vec<Shape> = closed()
        .into_iter()
        .chain([sphere(60, 120), torus(80, 40)])
        .collect();
    for shape in shapes {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        for _ in 0..60 {
            let first = u32::try_from(dice.below(kernel.len())).unwrap();
            let turn = [1.0, -1.0][dice.below(2)];
            let facets = facets(&kernel, first, turn);
            let rises = kernel.rises(&facets, SLOPE);
            for ((base, number), rise) in facets.iter().zip(rises) {
                counts[0] += 1;
                counts[1] += usize::from(rise > 0.0);
                for _ in 0..16 {
                    let (u, v) = (dice.unit().sqrt(), dice.unit());
                    let from = kernel.point(*number, DVec2::new(u * (1.0 - v), u * v));
                    let way = up(&mut dice, base.normal, share * SLOPE);
                    let hit = kernel.first_hit(from, way, 10.0, Some(*number));
                    counts[2] += usize::from(hit.is_some_and(|hit| hit.t < rise * wider));
                }
            }
        }
    }
    counts
}

#[test]
fn steep_lines_meet_nothing_before_the_distance() {
    let [all, some, wrong] = met(1.0, 1.0);
    assert_eq!(wrong, 0);
    assert!(4 * some > all, "{some} of {all} have a distance");
}

#[test]
fn flatter_lines_and_longer_ways_are_noticed() {
    assert!(met(0.3, 1.0)[2] > 0);
    assert!(met(1.0, 3.0)[2] > 0);
}

#[test]
fn lines_that_begin_where_nothing_rises_are_judged_as_each_alone() {
    let mut dice = Dice(22);
    let (mut wrong, mut begun, mut blocked) = (0, 0, 0);
    for shape in closed().into_iter().chain([torus(80, 40)]) {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        for _ in 0..300 {
            let first = u32::try_from(dice.below(kernel.len())).unwrap();
            let facets = facets(&kernel, first, [1.0, -1.0][dice.below(2)]);
            let rises = kernel.rises(&facets, SLOPE);
            let way = up(&mut dice, facets[0].0.normal, SLOPE) * (0.1 + 3.0 * dice.unit());
            let to = facets[0].0.corners[0] + way;
            let on: Vec<_> = facets.iter().map(|facet| Some(facet.1)).collect();
            let starts: [DVec3; 8] =
                std::array::from_fn(|k| kernel.point(facets[k].1, DVec2::splat(dice.unit() * 0.5)));
            let begin: [f64; 8] = std::array::from_fn(|k| {
                let way = to - starts[k];
                let steep = way.normalize().dot(facets[k].0.normal) > SLOPE;
                if steep { rises[k] / way.length() } else { 0.0 }
            });
            begun += begin.iter().filter(|&&begin| begin > 0.0).count();
            let fan = Fan {
                from: &[0, 1, 2].map(|axis| starts.map(|start| start[axis])),
                to,
                footings: &kernel.footings(&on),
                begin: &begin,
            };
            let found = kernel.blocked_fan(&fan, 0xFF);
            for (bit, (start, (_, number))) in starts.iter().zip(&facets).enumerate() {
                let alone = kernel.blocked(*start, to, Some(*number));
                wrong += usize::from(alone != (found >> bit & 1 != 0));
                blocked += usize::from(alone);
            }
        }
    }
    assert_eq!(wrong, 0);
    assert!(begun > 1000 && blocked > 1000, "{begun} {blocked}");
}

/// Facets whose distance, or bundles whose proof, is another at the level that every processor has, there with `off` as
/// the number of the next facets; and bundles that were proved.
fn unlike_levels(off: u32) -> [usize; 2] {
    let mut dice = Dice(23);
    let mut counts = [0; 2];
    for shape in closed().into_iter().chain([torus(80, 40)]) {
        let best = Kernel::build(shape.turned(&mut dice).soup());
        let mut base = best.clone();
        base.level = Level::Base;
        for _ in 0..200 {
            let first = u32::try_from(dice.below(best.len())).unwrap();
            let (here, there) = (facets(&best, first, 1.0), facets(&best, first + off, 1.0));
            let bits = |rises: Vec<f64>| rises.into_iter().map(f64::to_bits).collect::<Vec<_>>();
            let mut same = bits(best.rises(&here, SLOPE)) == bits(base.rises(&there, SLOPE));
            let ball = (dice.cube() * 3.0, 0.5 * dice.unit());
            for ((one, number), (other, next)) in here.iter().zip(&there) {
                let proved = best.is_clear(&Shaft::new(one, &[ball]), Some(*number));
                same &= proved == base.is_clear(&Shaft::new(other, &[ball]), Some(*next));
                counts[1] += usize::from(proved);
            }
            counts[0] += usize::from(!same);
        }
    }
    counts
}

#[test]
fn every_level_proves_the_same() {
    let [wrong, proved] = unlike_levels(0);
    assert_eq!(wrong, 0);
    assert!(proved > 500, "{proved}");
}

#[test]
fn the_comparison_of_levels_notices_other_facets() {
    assert!(unlike_levels(1)[0] > 100);
}
