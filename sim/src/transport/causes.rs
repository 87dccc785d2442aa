//! Why a receiver gets what it gets: who takes which share of the open flux.
//!
//! In: [`Lines`] and receivers. Out: per receiver the flux with nothing in the way, and its shares.
//! Lines are spread evenly over the open time here, since what does not face the footprint counts too.

use super::bundle::Batch;
use super::channel::Channel;
use super::cluster::{self, Cluster, Common};
use super::gather::{CHUNK, Job, TAKEN};
use super::lines::{Share, Target};
use super::order;
use super::window::Window;
use crate::lanes::LANES;
use crate::random::{DIMENSIONS, Shift, Table};
use rayon::prelude::*;

/// How many lines look for causes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Points {
    /// Number of the first table.
    pub first: u32,
    /// Tables.
    pub tables: u32,
    /// Drawn from each table, per receiver and open channel.
    pub each: usize,
}

impl Points {
    /// 32 lines tell a share of one half to ±9 % at worst, and areas that reports speak of hold many receivers.
    pub const MANY: Self = Self {
        first: 0,
        tables: 2,
        each: 16,
    };
    /// For a first look: to ±25 %.
    pub const FEW: Self = Self {
        first: 0,
        tables: 1,
        each: 4,
    };
}

/// Shares of one receiver.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Causes {
    /// Thickness if it faced the footprints with nothing in the way, open time only, m.
    pub open_thickness_m: f64,
    /// Direct, facing, self, fixtures, mask, shutter, gas; sum 1 unless nothing is emitted towards it.
    pub shares: [f64; 7],
    /// Share of the footprints with a clear line, by the atoms that leave them, in open time.
    pub visible: f64,
}

/// Looks up the causes of all receivers; receivers that need none are left at zero.
pub(crate) fn look(job: &Job, idle: &[bool], points: Points, lines_drawn: &mut u64) -> Vec<Causes> {
    let tables: Vec<(u32, Table)> = (points.first..points.first + points.tables)
        .map(|n| {
            let table = Table::new(job.seed, job.purpose, u64::from(n), points.each);
            (n, table)
        })
        .collect();
    let together = job.clusters(idle);
    let mut found = vec![Causes::default(); job.receivers.len()];
    let look = Look {
        job,
        tables: &tables,
        each: points.each,
    };
    let blocks = found.chunks_mut(CHUNK).enumerate();
    let blocks = blocks.map(|(number, block)| (number * CHUNK, block));
    let of = (job.lines.scene, job.receivers);
    let blocks = order::side_by_side(blocks.collect(), |block: &(usize, _)| block.0, of);
    let drawn = blocks.into_par_iter().with_max_len(TAKEN).map_init(
        Batch::default,
        |batch, (first, block)| {
            let (mut drawn, mut offset) = (0, 0);
            while offset < block.len() {
                let count = usize::from(together[first + offset]).max(1);
                let group = &mut block[offset..offset + count];
                if !idle[first + offset] {
                    let mut sums = [Sum::default(); cluster::MOST];
                    let sums = &mut sums[..count];
                    drawn += look.receivers(first + offset, sums, batch);
                    for (causes, sum) in group.iter_mut().zip(sums) {
                        *causes = sum.causes();
                    }
                }
                offset += count;
            }
            drawn
        },
    );
    *lines_drawn += drawn.sum::<u64>();
    found
}

/// How it is looked.
struct Look<'a> {
    job: &'a Job<'a>,
    tables: &'a [(u32, Table)],
    each: usize,
}

/// Shares of one receiver so far, as thickness, m.
#[derive(Clone, Copy, Default)]
struct Sum {
    causes: Causes,
    /// Film of all lines and of clear ones, if they brought what leaves along them, m.
    lit: f64,
    clear: f64,
}

/// A line that was looked at.
struct Looked {
    /// Flux if the receiver faced the footprint, as thickness, m.
    open: f64,
    cosine: f64,
    /// What survives in gas where nothing is in the way, or who is.
    met: Result<f64, Share>,
}

impl Sum {
    /// Adds a line that brings so much film per flux.
    fn add(&mut self, line: &Looked, weight: f64) {
        let facing = line.cosine.clamp(0.0, 1.0);
        let causes = &mut self.causes;
        causes.open_thickness_m += line.open;
        causes.shares[Share::Facing as usize] += line.open * (1.0 - facing);
        self.lit += weight;
        if line.open > 0.0 && facing > 0.0 {
            match line.met {
                Ok(survives) => {
                    causes.shares[Share::Direct as usize] += line.open * facing * survives;
                    causes.shares[Share::Gas as usize] += line.open * facing * (1.0 - survives);
                    self.clear += weight;
                }
                Err(cause) => causes.shares[cause as usize] += line.open * facing,
            }
        }
    }

    fn causes(self) -> Causes {
        let mut causes = self.causes;
        if self.lit > 0.0 {
            causes.visible = self.clear / self.lit;
        }
        if causes.open_thickness_m > 0.0 {
            causes
                .shares
                .iter_mut()
                .for_each(|share| *share /= causes.open_thickness_m);
        }
        causes
    }
}

impl Look<'_> {
    /// Receivers of a cluster, or one alone; returns the number of lines drawn.
    fn receivers(&self, first: usize, sums: &mut [Sum], batch: &mut Batch) -> u64 {
        let lines = self.job.lines;
        let mut drawn = 0;
        let all = (self.tables.len() * self.each) as f64;
        let channels = lines.channels.iter().enumerate();
        for (number, channel) in channels.filter(|(_, channel)| channel.open) {
            let receivers = self.job.receivers[first..first + sums.len()].iter();
            let targets = receivers.map(|receiver| lines.target(receiver, channel.configuration));
            let targets: Vec<Option<Target>> = targets.collect();
            let weight = channel.atoms * channel.atom_volume_m3 / all;
            let points = |index: usize| self.points((index, number), channel);
            let whole: Option<Vec<Target>> = targets.iter().copied().collect();
            if let Some(targets) = whole.filter(|targets| targets.len() > 1) {
                let points = points(first);
                drawn += (points.len() * targets.len()) as u64;
                self.cluster((channel, weight), &targets, &points, sums);
                continue;
            }
            for (member, target) in targets.iter().enumerate() {
                if let Some(target) = target {
                    let points = points(first + member);
                    drawn += points.len() as u64;
                    self.one(
                        (channel, weight),
                        target,
                        &points,
                        (&mut sums[member], batch),
                    );
                }
            }
        }
        drawn
    }

    fn points(&self, (index, number): (usize, usize), channel: &Channel) -> Vec<[f64; DIMENSIONS]> {
        let place = (index as u64, u32::try_from(number).unwrap_or(u32::MAX));
        let mut points = Vec::with_capacity(self.tables.len() * self.each);
        for (scrambling, table) in self.tables {
            let shift = Shift::new(self.job.seed, self.job.purpose, *scrambling, place);
            points.extend((0..self.each).map(|n| channel.deal(table.point(n, &shift))));
        }
        points
    }

    /// One receiver alone.
    fn one(
        &self,
        (channel, weight): (&Channel, f64),
        target: &Target,
        points: &[[f64; DIMENSIONS]],
        (sum, batch): (&mut Sum, &mut Batch),
    ) {
        let all = self.job.lines;
        let lines: Vec<_> = points
            .iter()
            .map(|u| all.line(channel, target, *u))
            .collect();
        let free = batch.free((all, channel, target), &lines);
        for (line, free) in lines.iter().zip(free) {
            let met = if free || line.open <= 0.0 || line.cosine <= 0.0 {
                Ok(all.survival(channel, line))
            } else {
                Err(all.blocker(channel, target, line))
            };
            let (open, cosine) = (line.open * weight, line.cosine);
            sum.add(&Looked { open, cosine, met }, weight);
        }
    }

    /// A cluster.
    fn cluster(
        &self,
        (channel, weight): (&Channel, f64),
        targets: &[Target],
        points: &[[f64; DIMENSIONS]],
        sums: &mut [Sum],
    ) {
        let lines = self.job.lines;
        let common = Common {
            lines,
            channel,
            thickness: 1.0,
            visible: 0.0,
            draws: u32::try_from(points.len()).unwrap_or(u32::MAX),
        };
        let none_proved = [0; cluster::MOST];
        let windows = [const { Window::EVEN }; cluster::MOST];
        let Some(cluster) = Cluster::new(common, targets, &windows[..targets.len()], none_proved)
        else {
            return;
        };
        for four in points.chunks(LANES) {
            let lanes = std::array::from_fn(|d| {
                std::array::from_fn(|lane| four[lane.min(four.len() - 1)][d])
            });
            cluster.look(&lanes, four.len(), |lane, sight| {
                for (member, (sum, target)) in sums.iter_mut().zip(targets).enumerate() {
                    let (open, cosine) = (sight.open[member] * weight, sight.cosine[member]);
                    let met = if sight.is_clear(member) || open <= 0.0 || cosine <= 0.0 {
                        Ok(cluster.survival(sight, member))
                    } else {
                        let line = lines.line(channel, target, four[lane]);
                        Err(lines.blocker(channel, target, &line))
                    };
                    sum.add(&Looked { open, cosine, met }, weight);
                }
            });
        }
    }
}
