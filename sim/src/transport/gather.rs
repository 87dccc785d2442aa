//! Gather: every receiver looks back at the footprints along low-discrepancy lines.
//!
//! In: [`Lines`] and receivers. Out: mean and spread over independent scramblings for each receiver,
//! row and part. First arrivals only; with sticking 1 and no gas that is all there is.
//!
//! Scramblings run one after another and only running sums are kept. Every receiver has random
//! shifts of its own, so nothing depends on how receivers are spread over threads.

use super::aimed::Aimed;
use super::bundle::{Batch, Bundle, Tallied};
use super::lines::{Lines, Target};
use super::looks::{Looks, Seen};
use crate::random::{Shift, Table, Use};
use crate::scene::Receiver;
use rayon::prelude::*;

/// Number of independent scramblings from whose spread the standard error comes.
pub(crate) const SCRAMBLINGS: u32 = 32;

/// Scramblings worked through in one go: a receiver is prepared once for so many.
pub(crate) const STRIDE: u32 = 16;

/// Lines of a bundle from which on a proof that it is clear costs less than it may save.
const WORTH: u32 = 16;

/// Neighbours on either side whose views are pooled.
const AROUND: usize = 4;

/// Every so many receivers a failed proof is tried again.
const RETRIED: usize = 8;

/// Receivers per unit of parallel work.
const CHUNK: usize = 64;

/// Running sums of one receiver. Lengths are film thickness (m) unless said otherwise.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Cell {
    /// Estimates of the last scramblings.
    pub last: [f64; STRIDE as usize],
    /// Sum over scramblings.
    pub sum: f64,
    /// Sum of squares.
    pub squares: f64,
    /// Sum of thickness × incidence angle (rad).
    pub angle: f64,
    /// Sum of clear lines weighted by emission, open time only (dimensionless).
    pub visible: f64,
    /// Lines drawn.
    pub samples: u32,
    /// Lines that arrived.
    pub arrived: u32,
    /// Lines that something stood in the way of.
    pub blocked: u32,
    /// Some that arrived were not proved to be clear beforehand.
    pub looked: bool,
    /// The receiver is a point: no area evens out what its lines miss.
    pub is_point: bool,
    /// What those blocked would have brought, summed over scramblings like `sum`.
    pub missed: f64,
}

/// How many lines each receiver draws per scrambling and channel.
#[derive(Debug, Clone)]
pub(crate) struct Effort {
    /// `[receiver][channel]`, at most [`crate::random::TABLE_POINTS`].
    pub lines: Vec<u16>,
    /// Channels per receiver.
    pub channels: usize,
    /// What a pilot saw, `[receiver][channel]`; empty where there is nothing to learn.
    pub seen: Vec<Seen>,
}

impl Effort {
    /// The same number everywhere.
    pub fn even(receivers: usize, channels: usize, lines: u16) -> Self {
        Self {
            lines: vec![lines; receivers * channels],
            channels,
            seen: Vec::new(),
        }
    }

    /// The largest number of lines.
    pub fn most(&self) -> u16 {
        self.lines.iter().copied().max().unwrap_or(0)
    }

    /// Lines per scrambling, all receivers and channels.
    pub fn sum(&self) -> u64 {
        self.lines.iter().map(|&n| u64::from(n)).sum()
    }
}

/// Asked between blocks of receivers: true ends the pass at once and leaves its sums useless.
pub(crate) type Stop<'a> = &'a (dyn Fn() -> bool + Sync);

/// What is to be gathered.
#[derive(Clone, Copy)]
pub(crate) struct Job<'a> {
    pub lines: &'a Lines<'a>,
    pub receivers: &'a [Receiver],
    pub seed: u64,
    pub purpose: Use,
    /// Each round has scramblings of its own: efforts that follow from one would otherwise be settled by the
    /// very lines whose mean they enter, which biases it.
    pub round: u16,
}

/// Running sums of all receivers, in blocks that are worked on in parallel.
#[derive(Clone)]
pub(crate) struct Sums {
    /// Blocks in receiver order.
    pub blocks: Vec<Block>,
    /// Scramblings done.
    pub scramblings: u32,
}

/// Running sums of up to [`CHUNK`] receivers.
#[derive(Clone)]
pub(crate) struct Block {
    /// Number of the first receiver.
    pub first: usize,
    /// Per receiver.
    pub cells: Vec<Cell>,
    /// Thickness sums per receiver and channel, m; empty where a single channel needs none.
    pub by_channel: Vec<f64>,
    /// Squares of the estimates per receiver and channel; kept by pilots only.
    pub channel_squares: Vec<f64>,
    /// What was seen per receiver and channel; kept by pilots that are to learn.
    pub seen: Vec<Seen>,
}

/// What is kept beyond means: a pilot needs squares per channel to settle efforts, and learns where
/// receivers see the footprints if that is to be had.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Keep {
    Means,
    Squares,
    SquaresAndSeen,
}

impl Sums {
    /// Empty sums.
    pub fn new(receivers: usize, channels: usize, keep: Keep) -> Self {
        let blocks = (0..receivers)
            .step_by(CHUNK)
            .map(|first| {
                let count = CHUNK.min(receivers - first);
                let all = count * channels;
                let (sums, squares, seen) = match keep {
                    Keep::Means if channels == 1 => (0, 0, 0),
                    Keep::Means => (all, 0, 0),
                    Keep::Squares => (all, all, 0),
                    Keep::SquaresAndSeen => (all, all, all),
                };
                Block {
                    first,
                    cells: vec![Cell::default(); count],
                    by_channel: vec![0.0; sums],
                    channel_squares: vec![0.0; squares],
                    seen: vec![Seen::default(); seen],
                }
            })
            .collect();
        Self {
            blocks,
            scramblings: 0,
        }
    }

    /// Gives a receiver the sums of another.
    pub fn copy(&mut self, from: usize, to: usize, channels: usize) {
        let cell = self.blocks[from / CHUNK].cells[from % CHUNK];
        self.blocks[to / CHUNK].cells[to % CHUNK] = cell;
        for channel in 0..channels {
            let at = |receiver: usize| (receiver / CHUNK, receiver % CHUNK * channels + channel);
            let (block, place) = at(from);
            if let Some(&sum) = self.blocks[block].by_channel.get(place) {
                let (block, place) = at(to);
                self.blocks[block].by_channel[place] = sum;
            }
        }
    }

    /// Cells in receiver order.
    pub fn cells(&self) -> impl Iterator<Item = &Cell> {
        self.blocks.iter().flat_map(|block| &block.cells)
    }

    /// Sum of one receiver in one channel, m.
    pub fn channel_sum(&self, receiver: usize, channel: usize, channels: usize) -> f64 {
        let block = &self.blocks[receiver / CHUNK];
        let offset = receiver - block.first;
        if block.by_channel.is_empty() {
            block.cells[offset].sum
        } else {
            block.by_channel[offset * channels + channel]
        }
    }
}

impl Job<'_> {
    /// Number of a scrambling of this round among all rounds.
    fn number(&self, scrambling: u32) -> u32 {
        u32::from(self.round) << 16 | scrambling
    }

    /// Runs the next [`STRIDE`] scramblings and adds them to the sums; returns the number of lines drawn.
    pub fn scramblings(&self, effort: &Effort, sums: &mut Sums) -> u64 {
        self.scramblings_until(effort, sums, &|| false).unwrap_or(0)
    }

    /// The same, but gives up when `stop` says so: then none, and the sums are no longer of use.
    pub fn scramblings_until(&self, effort: &Effort, sums: &mut Sums, stop: Stop) -> Option<u64> {
        let points = usize::from(effort.most()).next_power_of_two();
        let first = sums.scramblings;
        let pass = Pass {
            job: self,
            effort,
            first,
            tables: (first..first + STRIDE)
                .map(|number| {
                    let number = u64::from(self.number(number));
                    Table::new(self.seed, self.purpose, number, points)
                })
                .collect(),
            open_atoms: self
                .lines
                .channels
                .iter()
                .filter(|c| c.open)
                .map(|c| c.atoms)
                .sum(),
        };
        sums.scramblings += STRIDE;
        sums.blocks
            .par_iter_mut()
            .map(|block| (!stop()).then(|| pass.block(block)))
            .sum()
    }
}

/// Some scramblings under way.
struct Pass<'a> {
    job: &'a Job<'a>,
    effort: &'a Effort,
    first: u32,
    tables: Vec<Table>,
    /// Real atoms of all open channels.
    open_atoms: f64,
}

impl Pass<'_> {
    fn block(&self, block: &mut Block) -> u64 {
        let channels = self.job.lines.channels.len();
        let mut drawn = 0;
        let mut found = vec![[0.0; STRIDE as usize]; channels];
        let mut batch = Batch::default();
        let mut looks = vec![Looks::NONE; block.cells.len() * channels];
        for (offset, cell) in block.cells.iter_mut().enumerate() {
            let range = offset * channels..(offset + 1) * channels;
            let looks = &mut looks[range.clone()];
            let index = block.first + offset;
            drawn += self.receiver(index, cell, (&mut found, looks), &mut batch);
            if !block.by_channel.is_empty() {
                add(&mut block.by_channel[range.clone()], &found, |x| x);
            }
            if !block.channel_squares.is_empty() {
                add(&mut block.channel_squares[range], &found, |x| x * x);
            }
        }
        if !block.seen.is_empty() {
            for channel in 0..channels {
                self.learn(block, channel, &looks);
            }
        }
        drawn
    }

    /// Settles what the pilot learned of the views of receivers in one channel.
    ///
    /// A receiver sees much what its neighbours in the mesh's order see, if they face alike and are near: their
    /// lines count with its own.
    fn learn(&self, block: &mut Block, channel: usize, looks: &[Looks]) {
        let (lines, channels) = (self.job.lines, self.job.lines.channels.len());
        let configuration = lines.channels[channel].configuration;
        let receivers = &self.job.receivers[block.first..block.first + block.cells.len()];
        let targets: Vec<Option<Target>> = receivers
            .iter()
            .map(|receiver| lines.target(receiver, configuration))
            .collect();
        // Where the proof failed for the last few, it is not tried for one that is much like them.
        let mut failed = 0_u32;
        for (offset, target) in targets.iter().enumerate() {
            let Some(target) = target else { continue };
            let before = offset.checked_sub(1).and_then(|last| targets[last]);
            if offset % RETRIED == 0 || !before.is_some_and(|before| before.is_like(target)) {
                failed = 0;
            }
            let place = (block.first + offset) * channels + channel;
            let window = lines.window(channel, target, None);
            if self.effort.lines[place] == 0 || !window.has_pieces() {
                continue;
            }
            let around = offset.saturating_sub(AROUND)..(offset + AROUND + 1).min(targets.len());
            let pooled = around
                .filter(|&other| targets[other].is_some_and(|other| other.is_like(target)))
                .map(|other| &looks[other * channels + channel])
                .fold(Looks::NONE, Looks::plus);
            let mut clear = 0;
            for bin in window.pieces().filter(|&bin| !pooled.blocked(bin)) {
                if failed >> bin & 1 == 0 {
                    let proved = lines.is_clear(channel, target, bin);
                    clear |= u32::from(proved) << bin;
                    failed |= u32::from(!proved) << bin;
                }
            }
            block.seen[offset * channels + channel] = Seen {
                uneven: pooled.uneven(),
                clear,
            };
        }
    }

    /// One receiver; fills the estimates per channel and scrambling, and what was seen per channel.
    fn receiver(
        &self,
        index: usize,
        cell: &mut Cell,
        (found, looks): (&mut [[f64; STRIDE as usize]], &mut [Looks]),
        batch: &mut Batch,
    ) -> u64 {
        let lines = self.job.lines;
        let mut drawn = 0;
        let mut lying: Option<(usize, Option<Target>)> = None;
        for (number, (channel, found)) in lines.channels.iter().zip(&mut *found).enumerate() {
            *found = [0.0; STRIDE as usize];
            let count = u32::from(self.effort.lines[index * self.effort.channels + number]);
            if count == 0 {
                continue;
            }
            if lying.is_none_or(|(configuration, _)| configuration != channel.configuration) {
                let target = lines.target(&self.job.receivers[index], channel.configuration);
                lying = Some((channel.configuration, target));
            }
            let Some((_, Some(target))) = lying else {
                continue;
            };
            let lit = self.job.receivers[index].lit;
            if lit == 0 {
                continue; // proved dark
            }
            cell.is_point = target.is_point();
            cell.samples = cell.samples.saturating_add(STRIDE * count);
            let place = index * self.effort.channels + number;
            let learned = self.effort.seen.get(place);
            let window = lines.window(number, &target, learned);
            if window.is_shut() {
                continue; // nothing can arrive: as good as all lines drawn
            }
            let clear = match learned {
                Some(learned) => learned.clear,
                None if window.has_pieces() => 0,
                None => u32::from(STRIDE * count >= WORTH && lines.is_clear(number, &target, 0)),
            };
            let aimed = Aimed::at(lit);
            let share = aimed.share();
            let bundle = Bundle {
                lines,
                channel,
                target,
                window,
                clear,
                aimed,
                thickness: share * channel.atoms * channel.atom_volume_m3 * lines.sticking(&target)
                    / f64::from(count),
                visible: if channel.open {
                    share * channel.atoms / self.open_atoms / f64::from(count)
                } else {
                    0.0
                },
            };
            let place = (index as u64, u32::try_from(number).unwrap_or(u32::MAX));
            let mut tallied = Tallied {
                cell: &mut *cell,
                found,
                looks: Looks::NONE,
            };
            for ((table, scrambling), within) in self.tables.iter().zip(self.first..).zip(0..) {
                let number = self.job.number(scrambling);
                let shift = Shift::new(self.job.seed, self.job.purpose, number, place);
                for sample in 0..count as usize {
                    bundle.draw(table.point(sample, &shift), within, batch, &mut tallied);
                }
            }
            bundle.judge(batch, &mut tallied);
            looks[number] = tallied.looks;
            drawn += u64::from(STRIDE * count);
        }
        for (scrambling, last) in cell.last.iter_mut().enumerate() {
            *last = found.iter().map(|found| found[scrambling]).sum();
            cell.sum += *last;
            cell.squares += *last * *last;
        }
        drawn
    }
}

fn add(sums: &mut [f64], values: &[[f64; STRIDE as usize]], of: impl Fn(f64) -> f64) {
    for (sum, values) in sums.iter_mut().zip(values) {
        *sum += values.iter().map(|&value| of(value)).sum::<f64>();
    }
}
