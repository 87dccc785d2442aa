//! How many turns a step needs: only the last part of a turn is uneven, and only the shutter's timing makes one.
//!
//! In: film per second at places over one turn. Out: [`Ripple`], the parts' own harmonics, and the fewest turns that keep
//! unevenness under a wanted figure.

use std::f64::consts::{PI, TAU};

/// Parts of a turn at which the end of a step is tried.
const ENDS: usize = 48;
/// Angles at which the beginning is tried.
const STARTS: usize = 12;
/// Most turns that are looked for.
const MOST_TURNS: u32 = 100_000;

/// Film at places while the part turns, as harmonics of the angle relative to the mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Ripple {
    /// Per place: cosine and sine of harmonics 1, 2, … over the place's mean.
    harmonics: Vec<Vec<[f64; 2]>>,
}

/// What keeps turning even.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Turns {
    /// Fewest turns if the shutter may close at any angle; none where even the most do not do.
    pub anywhere: Option<f64>,
    /// Fewest whole turns if it opens and closes at the same angle but for its timing; none where timing alone spoils it.
    pub whole: Option<u32>,
}

/// How well the shutter keeps time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shutter {
    /// Duration of the step, s.
    pub lasts_s: f64,
    /// How much the step may be off, s.
    pub timing_s: f64,
    /// How long the shutter takes to open, and to close, s.
    pub ramp_s: f64,
}

impl Ripple {
    /// Harmonics of rates given at equal steps of the angle from 0.
    ///
    /// c_k = (2/M) Σ f(φ_m) cos kφ_m / f₀, s_k alike, k < M/2 (discrete Fourier series; textbook matter).
    ///
    /// - `rates`: `[angle][place]`, film per second; places whose mean is 0 are left out
    pub fn of(rates: &[&[f64]]) -> Self {
        let count = rates.len();
        let places = rates.first().map_or(0, |rate| rate.len());
        let steps: Vec<[f64; 2]> = (0..count)
            .map(|m| {
                let angle = TAU * m as f64 / count as f64;
                [angle.cos(), angle.sin()]
            })
            .collect();
        let of_place = |place: usize| {
            let mean = rates.iter().map(|rate| rate[place]).sum::<f64>() / count as f64;
            (mean > 0.0).then(|| {
                (1..count.div_ceil(2))
                    .map(|k| {
                        let mut sums = [0.0; 2];
                        for (m, rate) in rates.iter().enumerate() {
                            let [cosine, sine] = steps[k * m % count];
                            sums[0] += rate[place] * cosine;
                            sums[1] += rate[place] * sine;
                        }
                        sums.map(|sum| 2.0 * sum / (count as f64 * mean))
                    })
                    .collect()
            })
        };
        Self {
            harmonics: (0..places).filter_map(of_place).collect(),
        }
    }

    /// Extremes over places of what a part of a turn brings beyond its share, in units of one turn's film.
    ///
    /// P = ∫ (f/f₀ − 1) dφ/2π from `start` over `part` turns; shutter ramps of ρ turns damp harmonic k by
    /// sin(πkρ)/(πkρ). Source: derived, integral of a Fourier series.
    fn excess(&self, start: f64, part: f64, ramp: f64) -> [f64; 2] {
        let most = self.harmonics.iter().map(Vec::len).max().unwrap_or(0);
        let factors: Vec<[f64; 2]> = (1..=most)
            .map(|k| {
                let k = k as f64;
                let damped = sinc(k * ramp) / (TAU * k);
                let [from, to] = [start, start + part].map(|turns| TAU * k * turns);
                [
                    (to.sin() - from.sin()) * damped,
                    (from.cos() - to.cos()) * damped,
                ]
            })
            .collect();
        let mut ends = [0.0_f64; 2];
        for (number, place) in self.harmonics.iter().enumerate() {
            let both = place.iter().zip(&factors);
            let excess: f64 = both.map(|(h, f)| h[0] * f[0] + h[1] * f[1]).sum();
            ends = if number == 0 {
                [excess; 2]
            } else {
                [ends[0].min(excess), ends[1].max(excess)]
            };
        }
        ends
    }

    /// (max − min)/(max + min) over places of film over steady film after so many turns from an angle (turns).
    ///
    /// Whole turns bring every place its share; what counts is the rest.
    pub fn unevenness(&self, turns: f64, start: f64, ramp: f64) -> f64 {
        let [low, high] = self.excess(start, turns.fract(), ramp);
        (high - low) / (2.0 * turns + high + low)
    }

    /// The fewest turns that keep the unevenness at or under a figure.
    ///
    /// For a shutter that closes anywhere: over all parts of a turn the most turns at which the figure is just met, from
    /// (high − low)/(2N + high + low) = u. For whole turns the part is what the timing makes of them, N · timing/lasts.
    pub fn fewest(&self, figure: f64, shutter: Shutter) -> Turns {
        let mut anywhere = 0.0_f64;
        let starts = || (0..STARTS).map(|s| s as f64 / STARTS as f64);
        for start in starts() {
            for end in 1..ENDS {
                let part = end as f64 / ENDS as f64;
                let [low, high] = self.excess(start, part, 0.0);
                let needed = (high - low) / (2.0 * figure) - 0.5 * (high + low);
                // the most turns with this part that are still too few, and then on to the next whole one
                if needed > part {
                    anywhere = anywhere.max(part + (needed - part).ceil());
                }
            }
        }
        let late = |turns: u32| {
            let turns = f64::from(turns);
            let part = turns * shutter.timing_s / shutter.lasts_s;
            let ramp = turns * shutter.ramp_s / shutter.lasts_s;
            starts()
                .flat_map(|start| [self.unevenness_of(turns, (start, part), ramp)])
                .fold(0.0, f64::max)
        };
        Turns {
            anywhere: (anywhere <= f64::from(MOST_TURNS)).then_some(anywhere.max(1.0)),
            whole: (1..=8).find(|&turns| late(turns) <= figure),
        }
    }

    fn unevenness_of(&self, turns: f64, (start, part): (f64, f64), ramp: f64) -> f64 {
        let [low, high] = self.excess(start, part, ramp);
        (high - low) / (2.0 * (turns + part) + high + low)
    }
}

/// sin(πx)/(πx).
fn sinc(x: f64) -> f64 {
    let x = PI * x;
    if x.abs() < 1e-9 { 1.0 } else { x.sin() / x }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The side of a cylinder that turns in a beam: rectified cosines, at many places around.
    fn cylinder(angles: usize) -> Ripple {
        let rates: Vec<Vec<f64>> = (0..angles)
            .map(|m| {
                let turned = m as f64 / angles as f64;
                (0..360)
                    .map(|i| (TAU * (f64::from(i) / 360.0 - turned)).cos().max(0.0))
                    .collect()
            })
            .collect();
        Ripple::of(&rates.iter().map(Vec::as_slice).collect::<Vec<_>>())
    }

    #[test]
    fn part_of_a_turn_leaves_what_theory_says() {
        // (max − min)/mean = sin(πr)/N for the rectified cosine (derived)
        let ripple = cylinder(144);
        for (turns, rest) in [(1.0, 0.25_f64), (2.0, 0.5), (5.0, 0.75), (20.0, 0.5)] {
            let [low, high] = ripple.excess(0.0, rest, 0.0);
            let found = (high - low) / (turns + rest);
            let wanted = (PI * rest).sin() / (turns + rest);
            assert!(
                (found / wanted - 1.0).abs() < 0.01,
                "{turns} {rest}: {found} {wanted}"
            );
            // whatever the part's harmonics: (max − min)/mean ≤ 1/N
            assert!(found <= 1.0 / (turns + rest) * 1.01);
        }
        assert!(
            ripple.unevenness(3.0, 0.2, 0.0) < 1e-12,
            "whole turns are even"
        );
    }

    #[test]
    fn part_of_a_turn_notices_a_hundredth_of_a_turn() {
        let ripple = cylinder(144);
        let [low, high] = ripple.excess(0.0, 0.26, 0.0);
        let wanted = (PI * 0.25_f64).sin();
        assert!(((high - low) / wanted - 1.0).abs() > 0.01);
    }

    #[test]
    fn single_harmonic_is_damped_by_ramps_as_theory_says() {
        // 1 + ε cos φ over N turns: (max − min)/mean = 2ε |sin πr|/(πN), ramps of ρ turns multiply by |sin πρ|/(πρ) (derived)
        let epsilon = 0.3;
        let rates: Vec<Vec<f64>> = (0..16)
            .map(|m| {
                let at = |i: u32| TAU * (f64::from(i) / 720.0 - f64::from(m) / 16.0);
                (0..720).map(|i| 1.0 + epsilon * at(i).cos()).collect()
            })
            .collect();
        let ripple = Ripple::of(&rates.iter().map(Vec::as_slice).collect::<Vec<_>>());
        for (rest, ramp) in [(0.25_f64, 0.0_f64), (0.4, 0.5), (0.5, 0.25)] {
            let [low, high] = ripple.excess(0.1, rest, ramp);
            let damped = if ramp > 0.0 {
                (PI * ramp).sin() / (PI * ramp)
            } else {
                1.0
            };
            let wanted = 2.0 * epsilon * (PI * rest).sin() / PI * damped;
            assert!(((high - low) / wanted - 1.0).abs() < 1e-4, "{rest} {ramp}");
        }
    }

    #[test]
    fn enough_turns_are_enough_and_one_fewer_is_not() {
        let ripple = cylinder(144);
        let shutter = Shutter {
            lasts_s: 600.0,
            timing_s: 1.0,
            ramp_s: 0.0,
        };
        let turns = ripple.fewest(0.01, shutter);
        let anywhere = turns.anywhere.expect("found");
        // sin(πr)/(2N) ≤ 1 % to first order: 50 turns
        assert!((anywhere - 50.0).abs() < 1.0, "{turns:?}");
        let worst = |turns: f64| {
            (1..48)
                .map(|e| ripple.unevenness(turns.floor() + f64::from(e) / 48.0, 0.0, 0.0))
                .fold(0.0, f64::max)
        };
        assert!(worst(anywhere) <= 0.0101 && worst(anywhere - 2.0) > 0.01);
        // a second of ten minutes brings no more than 1/600 · π/2, however few the turns
        assert_eq!(turns.whole, Some(1));
        let sloppy = ripple.fewest(
            0.001,
            Shutter {
                timing_s: 5.0,
                ..shutter
            },
        );
        assert_eq!(sloppy.whole, None);
    }
}
