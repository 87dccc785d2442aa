//! The pilot: a short gather that settles how many lines every receiver draws, and is thrown away; beside scattered film it
//! is kept where it is good enough, all with the same few lines.
//!
//! In: sums of a pilot (or of a round that fell short). Out: [`Effort`]. The numbers never depend on
//! the run whose errors are reported, so errors stay true.

use super::causes::Causes;
use super::gather::{Effort, Job, Keep, SCRAMBLINGS, Sums};
use super::looks::Seen;
use super::order::Curve;
use crate::random::{TABLE_POINTS, Use};
use crate::scene::{Receiver, Scene, Side};
use crate::stats::weighted_quantile;
use glam::{DVec2, DVec3};
use rayon::prelude::*;

/// A pilot's lines per scrambling: in open time (over all channels, two each at least), and per channel while a
/// shutter over the source is shut.
const PILOT: [u16; 2] = [4, 1];

/// Least number of lines per scrambling in open time (over all channels) and per channel in shut time: keeps
/// the bound on what was not seen below 3/128.
const LEAST: [u16; 2] = [4, 1];

/// Most lines per scrambling in a first round: a pilot knows a variance to a factor of two at best, so
/// more is left to the round after, which knows it to a quarter.
const FIRST_ROUND: f64 = 64.0;

/// Most memory for what a pilot learns, bytes; but always what [`FEW_CHANNELS`] take.
const MOST_LEARNED: usize = 256 << 20;

/// Channels whose views are learned however many receivers there are: a tenth of what a receiver takes anyway.
const FEW_CHANNELS: usize = 4;

/// Assumed decay of the variance with the number of lines n, as n^-this: 1 for plain random numbers,
/// up to 3 for smooth integrands on scrambled nets (A. B. Owen, Ann. Stat. 25, 1541 (1997)). Measured on a
/// turning rippled body over a ring, 8 to 64 lines: 1.7 at the median facet, 1.6 at the 95th percentile.
const DECAY: f64 = 1.7;

/// Neighbours on either side that a receiver's effort is pooled with.
const POOL: usize = 4;

/// Weight of what a receiver itself wants among its neighbours: a pilot of 16 scramblings knows the variance
/// of one receiver to a third.
const OWN: f64 = 0.1;

/// Factor on estimated variances, since a pilot of few scramblings knows them roughly.
const CAUTION: f64 = 2.1;

/// Share of the area that may stay above the asked error without missing the 95th percentile.
const HARDEST_AREA: f64 = 0.04;

/// Receivers below which a share of the area means nothing.
const FEW: usize = 200;

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
    /// Receivers to which no line is drawn: these, and where some is scattered all that nothing comes to straight.
    pub unlit: &'a [bool],
    /// Causes of each receiver.
    pub causes: &'a [Causes],
    /// Film that is known otherwise.
    pub beside: Beside<'a>,
}

/// Film of each receiver that is known otherwise, m, and its standard error: the whole is asked to be known so well.
/// Empty where there is none.
#[derive(Clone, Copy, Default)]
pub(crate) struct Beside<'a> {
    pub film_m: &'a [f64],
    pub error_m: &'a [f64],
}

/// Least share of the error allowed that what is drawn may have, however well or badly the film beside it is known.
const LEAST_SHARE: f64 = 0.38;

impl Aim<'_> {
    /// What the error of a receiver's film is taken against, m.
    pub fn against_m(&self, receiver: usize, thickness_m: f64, floor_m: f64) -> f64 {
        let beside_m = self.beside.film_m.get(receiver).copied().unwrap_or(0.0);
        (thickness_m + beside_m).max(floor_m)
    }

    /// Standard error of all film of a receiver, m, from that of what is drawn.
    pub fn error_m(&self, receiver: usize, std_error_m: f64) -> f64 {
        std_error_m.hypot(self.beside_error_m(receiver))
    }

    /// Relative standard error that is left for what is drawn.
    fn allowed(&self, receiver: usize, against_m: f64) -> f64 {
        let beside_m = self.beside_error_m(receiver);
        if beside_m > 0.0 {
            let left = self.accuracy.powi(2) - (beside_m / against_m).powi(2);
            left.max(0.0).sqrt().max(LEAST_SHARE * self.accuracy)
        } else {
            self.accuracy
        }
    }

    fn beside_error_m(&self, receiver: usize) -> f64 {
        self.beside.error_m.get(receiver).copied().unwrap_or(0.0)
    }
}

/// Efforts for a pilot.
pub(crate) fn pilot_effort(job: &Job, idle: &[bool]) -> Effort {
    Effort {
        together: job.clusters(idle),
        ..base_effort(job, idle, (PILOT, 2))
    }
}

/// Efforts for a sketch: one line per scrambling and channel.
pub(crate) fn sketch_effort(job: &Job, idle: &[bool]) -> Effort {
    base_effort(job, idle, ([1, 1], 1))
}

/// The same efforts for all receivers: lines over all open channels and in each shut one, and the fewest in
/// an open one.
fn base_effort(job: &Job, idle: &[bool], ([open, shut], fewest): ([u16; 2], u16)) -> Effort {
    let channels = &job.lines.channels;
    let sharing = channels
        .iter()
        .filter(|channel| channel.open)
        .count()
        .max(1);
    let each = at_least(f64::from(open) / sharing as f64).max(fewest);
    let mut effort = Effort::even(idle.len(), channels.len(), 0);
    for (row, &idle) in effort.lines.chunks_mut(channels.len().max(1)).zip(idle) {
        if !idle {
            for (n, channel) in row.iter_mut().zip(channels) {
                *n = if channel.open { each } else { shut };
            }
        }
    }
    effort
}

/// Whether there is memory to learn the views of so many receivers in so many channels.
fn is_learnt(receivers: usize, channels: usize) -> bool {
    channels <= FEW_CHANNELS || receivers * channels * size_of::<Seen>() <= MOST_LEARNED
}

/// Runs a pilot.
pub(crate) fn run_pilot(job: &Job, idle: &[bool], rays: &mut u64) -> (Effort, Sums) {
    let pilot = Job {
        purpose: Use::Pilot,
        ..*job
    };
    let effort = pilot_effort(job, idle);
    let channels = job.lines.channels.len();
    let turning = job.lines.channels.iter().any(|c| c.motion.moving() == 1);
    let keep = if turning && is_learnt(idle.len(), channels) {
        Keep::SquaresAndSeen
    } else {
        Keep::Squares
    };
    let mut sums = Sums::new(idle.len(), channels, keep);
    *rays += pilot.scramblings(&effort, &mut sums);
    (effort, sums)
}

/// Settles efforts from the sums of a pilot.
///
/// The variance of a receiver is Σ_c V_c(n_c)/R over its channels; V is taken to fall as n^-[`DECAY`]
/// and lines are shared out so that the sum of lines is least for the variance asked.
pub(crate) fn settle(job: &Job, aim: &Aim, pilot: &Effort, sums: &Sums) -> Effort {
    let channels = job.lines.channels.len();
    let floor_m = aim
        .floor_m
        .unwrap_or_else(|| 0.05 * median_reached(sums, aim));
    let mut least = base_effort(job, aim.unlit, (LEAST, 1));
    least.together.clone_from(&pilot.together);
    least.seen = sums.blocks.iter().flat_map(|b| &b.seen).copied().collect();
    let wanted: Vec<Vec<f64>> = sums
        .blocks
        .par_iter()
        .flat_map_iter(|block| (0..block.cells.len()).map(move |offset| (block, offset)))
        .map(|(block, offset)| {
            let index = block.first + offset;
            if aim.unlit[index] {
                return Vec::new();
            }
            let range = offset * channels..(offset + 1) * channels;
            let numbers = &pilot.lines[index * channels..(index + 1) * channels];
            let squares = &block.channel_squares[range.clone()];
            let means = &block.by_channel[range];
            let cell = &block.cells[offset];
            let scale = f64::from(sums.scramblings);
            let mut variances = variances(means, squares, scale);
            if cell.blocked > 0 {
                // A spread of nothing may be luck: as if one scrambling in so many had found another line.
                let lines = f64::from(cell.arrived.max(1));
                for (variance, sum) in variances.iter_mut().zip(means) {
                    *variance = variance.max((sum / lines).powi(2) / (scale + 1.0));
                }
            }
            let against_m = aim.against_m(index, cell.sum / scale, floor_m);
            let target = aim.allowed(index, against_m) * against_m;
            if cell.arrived == 0 {
                // Nothing seen: the error is one arrival among all lines, and falls as 1/n.
                let single = cell.missed / f64::from(cell.blocked.max(1)) / scale;
                let more = if target > 0.0 { single / target } else { 0.0 };
                return numbers
                    .iter()
                    .map(|&n| more * f64::from(n) * scale / f64::from(SCRAMBLINGS))
                    .collect();
            }
            lines_wanted(&variances, numbers, target)
        })
        .collect();
    let mut wanted = pooled(job.lines.scene, job.receivers, &wanted);
    in_clusters(&pilot.together, &mut wanted);
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
    for (row, wanted) in least.lines.chunks_mut(channels.max(1)).zip(&wanted) {
        for (n, &lines) in row.iter_mut().zip(wanted) {
            *n = (*n).max(at_least(lines.min(cap).min(FIRST_ROUND)));
        }
    }
    least
}

/// Gives the receivers of a cluster what they want on average.
fn in_clusters(together: &[u8], wanted: &mut [Vec<f64>]) {
    for (first, &count) in together.iter().enumerate().filter(|(_, count)| **count > 1) {
        let members = &mut wanted[first..first + usize::from(count)];
        for channel in 0..members[0].len() {
            let sum: f64 = members.iter().map(|row| row[channel]).sum();
            let mean = sum / f64::from(count);
            members.iter_mut().for_each(|row| row[channel] = mean);
        }
    }
}

/// Mixes what each receiver wants with what those around it on the surface want (as logarithms): a pilot knows
/// single variances roughly, and neighbours that face alike see alike.
fn pooled(scene: &Scene, receivers: &[Receiver], wanted: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let order = neighbourly(scene, receivers);
    let mixed = |(place, &index): (usize, &usize)| {
        let around = place.saturating_sub(POOL)..(place + POOL + 1).min(order.len());
        let others = order[around].iter().map(|&other| &wanted[other]);
        let others: Vec<&Vec<f64>> = others.filter(|row| !row.is_empty()).collect();
        let count = others.len().max(1) as f64;
        let mean = |channel: usize| others.iter().map(|row| row[channel]).sum::<f64>() / count;
        let own = wanted[index].iter().enumerate();
        let row = own.map(|(channel, &lines)| lines.powf(OWN) * mean(channel).powf(1.0 - OWN));
        (index, row.collect())
    };
    let mixed: Vec<(usize, Vec<f64>)> = order.par_iter().enumerate().map(mixed).collect();
    let mut pooled = vec![Vec::new(); wanted.len()];
    for (index, row) in mixed {
        pooled[index] = row;
    }
    pooled
}

/// Receivers in an order in which neighbours on the surface are mostly near each other: by body and octant
/// of the normal, then along a curve.
pub(super) fn neighbourly(scene: &Scene, receivers: &[Receiver]) -> Vec<usize> {
    let flat: Vec<(DVec3, DVec3)> = receivers
        .par_iter()
        .map(|receiver| {
            let [a, b, c] = scene.bodies[receiver.body.0 as usize].corners(receiver.triangle);
            let at = |w: DVec2| a + (b - a) * w.x + (c - a) * w.y;
            let middle = receiver.corners.map(at).iter().sum::<DVec3>() / 3.0;
            let front = (b - a).cross(c - a);
            match receiver.side {
                Side::Front => (middle, front),
                Side::Back => (middle, -front),
            }
        })
        .collect();
    let curve = Curve::through(flat.iter().map(|(middle, _)| *middle));
    let mut keys: Vec<(u64, usize)> = receivers
        .iter()
        .zip(&flat)
        .enumerate()
        .map(|(index, (receiver, (middle, normal)))| {
            let octant = (0..3).fold(0, |bits, axis| bits << 1 | u64::from(normal[axis] > 0.0));
            let body = u64::from(receiver.body.0) & 0x3FFF_FFFF;
            (body << 33 | octant << 30 | curve.along(*middle), index)
        })
        .collect();
    keys.par_sort_unstable();
    keys.into_iter().map(|(_, index)| index).collect()
}

/// Lines per scrambling and channel for one receiver.
fn lines_wanted(variances: &[f64], pilot: &[u16], target: f64) -> Vec<f64> {
    let scramblings = f64::from(SCRAMBLINGS);
    // V_c(n) = K_c n^-DECAY; least Σ n_c for Σ V_c = allowed gives n_c ∝ K_c^(1/(DECAY + 1)).
    let constants: Vec<f64> = variances
        .iter()
        .zip(pilot)
        .map(|(v, &n)| v * CAUTION * f64::from(n).powf(DECAY))
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
    let against_m: Vec<f64> = receivers
        .iter()
        .enumerate()
        .map(|(index, r)| aim.against_m(index, r.thickness_m, floor_m))
        .collect();
    // where the film beside it is not known well enough, more lines would be in vain
    let is_vain =
        |index: usize, against_m: f64| aim.beside_error_m(index) > aim.accuracy * against_m;
    let errors: Vec<f64> = receivers
        .iter()
        .zip(&against_m)
        .enumerate()
        .map(|(index, (r, &against_m))| {
            if is_vain(index, against_m) {
                f64::INFINITY
            } else {
                aim.error_m(index, r.std_error_m) / against_m
            }
        })
        .collect();
    let weights: Vec<f64> = aim
        .areas_m2
        .iter()
        .zip(aim.idle)
        .map(|(&a, &idle)| if idle { 0.0 } else { a })
        .collect();
    // The hardest few per cent of the area are left as they are: the asked accuracy is a 95th percentile.
    // Of a few points none is left out.
    let hardest = if errors.len() < FEW {
        f64::INFINITY
    } else {
        weighted_quantile(&errors, &weights, 1.0 - HARDEST_AREA).unwrap_or(f64::INFINITY)
    };
    let mut raised = effort.clone();
    let rows = raised.lines.chunks_mut(effort.channels.max(1));
    for (index, (row, found)) in rows.zip(&receivers).enumerate() {
        let error = errors[index];
        if error.is_nan() || error <= aim.accuracy || error > hardest {
            continue;
        }
        let own = found.std_error_m / against_m[index];
        let ratio = own / aim.allowed(index, against_m[index]);
        if ratio <= 1.0 || is_vain(index, against_m[index]) {
            continue;
        }
        let more = if found.arrived == 0 {
            ratio // one arrival among all lines: falls as 1/n
        } else {
            (CAUTION * ratio * ratio).powf(1.0 / DECAY)
        };
        for n in row.iter_mut().filter(|n| **n > 0) {
            *n = (*n).max(at_least(f64::from(*n) * more));
        }
    }
    raised.level();
    raised
}

/// The least of 1, 2, 3, 4, 6, 8, 12 … up to a whole table that is no less: points of a Sobol table are
/// evenly spread at powers of two, and nearly so half way.
fn at_least(lines: f64) -> u16 {
    let most = u16::try_from(TABLE_POINTS).unwrap_or(u16::MAX);
    let (mut n, mut next) = (1, 2);
    while n < most && f64::from(n) < lines {
        (n, next) = (next, if n == 1 { 3 } else { 2 * n });
    }
    n
}

#[cfg(test)]
mod tests {
    use super::is_learnt;

    #[test]
    fn views_are_learnt_however_many_receivers_there_are_unless_each_has_many_channels() {
        for receivers in [60_000, 1_000_000, 10_000_000, 100_000_000] {
            assert!((1..=4).all(|channels| is_learnt(receivers, channels)));
        }
        assert!(is_learnt(60_000, 100) && is_learnt(1_000_000, 7));
        assert!(!is_learnt(1_000_000, 100) && !is_learnt(10_000_000, 5));
    }
}
