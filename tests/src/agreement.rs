//! Verdicts: do results with standard errors agree with references.
//!
//! In: [`Comparison`]s. Out: `Ok`, or what disagrees. One rule for the whole suite: every |z| under a
//! limit set from the number of statistical checks and a false-alarm budget of 1e-3, and for 20 or more
//! comparisons Σz² between the χ² quantiles of the same budget, which catches error bars that lie.

use evenfall_sim::stats::{chi_squared_upper, z_limit};
use std::fmt::Write as _;

/// Statistical checks that the suite may hold; each has a thousandth of a thousandth of false alarm.
pub const SUITE_CHECKS: usize = 1000;
/// False alarms per run of the whole suite.
pub const SUITE_FALSE_ALARM: f64 = 1e-3;
/// False alarms of one check.
pub const CHECK_FALSE_ALARM: f64 = 1e-6;
/// Comparisons from which on Σz² is judged as well.
const ENOUGH_FOR_A_SUM: usize = 20;
/// Comparisons beyond which a set counts as one check, its limit widened by their number.
const ONE_CHECK: usize = 50;

/// A result and what it should be.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// What is compared.
    pub name: String,
    /// Result.
    pub found: f64,
    /// Standard error of the result, in its unit.
    pub std_error: f64,
    /// Reference.
    pub reference: f64,
    /// Known bound on what the comparison itself gets wrong (mesh, rounding), in the same unit.
    pub bias: f64,
}

/// Where standard errors come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// From the spread of this many independent repetitions: Student's t.
    Repetitions(u32),
    /// Known beforehand (binomial counts): normal.
    Known,
}

/// Gathered films: the spread of 32 scramblings.
pub const SCRAMBLINGS: Spread = Spread::Repetitions(32);

/// Mean and standard error of independent repetitions, compared with a value that has an error of its own.
///
/// - `error`: standard error of the reference
pub fn repeated(
    name: String,
    found: impl IntoIterator<Item = f64>,
    (reference, error): (f64, f64),
) -> Comparison {
    let spread: evenfall_sim::stats::Running = found.into_iter().collect();
    let std_error = spread.std_error().unwrap_or(f64::INFINITY);
    Comparison {
        name,
        found: spread.mean(),
        std_error: std_error.hypot(error),
        reference,
        bias: 0.0,
    }
}

/// A mean over fired atoms with its standard error, compared with a value that has an error of its own.
pub fn measured(
    name: String,
    (found, std_error): (f64, f64),
    (reference, error): (f64, f64),
) -> Comparison {
    Comparison {
        name,
        found,
        std_error: std_error.hypot(error),
        reference,
        bias: 0.0,
    }
}

/// Share of fired atoms and its standard error (binomial).
pub fn share(count: u64, of: u64) -> (f64, f64) {
    let share = count as f64 / of as f64;
    (share, (share * (1.0 - share) / of as f64).sqrt())
}

/// How results and references part.
#[derive(Debug, Clone, PartialEq)]
pub enum Disagreement {
    /// A standard error is too large for the check to mean anything.
    Imprecise(String),
    /// A result lies beyond the limit.
    Far(String),
    /// Σz² lies outside its quantiles.
    Restless(String),
}

impl Disagreement {
    /// True if the results, and not merely their precision, speak against the references.
    pub fn speaks_against(&self) -> bool {
        !matches!(self, Self::Imprecise(_))
    }
}

/// Judges a set of independent comparisons.
///
/// - `worst_relative_error`: standard errors above this share of the reference are refused; references
///   of exactly 0 ask for a result of exactly 0
///
/// # Errors
///
/// Says which comparison, or the sum, disagrees.
pub fn judge(
    comparisons: &[Comparison],
    spread: Spread,
    worst_relative_error: f64,
) -> Result<(), Disagreement> {
    assert!(!comparisons.is_empty(), "nothing to compare");
    let imprecise = comparisons
        .iter()
        .find(|c| c.std_error.is_nan() || c.std_error > worst_relative_error * c.reference.abs());
    if let Some(c) = imprecise {
        let relative = c.std_error / c.reference.abs();
        return Err(Disagreement::Imprecise(format!(
            "{}: relative error {relative:.5}",
            c.name
        )));
    }
    let limit = match comparisons.len() {
        few if few <= ONE_CHECK => z_limit(SUITE_CHECKS, SUITE_FALSE_ALARM),
        many => z_limit(SUITE_CHECKS * many, SUITE_FALSE_ALARM),
    };
    let z = |c: &Comparison, bias: f64| {
        let t = evenfall_sim::stats::z(c.found, c.reference, c.std_error, 0.0, bias);
        normal_from(spread, t)
    };
    let mut far = String::new();
    for c in comparisons.iter().filter(|c| z(c, c.bias) > limit).take(8) {
        let _ = write!(
            far,
            "{}: {:.7e} ± {:.1e} against {:.7e} (± {:.1e}), z = {:.2} over {limit:.2}; ",
            c.name,
            c.found,
            c.std_error,
            c.reference,
            c.bias,
            z(c, c.bias)
        );
    }
    if !far.is_empty() {
        return Err(Disagreement::Far(far));
    }
    judge_sum(comparisons, z)
}

/// Σz² less bias under its upper quantile, Σz² with bias over its lower one.
fn judge_sum(
    comparisons: &[Comparison],
    z: impl Fn(&Comparison, f64) -> f64,
) -> Result<(), Disagreement> {
    let counted: Vec<&Comparison> = comparisons.iter().filter(|c| c.std_error > 0.0).collect();
    let count = counted.len();
    if count < ENOUGH_FOR_A_SUM {
        return Ok(());
    }
    let most = chi_squared_upper(count, 0.5 * CHECK_FALSE_ALARM);
    let least = chi_squared_upper(count, 1.0 - 0.5 * CHECK_FALSE_ALARM);
    let sum: f64 = counted.iter().map(|c| z(c, c.bias).powi(2)).sum();
    let bare: f64 = counted.iter().map(|c| z(c, 0.0).powi(2)).sum();
    if sum > most || bare < least {
        return Err(Disagreement::Restless(format!(
            "Σz² = {sum:.1} (bare {bare:.1}) of {count}, allowed {least:.1} to {most:.1}"
        )));
    }
    Ok(())
}

/// The normal deviate as unlikely as the t of a spread over few repetitions.
///
/// z = √(ν ln(1 + t²/ν)) · (8ν + 1)/(8ν + 3), ν = repetitions − 1.
///
/// Source: D. L. Wallace, Ann. Math. Statist. 30, 1121 (1959), from memory; compared below with exact
/// tail areas, where it is right to 0.003 for ν = 31.
fn normal_from(spread: Spread, t: f64) -> f64 {
    match spread {
        Spread::Known => t,
        Spread::Repetitions(repetitions) => {
            let nu = f64::from(repetitions - 1);
            (nu * (t * t / nu).ln_1p()).sqrt() * (8.0 * nu + 1.0) / (8.0 * nu + 3.0)
        }
    }
}

/// χ² of counts against expected counts as a share of its limit; above 1 they disagree.
///
/// Cells that expect fewer than ten are pooled. The expected counts must add up to the counts'
/// total or to a given number of trials with the rest as a cell of its own.
pub fn chi_squared_share(counts: &[f64], expected: &[f64]) -> f64 {
    assert_eq!(counts.len(), expected.len());
    let (mut sum, mut cells) = (0.0, 0_usize);
    let mut pool = (0.0, 0.0);
    for (&count, &expects) in counts.iter().zip(expected) {
        if expects >= 10.0 {
            sum += (count - expects) * (count - expects) / expects;
            cells += 1;
        } else {
            pool = (pool.0 + count, pool.1 + expects);
        }
    }
    if pool.1 >= 10.0 {
        sum += (pool.0 - pool.1) * (pool.0 - pool.1) / pool.1;
        cells += 1;
    } else if pool.0 > pool.1 + 30.0 {
        return f64::INFINITY; // far more arrivals than a pool this small can explain
    }
    assert!(cells > 1, "fewer than two cells expect ten counts");
    sum / chi_squared_upper(cells - 1, CHECK_FALSE_ALARM)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(found: f64, std_error: f64) -> Comparison {
        Comparison {
            name: "x".into(),
            found,
            std_error,
            reference: 1.0,
            bias: 0.0,
        }
    }

    #[test]
    fn student_t_turns_into_the_normal_deviate_of_the_same_tail() {
        // Two-sided tails of Student's t with 31 degrees of freedom, scipy 1.17: t.isf(norm.sf(z), 31).
        for (normal, t) in [
            (0.5, 0.505080),
            (1.0, 1.016391),
            (2.0, 2.083930),
            (3.0, 3.260942),
            (4.0, 4.621632),
            (4.9, 6.086946),
        ] {
            let found = normal_from(SCRAMBLINGS, t);
            assert!((found - normal).abs() < 0.004, "{found} against {normal}");
        }
    }

    #[test]
    fn verdicts_tell_precision_from_disagreement() {
        assert_eq!(judge(&[of(1.001, 0.001)], Spread::Known, 0.003), Ok(()));
        let far = judge(&[of(1.006, 0.001)], Spread::Known, 0.003).unwrap_err();
        assert!(matches!(far, Disagreement::Far(_)) && far.speaks_against());
        let vague = judge(&[of(1.0, 0.01)], Spread::Known, 0.003).unwrap_err();
        assert!(!vague.speaks_against());
    }

    #[test]
    fn error_bars_that_are_too_wide_or_too_narrow_are_noticed() {
        let still: Vec<_> = (0..40).map(|_| of(1.0001, 0.001)).collect();
        assert!(matches!(
            judge(&still, Spread::Known, 0.003),
            Err(Disagreement::Restless(_))
        ));
        let wild: Vec<_> = (0..40).map(|_| of(1.003, 0.001)).collect();
        assert!(matches!(
            judge(&wild, Spread::Known, 0.003),
            Err(Disagreement::Restless(_))
        ));
    }
}
