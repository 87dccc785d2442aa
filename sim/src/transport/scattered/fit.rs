//! A group's film as a linear function of its facets' features.
//!
//! In: features, areas and noisy flux densities of some facets. Out: the same smoothed, their mean over the area kept
//! exactly.

use super::features::{FEW, Features};
use nalgebra::{SMatrix, SVector};

/// Facets below which only the mean is taken.
const FEWEST: usize = 12;
/// Added to the normal equations, as a share of their mean diagonal: keeps slopes that the data do not hold near 0.
const RIDGE: f64 = 0.05;

type Vector = SVector<f64, FEW>;

/// Least squares by area over a group, ready for any number of films.
pub(super) struct Fit<'a> {
    facets: &'a [u32],
    areas: &'a [f64],
    area: f64,
    /// Centred features scaled to spread 1, one per facet.
    rows: Vec<Vector>,
    /// Inverse of the normal equations; none where only the mean is taken.
    solve: Option<SMatrix<f64, FEW, FEW>>,
}

impl<'a> Fit<'a> {
    /// Prepares the fit of a group.
    ///
    /// - `facets`: numbers into `features` and `areas`
    pub fn new(facets: &'a [u32], features: &[Features], areas: &'a [f64]) -> Self {
        let mut fit = Self {
            facets,
            areas,
            area: facets.iter().map(|&facet| areas[facet as usize]).sum(),
            rows: Vec::new(),
            solve: None,
        };
        if facets.len() < FEWEST || fit.area <= 0.0 {
            return fit;
        }
        let row = |facet: u32| {
            let own = &features[facet as usize].0;
            Vector::from_fn(|axis, _| f64::from(own[axis]))
        };
        let weighted = facets.iter().map(|&f| (row(f), areas[f as usize]));
        let mean = weighted
            .clone()
            .fold(Vector::zeros(), |s, (x, w)| s + x * w)
            / fit.area;
        let square = |x: Vector| (x - mean).component_mul(&(x - mean));
        let spread = weighted.fold(Vector::zeros(), |s, (x, w)| s + square(x) * w) / fit.area;
        let size = mean.abs().max().max(f64::MIN_POSITIVE);
        let scale = spread.map(|s| {
            // what does not vary beyond f32's rounding says nothing
            if s.sqrt() > 1e-5 * size {
                1.0 / s.sqrt()
            } else {
                0.0
            }
        });
        fit.rows = facets
            .iter()
            .map(|&facet| (row(facet) - mean).component_mul(&scale))
            .collect();
        let mut normal = SMatrix::<f64, FEW, FEW>::zeros();
        for (x, &facet) in fit.rows.iter().zip(facets) {
            normal += x * x.transpose() * (areas[facet as usize] / fit.area);
        }
        let ridge = RIDGE * normal.trace() / FEW as f64 + f64::MIN_POSITIVE;
        for axis in 0..FEW {
            normal[(axis, axis)] += ridge.max(1e-9);
        }
        fit.solve = normal.cholesky().map(|cholesky| cholesky.inverse());
        fit
    }

    /// Smooths a film: `value(facet)` is its density; the result is given facet by facet.
    pub fn smooth(&self, value: impl Fn(u32) -> f64, mut give: impl FnMut(u32, f64)) {
        if self.area <= 0.0 {
            return;
        }
        let mean = self.mean(&value);
        let Some(solve) = &self.solve else {
            self.facets.iter().for_each(|&facet| give(facet, mean));
            return;
        };
        let mut moment = Vector::zeros();
        for (x, &facet) in self.rows.iter().zip(self.facets) {
            moment += x * (self.areas[facet as usize] / self.area * (value(facet) - mean));
        }
        let slope = solve * moment;
        for (x, &facet) in self.rows.iter().zip(self.facets) {
            give(facet, mean + slope.dot(x));
        }
    }

    /// Mean over the area.
    pub fn mean(&self, value: impl Fn(u32) -> f64) -> f64 {
        let facets = self.facets.iter();
        let sum: f64 = facets.map(|&f| self.areas[f as usize] * value(f)).sum();
        sum / self.area
    }
}
