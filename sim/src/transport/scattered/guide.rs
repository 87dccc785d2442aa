//! A part's film as one smooth function of where its facets lie and what they see.
//!
//! In: features and areas of a part's facets, and their noisy film. Out: an operator that takes films to such functions.
//!
//! Film under a sky whose harmonics vary in space as polynomials is a sum of [`Features`] times powers of place. Its
//! coefficients ([`Order`]) come by weighted least squares from all scores on the part at once, so that each is known far
//! better than the mean of any small group; what the function lacks, [`super::smooth`] adds.

use super::features::{FEATURES, Features, LOW};
use nalgebra::{Cholesky, DMatrix, Dyn};
use rayon::prelude::*;

/// Coefficients: open sky and mean direction times the 20 powers of place up to the third, all other features times the
/// four up to the first. Measured on the part of the `scattered` bench in silver, where film varies by a factor of two:
/// at 10 mm the low ones leave 0.7 % of the film; powers up to the second and no more features than the first 1.9 %. At
/// 50 mm, where atoms keep their direction, the low ones leave 3.9 % and all 1.2 to 1.5 % (these before features told of
/// the gas above). Isotropic at 5 mm the low ones leave 0.8 %, without what the gas above sees 1.7 %.
const TERMS: usize = LOW_TERMS + (FEATURES - LOW) * 4;
const LOW_TERMS: usize = 4 * POWERS + (LOW - 7) * 4;
/// Powers of place up to the third.
const POWERS: usize = 20;
/// Facets without which there are too few to tell so many numbers by.
const FEWEST: usize = 1000;
/// Added to the diagonal of the normal equations, as a share: features that say the same share what they say.
const RIDGE: f64 = 1e-6;
/// Film below this share of the mean weighs as this much.
const LEAST: f64 = 0.02;
/// The larger function is taken when it foretells better by so many standard deviations.
const BEYOND: f64 = 2.0;
/// Facets per piece of work; but no more than so many pieces.
const CHUNK: usize = 1024;
const MOST_CHUNKS: usize = 64;
/// Facets whose terms are held at once.
const BLOCK: usize = 256;

type Row = [f64; TERMS];

/// Which features the function is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Up to the second order of the sky.
    Low,
    /// All.
    High,
}

impl Order {
    fn terms(self) -> usize {
        match self {
            Self::Low => LOW_TERMS,
            Self::High => TERMS,
        }
    }
}

/// Weighted least squares over a part, ready for any number of films.
pub(super) struct Guide {
    terms: usize,
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
    /// Film as it roughly is, for the weights: counted scores vary as their mean does, and one fit finds the weights of the
    /// next. None where facets are few or nothing has scored.
    ///
    /// - `film`: noisy, as a density
    pub fn rough(features: &[Features], areas: &[f64], film: &[f64]) -> Option<Vec<f64>> {
        if features.len() < FEWEST {
            return None;
        }
        let whole: f64 = areas.iter().sum();
        let mean = areas.iter().zip(film).map(|(a, x)| a * x).sum::<f64>() / whole;
        if mean.is_nan() || mean <= 0.0 {
            return None;
        }
        let even = Self::new(Order::Low, features, areas, &vec![mean; areas.len()])?;
        let rough = even.films(features, &[film]).pop()?;
        Some(rough.into_iter().map(|x| x.max(LEAST * mean)).collect())
    }

    /// Prepares the fit; none where its equations cannot be solved.
    ///
    /// - `film`: as it roughly is
    pub fn new(order: Order, features: &[Features], areas: &[f64], film: &[f64]) -> Option<Self> {
        let terms = order.terms();
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
            terms,
            weights: weights.into_iter().map(|w| w / sum).collect(),
            centre: extent.map(|[a, b]| 0.5 * (a + b)),
            scale: 1.0 / half,
            solve: Cholesky::new(DMatrix::identity(1, 1))?,
            scales: Vec::new(),
        };
        let normal = guide.normal(features);
        guide.scales = (0..terms)
            .map(|i| 1.0 / normal[(i, i)].sqrt().max(1e-150))
            .collect();
        let scaled = DMatrix::from_fn(terms, terms, |i, j| {
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
        let used = &f[7..7 + (self.terms - 4 * POWERS) / 4];
        for (row, feature) in high.chunks_exact_mut(4).zip(used) {
            row.iter_mut()
                .zip(powers)
                .for_each(|(r, p)| *r = feature * p);
        }
        row
    }

    /// Terms of some facets, one column each.
    fn rows(&self, features: &[Features]) -> DMatrix<f64> {
        let mut rows = DMatrix::zeros(self.terms, features.len());
        for (mut column, feature) in rows.column_iter_mut().zip(features) {
            let row = self.row(feature);
            column.copy_from_slice(&row[..self.terms]);
        }
        rows
    }

    /// Σ weight · row rowᵀ.
    fn normal(&self, features: &[Features]) -> DMatrix<f64> {
        let chunk = chunk(features.len());
        let sums: Vec<DMatrix<f64>> = features
            .par_chunks(chunk)
            .zip(self.weights.par_chunks(chunk))
            .map(|(features, weights)| {
                let mut sum = DMatrix::zeros(self.terms, self.terms);
                for (features, weights) in features.chunks(BLOCK).zip(weights.chunks(BLOCK)) {
                    let mut rows = self.rows(features);
                    for (mut column, weight) in rows.column_iter_mut().zip(weights) {
                        column *= weight.sqrt();
                    }
                    sum.gemm(1.0, &rows, &rows.transpose(), 1.0);
                }
                sum
            })
            .collect();
        sum_of(sums)
    }

    /// Films as the function that is nearest to each.
    pub fn films(&self, features: &[Features], films: &[&[f64]]) -> Vec<Vec<f64>> {
        let chunk = chunk(features.len());
        let moments: Vec<DMatrix<f64>> = features
            .par_chunks(chunk)
            .enumerate()
            .map(|(number, features)| self.moments(features, films, number * chunk))
            .collect();
        let mut factors = sum_of(moments);
        let scale = |factors: &mut DMatrix<f64>| {
            for (mut row, scale) in factors.row_iter_mut().zip(&self.scales) {
                row *= *scale;
            }
        };
        scale(&mut factors);
        self.solve.solve_mut(&mut factors);
        scale(&mut factors);
        let values: Vec<DMatrix<f64>> = features
            .par_chunks(BLOCK)
            .map(|features| self.rows(features).transpose() * &factors)
            .collect();
        let film = |number: usize| {
            let mut film = Vec::with_capacity(features.len());
            for block in &values {
                film.extend(block.column(number).iter());
            }
            film
        };
        (0..films.len()).into_par_iter().map(film).collect()
    }

    /// Σ weight · row · film, one column per film, over some facets from a first on.
    fn moments(&self, features: &[Features], films: &[&[f64]], first: usize) -> DMatrix<f64> {
        let mut sum = DMatrix::zeros(self.terms, films.len());
        for (features, number) in features.chunks(BLOCK).zip(0..) {
            let first = first + number * BLOCK;
            let weighted = DMatrix::from_fn(features.len(), films.len(), |facet, film| {
                self.weights[first + facet] * films[film][first + facet]
            });
            sum.gemm(1.0, &self.rows(features), &weighted, 1.0);
        }
        sum
    }

    /// Whether this one, fitted to one half of the scores, foretells the other half better than another does, beyond
    /// chance, in sums weighted as this one's.
    pub fn foretells_better(
        &self,
        other: &Self,
        features: &[Features],
        halves: &[&[f64]; 2],
    ) -> bool {
        let [own, others] = [self, other].map(|guide| guide.films(features, halves));
        let miss = |films: &[Vec<f64>], facet: usize| {
            (films[0][facet] - halves[1][facet]).powi(2)
                + (films[1][facet] - halves[0][facet]).powi(2)
        };
        let mut sum = 0.0;
        let mut squares = 0.0_f64;
        for (facet, weight) in self.weights.iter().enumerate() {
            let better = weight * (miss(&others, facet) - miss(&own, facet));
            sum += better;
            squares += better * better;
        }
        sum > BEYOND * squares.sqrt()
    }

    /// Share of a part's facets that one coefficient stands for.
    pub fn share(&self) -> f64 {
        1.0 / self.terms as f64
    }
}

/// Facets to a piece of work.
fn chunk(facets: usize) -> usize {
    facets.div_ceil(MOST_CHUNKS).max(CHUNK)
}

/// Sum of matrices of one shape, in their order.
fn sum_of(parts: Vec<DMatrix<f64>>) -> DMatrix<f64> {
    let mut parts = parts.into_iter();
    let first = parts.next().unwrap_or_else(|| DMatrix::zeros(0, 0));
    parts.fold(first, |sum, part| sum + part)
}
