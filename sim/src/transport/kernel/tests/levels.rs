//! The same answers, bit for bit, whatever the processor can.
//!
//! Reference: the level that every processor has. Boxes and sifting may differ between levels by rounding; answers may not.

use super::super::{Hit, Kernel};
use super::shapes::{Dice, closed};
use crate::lanes::Level;

/// All there is to say about a hit, as bits.
fn bits(hit: &Hit) -> (u32, [u64; 3], bool) {
    let numbers = [hit.t, hit.bary.x, hit.bary.y].map(f64::to_bits);
    (hit.triangle, numbers, hit.from_front)
}

/// Rays that two kernels answer differently, and rays that meet something. Many go through corners and edges, or along
/// axes.
fn unlike(kernel: &Kernel, other: &Kernel, dice: &mut Dice) -> (usize, usize) {
    let (mut wrong, mut met) = (0, 0);
    for _ in 0..20_000 {
        let number = u32::try_from(dice.below(kernel.len())).unwrap();
        let [a, b, c] = kernel.triangle(number);
        let (u, v) = [(0.0, 0.0), (0.5, 0.0), (0.25, 0.25), (dice.unit(), 0.0)][dice.below(4)];
        let target = a + (b - a) * u + (c - a) * v;
        let mut origin = dice.cube() * 2.0;
        if dice.below(4) == 0 {
            origin = origin.with_x(target.x);
        }
        // Some are far too long or short for the slab test.
        let length = [1.0, 1.0, 1e-9, 1e9][dice.below(4)];
        let direction = (target - origin) * length;
        let ask = |kernel: &Kernel| {
            let first = kernel.first_hit(origin, direction, f64::INFINITY, None);
            let all = kernel.crossings(origin, direction, f64::INFINITY, None);
            let segment = kernel.blocked_by(origin, target + (target - origin) * 0.5, Some(number));
            (
                first.as_ref().map(bits),
                all.iter().map(bits).collect::<Vec<_>>(),
                segment,
            )
        };
        let answer = ask(kernel);
        met += usize::from(answer.0.is_some());
        wrong += usize::from(answer != ask(other));
    }
    (wrong, met)
}

#[test]
fn every_level_gives_the_same_bits() {
    let mut dice = Dice(41);
    for shape in closed() {
        let mut base = Kernel::build(shape.clone().turned(&mut dice).soup());
        base.level = Level::Base;
        for level in Level::all() {
            let mut kernel = base.clone();
            kernel.level = level;
            let (wrong, met) = unlike(&kernel, &base, &mut dice);
            assert_eq!(wrong, 0, "{} {level:?}", shape.name);
            assert!(met > 10_000, "{met}");
        }
    }
}

#[test]
fn the_comparison_notices_a_hair_of_difference() {
    let mut dice = Dice(42);
    for shape in closed() {
        let soup = shape.soup();
        let mut moved = soup.clone();
        for corner in moved.iter_mut().flatten() {
            corner.z *= 1.0 + f32::EPSILON;
        }
        let (wrong, _) = unlike(&Kernel::build(soup), &Kernel::build(moved), &mut dice);
        assert!(wrong > 1000, "{}", shape.name);
    }
}
