//! Why a receiver gets what it gets: who takes which share of the open flux.
//!
//! In: [`Lines`] and receivers. Out: per receiver the flux with nothing in the way, and its shares.
//! Lines are spread evenly over the open time here, since what does not face the footprint counts too.

use super::bundle::Batch;
use super::gather::Job;
use super::lines::Share;
use crate::random::{Shift, Table};
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
    let found: Vec<(Causes, u64)> = (0..job.receivers.len())
        .into_par_iter()
        .map_init(Batch::default, |batch, index| {
            if idle[index] {
                (Causes::default(), 0)
            } else {
                one(job, (&tables, points.each), index, batch)
            }
        })
        .collect();
    *lines_drawn += found.iter().map(|(_, drawn)| drawn).sum::<u64>();
    found.into_iter().map(|(causes, _)| causes).collect()
}

fn one(
    job: &Job,
    (tables, each): (&[(u32, Table)], usize),
    index: usize,
    batch: &mut Batch,
) -> (Causes, u64) {
    let mut causes = Causes::default();
    let (mut drawn, mut clear, mut lit) = (0, 0.0, 0.0);
    let all = (tables.len() * each) as f64;
    for (number, channel) in job
        .lines
        .channels
        .iter()
        .enumerate()
        .filter(|(_, c)| c.open)
    {
        let Some(target) = job
            .lines
            .target(&job.receivers[index], channel.configuration)
        else {
            continue;
        };
        let weight = channel.atoms * channel.atom_volume_m3 / all;
        let place = (index as u64, u32::try_from(number).unwrap_or(u32::MAX));
        let mut lines = Vec::with_capacity(tables.len() * each);
        for (scrambling, table) in tables {
            let shift = Shift::new(job.seed, job.purpose, *scrambling, place);
            for sample in 0..each {
                let u = channel.deal(table.point(sample, &shift));
                lines.push(job.lines.line(channel, &target, u));
            }
        }
        drawn += lines.len() as u64;
        let free = batch.free((job.lines, channel, &target), &lines);
        for (line, free) in lines.iter().zip(free) {
            let facing = line.cosine.clamp(0.0, 1.0);
            let open = line.open * weight;
            causes.open_thickness_m += open;
            causes.shares[Share::Facing as usize] += open * (1.0 - facing);
            lit += weight;
            if open > 0.0 && facing > 0.0 {
                if free {
                    let survives = job.lines.survival(channel, line);
                    causes.shares[Share::Direct as usize] += open * facing * survives;
                    causes.shares[Share::Gas as usize] += open * facing * (1.0 - survives);
                    clear += weight;
                } else {
                    let cause = job.lines.blocker(channel, &target, line);
                    causes.shares[cause as usize] += open * facing;
                }
            }
        }
    }
    if lit > 0.0 {
        causes.visible = clear / lit;
    }
    if causes.open_thickness_m > 0.0 {
        causes
            .shares
            .iter_mut()
            .for_each(|share| *share /= causes.open_thickness_m);
    }
    (causes, drawn)
}
