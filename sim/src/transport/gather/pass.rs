//! A pass of a gather: the next scramblings of all receivers, cluster by cluster.
//!
//! In: a [`Job`] and its [`Effort`]. Out: sums of a [`Block`], and what a pilot learned of views.

use super::super::aimed::Aimed;
use super::super::bundle::{Batch, Bundle, Tallied};
use super::super::cluster::{self, Cluster, Common, Waiting};
use super::super::lines::Target;
use super::super::looks::{Looks, Seen};
use super::super::window::Window;
use super::{AROUND, Block, Cell, Effort, Job, RETRIED, STRIDE, WORTH};
use crate::random::{DIMENSIONS, Shift, Table};
use rayon::prelude::*;

/// Receivers up to which the clusters of a block are shared among threads: the hardest lie in few blocks.
const FEW: usize = 4096;

/// Some scramblings under way.
pub(super) struct Pass<'a> {
    pub job: &'a Job<'a>,
    pub effort: &'a Effort,
    pub first: u32,
    /// Whose tables these are: at most [`STRIDE`] scramblings from the first on.
    pub tables: Vec<Table>,
    /// Real atoms of all open channels.
    pub open_atoms: f64,
}

impl Pass<'_> {
    /// All receivers of a block.
    pub fn block(&self, block: &mut Block) -> u64 {
        let channels = self.job.lines.channels.len();
        let mut looks = vec![Looks::NONE; block.cells.len() * channels];
        let groups = self.groups(block, &mut looks);
        let room = || Room {
            found: vec![[[0.0; STRIDE as usize]; cluster::MOST]; channels],
            batch: Batch::default(),
            waiting: Waiting::default(),
        };
        let drawn = if self.job.receivers.len() <= FEW {
            let groups = groups.into_par_iter().with_max_len(1);
            groups
                .map_init(room, |room, group| self.group(group, room))
                .sum()
        } else {
            let mut room = room();
            let groups = groups.into_iter();
            groups.map(|group| self.group(group, &mut room)).sum()
        };
        if !block.seen.is_empty() {
            for channel in 0..channels {
                self.learn(block, channel, &looks);
            }
        }
        drawn
    }

    /// The clusters of a block and its receivers that are alone, in order.
    fn groups<'a>(&self, block: &'a mut Block, mut looks: &'a mut [Looks]) -> Vec<Group<'a>> {
        let channels = self.job.lines.channels.len();
        let mut groups = Vec::with_capacity(block.cells.len());
        let mut first = block.first;
        let mut cells = block.cells.as_mut_slice();
        let mut sums = block.by_channel.as_mut_slice();
        let mut squares = block.channel_squares.as_mut_slice();
        while !cells.is_empty() {
            let together = self.effort.together.get(first).map_or(1, |&n| n.max(1));
            let count = usize::from(together).min(cells.len());
            groups.push(Group {
                first,
                cells: cells.split_off_mut(..count).unwrap_or_default(),
                looks: looks.split_off_mut(..count * channels).unwrap_or_default(),
                by_channel: sums.split_off_mut(..count * channels).unwrap_or_default(),
                channel_squares: squares
                    .split_off_mut(..count * channels)
                    .unwrap_or_default(),
            });
            first += count;
        }
        groups
    }

    /// A cluster or a receiver alone.
    fn group(&self, group: Group, room: &mut Room) -> u64 {
        let channels = self.job.lines.channels.len();
        let drawn = self.receivers(group.first, group.cells, group.looks, room);
        for (member, cell) in group.cells.iter_mut().enumerate() {
            let range = member * channels..(member + 1) * channels;
            let found = || room.found.iter().map(|found| &found[member]);
            cell.add(found());
            if let Some(sums) = group.by_channel.get_mut(range.clone()) {
                add(sums, found(), |x| x);
            }
            if let Some(squares) = group.channel_squares.get_mut(range) {
                add(squares, found(), |x| x * x);
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
                drawn += self.cluster((first, number), &targets, (cells, looks), room);
                continue;
            }
            for (member, target) in targets.iter().enumerate() {
                if let Some(target) = target {
                    let one = (&mut cells[member], &mut looks[member * channels + number]);
                    drawn += self.receiver((first + member, number), (*target, member), one, room);
                }
            }
        }
        drawn
    }

    /// Lines in this pass of so many per scrambling.
    fn draws(&self, count: u32) -> u32 {
        let scramblings = u32::try_from(self.tables.len()).unwrap_or(STRIDE);
        scramblings * count
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
            draws: self.draws(count),
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
            None => u32::from(self.draws(count) >= WORTH && lines.is_clear(number, target, 0)),
        };
        (window, clear)
    }

    /// A cluster in one channel.
    fn cluster(
        &self,
        (first, number): (usize, usize),
        targets: &[Target],
        (cells, looks): (&mut [Cell], &mut [Looks]),
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
            cell.samples = cell.samples.saturating_add(self.draws(count));
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
        u64::from(self.draws(count)) * targets.len() as u64
    }

    /// One receiver in one channel, the so-and-so-many-th of those in work.
    fn receiver(
        &self,
        (index, number): (usize, usize),
        (target, member): (Target, usize),
        (cell, looks): (&mut Cell, &mut Looks),
        room: &mut Room,
    ) -> u64 {
        let count = u32::from(self.effort.lines[index * self.effort.channels + number]);
        let lit = self.job.receivers[index].lit;
        if count == 0 || lit == 0 {
            return 0; // lit nowhere: proved dark
        }
        cell.is_point = target.is_point();
        cell.samples = cell.samples.saturating_add(self.draws(count));
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
        u64::from(self.draws(count))
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

/// Receivers that are worked on together, and what is kept of them.
struct Group<'a> {
    /// Number of the first.
    first: usize,
    cells: &'a mut [Cell],
    /// Per receiver and channel.
    looks: &'a mut [Looks],
    /// As in [`Block`]; empty where that is.
    by_channel: &'a mut [f64],
    channel_squares: &'a mut [f64],
}

/// Room that is used again and again.
struct Room {
    /// Estimates by channel, receiver in work and scrambling, m.
    found: Vec<[[f64; STRIDE as usize]; cluster::MOST]>,
    batch: Batch,
    waiting: Waiting,
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
