//! What a candidate's film is worth: how long it must be open, how much metal that takes, how even it gets.
//!
//! In: film at places, split into what is fixed and what grows with the open time. Out: [`Score`].

use super::places::Place;
use crate::plan::model::{FilmWanted, Want};

/// Film at places, m: two independent halves of a trial.
#[derive(Debug, Clone)]
pub struct Grown {
    /// What does not change with the open time: `[half][metal][place]`.
    pub fixed_m: [Vec<Vec<f64>>; 2],
    /// What grows with it, for the plan's own open time: `[half][metal][place]`.
    pub scaled_m: [Vec<Vec<f64>>; 2],
}

/// What is wanted of the film.
#[derive(Debug, Clone, PartialEq)]
pub struct Needs {
    /// Metals (by index) that count together, and their least thickness, m.
    pub wants_m: Vec<(Vec<usize>, f64)>,
    /// Share of the area.
    pub on: f64,
    /// Thickness that still counts as bare, m.
    pub bare_under_m: f64,
    /// Factors on the open time that are allowed, from least to most.
    pub scale: [f64; 2],
}

/// What a candidate comes to.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Score {
    /// Factor on the plan's open time with which the film is as wanted; the largest allowed one where none is enough.
    #[serde(with = "super::maybe")]
    pub scale: f64,
    /// Share of the wanted area that has the wanted thickness then.
    pub reached: f64,
    /// (max − min)/(max + min) of the film where it is wanted, without what noise adds; below 0 where noise hides it.
    pub unevenness: f64,
    /// How far noise may still shift it: one standard error of the two extremes.
    pub unevenness_error: f64,
    /// Share of the wanted area that gets nothing.
    pub not_reached: f64,
    /// Least share of any region that should stay bare that does stay so; 1 without such a region.
    pub bare: f64,
    /// Mean film over all places, m.
    pub mean_m: f64,
}

impl Needs {
    /// What the plan wants, with no limit on the open time.
    ///
    /// - `metals`: names of the run's metals
    pub fn of(film: Option<&FilmWanted>, metals: &[String]) -> Self {
        let all = || (0..metals.len()).collect::<Vec<usize>>();
        let wants_m = match film.map(|film| &film.want) {
            None => Vec::new(),
            Some(Want::Total(want_m)) => vec![(all(), *want_m)],
            Some(Want::PerMetal(by_name)) => by_name
                .iter()
                .map(|(name, &want_m)| {
                    let index = metals.iter().position(|metal| metal == name);
                    (index.into_iter().collect(), want_m)
                })
                .collect(),
        };
        Self {
            wants_m,
            on: film.map_or(0.0, |film| film.on),
            bare_under_m: film.map_or(0.0, |film| film.bare_under_m),
            scale: [0.0, f64::INFINITY],
        }
    }

    /// Factor on the open time that one place needs; infinite where nothing grows and something is missing.
    fn factor(&self, fixed: impl Fn(usize) -> f64, scaled: impl Fn(usize) -> f64) -> f64 {
        let of_one = |(metals, want_m): &(Vec<usize>, f64)| {
            let missing = want_m - metals.iter().map(|&m| fixed(m)).sum::<f64>();
            let grows: f64 = metals.iter().map(|&m| scaled(m)).sum();
            if missing <= 0.0 {
                0.0
            } else if grows > 0.0 {
                missing / grows
            } else {
                f64::INFINITY
            }
        };
        self.wants_m.iter().map(of_one).fold(0.0, f64::max)
    }
}

impl Grown {
    /// Film of all metals at a place with a factor on the open time, by one half, m.
    fn total_m(&self, half: usize, place: usize, scale: f64) -> f64 {
        let fixed: f64 = self.fixed_m[half].iter().map(|film| film[place]).sum();
        let scaled: f64 = self.scaled_m[half].iter().map(|film| film[place]).sum();
        fixed + scale * scaled
    }

    fn mean_m(&self, place: usize, scale: f64) -> f64 {
        0.5 * (self.total_m(0, place, scale) + self.total_m(1, place, scale))
    }
}

/// Which estimate of the film is taken.
#[derive(Debug, Clone, Copy)]
enum Estimate {
    Both,
    Half(usize),
}

impl Estimate {
    fn film(self, films: &[Vec<Vec<f64>>; 2], metal: usize, place: usize) -> f64 {
        match self {
            Self::Both => 0.5 * (films[0][metal][place] + films[1][metal][place]),
            Self::Half(half) => films[half][metal][place],
        }
    }
}

/// Factors that places where film is wanted need, ascending, with their areas, m².
struct Factors {
    sorted: Vec<(f64, f64)>,
    area_m2: f64,
}

impl Factors {
    fn of(grown: &Grown, places: &[Place], (needs, from): (&Needs, Estimate)) -> Self {
        let wanted = places.iter().enumerate().filter(|(_, place)| place.wanted);
        let mut sorted: Vec<(f64, f64)> = wanted
            .map(|(index, place)| {
                let factor = needs.factor(
                    |metal| from.film(&grown.fixed_m, metal, index),
                    |metal| from.film(&grown.scaled_m, metal, index),
                );
                (factor, place.area_m2)
            })
            .collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let area_m2 = sorted.iter().map(|(_, area)| area).sum();
        Self { sorted, area_m2 }
    }

    /// The least factor with which a share of the area has what it wants.
    fn least(&self, on: f64) -> f64 {
        quantile(&self.sorted, on * self.area_m2)
    }

    /// Share of the area that has it with this factor.
    fn reached(&self, scale: f64) -> f64 {
        let enough = |pair: &&(f64, f64)| pair.0.is_finite() && pair.0 <= scale * (1.0 + 1e-12);
        let reached = self.sorted.iter().take_while(enough);
        let reached: f64 = reached.map(|(_, area)| area).sum();
        if self.area_m2 > 0.0 {
            reached / self.area_m2
        } else {
            0.0
        }
    }
}

/// What an estimate would be without noise: its error from noise goes with the variance, which is twice as large in a half.
///
/// 2 f(both) − ½ (f(first half) + f(second half)); f(both) where a half has no number.
fn without_noise(of: impl Fn(usize) -> f64) -> f64 {
    let [both, first, second] = [0, 1, 2].map(of);
    let corrected = 2.0 * both - 0.5 * (first + second);
    if corrected.is_finite() && corrected > 0.0 {
        corrected
    } else {
        both
    }
}

/// Scores a candidate.
///
/// The factor is the least with which the share `on` of the wanted area has all wanted thicknesses: film is linear in the
/// open time while whole turns are many. Without a wanted thickness it is 1. Noise spreads films, so that a share near all
/// of the area would seem to need longer than it does; that is taken off.
pub fn score(grown: &Grown, places: &[Place], needs: &Needs) -> Score {
    let all = [Estimate::Both, Estimate::Half(0), Estimate::Half(1)]
        .map(|from| Factors::of(grown, places, (needs, from)));
    let least = if needs.wants_m.is_empty() {
        1.0
    } else {
        without_noise(|k| all[k].least(needs.on))
    };
    let scale = least.clamp(needs.scale[0], needs.scale[1]);
    let reached = if scale.is_finite() && scale >= least {
        // by what the factor is
        all[0].reached(scale).max(needs.on)
    } else {
        without_noise(|k| all[k].reached(scale)).clamp(0.0, 1.0)
    };
    let shown = if scale.is_finite() { scale } else { 1.0 };
    let wanted = places.iter().enumerate().filter(|(_, place)| place.wanted);
    let nothing: f64 = wanted
        .filter(|(index, _)| grown.mean_m(*index, shown) <= 0.0)
        .map(|(_, place)| place.area_m2)
        .sum();
    let (unevenness, unevenness_error) = unevenness(grown, places, shown);
    Score {
        scale,
        reached,
        unevenness,
        unevenness_error,
        not_reached: if all[0].area_m2 > 0.0 {
            nothing / all[0].area_m2
        } else {
            0.0
        },
        bare: bare(grown, places, (shown, needs.bare_under_m)),
        mean_m: mean(grown, places, shown),
    }
}

fn mean(grown: &Grown, places: &[Place], scale: f64) -> f64 {
    let area_m2: f64 = places.iter().map(|place| place.area_m2).sum();
    let films = places.iter().enumerate();
    let volume_m3: f64 = films
        .map(|(index, place)| place.area_m2 * grown.mean_m(index, scale))
        .sum();
    if area_m2 > 0.0 {
        volume_m3 / area_m2
    } else {
        0.0
    }
}

/// The least factor up to which the factors (ascending) hold that much area.
fn quantile(factors: &[(f64, f64)], area_m2: f64) -> f64 {
    let mut passed = 0.0;
    for &(factor, area) in factors {
        passed += area;
        if passed >= area_m2 * (1.0 - 1e-12) {
            return factor;
        }
    }
    f64::INFINITY
}

/// Unevenness where film is wanted, and its error.
///
/// Each half chooses its thickest and thinnest place, the other says how thick it is there: noise that makes a place look
/// extreme does not enter its value. The places may then be not quite the extreme ones, which errs towards even.
fn unevenness(grown: &Grown, places: &[Place], scale: f64) -> (f64, f64) {
    let wanted = places.iter().enumerate().filter(|(_, place)| place.wanted);
    let wanted: Vec<usize> = wanted.map(|(index, _)| index).collect();
    let mut extremes = [[0.0; 2]; 2];
    for (half, extremes) in extremes.iter_mut().enumerate() {
        let film = |index: usize| grown.total_m(half, index, scale);
        let by = |a: &&usize, b: &&usize| film(**a).total_cmp(&film(**b));
        let (Some(&thin), Some(&thick)) = (wanted.iter().min_by(by), wanted.iter().max_by(by))
        else {
            return (0.0, 0.0);
        };
        *extremes = [thin, thick].map(|index| grown.total_m(1 - half, index, scale));
    }
    let [thin, thick] = [0, 1].map(|end| 0.5 * (extremes[0][end] + extremes[1][end]));
    let sum = thin + thick;
    if sum <= 0.0 {
        return (0.0, 0.0);
    }
    // halves differ by √2 of a half's error; the mean of two values is known to a half of that difference
    let apart = |&index: &usize| grown.total_m(0, index, scale) - grown.total_m(1, index, scale);
    let squares: f64 = wanted.iter().map(|index| apart(index).powi(2)).sum();
    let of_extreme = 0.5 * (squares / wanted.len() as f64).sqrt();
    // d((b − a)/(b + a)) = 2 (a db − b da)/(a + b)²
    let error = 2.0 / (sum * sum) * thin.hypot(thick) * of_extreme;
    ((thick - thin) / sum, error)
}

/// Least share of a region that should stay bare that does.
fn bare(grown: &Grown, places: &[Place], (scale, under_m): (f64, f64)) -> f64 {
    let regions = places.iter().fold(0, |bits, place| bits | place.bare);
    let shares = (0..u64::BITS)
        .map(|bit| 1 << bit)
        .filter(|bit| regions & bit != 0);
    let of_one = |bit: u64| {
        let (mut all, mut kept) = (0.0, 0.0);
        for (index, place) in places.iter().enumerate().filter(|(_, p)| p.bare & bit != 0) {
            all += place.area_m2;
            if grown.mean_m(index, scale) < under_m {
                kept += place.area_m2;
            }
        }
        kept / all
    };
    shares.map(of_one).fold(1.0, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(count: usize) -> Vec<Place> {
        (0..count)
            .map(|receiver| Place {
                receiver,
                area_m2: 1.0,
                wanted: true,
                bare: 0,
                part: 0,
                regions: 0,
            })
            .collect()
    }

    fn grown(halves: [Vec<f64>; 2]) -> Grown {
        let none = vec![vec![0.0; halves[0].len()]];
        Grown {
            fixed_m: [none.clone(), none],
            scaled_m: halves.map(|half| vec![half]),
        }
    }

    fn needs(want_m: f64, on: f64) -> Needs {
        Needs {
            wants_m: vec![(vec![0], want_m)],
            on,
            bare_under_m: 5.0,
            scale: [0.0, f64::INFINITY],
        }
    }

    #[test]
    fn time_is_what_the_wanted_share_of_the_area_needs() {
        let film: Vec<f64> = (1..=10).map(f64::from).collect();
        let grown = grown([film.clone(), film]);
        // film 1 … 10 on ten equal areas: for 12 on 90 % the place with 2 decides
        let found = score(&grown, &places(10), &needs(12.0, 0.9));
        assert!((found.scale - 6.0).abs() < 1e-12, "{found:?}");
        assert!((found.reached - 0.9).abs() < 1e-12);
        assert!((found.unevenness - 9.0 / 11.0).abs() < 1e-12);
        let bounded = Needs {
            scale: [0.0, 3.0],
            ..needs(12.0, 0.9)
        };
        let found = score(&grown, &places(10), &bounded);
        assert!((found.reached - 0.7).abs() < 1e-12, "{found:?}");
    }

    #[test]
    fn what_gets_nothing_needs_for_ever() {
        let grown = grown([vec![0.0, 1.0], vec![0.0, 1.0]]);
        let found = score(&grown, &places(2), &needs(1.0, 0.9));
        assert!(found.scale.is_infinite());
        assert!((found.reached - 0.5).abs() < 1e-12);
        assert!((found.not_reached - 0.5).abs() < 1e-12);
    }

    /// Halves of an even film of 1 with this noise on 4 000 places.
    fn noisy(noise: f64) -> Grown {
        use crate::random::{Stream, Use};
        let half = |index| {
            let mut stream = Stream::new(7, Use::Probe, index);
            (0..4000)
                .map(|_| 1.0 + noise * (stream.uniform() + stream.uniform() - 1.0))
                .collect()
        };
        grown([half(0), half(1)])
    }

    #[test]
    fn noise_of_an_even_film_is_no_unevenness() {
        let found = score(&noisy(0.1), &places(4000), &needs(1.0, 0.9));
        assert!(
            found.unevenness.abs() <= 3.0 * found.unevenness_error,
            "{found:?}"
        );
        assert!(found.unevenness_error < 0.05, "{found:?}");
    }

    /// The factor that 95 % of a wedge of films, 1 to 2, needs for 1, with this noise.
    fn of_a_wedge(noise: f64) -> f64 {
        let mut noisy = noisy(noise);
        for half in &mut noisy.scaled_m {
            let count = half[0].len() as f64;
            for (place, film) in half[0].iter_mut().enumerate() {
                *film *= 1.0 + (place as f64 + 0.5) / count;
            }
        }
        score(&noisy, &places(4000), &needs(1.0, 0.95)).scale
    }

    #[test]
    fn noise_does_not_lengthen_the_open_time() {
        // a twentieth of the wedge is thinner than 1.05
        assert!((of_a_wedge(0.0) * 1.05 - 1.0).abs() < 1e-3);
        let found = of_a_wedge(0.2) * 1.05;
        assert!((found - 1.0).abs() < 0.01, "{found}");
    }

    #[test]
    fn noise_does_not_lengthen_the_open_time_notices_what_it_would() {
        let (mut noisy, all) = (noisy(0.2), places(4000));
        for half in &mut noisy.scaled_m {
            let count = half[0].len() as f64;
            for (place, film) in half[0].iter_mut().enumerate() {
                *film *= 1.0 + (place as f64 + 0.5) / count;
            }
        }
        let needs = needs(1.0, 0.95);
        let plain = Factors::of(&noisy, &all, (&needs, Estimate::Both)).least(0.95) * 1.05;
        assert!((plain - 1.0).abs() > 0.01, "{plain}");
    }

    #[test]
    fn noise_of_an_even_film_notices_that_one_half_alone_would_be_uneven() {
        let one = noisy(0.1);
        let half = one.scaled_m[0].clone();
        let same = grown([half[0].clone(), half[0].clone()]);
        let found = score(&same, &places(4000), &needs(1.0, 0.9));
        assert!(found.unevenness > 0.08, "{found:?}");
    }
}
