//! The pilot: a short gather that settles how many lines every receiver draws, and is thrown away.
//!
//! In: sums of a pilot (or of a round that fell short). Out: [`Effort`]. The numbers never depend on
//! the run whose errors are reported, so errors stay true.

use super::causes::Causes;
use super::gather::{Effort, Job, Keep, SCRAMBLINGS, Sums};
use crate::random::{TABLE_POINTS, Use};
use crate::stats::weighted_quantile;

/// log2 of a pilot's lines per scrambling: in open time, and while a shutter over the source is shut.
const PILOT_LOG2: [u8; 2] = [2, 1];

/// Least log2 of lines per scrambling in open time and in shut time: keeps the bound on what was
/// not seen below 3/128 and a zero spread from meaning certainty.
const LEAST_LOG2: [u8; 2] = [2, 0];

/// Most lines per scrambling in a first round: a pilot knows a variance to a factor of two at best, so
/// more is left to the round after, which knows it to a quarter.
const FIRST_ROUND: f64 = 16.0;

/// Assumed decay of the variance with the number of lines n, as n^-this: 1 for plain random numbers,
/// up to 3 for smooth integrands on scrambled nets (A. B. Owen, Ann. Stat. 25, 1541 (1997)); blocked
/// lines lie near the low end.
const DECAY: f64 = 1.2;

/// Factor on estimated variances, since a pilot of few scramblings knows them roughly.
const CAUTION: f64 = 1.5;

/// Share of the area that may stay above the asked error without missing the 95th percentile.
const HARDEST_AREA: f64 = 0.03;

/// What is to be reached.
pub(crate) struct Aim<'a> {
    /// Relative standard error.
    pub accuracy: f64,
    /// Thickness below which the error is taken against this, m; none: 5 % of the median reached.
    pub floor_m: Option<f64>,
    /// Area of each receiver, m²; 0 leaves it out.
    pub areas_m2: &'a [f64],
    /// Receivers of which nothing is asked because they are proved bare or buried.
    pub idle: &'a [bool],
    /// Causes of each receiver.
    pub causes: &'a [Causes],
}

/// Efforts for a pilot.
pub(crate) fn pilot_effort(job: &Job, idle: &[bool]) -> Effort {
    base_effort(job, idle, PILOT_LOG2)
}

fn base_effort(job: &Job, idle: &[bool], log2: [u8; 2]) -> Effort {
    let channels = &job.lines.channels;
    let mut effort = Effort::even(idle.len(), channels.len(), Effort::NONE);
    for (row, &idle) in effort.log2.chunks_mut(channels.len().max(1)).zip(idle) {
        if !idle {
            for (n, channel) in row.iter_mut().zip(channels) {
                *n = log2[usize::from(!channel.open)];
            }
        }
    }
    effort
}

/// Runs a pilot.
pub(crate) fn run_pilot(job: &Job, idle: &[bool], rays: &mut u64) -> (Effort, Sums) {
    let pilot = Job {
        purpose: Use::Pilot,
        ..*job
    };
    let effort = pilot_effort(job, idle);
    let mut sums = Sums::new(idle.len(), job.lines.channels.len(), Keep::ChannelSquares);
    *rays += pilot.scramblings(&effort, &mut sums);
    (effort, sums)
}

/// Settles efforts from the sums of a pilot.
///
/// The variance of a receiver is Σ_c V_c(n_c)/R over its channels; V is taken to fall as n^-1.2
/// and lines are shared out so that the sum of lines is least for the variance asked.
pub(crate) fn settle(job: &Job, aim: &Aim, pilot: &Effort, sums: &Sums) -> Effort {
    let channels = job.lines.channels.len();
    let floor_m = aim
        .floor_m
        .unwrap_or_else(|| 0.05 * median_reached(sums, aim));
    let mut least = base_effort(job, aim.idle, LEAST_LOG2);
    let wanted: Vec<Vec<f64>> = sums
        .blocks
        .iter()
        .flat_map(|block| (0..block.cells.len()).map(move |offset| (block, offset)))
        .map(|(block, offset)| {
            let index = block.first + offset;
            if aim.idle[index] {
                return Vec::new();
            }
            let range = offset * channels..(offset + 1) * channels;
            let numbers = &pilot.log2[index * channels..(index + 1) * channels];
            let squares = &block.channel_squares[range.clone()];
            let means = &block.by_channel[range];
            let variances = variances(means, squares, f64::from(sums.scramblings));
            let cell = &block.cells[offset];
            let scale = f64::from(sums.scramblings);
            let target = aim.accuracy * (cell.sum / scale).max(floor_m);
            let unseen = (cell.arrived == 0).then_some(aim.causes[index].open_thickness_m);
            lines_wanted(&variances, numbers, target, unseen)
        })
        .collect();
    let hardest: Vec<f64> = wanted
        .iter()
        .map(|row| row.iter().copied().fold(0.0, f64::max))
        .collect();
    let weights: Vec<f64> = aim
        .areas_m2
        .iter()
        .zip(aim.idle)
        .map(|(&a, &idle)| if idle { 0.0 } else { a })
        .collect();
    let cap = weighted_quantile(&hardest, &weights, 1.0 - HARDEST_AREA)
        .unwrap_or(1.0)
        .max(1.0);
    for (row, wanted) in least.log2.chunks_mut(channels.max(1)).zip(&wanted) {
        for (n, &lines) in row.iter_mut().zip(wanted) {
            *n = (*n).max(log2_at_least(lines.min(cap).min(FIRST_ROUND)));
        }
    }
    least
}

/// Lines per scrambling and channel for one receiver.
fn lines_wanted(variances: &[f64], pilot: &[u8], target: f64, unseen: Option<f64>) -> Vec<f64> {
    let scramblings = f64::from(SCRAMBLINGS);
    if let Some(open) = unseen {
        // Nothing seen: the error is one arrival among all lines.
        let lines = open / target / scramblings;
        return vec![if lines.is_finite() { lines } else { 0.0 }; variances.len()];
    }
    // V_c(n) = K_c n^-DECAY; least Σ n_c for Σ V_c = allowed gives n_c ∝ K_c^(1/(DECAY + 1)).
    let constants: Vec<f64> = variances
        .iter()
        .zip(pilot)
        .map(|(v, &n)| {
            v * CAUTION * 2.0_f64.powf(DECAY * f64::from(if n == Effort::NONE { 0 } else { n }))
        })
        .collect();
    let allowed = target * target * scramblings;
    let pull = 1.0 / (DECAY + 1.0);
    let total: f64 = constants.iter().map(|k| k.powf(pull)).sum();
    let factor = (total / allowed).powf(1.0 / DECAY);
    constants
        .iter()
        .map(|k| if *k > 0.0 { k.powf(pull) * factor } else { 0.0 })
        .collect()
}

/// Variance of one scrambling's estimate in each channel.
fn variances(sums: &[f64], squares: &[f64], scramblings: f64) -> Vec<f64> {
    sums.iter()
        .zip(squares)
        .map(|(s, q)| ((q - s * s / scramblings) / (scramblings - 1.0)).max(0.0))
        .collect()
}

/// Area-weighted median of the thickness where anything arrived, m.
pub(crate) fn median_reached(sums: &Sums, aim: &Aim) -> f64 {
    let scramblings = f64::from(sums.scramblings.max(1));
    let values: Vec<f64> = sums.cells().map(|c| c.sum / scramblings).collect();
    let weights: Vec<f64> = sums
        .cells()
        .zip(aim.areas_m2)
        .map(|(c, &area)| if c.arrived > 0 { area } else { 0.0 })
        .collect();
    weighted_quantile(&values, &weights, 0.5).unwrap_or(0.0)
}

/// Efforts for another round after one that fell short: receivers above the asked error draw more.
pub(crate) fn raise(effort: &Effort, sums: &Sums, aim: &Aim) -> Effort {
    let receivers: Vec<super::Sums> = super::tally::receivers_of(sums, aim.causes).collect();
    let floor_m = aim
        .floor_m
        .unwrap_or_else(|| super::tally::floor_of(&receivers, aim));
    let errors: Vec<f64> = receivers
        .iter()
        .map(|r| r.std_error_m / r.thickness_m.max(floor_m))
        .collect();
    let weights: Vec<f64> = aim
        .areas_m2
        .iter()
        .zip(aim.idle)
        .map(|(&a, &idle)| if idle { 0.0 } else { a })
        .collect();
    // The hardest few per cent of the area are left as they are: the asked accuracy is a 95th percentile.
    let hardest = weighted_quantile(&errors, &weights, 1.0 - HARDEST_AREA).unwrap_or(f64::INFINITY);
    let mut raised = effort.clone();
    let most = u8::try_from(TABLE_POINTS.trailing_zeros()).unwrap_or(0);
    let rows = raised.log2.chunks_mut(effort.channels.max(1));
    for ((row, &error), found) in rows.zip(&errors).zip(&receivers) {
        if error.is_nan() || error <= aim.accuracy || error > hardest {
            continue;
        }
        let ratio = error / aim.accuracy;
        let more = log2_at_least(if found.arrived == 0 {
            ratio // one arrival among all lines: falls as 1/n
        } else {
            (CAUTION * ratio * ratio).powf(1.0 / DECAY)
        });
        for n in row.iter_mut().filter(|n| **n != Effort::NONE) {
            *n = (*n + more).min(most.max(*n));
        }
    }
    raised
}

fn log2_at_least(lines: f64) -> u8 {
    let mut log2 = 0;
    while (1_usize << log2) < TABLE_POINTS && ((1_usize << log2) as f64) < lines {
        log2 += 1;
    }
    log2
}
