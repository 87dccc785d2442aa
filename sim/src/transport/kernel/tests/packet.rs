//! Eight lines at a time against one by one, at every level of the processor.
//!
//! Reference: [`Kernel::blocked`], which `brute` holds against every triangle one by one.

use super::super::Kernel;
use super::super::fan::Fan;
use super::shapes::{Dice, closed};
use crate::lanes::Level;
use glam::{DVec2, DVec3};

/// Segments from one triangle (or from anywhere), alike or not, some without length.
fn segments(kernel: &Kernel, dice: &mut Dice, skip: Option<u32>) -> Vec<(DVec3, DVec3)> {
    let toward = dice.cube() * 3.0;
    let spread = [0.0, 0.1, 3.0][dice.below(3)];
    (0..=dice.below(8))
        .map(|_| {
            let (u, v) = (dice.unit(), dice.unit());
            let bary = DVec2::new(u * (1.0 - v), u * v);
            let from = skip.map_or_else(|| dice.cube() * 2.0, |skip| kernel.point(skip, bary));
            let to = if dice.below(20) == 0 {
                from
            } else {
                toward + dice.cube() * spread
            };
            (from, to)
        })
        .collect()
}

/// Packets in which some line is judged otherwise than alone, the triangle skipped being the next one in
/// number by `off`; and shares of lines that are blocked.
fn unlike(level: Level, off: u32) -> (usize, [usize; 2]) {
    let mut dice = Dice(11);
    let (mut wrong, mut seen) = (0, [0, 0]);
    for shape in closed() {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        for _ in 0..400 {
            let count = kernel.len();
            let on = u32::try_from(dice.below(count)).unwrap();
            let skip = (dice.below(4) > 0).then_some(on);
            let segments = segments(&kernel, &mut dice, skip);
            let other = skip.map(|on| (on + off) % u32::try_from(count).unwrap());
            let found = kernel.blocked_eight_at(level, &segments, other);
            let alone = segments.iter().enumerate().map(|(bit, (from, to))| {
                let blocked = kernel.blocked(*from, *to, skip);
                seen[usize::from(blocked)] += 1;
                u32::from(blocked) << bit
            });
            wrong += usize::from(found != alone.sum::<u32>());
        }
    }
    (wrong, seen)
}

#[test]
fn eight_lines_are_judged_as_each_alone() {
    for level in Level::all() {
        let (wrong, seen) = unlike(level, 0);
        assert_eq!(wrong, 0, "{level:?}");
        assert!(seen.iter().all(|&count| count > 1000), "{seen:?}");
    }
}

#[test]
fn the_comparison_notices_another_triangle_left_out() {
    assert!(unlike(Level::Base, 1).0 > 0);
}

/// Fans of lines from triangles of their own to one place, near or far, in which some line is judged otherwise than alone,
/// the triangles skipped being the next ones in number by `off`; and lines that are blocked.
fn unlike_fans(level: Level, off: u32) -> (usize, [usize; 2]) {
    let mut dice = Dice(12);
    let (mut wrong, mut seen) = (0, [0, 0]);
    for shape in closed() {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        let count = u32::try_from(kernel.len()).unwrap();
        for _ in 0..800 {
            let first = u32::try_from(dice.below(kernel.len())).unwrap();
            let to = dice.cube() * [0.3, 3.0, 3.0, 1e7][dice.below(4)];
            let on = |line: usize, off: u32| (first + u32::try_from(line).unwrap() + off) % count;
            let skipped: [_; 8] = std::array::from_fn(|line| Some(on(line, off)));
            let starts: [DVec3; 8] = std::array::from_fn(|line| {
                // many on edges or near them
                let (u, v) = (dice.unit(), [0.0, 1e-9, dice.unit()][dice.below(3)]);
                let from = kernel.point(on(line, 0), DVec2::new(u * (1.0 - v), u * v));
                match dice.below(100) {
                    0 => to,
                    1 => to + dice.cube() * 1e-9,
                    _ => from,
                }
            });
            let asked = u32::try_from(dice.below(256)).unwrap();
            let fan = Fan {
                from: &[0, 1, 2].map(|axis| starts.map(|start| start[axis])),
                to,
                footings: &kernel.footings(&skipped),
                begin: &[0.0; 8],
            };
            let found = kernel.blocked_fan_at(level, &fan, asked);
            let alone = (0..8).filter(|line| asked >> line & 1 != 0).map(|line| {
                let blocked = kernel.blocked(starts[line], to, Some(on(line, 0)));
                seen[usize::from(blocked)] += 1;
                u32::from(blocked) << line
            });
            wrong += usize::from(found != alone.sum::<u32>());
        }
    }
    (wrong, seen)
}

#[test]
fn lines_of_a_fan_are_judged_as_each_alone() {
    for level in Level::all() {
        let (wrong, seen) = unlike_fans(level, 0);
        assert_eq!(wrong, 0, "{level:?}");
        assert!(seen.iter().all(|&count| count > 1000), "{seen:?}");
    }
}

#[test]
fn the_comparison_of_fans_notices_other_triangles_left_out() {
    assert!(unlike_fans(Level::Base, 1).0 > 0);
}

#[test]
fn fans_in_the_open_are_judged_as_each_alone() {
    let mut dice = Dice(13);
    let (mut wrong, mut blocked) = (0, 0);
    for shape in closed() {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        for _ in 0..200 {
            let (near, to) = (dice.cube() * 2.0, dice.cube() * 3.0);
            let starts: [DVec3; 8] = std::array::from_fn(|_| near + dice.cube() * 0.2);
            let fan = Fan {
                from: &[0, 1, 2].map(|axis| starts.map(|start| start[axis])),
                to,
                footings: &kernel.footings(&[]),
                begin: &[0.0; 8],
            };
            let found = kernel.blocked_fan(&fan, 0xFF);
            for (line, start) in starts.iter().enumerate() {
                let alone = kernel.blocked(*start, to, None);
                wrong += usize::from(alone != (found >> line & 1 != 0));
                blocked += usize::from(alone);
            }
        }
    }
    assert_eq!(wrong, 0);
    assert!(blocked > 1000, "{blocked}");
}
