//! Least squares of a few causes to a few coupons, with intervals, and which causes can be told at all.
//!
//! In: logarithms of measured thicknesses with their errors, and a model. Out: [`Fitted`], for the most causes that the
//! coupons tell apart.

use crate::stats::{chi_squared_tail, normal_quantile};

/// Most steps of a fit.
const STEPS: usize = 60;
/// Change of a cause, over its error, below which a fit has arrived.
const ARRIVED: f64 = 1e-6;
/// Step of derivatives, in a cause's own unit.
const DERIVATIVE: f64 = 1e-3;
/// Chance under which measured coupons speak against a fit.
const AGAINST: f64 = 0.01;
/// Confidence of intervals.
pub const CONFIDENCE: f64 = 0.90;

/// Something that the film on coupons depends on.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// What it is called.
    pub name: String,
    /// Where a fit begins, and what it stays at where it is not fitted.
    pub now: f64,
    /// What it may be.
    pub range: [f64; 2],
    /// Half of the 90 % interval of what is known of it beforehand; what tells no more than that does not tell it.
    pub told_within: f64,
}

impl Cause {
    /// It cannot be but what it is.
    fn is_fixed(&self) -> bool {
        self.range[0] >= self.range[1]
    }
}

/// A fitted cause.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Told {
    /// Number of the cause.
    pub cause: usize,
    /// Its value.
    pub value: f64,
    /// Half of its 90 % interval.
    pub half_width: f64,
}

/// A fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// What was fitted, in the order of the causes.
    pub told: Vec<Told>,
    /// All causes, those that were not fitted as they were.
    pub values: Vec<f64>,
    /// Σ ((measured − model)/error)².
    pub chi_squared: f64,
    /// Coupons less fitted causes.
    pub degrees: usize,
    /// Chance of a χ² as large or larger if the model is right; 1 without degrees of freedom.
    pub chance: f64,
}

/// What coupons measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Natural logarithm of the thickness (any unit, the model's).
    pub log: f64,
    /// Standard error of it: the relative error of the thickness.
    pub error: f64,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// The most that can be told.
    Fit {
        /// The fit.
        fit: Fitted,
        /// Causes that these coupons do not tell, each with the reason.
        untold: Vec<String>,
    },
    /// Nothing can be told.
    Nothing {
        /// Why not.
        why: String,
    },
}

/// A model: logarithms of the film on all coupons for values of all causes.
pub type Model<'a> = &'a dyn Fn(&[f64]) -> Vec<f64>;

/// Fits as many causes as the coupons tell apart; the first one (the rate) is always among them.
///
/// Sets of causes are tried from the largest on. A set is told if the 90 % interval of each of its causes is narrow
/// enough, also while the causes that are not in it are only as well known as they are beforehand. Of two sets of one size that
/// are both told and both agree with the coupons neither is taken: they cannot be told apart. Where the measured errors are too small for the scatter the intervals are widened by √(χ²/degrees).
pub fn tell(causes: &[Cause], measured: &[Measured], model: Model) -> Found {
    let mut untold = Vec::new();
    let others = causes.len().saturating_sub(1);
    for size in (1..=others).rev() {
        let (told, wide) = of_size(causes, (others, size), (measured, model));
        let mut agreeing: Vec<(Vec<usize>, Fitted)> = told
            .into_iter()
            .filter(|(_, fit)| fit.chance >= AGAINST)
            .collect();
        match agreeing.len() {
            0 if size == 1 && wide.len() > 1 => untold.push(format!(
                "{} cannot be told apart by these coupons (what one of them does, the others may do as well)",
                wide.join(" and ")
            )),
            0 => {}
            1 => {
                let (_, fit) = agreeing.swap_remove(0);
                let untold = with_rest(causes, &fit, measured.len(), untold);
                return Found::Fit { fit, untold };
            }
            _ => {
                let names = agreeing.iter().map(|(set, _)| named(causes, &set[1..]));
                untold.push(format!(
                    "{} explain these coupons equally well and cannot be told apart",
                    names.collect::<Vec<_>>().join(" and ")
                ));
            }
        }
    }
    let (mut told, _) = of_size(causes, (others, 0), (measured, model));
    match told.pop() {
        Some((_, fit)) => Found::Fit {
            untold: with_rest(causes, &fit, measured.len(), untold),
            fit,
        },
        None => Found::Nothing {
            why: format!(
                "{} cannot be told from {} (what arrives there is too little or known too badly); put a coupon where it sees the source",
                causes
                    .first()
                    .map_or("the rate", |cause| cause.name.as_str()),
                counted(measured.len())
            ),
        },
    }
}

/// Fits of all sets of so many causes besides the first: those that are told, and the names of those that are not.
fn of_size(
    causes: &[Cause],
    (others, size): (usize, usize),
    (measured, model): (&[Measured], Model),
) -> (Vec<(Vec<usize>, Fitted)>, Vec<String>) {
    let (mut told, mut wide) = (Vec::new(), Vec::new());
    for set in sets(others, size) {
        let set: Vec<usize> = std::iter::once(0)
            .chain(set.iter().map(|i| i + 1))
            .collect();
        if set.len() > measured.len() || set[1..].iter().any(|&cause| causes[cause].is_fixed()) {
            continue;
        }
        let narrow = |told: &Told| told.half_width <= causes[told.cause].told_within;
        match fit(causes, &set, (measured, model)) {
            Some(fit) if fit.told.iter().all(narrow) => told.push((set, fit)),
            _ => wide.push(named(causes, &set[1..])),
        }
    }
    (told, wide)
}

fn named(causes: &[Cause], set: &[usize]) -> String {
    let names = set.iter().map(|&cause| causes[cause].name.as_str());
    names.collect::<Vec<_>>().join(" with ")
}

fn counted(coupons: usize) -> String {
    match coupons {
        1 => "one coupon".to_owned(),
        n => format!("{n} coupons"),
    }
}

/// Says of every cause that was not fitted why not.
fn with_rest(
    causes: &[Cause],
    fit: &Fitted,
    coupons: usize,
    mut untold: Vec<String>,
) -> Vec<String> {
    for (number, cause) in causes.iter().enumerate() {
        let fitted = fit.told.iter().any(|told| told.cause == number);
        let said = untold.iter().any(|text| text.contains(&cause.name));
        if !fitted && !said && !cause.is_fixed() {
            untold.push(format!(
                "{} stays as it is: {} do{} not tell it",
                cause.name,
                counted(coupons),
                if coupons == 1 { "es" } else { "" }
            ));
        }
    }
    untold
}

/// Subsets of so many of `0..all`, in order.
fn sets(all: usize, size: usize) -> Vec<Vec<usize>> {
    (0..1_usize << all)
        .map(|bits| {
            (0..all)
                .filter(|i| bits >> i & 1 == 1)
                .collect::<Vec<usize>>()
        })
        .filter(|set| set.len() == size)
        .collect()
}

/// Fits some causes by damped Gauss–Newton steps; none where the coupons leave a direction open.
///
/// Intervals: ±z √((JᵀWJ)⁻¹) of the linearised model, z of the normal distribution, errors as given and never smaller than
/// the scatter says. Source: textbook least squares (from memory).
pub fn fit(
    causes: &[Cause],
    set: &[usize],
    (measured, model): (&[Measured], Model),
) -> Option<Fitted> {
    let mut values: Vec<f64> = causes.iter().map(|cause| cause.now).collect();
    let residuals = |values: &[f64]| -> Vec<f64> {
        let both = model(values).into_iter().zip(measured);
        both.map(|(log, measured)| (measured.log - log) / measured.error)
            .collect()
    };
    let cost = |residuals: &[f64]| residuals.iter().map(|r| r * r).sum::<f64>();
    let mut now = residuals(&values);
    if now.iter().any(|r| !r.is_finite()) {
        return None;
    }
    for _ in 0..STEPS {
        let (normal, gradient) = normal_of(causes, set, &values, (measured, model));
        let inverse = inverse(&normal)?;
        let step: Vec<f64> = inverse
            .iter()
            .map(|row| row.iter().zip(&gradient).map(|(a, b)| a * b).sum())
            .collect();
        let mut share = 1.0;
        let moved = loop {
            let mut next = values.clone();
            for (&cause, step) in set.iter().zip(&step) {
                let [low, high] = causes[cause].range;
                next[cause] = (next[cause] + share * step).clamp(low, high);
            }
            let there = residuals(&next);
            if cost(&there) <= cost(&now) {
                let moved = set
                    .iter()
                    .enumerate()
                    .map(|(i, &c)| (next[c] - values[c]).abs() / inverse[i][i].sqrt());
                let moved = moved.fold(0.0, f64::max);
                (values, now) = (next, there);
                break moved;
            }
            share *= 0.5;
            if share < 1e-6 {
                break 0.0;
            }
        };
        if moved < ARRIVED {
            break;
        }
    }
    said(causes, set, values, (measured, model))
}

/// What a fit that has arrived says.
fn said(
    causes: &[Cause],
    set: &[usize],
    values: Vec<f64>,
    (measured, model): (&[Measured], Model),
) -> Option<Fitted> {
    let (normal, _) = normal_of(causes, set, &values, (measured, model));
    let inverse = inverse(&normal)?;
    let both = model(&values).into_iter().zip(measured);
    let chi_squared = both
        .map(|(log, measured)| ((measured.log - log) / measured.error).powi(2))
        .sum();
    let degrees = measured.len() - set.len();
    let chance = if degrees == 0 {
        1.0
    } else {
        chi_squared_tail(degrees, chi_squared)
    };
    let scatter = if chance < AGAINST {
        (chi_squared / degrees as f64).sqrt().max(1.0)
    } else {
        1.0
    };
    let z = normal_quantile(0.5 + 0.5 * CONFIDENCE);
    let open = with_doubts(causes, set, &values, (measured, model))?;
    let told = set.iter().enumerate().map(|(i, &cause)| {
        // an interval that is cut by the range of the cause tells nothing beyond it
        let at_end = causes[cause]
            .range
            .iter()
            .any(|end| (end - values[cause]).abs() < 1e-9);
        // a factor on the rate is one for the causes as they are written
        let variance = if i == 0 {
            inverse[0][0]
        } else {
            open[cause][cause]
        };
        Told {
            cause,
            value: values[cause],
            half_width: if at_end {
                f64::INFINITY
            } else {
                z * scatter * variance.sqrt()
            },
        }
    });
    Some(Fitted {
        told: told.collect(),
        values,
        chi_squared,
        degrees,
        chance,
    })
}

/// (JᵀWJ)⁻¹ over all causes, those outside the set known as well as they are beforehand.
fn with_doubts(
    causes: &[Cause],
    set: &[usize],
    values: &[f64],
    measured: (&[Measured], Model),
) -> Option<Vec<Vec<f64>>> {
    let all: Vec<usize> = (0..causes.len())
        .filter(|&c| !causes[c].is_fixed())
        .collect();
    let (mut normal, _) = normal_of(causes, &all, values, measured);
    let z = normal_quantile(0.5 + 0.5 * CONFIDENCE);
    for (row, cause) in all
        .iter()
        .enumerate()
        .filter(|(_, cause)| !set.contains(cause))
    {
        normal[row][row] += (z / causes[*cause].told_within).powi(2);
    }
    let inverse = inverse(&normal)?;
    // rows by the number of the cause
    let row = |cause: usize| all.iter().position(|&c| c == cause);
    let of = |a: usize, b: usize| match (row(a), row(b)) {
        (Some(a), Some(b)) => inverse[a][b],
        _ => 0.0,
    };
    let count = causes.len();
    Some(
        (0..count)
            .map(|a| (0..count).map(|b| of(a, b)).collect())
            .collect(),
    )
}

/// JᵀWJ and JᵀW(measured − model).
fn normal_of(
    causes: &[Cause],
    set: &[usize],
    values: &[f64],
    (measured, model): (&[Measured], Model),
) -> (Vec<Vec<f64>>, Vec<f64>) {
    let here = model(values);
    let columns: Vec<Vec<f64>> = set
        .iter()
        .map(|&cause| {
            let [low, high] = causes[cause].range;
            let ends =
                [-DERIVATIVE, DERIVATIVE].map(|step| (values[cause] + step).clamp(low, high));
            let [a, b] = ends.map(|end| {
                let mut there = values.to_vec();
                there[cause] = end;
                model(&there)
            });
            let both = a.iter().zip(&b).zip(measured);
            both.map(|((a, b), measured)| (b - a) / (ends[1] - ends[0]) / measured.error)
                .collect()
        })
        .collect();
    let residual: Vec<f64> = here
        .iter()
        .zip(measured)
        .map(|(log, measured)| (measured.log - log) / measured.error)
        .collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let normal = columns
        .iter()
        .map(|a| columns.iter().map(|b| dot(a, b)).collect())
        .collect();
    let gradient = columns
        .iter()
        .map(|column| dot(column, &residual))
        .collect();
    (normal, gradient)
}

/// Inverse of a small symmetric positive matrix by Gauss–Jordan elimination; none where it has next to no inverse.
fn inverse(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    let scale: Vec<f64> = (0..n).map(|i| matrix[i][i].sqrt()).collect();
    if scale.iter().any(|s| !(*s > 0.0 && s.is_finite())) {
        return None;
    }
    let mut rows: Vec<Vec<f64>> = (0..n)
        .map(|i| {
            let unit = (0..n).map(|j| f64::from(u8::from(i == j)));
            let left = (0..n).map(|j| matrix[i][j] / (scale[i] * scale[j]));
            left.chain(unit).collect()
        })
        .collect();
    for column in 0..n {
        let pivot =
            (column..n).max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))?;
        rows.swap(column, pivot);
        let head = rows[column][column];
        // columns alike but for a millionth: the coupons do not tell these causes apart
        if head.abs() < 1e-12 {
            return None;
        }
        rows[column].iter_mut().for_each(|value| *value /= head);
        let pivot_row = rows[column].clone();
        for (number, row) in rows.iter_mut().enumerate() {
            if number != column {
                let factor = row[column];
                row.iter_mut()
                    .zip(&pivot_row)
                    .for_each(|(value, p)| *value -= factor * p);
            }
        }
    }
    let back = |i: usize| {
        (0..n)
            .map(|j| rows[i][n + j] / (scale[i] * scale[j]))
            .collect()
    };
    Some((0..n).map(back).collect())
}

#[cfg(test)]
mod tests;
