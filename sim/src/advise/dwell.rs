//! How long to dwell at each stop: film is linear in dwell, so this is a linear programme.
//!
//! In: film per second at places for each stop. Out: dwells that take the least time or leave the film most even, by an
//! interior-point solver over those places that turn out to matter.

use clarabel::algebra::CscMatrix;
use clarabel::solver::{DefaultSettings, DefaultSolver, IPSolver, NonnegativeConeT, SolverStatus};

/// Places that the first programme looks at, and that each later one adds at most.
const ADDED: usize = 24;
/// Rounds of adding places.
const ROUNDS: usize = 40;
/// Relative violation that is none: a thousandth of what any film is known to.
const SLACK: f64 = 1e-6;

/// Dwells at stops.
#[derive(Debug, Clone, PartialEq)]
pub struct Dwells {
    /// s per stop, in the order of the stops.
    pub dwell_s: Vec<f64>,
    /// What was made small: total time, s, or unevenness.
    pub value: f64,
}

/// The most even film: least t with 1 − t ≤ Σ wₖ rₖᵢ ≤ 1 + t at every place i, wₖ ≥ 0.
///
/// t is then (max − min)/(max + min), and any common factor on the dwells leaves it as it is.
///
/// - `rates`: `[stop][place]`, film per second, at least 0
/// - `share`: what dwell counts most: the film that the mean place should get, in the rates' unit; sets the dwells' scale
/// - returns none where some place gets nothing at any stop, and where the solver fails
///
/// Source: definition of unevenness; minimax fit as a linear programme is textbook matter (from memory).
pub fn most_even(rates: &[&[f64]]) -> Option<Dwells> {
    let places = rates.first()?.len();
    let unit = mean(rates)?;
    if (0..places).any(|place| rates.iter().all(|rate| rate[place] <= 0.0)) {
        return None;
    }
    let film = |dwell: &[f64], place: usize| at(rates, dwell, place) / unit;
    let even = vec![1.0 / rates.len() as f64; rates.len()];
    let mut rows: Vec<(usize, Side)> = extremes(places, |place| film(&even, place));
    let stops = rates.len();
    let mut best = None;
    for _ in 0..ROUNDS {
        let programme = Programme {
            cost: (0..=stops)
                .map(|k| f64::from(u8::from(k == stops)))
                .collect(),
            rows: rows
                .iter()
                .map(|&(place, side)| {
                    // low: 1 − t ≤ film; high: film ≤ 1 + t
                    let sign = if side == Side::Low { -1.0 } else { 1.0 };
                    let mut row: Vec<f64> =
                        rates.iter().map(|rate| sign * rate[place] / unit).collect();
                    row.push(-1.0);
                    (row, sign)
                })
                .collect(),
        };
        let solution = programme.solve()?;
        let (dwell, t) = (&solution[..stops], solution[stops].max(0.0));
        let films: Vec<f64> = (0..places).map(|place| film(dwell, place)).collect();
        let (low, high) = ends(&films);
        let value = (high - low) / (high + low);
        best = Some(Dwells {
            dwell_s: dwell.to_vec(),
            value,
        });
        let before = rows.len();
        add(
            &mut rows,
            Side::Low,
            films.iter().map(|film| 1.0 - t - film),
        );
        add(
            &mut rows,
            Side::High,
            films.iter().map(|film| film - 1.0 - t),
        );
        if rows.len() == before {
            break;
        }
    }
    best
}

/// The least time: least Σ wₖ with Σ wₖ rₖᵢ ≥ want at every place i, wₖ ≥ 0.
///
/// - `rates`: `[stop][place]`, film per second, at least 0
/// - `wants`: film per place, in the rates' unit; 0 where none is asked
/// - returns none where a place that wants film gets none at any stop, and where the solver fails
pub fn least_time(rates: &[&[f64]], wants: &[f64]) -> Option<Dwells> {
    let places = wants.len();
    let stops = rates.len();
    let reached = |place: usize| rates.iter().any(|rate| rate[place] > 0.0);
    if (0..places).any(|place| wants[place] > 0.0 && !reached(place)) {
        return None;
    }
    if wants.iter().all(|&want| want <= 0.0) {
        return Some(Dwells {
            dwell_s: vec![0.0; stops],
            value: 0.0,
        });
    }
    // time in units of what an even dwell would need, film in units of what is wanted
    let even = vec![1.0; stops];
    let need = |place: usize| wants[place] / at(rates, &even, place);
    let unit_s = (0..places)
        .filter(|&place| wants[place] > 0.0)
        .map(need)
        .fold(0.0, f64::max);
    let mut rows: Vec<(usize, Side)> = Vec::new();
    add(
        &mut rows,
        Side::Low,
        (0..places).map(|place| if wants[place] > 0.0 { need(place) } else { 0.0 }),
    );
    let mut best = None;
    for _ in 0..ROUNDS {
        let programme = Programme {
            cost: vec![1.0; stops],
            rows: rows
                .iter()
                .map(|&(place, _)| {
                    let row = rates
                        .iter()
                        .map(|rate| -rate[place] * unit_s / wants[place]);
                    (row.collect(), -1.0)
                })
                .collect(),
        };
        let mut dwell_s = programme.solve()?;
        dwell_s.iter_mut().for_each(|dwell| *dwell *= unit_s);
        let short = |place: usize| 1.0 - at(rates, &dwell_s, place) / wants[place];
        let short: Vec<f64> = (0..places)
            .map(|place| {
                if wants[place] > 0.0 {
                    short(place)
                } else {
                    0.0
                }
            })
            .collect();
        // what the solver leaves short is made up by all stops alike
        let most = short.iter().copied().fold(0.0, f64::max);
        if most < 1.0 {
            let enough: Vec<f64> = dwell_s.iter().map(|dwell| dwell / (1.0 - most)).collect();
            let value = enough.iter().sum();
            best = Some(Dwells {
                dwell_s: enough,
                value,
            });
        }
        let before = rows.len();
        add(&mut rows, Side::Low, short.into_iter());
        if rows.len() == before {
            break;
        }
    }
    best
}

/// Film at a place.
pub(super) fn at(rates: &[&[f64]], dwell_s: &[f64], place: usize) -> f64 {
    let both = rates.iter().zip(dwell_s);
    both.map(|(rate, dwell)| rate[place] * dwell).sum()
}

/// Which bound of a place a row of the programme is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Low,
    High,
}

/// Mean over places of an even dwell of one second in all.
fn mean(rates: &[&[f64]]) -> Option<f64> {
    let all = rates.iter().map(|rate| rate.iter().sum::<f64>());
    let count = rates.iter().map(|rate| rate.len()).sum::<usize>();
    let mean = all.sum::<f64>() / count as f64;
    (mean > 0.0 && mean.is_finite()).then_some(mean)
}

fn ends(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &value| {
            (low.min(value), high.max(value))
        })
}

fn extremes(places: usize, film: impl Fn(usize) -> f64) -> Vec<(usize, Side)> {
    let mut rows = Vec::new();
    // everything counts as violated, the outermost most
    let films: Vec<f64> = (0..places).map(film).collect();
    let (low, high) = ends(&films);
    add(
        &mut rows,
        Side::Low,
        films.iter().map(|film| high - film + 1.0),
    );
    add(
        &mut rows,
        Side::High,
        films.iter().map(|film| film - low + 1.0),
    );
    rows
}

/// Adds the rows that are violated most.
fn add(rows: &mut Vec<(usize, Side)>, side: Side, violations: impl Iterator<Item = f64>) {
    let mut violated: Vec<(usize, f64)> =
        violations.enumerate().filter(|(_, v)| *v > SLACK).collect();
    violated.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let mut added = 0;
    for (place, _) in violated {
        if added == ADDED {
            break;
        }
        if !rows.contains(&(place, side)) {
            rows.push((place, side));
            added += 1;
        }
    }
}

/// Least cost·x with row·x ≤ bound for every row and x ≥ 0.
struct Programme {
    cost: Vec<f64>,
    rows: Vec<(Vec<f64>, f64)>,
}

impl Programme {
    fn solve(&self) -> Option<Vec<f64>> {
        let unknowns = self.cost.len();
        let count = self.rows.len() + unknowns;
        let (mut starts, mut places, mut values) = (vec![0], Vec::new(), Vec::new());
        for unknown in 0..unknowns {
            for (number, (row, _)) in self.rows.iter().enumerate() {
                if row[unknown] != 0.0 {
                    places.push(number);
                    values.push(row[unknown]);
                }
            }
            places.push(self.rows.len() + unknown); // −x ≤ 0
            values.push(-1.0);
            starts.push(places.len());
        }
        let bounds: Vec<f64> = self
            .rows
            .iter()
            .map(|(_, bound)| *bound)
            .chain(std::iter::repeat_n(0.0, unknowns))
            .collect();
        let settings = DefaultSettings {
            verbose: false,
            tol_gap_abs: 1e-10,
            tol_gap_rel: 1e-10,
            tol_feas: 1e-10,
            ..DefaultSettings::default()
        };
        let matrix = CscMatrix::new(count, unknowns, starts, places, values);
        let quadratic = CscMatrix::zeros((unknowns, unknowns));
        let cones = [NonnegativeConeT(count)];
        let mut solver =
            DefaultSolver::new(&quadratic, &self.cost, &matrix, &bounds, &cones, settings).ok()?;
        solver.solve();
        let usable = matches!(
            solver.solution.status,
            SolverStatus::Solved | SolverStatus::AlmostSolved
        );
        usable.then(|| solver.solution.x.iter().map(|x| x.max(0.0)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_lobes_get_the_dwells_that_two_equations_give() {
        // a w + c v = b w + d v = 1 by Cramer's rule (derived)
        let [a, b, c, d] = [3.0, 1.0, 0.5, 2.0];
        let rates: [&[f64]; 2] = [&[a, b], &[c, d]];
        let determinant = a * d - b * c;
        let wanted = [(d - c) / determinant, (a - b) / determinant];
        let even = most_even(&rates).expect("solved");
        assert!(even.value < 1e-7, "{even:?}");
        assert!((even.dwell_s[0] / even.dwell_s[1] - wanted[0] / wanted[1]).abs() < 1e-6);
        let short = least_time(&rates, &[1.0, 1.0]).expect("solved");
        for (dwell, wanted) in short.dwell_s.iter().zip(wanted) {
            assert!((dwell - wanted).abs() < 1e-6, "{short:?}");
        }
    }

    #[test]
    fn two_lobes_notice_another_rate() {
        let rates: [&[f64]; 2] = [&[3.0, 1.0], &[0.5, 2.1]];
        let even = most_even(&rates).expect("solved");
        assert!((even.dwell_s[0] / even.dwell_s[1] - 1.5 / 2.0).abs() > 0.01);
    }

    #[test]
    fn rates_that_cannot_be_evened_leave_what_theory_leaves() {
        // one stop, film 1 and 3: (3 − 1)/(3 + 1), whatever the dwell
        let even = most_even(&[&[1.0, 3.0, 2.0]]).expect("solved");
        assert!((even.value - 0.5).abs() < 1e-7, "{even:?}");
        assert_eq!(most_even(&[&[1.0, 0.0], &[2.0, 0.0]]), None);
        assert_eq!(least_time(&[&[1.0, 0.0]], &[1.0, 1.0]), None);
        let free = least_time(&[&[1.0, 0.0]], &[2.0, 0.0]).expect("solved");
        assert!((free.value - 2.0).abs() < 1e-6);
    }

    #[test]
    fn many_places_are_all_kept_though_few_are_looked_at() {
        // a rectified cosine around a turn from 36 stops: no dwell evens it better than equal ones do, by symmetry
        let turn = std::f64::consts::TAU;
        let rates: Vec<Vec<f64>> = (0..36)
            .map(|k| {
                let at = |i: usize| turn * (i as f64 / 3600.0 - f64::from(k) / 36.0);
                (0..3600).map(|i| at(i).cos().max(0.0)).collect()
            })
            .collect();
        let rates: Vec<&[f64]> = rates.iter().map(Vec::as_slice).collect();
        let even = most_even(&rates).expect("solved");
        // by symmetry: M even, (max − min)/(max + min) of the sum of M rectified cosines, tan²(π/(2M))/… from the two sums
        let (high, low) = (1.0 / (turn / 72.0).sin(), 1.0 / (turn / 72.0).tan());
        let wanted = (high - low) / (high + low);
        assert!(
            (even.value - wanted).abs() < 1e-6,
            "{} {wanted}",
            even.value
        );
    }
}
