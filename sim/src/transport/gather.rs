//! Gather: every receiver looks back at the footprints along low-discrepancy lines.
//!
//! In: [`Lines`] and receivers. Out: mean and spread over independent scramblings for each receiver,
//! row and part. First arrivals only; with sticking 1 and no gas that is all there is.
//!
//! Scramblings run one after another and only running sums are kept. Every receiver, or cluster of receivers
//! ([`super::cluster`]), has random shifts of its own, so nothing depends on how receivers are spread over threads.

use super::aimed::Aimed;
use super::bundle::{Batch, Bundle, Tallied};
use super::cluster::{self, Cluster, Common, Waiting};
use super::lines::{Lines, Target};
use super::looks::{Looks, Seen};
use super::window::Window;
use crate::random::{DIMENSIONS, Shift, Table, Use};
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

/// Units that a thread takes at a time: left to itself rayon gives each of two threads an eighth of all, so that one
/// of them is idle at the end for as long.
const TAKEN: usize = 8;

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
    /// Numbers of receivers of the clusters that begin with each, 0 for a cluster's others: runs of receivers that lie
    /// side by side, face alike and are lit all over.
    ///
    /// - `idle`: those of which nothing is asked, which are in no cluster
    pub fn clusters(&self, idle: &[bool]) -> Vec<u8> {
        let open = self.lines.channels.iter().find(|channel| channel.open);
        let configuration = open.map(|channel| channel.configuration);
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
                    let joins = count < cluster::MOST
                        && same(|receiver| (receiver.body.0, receiver.side))
                        && here.is_like(there);
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
            .with_max_len(TAKEN)
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
        let mut room = Room {
            found: vec![[[0.0; STRIDE as usize]; cluster::MOST]; channels],
            batch: Batch::default(),
            waiting: Waiting::default(),
        };
        let mut looks = vec![Looks::NONE; block.cells.len() * channels];
        let mut offset = 0;
        while offset < block.cells.len() {
            let index = block.first + offset;
            let count = self.effort.together.get(index).map_or(1, |&n| n.max(1));
            let members = offset..offset + usize::from(count);
            let all = members.start * channels..members.end * channels;
            let cells = &mut block.cells[members.clone()];
            drawn += self.receivers(index, cells, &mut looks[all], &mut room);
            for (member, offset) in members.clone().enumerate() {
                let range = offset * channels..(offset + 1) * channels;
                let found = || room.found.iter().map(|found| &found[member]);
                block.cells[offset].add(found());
                if !block.by_channel.is_empty() {
                    add(&mut block.by_channel[range.clone()], found(), |x| x);
                }
                if !block.channel_squares.is_empty() {
                    add(&mut block.channel_squares[range], found(), |x| x * x);
                }
            }
            offset = members.end;
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

    /// Some receivers, a cluster or one alone; fills the estimates per channel, receiver and scrambling, and what was
    /// seen per receiver and channel.
    fn receivers(
        &self,
        first: usize,
        cells: &mut [Cell],
        looks: &mut [Looks],
        room: &mut Room,
    ) -> u64 {
        let lines = self.job.lines;
        let channels = lines.channels.len();
        let mut drawn = 0;
        let mut lying: Option<(usize, Vec<Option<Target>>)> = None;
        for (number, channel) in lines.channels.iter().enumerate() {
            room.found[number] = [[0.0; STRIDE as usize]; cluster::MOST];
            let effort = |member: usize| self.effort.lines[(first + member) * channels + number];
            if (0..cells.len()).all(|member| effort(member) == 0) {
                continue;
            }
            if lying
                .as_ref()
                .is_none_or(|lying| lying.0 != channel.configuration)
            {
                let receivers = self.job.receivers[first..first + cells.len()].iter();
                let targets =
                    receivers.map(|receiver| lines.target(receiver, channel.configuration));
                lying = Some((channel.configuration, targets.collect()));
            }
            let Some((_, targets)) = &lying else {
                continue;
            };
            if cells.len() > 1
                && let Some(targets) = targets.iter().copied().collect::<Option<Vec<Target>>>()
            {
                drawn += self.cluster((first, number), &targets, cells, looks, room);
                continue;
            }
            for (member, target) in targets.iter().enumerate() {
                if let Some(target) = target {
                    let one = (&mut cells[member], &mut looks[member * channels + number]);
                    drawn += self.receiver((first + member, number), *target, member, one, room);
                }
            }
        }
        drawn
    }

    /// What the lines of a channel to a receiver have in common, so many per scrambling.
    fn common(&self, number: usize, target: &Target, (share, count): (f64, u32)) -> Common<'_> {
        let lines = self.job.lines;
        let channel = &lines.channels[number];
        let each = share * channel.atoms / f64::from(count);
        Common {
            lines,
            channel,
            thickness: each * channel.atom_volume_m3 * lines.sticking(target),
            visible: if channel.open {
                each / self.open_atoms
            } else {
                0.0
            },
            draws: STRIDE * count,
        }
    }

    /// When a receiver can see a channel's footprint, and in which pieces of that its lines are proved clear.
    fn window(
        &self,
        (index, number): (usize, usize),
        target: &Target,
        count: u32,
    ) -> (Window, u32) {
        let lines = self.job.lines;
        let place = index * self.effort.channels + number;
        let learned = self.effort.seen.get(place);
        let window = lines.window(number, target, learned);
        let clear = match learned {
            Some(learned) => learned.clear,
            None if window.has_pieces() || window.is_shut() => 0,
            None => u32::from(STRIDE * count >= WORTH && lines.is_clear(number, target, 0)),
        };
        (window, clear)
    }

    /// A cluster in one channel.
    fn cluster(
        &self,
        (first, number): (usize, usize),
        targets: &[Target],
        cells: &mut [Cell],
        looks: &mut [Looks],
        room: &mut Room,
    ) -> u64 {
        let channels = self.job.lines.channels.len();
        let count = u32::from(self.effort.lines[first * channels + number]);
        let mut clear = [0; cluster::MOST];
        let windows: Vec<Window> = (0..targets.len())
            .map(|member| {
                let found = self.window((first + member, number), &targets[member], count);
                clear[member] = found.1;
                found.0
            })
            .collect();
        for cell in &mut *cells {
            cell.samples = cell.samples.saturating_add(STRIDE * count);
        }
        let common = self.common(number, &targets[0], (1.0, count));
        let Some(cluster) = Cluster::new(common, targets, &windows, clear) else {
            return 0; // nothing can arrive: as good as all lines drawn
        };
        let mut seen = [Looks::NONE; cluster::MOST];
        let mut tallied = cluster::Tallied {
            cells,
            found: &mut room.found[number],
            looks: &mut seen,
        };
        self.points((first, number), count, |point, within| {
            cluster.draw(point, within, &mut room.waiting, &mut tallied);
        });
        cluster.draw_those(&mut room.waiting, &mut tallied);
        for (member, seen) in seen[..targets.len()].iter().enumerate() {
            looks[member * channels + number] = *seen;
        }
        u64::from(STRIDE * count) * targets.len() as u64
    }

    /// One receiver in one channel, the so-and-so-many-th of those in work.
    fn receiver(
        &self,
        (index, number): (usize, usize),
        target: Target,
        member: usize,
        (cell, looks): (&mut Cell, &mut Looks),
        room: &mut Room,
    ) -> u64 {
        let count = u32::from(self.effort.lines[index * self.effort.channels + number]);
        let lit = self.job.receivers[index].lit;
        if count == 0 || lit == 0 {
            return 0; // lit nowhere: proved dark
        }
        cell.is_point = target.is_point();
        cell.samples = cell.samples.saturating_add(STRIDE * count);
        let (window, clear) = self.window((index, number), &target, count);
        if window.is_shut() {
            return 0; // nothing can arrive: as good as all lines drawn
        }
        let aimed = Aimed::at(lit);
        let bundle = Bundle {
            common: self.common(number, &target, (aimed.share(), count)),
            target,
            window,
            clear,
            aimed,
        };
        let mut tallied = Tallied {
            cell,
            found: &mut room.found[number][member],
            looks: Looks::NONE,
        };
        self.points((index, number), count, |point, within| {
            bundle.draw(point, within, &mut room.batch, &mut tallied);
        });
        bundle.judge(&mut room.batch, &mut tallied);
        *looks = tallied.looks;
        u64::from(STRIDE * count)
    }

    /// Points for so many lines per scrambling, with the scrambling's number in this pass.
    #[inline]
    fn points(
        &self,
        (index, number): (usize, usize),
        count: u32,
        mut draw: impl FnMut([f64; DIMENSIONS], u8),
    ) {
        let place = (index as u64, u32::try_from(number).unwrap_or(u32::MAX));
        for ((table, scrambling), within) in self.tables.iter().zip(self.first..).zip(0..) {
            let number = self.job.number(scrambling);
            let shift = Shift::new(self.job.seed, self.job.purpose, number, place);
            for sample in 0..count as usize {
                draw(table.point(sample, &shift), within);
            }
        }
    }
}

/// Room that is used again and again.
struct Room {
    /// Estimates by channel, receiver in work and scrambling, m.
    found: Vec<[[f64; STRIDE as usize]; cluster::MOST]>,
    batch: Batch,
    waiting: Waiting,
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

fn add<'a>(
    sums: &mut [f64],
    values: impl Iterator<Item = &'a [f64; STRIDE as usize]>,
    of: impl Fn(f64) -> f64,
) {
    for (sum, values) in sums.iter_mut().zip(values) {
        *sum += values.iter().map(|&value| of(value)).sum::<f64>();
    }
}
