//! The search: spread points first, then trust regions around the best of them.
//!
//! In: how many shares of the way between bounds may vary, and a function of them. Out: all points looked at; the function
//! keeps them. Nothing random: the same function gives the same points, so that a search that was cut short goes on where
//! it was once what it had looked at is looked up.

use super::candidate::{Effort, Efforts};
use cobyla::{RhoBeg, StopTols, minimize};
use std::cell::RefCell;

/// How much is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Spread points.
    pub spread: usize,
    /// Points around each of the best two of them.
    pub near: usize,
    /// Points around the best, looked at more closely.
    pub close: usize,
}

impl Budget {
    /// For so many free keys.
    pub fn for_keys(keys: usize) -> Self {
        Self {
            spread: 6 + 8 * keys,
            near: 6 + 7 * keys,
            close: 6 + 6 * keys,
        }
    }
}

/// Where to look: shares of the way between bounds, and how closely.
pub type Look<'a> = &'a mut dyn FnMut(&[f64], Effort) -> Option<f64>;

/// Searches; ends early when a look returns none.
///
/// - `first`: points to look at before all others (the plan as it is)
pub fn search(
    keys: usize,
    first: &[Vec<f64>],
    (budget, [coarse, close, settled]): (Budget, Efforts),
    look: Look,
) {
    if keys == 0 {
        look(&[], close);
        return;
    }
    let mut found: Vec<(Vec<f64>, f64)> = Vec::new();
    let spread = (0..budget.spread).map(|number| spread_point(number, keys));
    for point in first.iter().cloned().chain(spread) {
        let Some(value) = look(&point, coarse) else {
            return;
        };
        found.push((point, value));
    }
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    let best = found[0].0.clone();
    let second = found.iter().find(|(point, _)| distance(point, &best) > 0.2);
    let mut starts = vec![best];
    starts.extend(second.map(|(point, _)| point.clone()));
    let mut descended = Vec::new();
    for start in starts {
        let region = Region {
            start,
            wide: 0.12,
            narrow: 0.01,
            most: budget.near,
        };
        let Some(end) = region.descend(coarse, look) else {
            return;
        };
        descended.push(end);
    }
    descended.sort_by(|a, b| a.1.total_cmp(&b.1));
    let Some(start) = at_bounds(descended[0].0.clone(), close, look) else {
        return;
    };
    let region = Region {
        start,
        wide: 0.04,
        narrow: 0.001,
        most: budget.close,
    };
    let Some((end, _)) = region.descend(close, look) else {
        return;
    };
    // the best of many noisy looks owes something to noise: bounds are tried once more with little of it
    at_bounds(end, settled, look);
}

/// How near a bound a key must be for the bound to be tried.
const NEAR_BOUND: f64 = 0.15;

/// The point with keys put at bounds that they are near, all together and one by one, where that helps; none if stopped.
///
/// A trust region that shrinks comes close to a corner and seldom into it.
fn at_bounds(start: Vec<f64>, effort: Effort, look: Look) -> Option<Vec<f64>> {
    let bound_of = |share: f64| {
        let bound = share.round();
        ((share - bound).abs() < NEAR_BOUND && share.to_bits() != bound.to_bits()).then_some(bound)
    };
    let near: Vec<(usize, f64)> = start
        .iter()
        .enumerate()
        .filter_map(|(key, &share)| Some((key, bound_of(share)?)))
        .collect();
    if near.is_empty() {
        return Some(start);
    }
    let mut best = (look(&start, effort)?, start);
    let one_by_one = near.iter().map(std::slice::from_ref);
    for moved in std::iter::once(near.as_slice()).chain(one_by_one) {
        let mut point = best.1.clone();
        for &(key, bound) in moved {
            point[key] = bound;
        }
        if point == best.1 {
            continue;
        }
        let value = look(&point, effort)?;
        if value <= best.0 {
            best = (value, point);
        }
    }
    Some(best.1)
}

/// A trust region that shrinks.
struct Region {
    start: Vec<f64>,
    wide: f64,
    narrow: f64,
    most: usize,
}

impl Region {
    /// The best point on the way down by linear models (COBYLA), none if stopped.
    ///
    /// Source of the method: M. J. D. Powell, in Advances in Optimization and Numerical Analysis, Kluwer 1994, pp. 51–67.
    fn descend(&self, effort: Effort, look: Look) -> Option<(Vec<f64>, f64)> {
        let keys = self.start.len();
        let state = RefCell::new(Descent {
            look,
            best: None,
            stopped: false,
            looks: 0,
        });
        let cost = |point: &[f64], state: &mut &RefCell<Descent>| {
            let point: Vec<f64> = point.iter().map(|share| share.clamp(0.0, 1.0)).collect();
            state.borrow_mut().at(point, effort, self.most)
        };
        let no_constraints: [Constraint; 0] = [];
        let stop = StopTols {
            xtol_abs: vec![self.narrow; keys],
            ..StopTols::default()
        };
        // whichever way it ends, what counts is the best point on its way
        let _ = minimize(
            cost,
            &self.start,
            &vec![(0.0, 1.0); keys],
            &no_constraints,
            &state,
            self.most,
            RhoBeg::All(self.wide),
            Some(stop),
        );
        let state = state.into_inner();
        if state.stopped { None } else { state.best }
    }
}

/// A constraint as the solver takes it; there are none, what does not do costs more.
type Constraint<'a, 'b> = fn(&[f64], &mut &'a RefCell<Descent<'b>>) -> f64;

/// A way down.
struct Descent<'a> {
    look: Look<'a>,
    best: Option<(Vec<f64>, f64)>,
    stopped: bool,
    looks: usize,
}

impl Descent<'_> {
    fn at(&mut self, point: Vec<f64>, effort: Effort, most: usize) -> f64 {
        self.looks += 1;
        if self.stopped || self.looks > most {
            return f64::MAX;
        }
        let Some(value) = (self.look)(&point, effort) else {
            self.stopped = true;
            return f64::MAX;
        };
        if self.best.as_ref().is_none_or(|(_, best)| value < *best) {
            self.best = Some((point, value));
        }
        value
    }
}

fn distance(a: &[f64], b: &[f64]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f64::max)
}

/// Points that fill the unit cube evenly: digits of the number in as many prime bases, read backwards.
///
/// Source: J. H. Halton, Numer. Math. 2, 84 (1960), from memory; the tests hold its evenness.
fn spread_point(number: usize, keys: usize) -> Vec<f64> {
    const BASES: [usize; 16] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53];
    let inverse = |base: usize| {
        let (mut left, mut share, mut sum) = (number + 1, 1.0, 0.0);
        while left > 0 {
            share /= base as f64;
            sum += share * (left % base) as f64;
            left /= base;
        }
        sum
    };
    (0..keys)
        .map(|key| inverse(BASES[key % BASES.len()]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn any() -> Efforts {
        crate::advise::candidate::efforts(crate::plan::model::Minimise::Time)
    }

    /// Looks at a function and keeps the best point.
    fn best_of(keys: usize, cost: &dyn Fn(&[f64]) -> f64) -> (Vec<f64>, f64, usize) {
        let (mut best, mut looks) = ((Vec::new(), f64::MAX), 0);
        search(
            keys,
            &[],
            (Budget::for_keys(keys), any()),
            &mut |point, _| {
                looks += 1;
                let value = cost(point);
                if value < best.1 {
                    best = (point.to_vec(), value);
                }
                Some(value)
            },
        );
        (best.0, best.1, looks)
    }

    #[test]
    fn a_crease_in_a_bowl_is_found() {
        for keys in 1..=4 {
            let cost = |point: &[f64]| {
                let far = |(k, x): (usize, &f64)| (x - 0.3 - 0.1 * k as f64).abs();
                point.iter().enumerate().map(far).sum::<f64>()
            };
            let (_, value, looks) = best_of(keys, &cost);
            assert!(value < 0.02 * keys as f64, "{keys} keys: {value}");
            assert!(looks <= 42 + 36 * keys, "{looks}");
        }
    }

    #[test]
    fn a_cliff_at_the_best_place_is_borne() {
        // the best point lies at the edge of what fits
        let cost = |point: &[f64]| {
            let plain = (point[0] - 0.7).powi(2) + (point[1] - 0.2).powi(2);
            if point[0] > 0.6 { plain + 30.0 } else { plain }
        };
        let (point, value, _) = best_of(2, &cost);
        assert!(value < 0.02 && point[0] <= 0.6, "{point:?} {value}");
    }

    #[test]
    fn a_corner_is_found_to_the_bound() {
        for keys in 1..=4 {
            // steep towards a corner, with a crease beside it
            let cost = |point: &[f64]| {
                let far = |(k, x): (usize, &f64)| if k % 2 == 0 { *x } else { 1.0 - *x };
                let all: Vec<f64> = point.iter().enumerate().map(far).collect();
                let most = all.iter().copied().fold(0.0, f64::max);
                all.iter().sum::<f64>() + 2.0 * most
            };
            let (point, value, _) = best_of(keys, &cost);
            assert!(value < 1e-9, "{keys} keys: {point:?} {value}");
        }
    }

    #[test]
    fn a_look_that_stops_ends_the_search() {
        let mut looks = 0;
        search(3, &[], (Budget::for_keys(3), any()), &mut |_, _| {
            looks += 1;
            (looks < 5).then_some(1.0)
        });
        assert_eq!(looks, 5);
    }

    #[test]
    fn spread_points_fill_every_eighth_of_every_key() {
        for keys in 1..=6 {
            let points: Vec<Vec<f64>> = (0..64).map(|n| spread_point(n, keys)).collect();
            for key in 0..keys {
                let mut eighths = [0_u32; 8];
                for point in &points {
                    let eighth = (0..8).find(|&e| point[key] < (e + 1) as f64 / 8.0);
                    eighths[eighth.expect("below 1")] += 1;
                }
                // eight each, were they spread perfectly; random ones would miss that by ±2.6
                assert!(
                    eighths.iter().all(|n| (5..=11).contains(n)),
                    "{keys} {key}: {eighths:?}"
                );
            }
        }
    }
}
