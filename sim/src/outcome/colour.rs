//! Colours of the heat maps: one table, one scale per outcome.
//!
//! In: thicknesses of an outcome. Out: colours, and where on the scale they stand. Pictures, report
//! and window take their colours from here.

use super::model::Outcome;
use super::survey::{Survey, quantile};

/// Colour of a place on the scale.
///
/// - `fraction`: 0 at the lower, 1 at the upper end; clamped
/// - returns sRGB
///
/// Source: viridis of S. van der Walt and N. Smith (released into the public domain, CC0), through the
/// `colorous` crate: lightness rises evenly, so that it reads in grey and by colour-blind eyes.
pub fn at(fraction: f64) -> [u8; 3] {
    let colour = colorous::VIRIDIS.eval_continuous(fraction.clamp(0.0, 1.0));
    [colour.r, colour.g, colour.b]
}

/// Colour of a place on a scale that has a middle: violet below, white at a half, orange above.
///
/// - `fraction`: 0 at the lower, 1 at the upper end; clamped
/// - returns sRGB
///
/// Source: PuOr of C. Brewer (ColorBrewer, Apache 2.0), through the `colorous` crate; read by colour-blind eyes.
pub fn about_middle(fraction: f64) -> [u8; 3] {
    let colour = colorous::PURPLE_ORANGE.eval_continuous(fraction.clamp(0.0, 1.0));
    [colour.r, colour.g, colour.b]
}

/// Lightness of a colour as grey paper shows it, 0..=1.
///
/// Source: luma weights of ITU-R BT.601, from memory.
pub fn luma(colour: [u8; 3]) -> f64 {
    let [r, g, b] = colour.map(|c| f64::from(c) / 255.0);
    0.299 * r + 0.587 * g + 0.114 * b
}

/// Linear scale of thickness that outliers cannot stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Lower end, m.
    pub low_m: f64,
    /// Upper end, m.
    pub high_m: f64,
    /// Distance of ticks, m.
    pub tick_m: f64,
    /// Least thickness where film arrives, m.
    pub least_m: f64,
    /// Greatest thickness, m.
    pub greatest_m: f64,
    /// Wanted thickness of all metals together, m.
    pub want_m: Option<f64>,
}

impl Scale {
    /// The scale of an outcome: from the 2nd to the 98th percentile by area of what gets film, widened
    /// to round numbers, and to the wanted thickness where that is near.
    pub fn of(outcome: &Outcome, survey: &Survey) -> Self {
        let coated = || {
            let coated = survey.patches.iter().filter(|p| p.thickness_m > 0.0);
            coated
                .map(|p| (p.thickness_m, p.area_m2))
                .collect::<Vec<_>>()
        };
        let want_m = outcome
            .summary
            .film
            .as_ref()
            .map(|f| 1e-9 * f.want_nm.values().sum::<f64>());
        let want_m = want_m.filter(|w| *w > 0.0);
        // 1 nm: an arbitrary scale for a part without any film.
        let fallback = want_m.unwrap_or(1e-9);
        let at = |share| quantile(coated(), share).unwrap_or(fallback);
        let (mut low, mut high) = (at(0.02), at(0.98));
        let (least_m, greatest_m) = (at(0.0), at(1.0));
        if let Some(want) = want_m.filter(|w| (0.5 * low..2.0 * high).contains(w)) {
            (low, high) = (low.min(want), high.max(want));
        }
        // A tenth of the value at least, so that an even film looks even.
        low = low.min(0.9 * high);
        if low < 0.4 * high {
            low = 0.0;
        }
        let tick_m = round_step((high - low) / 5.0);
        let slack = 1e-6 * tick_m;
        Self {
            low_m: ((low + slack) / tick_m).floor() * tick_m,
            high_m: ((high - slack) / tick_m).ceil() * tick_m,
            tick_m,
            least_m,
            greatest_m,
            want_m,
        }
    }

    /// Place of a thickness on the scale, 0..=1, clamped.
    pub fn fraction(&self, thickness_m: f64) -> f64 {
        ((thickness_m - self.low_m) / (self.high_m - self.low_m)).clamp(0.0, 1.0)
    }

    /// Colour of a thickness.
    pub fn colour(&self, thickness_m: f64) -> [u8; 3] {
        at(self.fraction(thickness_m))
    }

    /// Ticks, m.
    pub fn ticks_m(&self) -> Vec<f64> {
        let first = (self.low_m / self.tick_m).round();
        (0..=40_i32)
            .map(|number| (first + f64::from(number)) * self.tick_m)
            .take_while(|tick| *tick <= self.high_m + 1e-6 * self.tick_m)
            .collect()
    }

    /// Film thinner than the lower end exists and is drawn in its colour.
    pub fn clamps_below(&self) -> bool {
        self.least_m < self.low_m - 1e-6 * self.tick_m
    }

    /// Film thicker than the upper end exists and is drawn in its colour.
    pub fn clamps_above(&self) -> bool {
        self.greatest_m > self.high_m + 1e-6 * self.tick_m
    }
}

/// The smallest of 1, 2, 2.5, 5 times a power of ten that is at least `at_least`.
pub fn round_step(at_least: f64) -> f64 {
    let power = 10_f64.powf(at_least.max(1e-300).log10().floor());
    let steps = [1.0, 2.0, 2.5, 5.0, 10.0];
    let step = steps
        .iter()
        .find(|s| **s * power >= at_least * (1.0 - 1e-9));
    step.map_or(10.0 * power, |s| s * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lightness_rises_along_the_scale() {
        let grey: Vec<f64> = (0..=20).map(|i| luma(at(f64::from(i) / 20.0))).collect();
        assert!(grey.windows(2).all(|w| w[1] > w[0]), "{grey:?}");
    }

    #[test]
    fn steps_are_round_and_not_too_small() {
        for (at_least, step) in [
            (0.9, 1.0),
            (1.0, 1.0),
            (1.7, 2.0),
            (22.0, 25.0),
            (0.003, 0.005),
        ] {
            let found = round_step(at_least);
            assert!((found / step - 1.0).abs() < 1e-9, "{at_least}: {found}");
        }
    }
}
