//! Gather: every receiver looks back at the footprints along low-discrepancy lines.
//!
//! In: [`Lines`] and receivers. Out: mean and spread over independent scramblings for each receiver,
//! row and part. First arrivals only; with sticking 1 and no gas that is all there is.
//!
//! Scramblings run one after another and only running sums are kept. Every receiver, or cluster of receivers
//! ([`super::cluster`]), has random shifts of its own, so nothing depends on how receivers are spread over threads.

mod pass;

use super::cluster;
use super::lines::{Lines, Target};
use super::looks::Seen;
use super::order;
use crate::random::{Table, Use};
use crate::scene::Receiver;
use pass::Pass;
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

/// Cosine of the angle up to which receivers of a cluster face alike, 8°.
const ALIKE: f64 = 0.99;

/// Distance between receivers of a cluster over that to the footprint: they see it alike.
const BESIDE: f64 = 0.02;

/// Receivers per unit of parallel work.
pub(super) const CHUNK: usize = 64;

/// Units that a thread takes at a time: left to itself rayon gives each of two threads an eighth of all, so that one
/// of them is idle at the end for as long.
pub(super) const TAKEN: usize = 8;

/// Running sums of one receiver. Lengths are film thickness (m) unless said otherwise.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Cell {
    /// Estimates of the last scramblings; 0 beyond as many as there were.
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
    /// Number of receivers of the cluster that begins with each ([`Job::clusters`]), 0 for its others, which draw as
    /// many lines; empty where each draws lines of its own.
    pub together: Vec<u8>,
}

impl Effort {
    /// The same number everywhere.
    pub fn even(receivers: usize, channels: usize, lines: u16) -> Self {
        Self {
            lines: vec![lines; receivers * channels],
            channels,
            seen: Vec::new(),
            together: Vec::new(),
        }
    }

    /// Makes the receivers of a cluster draw as many lines as the one among them that draws most.
    pub fn level(&mut self) {
        let channels = self.channels;
        for first in 0..self.together.len() {
            let count = usize::from(self.together[first]);
            if count < 2 {
                continue;
            }
            let rows = &mut self.lines[first * channels..(first + count) * channels];
            for channel in 0..channels {
                let all = rows.iter_mut().skip(channel).step_by(channels);
                let most = all.map(|lines| *lines).max().unwrap_or(0);
                let all = rows.iter_mut().skip(channel).step_by(channels);
                all.for_each(|lines| *lines = most);
            }
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
    /// How many a pass adds, [`STRIDE`] at most.
    pub many: u32,
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
            many: STRIDE,
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
    /// Numbers of receivers of the clusters that begin with each, 0 for a cluster's others: runs of receivers that lie
    /// side by side, face alike and are lit all over.
    ///
    /// - `idle`: those of which nothing is asked, which are in no cluster
    pub fn clusters(&self, idle: &[bool]) -> Vec<u8> {
        let number = self.lines.channels.iter().position(|channel| channel.open);
        let configuration = number.map(|number| self.lines.channels[number].configuration);
        let number = number.unwrap_or(0);
        let target = |index: usize| {
            let receiver = &self.receivers[index];
            let whole = receiver.lit == crate::scene::covered::ALL_LIT && !idle[index];
            configuration
                .filter(|_| whole)
                .and_then(|configuration| self.lines.target(receiver, configuration))
        };
        let mut together = vec![1_u8; self.receivers.len()];
        together
            .par_chunks_mut(CHUNK)
            .enumerate()
            .for_each(|(chunk, together)| {
                let mut begun: Option<(usize, Target)> = None;
                for offset in 0..together.len() {
                    let index = chunk * CHUNK + offset;
                    let found = target(index);
                    let (Some(here), Some((first, there))) = (&found, &begun) else {
                        begun = found.map(|target| (offset, target));
                        continue;
                    };
                    let count = offset - first;
                    let same = |of: fn(&Receiver) -> (u32, crate::scene::Side)| {
                        of(&self.receivers[index]) == of(&self.receivers[index - count])
                    };
                    // Pieces of a triangle make up one row, whose mean is better known from lines of their own.
                    let pieces =
                        self.receivers[index].triangle == self.receivers[index - 1].triangle;
                    let joins = count < cluster::MOST
                        && !pieces
                        && same(|receiver| (receiver.body.0, receiver.side))
                        && here.normal().dot(there.normal()) > ALIKE
                        && here.is_like(there)
                        && here.distance_m(there) <= BESIDE * self.lines.nearest_m(number, there);
                    if joins {
                        together[*first] += 1;
                        together[offset] = 0;
                    } else {
                        begun = found.map(|target| (offset, target));
                    }
                }
                // too few draw lines of their own
                for offset in 0..together.len() {
                    let count = usize::from(together[offset]);
                    if (2..cluster::FEWEST).contains(&count) {
                        together[offset..offset + count].fill(1);
                    }
                }
            });
        together
    }

    /// Number of a scrambling of this round among all rounds.
    fn number(&self, scrambling: u32) -> u32 {
        u32::from(self.round) << 16 | scrambling
    }

    /// Runs the next scramblings, as many as the sums say, and adds them; returns the number of lines drawn.
    pub fn scramblings(&self, effort: &Effort, sums: &mut Sums) -> u64 {
        self.scramblings_until(effort, sums, &|| false).unwrap_or(0)
    }

    /// The same, but gives up when `stop` says so: then none, and the sums are no longer of use.
    pub fn scramblings_until(&self, effort: &Effort, sums: &mut Sums, stop: Stop) -> Option<u64> {
        let points = usize::from(effort.most()).next_power_of_two();
        let (first, many) = (sums.scramblings, sums.many.min(STRIDE));
        let pass = Pass {
            job: self,
            effort,
            first,
            tables: (first..first + many)
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
        sums.scramblings += many;
        let blocks = sums.blocks.iter_mut().collect();
        let of = (self.lines.scene, self.receivers);
        order::side_by_side(blocks, |block: &&mut Block| block.first, of)
            .into_par_iter()
            .with_max_len(TAKEN)
            .map(|block| (!stop()).then(|| pass.block(block)))
            .sum()
    }
}

impl Cell {
    /// Adds the estimates of a pass, by channel and scrambling, m.
    fn add<'a>(&mut self, found: impl Iterator<Item = &'a [f64; STRIDE as usize]> + Clone) {
        for (scrambling, last) in self.last.iter_mut().enumerate() {
            *last = found.clone().map(|found| found[scrambling]).sum();
            self.sum += *last;
            self.squares += *last * *last;
        }
    }
}
