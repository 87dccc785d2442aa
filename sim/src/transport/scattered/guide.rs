//! A part's film as one smooth function of where its facets lie and what they see.
//!
//! In: features and areas of a part's facets, and their noisy film. Out: an operator that takes films to such functions.
//!
//! Film under a sky whose harmonics vary in space as polynomials is a sum of [`Features`] times powers of place. Its
//! [`TERMS`] coefficients come by weighted least squares from all scores on the part at once, so that each is known far
//! better than the mean of any small group; what the function lacks, [`super::smooth`] adds.

use super::features::{FEATURES, Features};
use nalgebra::{Cholesky, DMatrix, Dyn};
use rayon::prelude::*;

/// Coefficients: open sky and mean direction times the 20 powers of place up to the third, all other features times the
/// four up to the first. Measured on the part of the `scattered` bench in silver, where film varies by a factor of two:
/// this leaves 0.7 % of the film; powers up to the second and no more features than the first 1.9 %.
const TERMS: usize = 4 * POWERS + (FEATURES - 7) * 4;
/// Powers of place up to the third.
const POWERS: usize = 20;
/// Facets without which there are too few to tell so many numbers by.
const FEWEST: usize = 1000;
/// Added to the diagonal of the normal equations, as a share: features that say the same share what they say.
const RIDGE: f64 = 1e-6;
/// Film below this share of the mean weighs as this much.
const LEAST: f64 = 0.02;
/// Facets per piece of work; but no more than so many pieces.
const CHUNK: usize = 1024;
const MOST_CHUNKS: usize = 64;
/// Films taken in one go, where they are few and where they are many.
const FEW_FILMS: usize = 2;
const MANY_FILMS: usize = 16;
/// Facets taken in one go.
const ABREAST: usize = 4;

type Row = [f64; TERMS];

/// Weighted least squares over a part, ready for any number of films.
pub(super) struct Guide {
    /// Area over film as it roughly is, scaled to sum to 1.
    weights: Vec<f64>,
    centre: [f64; 3],
    /// One over half the part's extent, 1/m.
    scale: f64,
    /// Of the normal equations, each term scaled to a mean square of 1.
    solve: Cholesky<f64, Dyn>,
    scales: Vec<f64>,
}

impl Guide {
    /// Prepares the fit; none where facets are few or nothing has scored.
    ///
    /// - `film`: noisy, as a density
    pub fn new(features: &[Features], areas: &[f64], film: &[f64]) -> Option<Self> {
        if features.len() < FEWEST {
            return None;
        }
        let whole: f64 = areas.iter().sum();
        let mean = areas.iter().zip(film).map(|(a, x)| a * x).sum::<f64>() / whole;
        if mean.is_nan() || mean <= 0.0 {
            return None;
        }
        // counted scores vary as their mean does: one fit finds the weights of the next
        let even = Self::with(features, areas, &vec![mean; areas.len()])?;
        let rough = even.films(features, &[film]).pop()?;
        let rough: Vec<f64> = rough.into_iter().map(|x| x.max(LEAST * mean)).collect();
        Self::with(features, areas, &rough)
    }

    /// - `film`: as it roughly is
    fn with(features: &[Features], areas: &[f64], film: &[f64]) -> Option<Self> {
        let mut extent = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
        for feature in features {
            for (extent, &x) in extent.iter_mut().zip(&feature.0) {
                *extent = [extent[0].min(f64::from(x)), extent[1].max(f64::from(x))];
            }
        }
        let half = extent.map(|[a, b]| 0.5 * (b - a)).into_iter();
        let half = half.fold(f64::MIN_POSITIVE, f64::max);
        let weights: Vec<f64> = areas.iter().zip(film).map(|(a, x)| a / x).collect();
        let sum: f64 = weights.iter().sum();
        let mut guide = Self {
            weights: weights.into_iter().map(|w| w / sum).collect(),
            centre: extent.map(|[a, b]| 0.5 * (a + b)),
            scale: 1.0 / half,
            solve: Cholesky::new(DMatrix::identity(1, 1))?,
            scales: Vec::new(),
        };
        let normal = guide.normal(features);
        guide.scales = (0..TERMS)
            .map(|i| 1.0 / normal[(i, i)].sqrt().max(1e-150))
            .collect();
        let scaled = DMatrix::from_fn(TERMS, TERMS, |i, j| {
            let own = if i == j { RIDGE } else { 0.0 };
            normal[(i, j)] * guide.scales[i] * guide.scales[j] + own
        });
        guide.solve = Cholesky::new(scaled)?;
        Some(guide)
    }

    /// Terms of a facet.
    fn row(&self, features: &Features) -> Row {
        let f = features.0.map(f64::from);
        let [x, y, z] = std::array::from_fn(|axis| (f[axis] - self.centre[axis]) * self.scale);
        let powers: [f64; POWERS] = [
            1.0,
            x,
            y,
            z,
            x * x,
            y * y,
            z * z,
            x * y,
            y * z,
            z * x,
            x * x * x,
            y * y * y,
            z * z * z,
            x * x * y,
            y * y * z,
            z * z * x,
            x * y * y,
            y * z * z,
            z * x * x,
            x * y * z,
        ];
        let mut row = [0.0; TERMS];
        let (low, high) = row.split_at_mut(4 * POWERS);
        for (row, feature) in low.chunks_exact_mut(POWERS).zip(&f[3..7]) {
            row.iter_mut()
                .zip(powers)
                .for_each(|(r, p)| *r = feature * p);
        }
        for (row, feature) in high.chunks_exact_mut(4).zip(&f[7..]) {
            row.iter_mut()
                .zip(powers)
                .for_each(|(r, p)| *r = feature * p);
        }
        row
    }

    /// Σ weight · row rowᵀ.
    fn normal(&self, features: &[Features]) -> DMatrix<f64> {
        let chunk = chunk(features.len());
        let parts: Vec<Vec<f64>> = features
            .par_chunks(chunk)
            .zip(self.weights.par_chunks(chunk))
            .map(|(features, weights)| {
                let mut sums = vec![0.0; TERMS * TERMS];
                for (feature, weight) in features.iter().zip(weights) {
                    let row = self.row(feature);
                    for (i, sums) in sums.chunks_exact_mut(TERMS).enumerate() {
                        let own = weight * row[i];
                        for (sum, x) in sums[..=i].iter_mut().zip(&row) {
                            *sum += own * x;
                        }
                    }
                }
                sums
            })
            .collect();
        let sums = sum_of(&parts);
        DMatrix::from_fn(TERMS, TERMS, |i, j| sums[i.max(j) * TERMS + i.min(j)])
    }

    /// Films as the function that is nearest to each.
    pub fn films(&self, features: &[Features], films: &[&[f64]]) -> Vec<Vec<f64>> {
        if films.len() <= FEW_FILMS {
            return self.some::<FEW_FILMS>(features, films);
        }
        let some = films.chunks(MANY_FILMS);
        some.flat_map(|some| self.some::<MANY_FILMS>(features, some))
            .collect()
    }

    /// At most N films at once.
    fn some<const N: usize>(&self, features: &[Features], films: &[&[f64]]) -> Vec<Vec<f64>> {
        let chunk = chunk(features.len());
        let moments: Vec<Vec<f64>> = features
            .par_chunks(chunk)
            .enumerate()
            .map(|(number, features)| self.moments::<N>(features, films, number * chunk))
            .collect();
        let moments = sum_of(&moments);
        let mut right =
            DMatrix::from_fn(TERMS, N, |i, film| moments[i * N + film] * self.scales[i]);
        self.solve.solve_mut(&mut right);
        let factors: Vec<[f64; N]> = (0..TERMS)
            .map(|i| std::array::from_fn(|film| right[(i, film)] * self.scales[i]))
            .collect();
        let mut found = vec![vec![0.0; features.len()]; films.len()];
        let values: Vec<Vec<[f64; N]>> = features
            .par_chunks(chunk)
            .map(|features| features.iter().map(|f| self.value(f, &factors)).collect())
            .collect();
        for (facet, values) in values.iter().flatten().enumerate() {
            for (film, value) in found.iter_mut().zip(values) {
                film[facet] = *value;
            }
        }
        found
    }

    /// Σ weight · row · film, term by term, over some facets from a first on.
    fn moments<const N: usize>(
        &self,
        features: &[Features],
        films: &[&[f64]],
        first: usize,
    ) -> Vec<f64> {
        let mut sums = vec![[0.0; N]; TERMS];
        for (number, features) in features.chunks(ABREAST).enumerate() {
            let mut rows = [[0.0; TERMS]; ABREAST];
            let mut values = [[0.0; N]; ABREAST];
            let abreast = rows.iter_mut().zip(&mut values).zip(features);
            for (facet, ((row, values), feature)) in (first + number * ABREAST..).zip(abreast) {
                *row = self.row(feature);
                for (value, film) in values.iter_mut().zip(films) {
                    *value = self.weights[facet] * film[facet];
                }
            }
            for (term, sums) in sums.iter_mut().enumerate() {
                let x: [f64; ABREAST] = std::array::from_fn(|facet| rows[facet][term]);
                for (film, sum) in sums.iter_mut().enumerate() {
                    for (x, values) in x.iter().zip(&values) {
                        *sum += x * values[film];
                    }
                }
            }
        }
        sums.into_iter().flatten().collect()
    }

    /// Films of one facet.
    fn value<const N: usize>(&self, features: &Features, factors: &[[f64; N]]) -> [f64; N] {
        let mut values = [0.0; N];
        for (x, factors) in self.row(features).iter().zip(factors) {
            for (value, factor) in values.iter_mut().zip(factors) {
                *value += x * factor;
            }
        }
        values
    }

    /// Share of a part's facets that one coefficient stands for.
    pub fn share() -> f64 {
        1.0 / TERMS as f64
    }
}

/// Facets to a piece of work.
fn chunk(facets: usize) -> usize {
    facets.div_ceil(MOST_CHUNKS).max(CHUNK)
}

/// Sum of lists of one length, in their order.
fn sum_of(parts: &[Vec<f64>]) -> Vec<f64> {
    let mut parts = parts.iter();
    let mut sum = parts.next().cloned().unwrap_or_default();
    for part in parts {
        sum.iter_mut().zip(part).for_each(|(sum, x)| *sum += x);
    }
    sum
}
