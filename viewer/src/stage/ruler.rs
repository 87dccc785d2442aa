//! The scale of thickness as it is looked at: whose it is, how it is spread, in which unit it is read.

use evenfall_sim::outcome::colour::{self, Scale};
use evenfall_sim::outcome::figures::trimmed;
use evenfall_sim::outcome::reading::Reading;

/// How thickness is spread over the colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spread {
    /// Equal steps of thickness.
    #[default]
    Linear,
    /// Equal ratios of thickness.
    Logarithmic,
}

/// Decades that a logarithmic scale spans at most.
const MOST_DECADES: f64 = 3.0;

/// A scale as it is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ruler {
    /// The linear scale that it follows.
    pub scale: Scale,
    pub spread: Spread,
    /// Least and greatest thickness that is looked at, m.
    pub seen_m: [f64; 2],
}

impl Ruler {
    /// Lower end, m: of a logarithmic scale above 0.
    pub fn low_m(&self) -> f64 {
        match self.spread {
            Spread::Linear => self.scale.low_m,
            Spread::Logarithmic => {
                let floor = self.scale.high_m * 10_f64.powf(-MOST_DECADES);
                let low = if self.scale.low_m > 0.0 {
                    self.scale.low_m
                } else {
                    self.scale.least_m
                };
                low.max(floor).min(0.5 * self.scale.high_m)
            }
        }
    }

    /// Place of a thickness, 0 to 1, clamped.
    pub fn fraction(&self, thickness_m: f64) -> f64 {
        match self.spread {
            Spread::Linear => self.scale.fraction(thickness_m),
            Spread::Logarithmic => {
                let low_m = self.low_m();
                let share = (thickness_m / low_m).ln() / (self.scale.high_m / low_m).ln();
                share.clamp(0.0, 1.0)
            }
        }
    }

    /// Colour of a thickness, sRGB.
    pub fn colour(&self, thickness_m: f64) -> [u8; 3] {
        colour::at(self.fraction(thickness_m))
    }

    /// Ticks: places and values in the reader's unit.
    pub fn ticks(&self, reading: Reading) -> Vec<(f64, String)> {
        let ticks_m = match self.spread {
            Spread::Linear => self.round_steps_m(),
            Spread::Logarithmic => self.round_ratios_m(),
        };
        let tick = |tick_m: f64| (self.fraction(tick_m), trimmed(reading.film(tick_m)));
        ticks_m.into_iter().map(tick).collect()
    }

    /// Round steps between the ends, and the ends where they lie apart from them, m.
    fn round_steps_m(&self) -> Vec<f64> {
        let Scale {
            low_m,
            high_m,
            tick_m,
            ..
        } = self.scale;
        let slack = 1e-6 * tick_m;
        let mut ticks: Vec<f64> = self.scale.ticks_m();
        ticks.retain(|tick| *tick >= low_m - slack);
        let apart = |end: f64, tick: Option<&f64>| {
            tick.is_none_or(|tick| (end - tick).abs() > 0.6 * tick_m)
        };
        if apart(low_m, ticks.first()) {
            ticks.insert(0, low_m);
        }
        if apart(high_m, ticks.last()) {
            ticks.push(high_m);
        }
        ticks
    }

    /// 1, 2, 5 times powers of ten between the ends, m.
    fn round_ratios_m(&self) -> Vec<f64> {
        let (low_m, high_m) = (self.low_m(), self.scale.high_m);
        let mut ticks = Vec::new();
        let mut decade = 10_f64.powf(low_m.log10().floor());
        while decade <= high_m {
            let slack = 1e-9 * decade;
            let steps = [1.0, 2.0, 5.0].map(|step| step * decade);
            ticks.extend(
                steps
                    .into_iter()
                    .filter(|tick| (low_m - slack..=high_m + slack).contains(tick)),
            );
            decade *= 10.0;
        }
        ticks
    }

    /// Film exists below and above the ends and is drawn in their colours.
    pub fn clamps(&self) -> [bool; 2] {
        let slack = 1e-6 * self.scale.tick_m;
        let [least_m, greatest_m] = self.seen_m;
        [
            least_m < self.low_m() - slack,
            greatest_m > self.scale.high_m + slack,
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ruler(spread: Spread, low_nm: f64) -> Ruler {
        Ruler {
            scale: Scale {
                low_m: 1e-9 * low_nm,
                high_m: 200e-9,
                tick_m: 50e-9,
                least_m: 3e-9,
                greatest_m: 220e-9,
                want_m: None,
            },
            spread,
            seen_m: [3e-9, 220e-9],
        }
    }

    #[test]
    fn equal_ratios_take_equal_room_on_a_logarithmic_scale() {
        let ruler = ruler(Spread::Logarithmic, 2.0);
        // two decades: each factor of ten takes a half
        assert!((ruler.fraction(20e-9) - 0.5).abs() < 1e-12);
        assert!(
            (ruler.fraction(2e-9)).abs() < 1e-12 && (ruler.fraction(200e-9) - 1.0).abs() < 1e-12
        );
        let ticks: Vec<String> = ruler
            .ticks(Reading::default())
            .into_iter()
            .map(|t| t.1)
            .collect();
        assert_eq!(ticks, ["2", "5", "10", "20", "50", "100", "200"]);
        assert_eq!(ruler.clamps(), [false, true]);
        let lower = Ruler {
            seen_m: [1e-9, 100e-9],
            ..ruler
        };
        assert_eq!(lower.clamps(), [true, false]);
    }

    #[test]
    fn a_scale_from_zero_begins_at_the_thinnest_film_when_it_is_logarithmic() {
        assert!((ruler(Spread::Logarithmic, 0.0).low_m() - 3e-9).abs() < 1e-20);
        assert!(ruler(Spread::Linear, 0.0).low_m().abs() < 1e-20);
        assert!((ruler(Spread::Linear, 0.0).fraction(100e-9) - 0.5).abs() < 1e-12);
    }
}
