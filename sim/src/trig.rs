//! Sines, cosines and arc cosines where a great many are needed.
//!
//! In: angles or cosines. Out: as accurate as said, by nothing but sums, products and a square root: faster
//! than the standard library's, and the same bits on every machine.

use crate::lanes::Four;
use std::f64::consts::TAU;

/// 1/n!, alternating in sign, of the Taylor series from the third and second power on.
const SINE: [f64; 7] = [
    -1.0 / 6.0,
    1.0 / 120.0,
    -1.0 / 5_040.0,
    1.0 / 362_880.0,
    -1.0 / 39_916_800.0,
    1.0 / 6_227_020_800.0,
    -1.0 / 1_307_674_368_000.0,
];
const COSINE: [f64; 8] = [
    -1.0 / 2.0,
    1.0 / 24.0,
    -1.0 / 720.0,
    1.0 / 40_320.0,
    -1.0 / 3_628_800.0,
    1.0 / 479_001_600.0,
    -1.0 / 87_178_291_200.0,
    1.0 / 20_922_789_888_000.0,
];

/// Coefficients of Abramowitz and Stegun, "Handbook of Mathematical Functions" (1964), 4.4.46.
const ARC: [f64; 8] = [
    1.570_796_305_0,
    -0.214_598_801_6,
    0.088_978_987_4,
    -0.050_174_304_6,
    0.030_891_881_0,
    -0.017_088_125_6,
    0.006_670_090_1,
    -0.001_262_491_1,
];

/// Added to a small number, leaves no bits for what is behind its point (and is exact when taken off again).
const NO_FRACTION: f64 = 1.5 * (1u64 << 52) as f64;

/// Sine and cosine of an angle in turns, to 10⁻¹⁵ for up to 2³⁰ turns.
#[inline]
pub(crate) fn sin_cos_of_turns(turns: f64) -> (f64, f64) {
    let shifted = 4.0 * turns + NO_FRACTION;
    let quarters = shifted - NO_FRACTION;
    let angle = (turns - 0.25 * quarters) * TAU; // within an eighth of a turn, the difference exact
    let squared = angle * angle;
    let series = |terms: &[f64]| {
        terms
            .iter()
            .rev()
            .fold(0.0, |sum, term| sum * squared + term)
    };
    let sine = angle + angle * squared * series(&SINE);
    let cosine = 1.0 + squared * series(&COSINE);
    in_quarter(shifted, sine, cosine)
}

/// The same of four angles.
#[inline(always)]
pub(crate) fn sin_cos_of_turns_four<F: Four>(turns: F) -> (F, F) {
    let whole = F::splat(NO_FRACTION);
    let shifted = F::splat(4.0) * turns + whole;
    let quarters = shifted - whole;
    let angle = (turns - F::splat(0.25) * quarters) * F::splat(TAU);
    let squared = angle * angle;
    let mut sine = (angle + angle * squared * series(&SINE, squared)).store();
    let mut cosine = (F::splat(1.0) + squared * series(&COSINE, squared)).store();
    for (lane, &shifted) in shifted.store().iter().enumerate() {
        (sine[lane], cosine[lane]) = in_quarter(shifted, sine[lane], cosine[lane]);
    }
    (F::load(&sine), F::load(&cosine))
}

#[inline(always)]
fn series<F: Four>(terms: &[f64], x: F) -> F {
    let mut sum = F::splat(0.0);
    for &term in terms.iter().rev() {
        sum = sum * x + F::splat(term);
    }
    sum
}

/// Sine and cosine of an angle so many quarters farther on, which the lowest bits hold.
#[inline(always)]
fn in_quarter(shifted: f64, sine: f64, cosine: f64) -> (f64, f64) {
    match shifted.to_bits() & 3 {
        0 => (sine, cosine),
        1 => (cosine, -sine),
        2 => (-sine, -cosine),
        _ => (-cosine, sine),
    }
}

/// Arc cosine of a number from 0 to 1, rad, to 2.2·10⁻⁸ (Abramowitz and Stegun 4.4.46, which says 2·10⁻⁸).
#[inline]
pub(crate) fn acos(cosine: f64) -> f64 {
    (1.0 - cosine).max(0.0).sqrt() * ARC.iter().rev().fold(0.0, |sum, term| sum * cosine + term)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Largest difference from the standard library over a range.
    fn off(turns: impl Iterator<Item = f64>, of: impl Fn(f64) -> (f64, f64)) -> f64 {
        turns
            .map(|t| {
                let (sine, cosine) = of(t);
                let (s, c) = (TAU * t).sin_cos();
                (sine - s).abs().max((cosine - c).abs())
            })
            .fold(0.0, f64::max)
    }

    #[test]
    fn sines_are_those_of_the_standard_library() {
        let turns = || (0..100_001).map(|i| f64::from(i) / 50_000.0 - 1.0);
        assert!(off(turns(), sin_cos_of_turns) < 1e-15);
        let exact = [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)];
        for (quarters, (sine, cosine)) in (-8..8).zip(exact.iter().cycle()) {
            let (s, c) = sin_cos_of_turns(0.25 * f64::from(quarters));
            assert!((s - sine).abs() + (c - cosine).abs() == 0.0, "{quarters}");
        }
    }

    #[test]
    fn the_comparison_notices_a_short_series() {
        let short = |turns: f64| {
            let angle = TAU * turns;
            (angle - angle.powi(3) / 6.0, 1.0 - angle * angle / 2.0)
        };
        assert!(off((0..100).map(|i| f64::from(i) / 1000.0), short) > 1e-15);
    }

    #[test]
    fn arc_cosines_are_as_close_as_their_source_says() {
        let worst = |of: fn(f64) -> f64| {
            (0..=100_000)
                .map(|i| f64::from(i) / 100_000.0)
                .map(|x| (of(x) - x.acos()).abs())
                .fold(0.0, f64::max)
        };
        assert!(worst(acos) < 2.2e-8);
        let other = |x: f64| acos(x) * (1.0 + 1e-7);
        assert!(worst(other) > 2.2e-8, "a wrong one is noticed");
    }
}
