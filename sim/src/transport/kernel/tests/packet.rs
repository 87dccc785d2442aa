//! Eight lines at a time against one by one, at every level of the processor.
//!
//! Reference: [`Kernel::blocked`], which `brute` holds against every triangle one by one.

use super::super::Kernel;
use super::shapes::{Dice, closed};
use crate::lanes::Level;
use glam::{DVec2, DVec3};

/// Levels that this processor has.
fn levels() -> Vec<Level> {
    let mut levels = vec![Level::Base];
    if Level::best() != Level::Base {
        levels.push(Level::best());
    }
    levels
}

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
    for level in levels() {
        let (wrong, seen) = unlike(level, 0);
        assert_eq!(wrong, 0, "{level:?}");
        assert!(seen.iter().all(|&count| count > 1000), "{seen:?}");
    }
}

#[test]
fn the_comparison_notices_another_triangle_left_out() {
    assert!(unlike(Level::Base, 1).0 > 0);
}
