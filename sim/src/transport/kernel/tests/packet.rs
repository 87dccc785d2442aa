//! Eight lines at a time against one by one, at every level of the processor.
//!
//! Reference: [`Kernel::blocked`], which `brute` holds against every triangle one by one.

use super::super::Kernel;
use super::super::packet::Strand;
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

/// Packets of lines that run nearly side by side, or not, from triangles of their own, in which some line is judged
/// otherwise than alone, the triangles skipped being the next ones in number by `off`; and lines that are blocked.
fn unlike_together(level: Level, off: u32) -> (usize, [usize; 2]) {
    let mut dice = Dice(12);
    let (mut wrong, mut seen) = (0, [0, 0]);
    for shape in closed() {
        let kernel = Kernel::build(shape.turned(&mut dice).soup());
        let count = u32::try_from(kernel.len()).unwrap();
        for _ in 0..400 {
            let first = u32::try_from(dice.below(kernel.len())).unwrap();
            let toward = dice.cube() * 3.0;
            let spread = [0.0, 0.05, 3.0][dice.below(3)];
            let skipped: Vec<_> = (0..8)
                .map(|k| kernel.footing(Some((first + k + off) % count)))
                .collect();
            let strands: Vec<Strand> = (0..=dice.below(8))
                .map(|k| {
                    let on = (first + u32::try_from(k).unwrap()) % count;
                    let (u, v) = (dice.unit(), dice.unit());
                    let from = kernel.point(on, DVec2::new(u * (1.0 - v), u * v));
                    let to = match dice.below(20) {
                        0 => from,
                        1 => from + dice.cube() * 1e-9,
                        _ => toward + dice.cube() * spread,
                    };
                    Strand {
                        from,
                        to,
                        footing: &skipped[k],
                        begin: 0.0,
                    }
                })
                .collect();
            let found = kernel.blocked_together_at(level, &strands);
            let alone = strands.iter().enumerate().map(|(bit, strand)| {
                let on = (first + u32::try_from(bit).unwrap()) % count;
                let blocked = kernel.blocked(strand.from, strand.to, Some(on));
                seen[usize::from(blocked)] += 1;
                u32::from(blocked) << bit
            });
            wrong += usize::from(found != alone.sum::<u32>());
        }
    }
    (wrong, seen)
}

#[test]
fn lines_side_by_side_are_judged_as_each_alone() {
    for level in levels() {
        let (wrong, seen) = unlike_together(level, 0);
        assert_eq!(wrong, 0, "{level:?}");
        assert!(seen.iter().all(|&count| count > 1000), "{seen:?}");
    }
}

#[test]
fn the_comparison_of_lines_side_by_side_notices_other_triangles_left_out() {
    assert!(unlike_together(Level::Base, 1).0 > 0);
}
