//! Gather: every receiver looks back at the footprints along low-discrepancy lines.
//!
//! In: [`Lines`] and receivers. Out: mean and spread over independent scramblings for each receiver,
//! row and part. First arrivals only; with sticking 1 and no gas that is all there is.
//!
//! Scramblings run one after another and only running sums are kept. Every receiver has random
//! shifts of its own, so nothing depends on how receivers are spread over threads.

use super::lines::{Channel, Line, Lines, Share, Target};
use crate::random::{Shift, Table, Use};
use crate::scene::Receiver;
use rayon::prelude::*;

/// Number of independent scramblings from whose spread the standard error comes.
pub(crate) const SCRAMBLINGS: u32 = 32;

/// Every so many scramblings the causes of blocked lines are looked up.
const CAUSES_EVERY: u32 = 4;

/// Receivers per unit of parallel work.
const CHUNK: usize = 256;

/// Running sums of one receiver. Lengths are film thickness (m) unless said otherwise.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Cell {
    /// Estimate of the last scrambling.
    pub last: f64,
    /// Sum over scramblings.
    pub sum: f64,
    /// Sum of squares.
    pub squares: f64,
    /// Sum of thickness × incidence angle (rad).
    pub angle: f64,
    /// Sum of thickness with nothing in the way, facing the footprint, open time only.
    pub open: f64,
    /// Sum of clear lines weighted by emission, open time only (dimensionless).
    pub visible: f64,
    /// Open flux by who takes it (order of [`Share`]), scramblings with causes only.
    pub shares: [f64; 6],
    /// Lines drawn.
    pub samples: u32,
    /// Lines that arrived.
    pub arrived: u32,
}

/// How many lines each receiver draws per scrambling and channel: powers of two, `[receiver][channel]`.
#[derive(Debug, Clone)]
pub(crate) struct Effort {
    /// log2 of the number of lines; [`Effort::NONE`] for none.
    pub log2: Vec<u8>,
    /// Channels per receiver.
    pub channels: usize,
}

impl Effort {
    /// No lines at all.
    pub const NONE: u8 = u8::MAX;

    /// The same number everywhere.
    pub fn even(receivers: usize, channels: usize, log2: u8) -> Self {
        Self {
            log2: vec![log2; receivers * channels],
            channels,
        }
    }

    /// log2 of the largest number of lines.
    pub fn largest_log2(&self) -> u8 {
        self.log2
            .iter()
            .copied()
            .filter(|&n| n != Self::NONE)
            .max()
            .unwrap_or(0)
    }

    /// Lines per scrambling, all receivers and channels.
    pub fn lines(&self) -> u64 {
        self.log2
            .iter()
            .filter(|&&n| n != Self::NONE)
            .map(|&n| 1_u64 << n)
            .sum()
    }
}

/// What is to be gathered.
pub(crate) struct Job<'a> {
    pub lines: &'a Lines<'a>,
    pub receivers: &'a [Receiver],
    pub seed: u64,
    pub purpose: Use,
}

/// Running sums of all receivers, in blocks that are worked on in parallel.
pub(crate) struct Sums {
    /// Blocks in receiver order.
    pub blocks: Vec<Block>,
    /// Scramblings done.
    pub scramblings: u32,
}

/// Running sums of up to [`CHUNK`] receivers.
pub(crate) struct Block {
    /// Number of the first receiver.
    pub first: usize,
    /// Per receiver.
    pub cells: Vec<Cell>,
    /// Thickness sums per receiver and channel, m; empty where a single channel needs none.
    pub by_channel: Vec<f64>,
    /// Squares of the estimates per receiver and channel; kept by pilots only.
    pub channel_squares: Vec<f64>,
}

/// Whether squares per channel are kept (a pilot needs them to settle efforts).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Keep {
    Means,
    ChannelSquares,
}

impl Sums {
    /// Empty sums.
    pub fn new(receivers: usize, channels: usize, keep: Keep) -> Self {
        let blocks = (0..receivers)
            .step_by(CHUNK)
            .map(|first| {
                let count = CHUNK.min(receivers - first);
                let (sums, squares) = match keep {
                    Keep::Means if channels == 1 => (0, 0),
                    Keep::Means => (count * channels, 0),
                    Keep::ChannelSquares => (count * channels, count * channels),
                };
                Block {
                    first,
                    cells: vec![Cell::default(); count],
                    by_channel: vec![0.0; sums],
                    channel_squares: vec![0.0; squares],
                }
            })
            .collect();
        Self {
            blocks,
            scramblings: 0,
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
    /// Runs one scrambling and adds it to the sums; returns the number of rays traced.
    pub fn scrambling(&self, effort: &Effort, sums: &mut Sums) -> u64 {
        let number = sums.scramblings;
        let points = 1_usize << effort.largest_log2();
        let table = Table::new(self.seed, self.purpose, u64::from(number), points);
        let channels = self.lines.channels.len();
        let rays = sums
            .blocks
            .par_iter_mut()
            .map(|block| {
                let mut rays = 0;
                let mut found = vec![0.0; channels];
                for (offset, cell) in block.cells.iter_mut().enumerate() {
                    let index = block.first + offset;
                    rays += self.receiver(&table, number, index, effort, (cell, &mut found));
                    let range = offset * channels..(offset + 1) * channels;
                    if !block.by_channel.is_empty() {
                        add(&mut block.by_channel[range.clone()], &found, |x| x);
                    }
                    if !block.channel_squares.is_empty() {
                        add(&mut block.channel_squares[range], &found, |x| x * x);
                    }
                }
                rays
            })
            .sum();
        sums.scramblings += 1;
        rays
    }

    /// One receiver in one scrambling; fills the estimates per channel.
    fn receiver(
        &self,
        table: &Table,
        number: u32,
        index: usize,
        effort: &Effort,
        (cell, found): (&mut Cell, &mut [f64]),
    ) -> u64 {
        let receiver = &self.receivers[index];
        let mut total = 0.0;
        let mut rays = 0;
        let mut target: Option<(usize, Option<Target>)> = None;
        let open_atoms: f64 = self
            .lines
            .channels
            .iter()
            .filter(|c| c.open)
            .map(|c| c.atoms)
            .sum();
        for (number_of_channel, channel) in self.lines.channels.iter().enumerate() {
            found[number_of_channel] = 0.0;
            let log2 = effort.log2[index * effort.channels + number_of_channel];
            if log2 == Effort::NONE {
                continue;
            }
            if target.is_none_or(|(configuration, _)| configuration != channel.configuration) {
                let lying = self.lines.target(receiver, channel.configuration);
                target = Some((channel.configuration, lying));
            }
            let Some((_, Some(lying))) = target else {
                continue;
            };
            let count = 1_usize << log2;
            let shift = Shift::new(
                self.seed,
                self.purpose,
                number,
                index as u64,
                u32::try_from(number_of_channel).unwrap_or(u32::MAX),
            );
            let per_line = channel.atoms * channel.atom_volume_m3 / count as f64;
            let weight = Weight {
                thickness: per_line,
                visible: if channel.open {
                    channel.atoms / open_atoms / count as f64
                } else {
                    0.0
                },
                causes: number.is_multiple_of(CAUSES_EVERY),
            };
            let before = total;
            for sample in 0..count {
                let line = self
                    .lines
                    .line(channel, &lying, table.point(sample, &shift));
                total += self.score(channel, &lying, &line, &weight, cell);
            }
            found[number_of_channel] = total - before;
            cell.samples = cell.samples.saturating_add(1 << log2);
            rays += 1 << log2;
        }
        cell.last = total;
        cell.sum += total;
        cell.squares += total * total;
        rays
    }

    /// Adds one line to a cell; returns its thickness.
    #[inline]
    fn score(
        &self,
        channel: &Channel,
        target: &Target,
        line: &Line,
        weight: &Weight,
        cell: &mut Cell,
    ) -> f64 {
        if line.open <= 0.0 {
            return 0.0;
        }
        let open = line.open * weight.thickness;
        let arrives = if line.clear { open * line.cosine } else { 0.0 };
        if line.clear {
            cell.arrived = cell.arrived.saturating_add(1);
            cell.angle += arrives * line.cosine.min(1.0).acos();
        }
        if channel.open {
            cell.open += open;
            if line.clear {
                cell.visible += weight.visible;
            }
            if weight.causes {
                let facing = line.cosine.clamp(0.0, 1.0);
                cell.shares[Share::Facing as usize] += open * (1.0 - facing);
                if facing > 0.0 {
                    let share = if line.clear {
                        Share::Direct
                    } else {
                        self.lines.blocker(channel, target, line)
                    };
                    cell.shares[share as usize] += open * facing;
                }
            }
        }
        arrives
    }
}

/// What one line counts for.
struct Weight {
    thickness: f64,
    visible: f64,
    causes: bool,
}

fn add(sums: &mut [f64], values: &[f64], of: impl Fn(f64) -> f64) {
    for (sum, &value) in sums.iter_mut().zip(values) {
        *sum += of(value);
    }
}
