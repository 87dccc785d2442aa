//! Bands of like film whose mean smoothing has moved, and what moves it back.
//!
//! In: scores and smoothed film of batches, per facet. Out: a linear correction of the smoothed film.
//!
//! Under a lifted stencil film falls by orders within a few facets, and what a linear fit spreads from the bright ones
//! is little there and much in the dark. The scores know it: over a band of facets with like film they have nearly no
//! noise. Where a band's mean is off beyond doubt, it is set right; elsewhere nothing is done, so that no noise comes in.

use crate::stats::Running;

/// Bands to an octave of film.
const PER_OCTAVE: f64 = 2.0;
/// Octaves below the largest film, at most.
const OCTAVES: f64 = 40.0;
/// A band is set right when its mean is off by more standard errors.
const BEYOND: f64 = 4.0;
/// Batches without which the error of a mean is not known well enough.
const FEWEST_BATCHES: usize = 8;
/// Flights that scored in a band, at least.
const FEWEST_SCORES: u64 = 100;

/// Bands of a part's facets.
#[derive(Debug, Default)]
pub(super) struct Bands {
    /// The facets of each band that is set right.
    bands: Vec<Vec<u32>>,
    /// Smoothed film of all batches, m.
    shape: Vec<f64>,
}

/// What is known of a part's facets.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known<'a> {
    /// Region of each facet.
    pub region: &'a [u8],
    /// Areas, m².
    pub areas: &'a [f64],
    /// Flights that scored.
    pub scores: &'a [u32],
}

impl Bands {
    /// Finds the bands to be set right.
    ///
    /// - `shape`: smoothed film of all batches
    /// - `films`, `smooth`: of each batch, as scored and smoothed
    pub fn new(known: &Known, shape: Vec<f64>, films: &[&[f64]], smooth: &[Vec<f64>]) -> Self {
        let most = shape.iter().copied().fold(0.0, f64::max);
        if most <= 0.0 || films.len() < FEWEST_BATCHES {
            return Self::default();
        }
        let mut bands = std::collections::BTreeMap::<(u8, u32), Vec<u32>>::new();
        for ((number, &film), &region) in (0..).zip(&shape).zip(known.region) {
            let octaves = (most / film.max(f64::MIN_POSITIVE)).log2().min(OCTAVES);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "0 to twice the octaves"
            )]
            let band = (PER_OCTAVE * octaves) as u32;
            bands.entry((region, band)).or_default().push(number);
        }
        let off = |facets: &[u32]| {
            let places = || facets.iter().map(|&facet| facet as usize);
            let scores: u64 = places().map(|i| u64::from(known.scores[i])).sum();
            let one = |(film, smooth): (&&[f64], &Vec<f64>)| -> f64 {
                places()
                    .map(|i| known.areas[i] * (film[i] - smooth[i]))
                    .sum()
            };
            let spread: Running = films.iter().zip(smooth).map(one).collect();
            let error = spread.std_error().unwrap_or(f64::INFINITY);
            scores >= FEWEST_SCORES && spread.mean().abs() > BEYOND * error
        };
        Self {
            bands: bands.into_values().filter(|facets| off(facets)).collect(),
            shape,
        }
    }

    /// Sets a smoothed film right: every band's sum becomes that of the scores.
    pub fn set_right(&self, areas: &[f64], film: &[f64], smooth: &mut [f64]) {
        for facets in &self.bands {
            let places = || facets.iter().map(|&facet| facet as usize);
            let missing: f64 = places().map(|i| areas[i] * (film[i] - smooth[i])).sum();
            let whole: f64 = places().map(|i| areas[i] * self.shape[i]).sum();
            if whole > 0.0 {
                places().for_each(|i| smooth[i] += self.shape[i] * (missing / whole));
            }
        }
    }
}
