//! A trial: the film on chosen receivers from a fixed number of lines, the same for every scene that is tried.
//!
//! In: a scene, its rates, receivers and how steps are told apart. Out: [`Trial`], film by group of steps in two
//! independent halves. Nothing is settled by what is found, so that scenes which differ a little get the same random
//! numbers and errors that differ a little: what a search compares. A run goes on to `film` by [`super::run`].

use super::causes::{self, Points};
use super::channel::Channel;
use super::fire::Gun;
use super::flown::Counts;
use super::gather::{Effort, Job, Keep, SCRAMBLINGS, STRIDE, Sums};
use super::lines::Lines;
use super::{Rates, Watch, pilot};
use crate::random::Use;
use crate::scene::{Receiver, Scene};

/// Scattered atoms that neighbours share at least, on average: their smooth film is then known to a tenth.
const POOLED_ATOMS: f64 = 100.0;

/// How a trial is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrialSettings {
    /// Lines per scrambling, receiver, source and step; 32 scramblings.
    pub lines: u16,
    /// Atoms fired for what collides or bounces, where anything does.
    pub atoms: u64,
    /// Seed.
    pub seed: u64,
    /// Threads; 0 means all cores.
    pub threads: usize,
}

/// Film on the chosen receivers.
#[derive(Debug, Clone, Default)]
pub struct Trial {
    /// Two independent estimates, m: `[half][group][chosen]`.
    pub halves_m: [Vec<Vec<f64>>; 2],
    /// Lines drawn and atoms fired.
    pub rays: u64,
}

impl Trial {
    /// Film of a group on a chosen receiver, m.
    pub fn of(&self, group: usize, chosen: usize) -> f64 {
        0.5 * (self.halves_m[0][group][chosen] + self.halves_m[1][group][chosen])
    }
}

/// All receivers of a scene in an order in which neighbours on the surface are mostly near each other.
pub fn side_by_side(scene: &Scene) -> Vec<usize> {
    pilot::neighbourly(scene, &scene.receivers)
}

/// Tries a scene.
///
/// - `rates`: real atoms per source and step
/// - `chosen`: receivers of the scene; those that lie side by side should follow each other
/// - `group_of`: number of the group that a step's film of a source counts in (arguments: step, source), all below
///   `groups`
/// - `watch`: asked whether to stop; what is returned after a stop is of no use
pub fn trial(
    scene: &Scene,
    rates: &Rates,
    chosen: &[usize],
    (groups, group_of): (usize, &(dyn Fn(usize, usize) -> usize + Sync)),
    (settings, watch): (TrialSettings, &dyn Watch),
) -> Trial {
    super::with_threads(settings.threads, || {
        let lines = Lines::new(scene, rates);
        let receivers: Vec<Receiver> = chosen.iter().map(|&i| scene.receivers[i]).collect();
        let tried = Tried {
            lines: &lines,
            chosen,
            receivers: &receivers,
            groups,
            group_of,
            settings,
            watch,
        };
        if scene.is_straight() {
            tried.straight()
        } else {
            tried.scattered()
        }
    })
}

struct Tried<'a> {
    lines: &'a Lines<'a>,
    chosen: &'a [usize],
    receivers: &'a [Receiver],
    groups: usize,
    group_of: &'a (dyn Fn(usize, usize) -> usize + Sync),
    settings: TrialSettings,
    watch: &'a dyn Watch,
}

impl Tried<'_> {
    fn group(&self, channel: &Channel) -> usize {
        (self.group_of)(channel.step, channel.source)
    }

    fn job<'b>(&'b self, lines: &'b Lines<'b>, purpose: Use) -> Job<'b> {
        Job {
            lines,
            receivers: self.receivers,
            seed: self.settings.seed,
            purpose,
            round: 0,
        }
    }

    fn nothing(&self) -> Trial {
        let none = vec![vec![0.0; self.chosen.len()]; self.groups];
        Trial {
            halves_m: [none.clone(), none],
            rays: 0,
        }
    }

    /// Gathers: each half of the scramblings is an estimate of its own.
    fn straight(&self) -> Trial {
        let channels = self.lines.channels.len();
        let mut trial = self.nothing();
        if channels == 0 {
            return trial;
        }
        let job = self.job(self.lines, Use::Scramble);
        let effort = Effort::even(self.receivers.len(), channels, self.settings.lines);
        let mut sums = Sums::new(self.receivers.len(), channels, Keep::Means);
        let mut before = vec![0.0; self.receivers.len() * channels];
        for half in 0..2 {
            let stop = || self.watch.cancelled();
            let Some(drawn) = job.scramblings_until(&effort, &mut sums, &stop) else {
                return trial;
            };
            trial.rays += drawn;
            for receiver in 0..self.receivers.len() {
                for (number, channel) in self.lines.channels.iter().enumerate() {
                    let sum = sums.channel_sum(receiver, number, channels);
                    let before = &mut before[receiver * channels + number];
                    trial.halves_m[half][self.group(channel)][receiver] +=
                        (sum - *before) / f64::from(STRIDE);
                    *before = sum;
                }
            }
        }
        debug_assert_eq!(2 * STRIDE, SCRAMBLINGS, "two halves are all scramblings");
        trial
    }

    /// What comes straight is gathered; what collides or bounces is fired for and shared among neighbours.
    fn scattered(&self) -> Trial {
        let mut trial = self.nothing();
        for half in 0..2 {
            for group in 0..self.groups {
                self.add_direct((half, group), &mut trial);
            }
            if self.watch.cancelled() {
                return trial;
            }
            self.add_fired(half, &mut trial);
        }
        trial
    }

    fn add_direct(&self, (half, group): (usize, usize), trial: &mut Trial) {
        let of_group: Vec<Channel> = self
            .lines
            .channels
            .iter()
            .filter(|channel| channel.open && self.group(channel) == group)
            .cloned()
            .collect();
        if of_group.is_empty() {
            return;
        }
        let scene = self.lines.scene;
        let lines = Lines::with_channels(scene, of_group);
        let job = self.job(&lines, Use::Causes);
        let points = Points {
            first: if half == 0 { 0 } else { 1 },
            tables: 1,
            each: usize::from(self.settings.lines) * STRIDE as usize,
        };
        let idle = vec![false; self.receivers.len()];
        let causes = causes::look(&job, &idle, points, &mut trial.rays);
        let film = &mut trial.halves_m[half][group];
        for ((film, causes), receiver) in film.iter_mut().zip(causes).zip(self.receivers) {
            let sticking = scene.bodies[receiver.body.0 as usize].sticking;
            *film += sticking * causes.open_thickness_m * causes.shares[0];
        }
    }

    fn add_fired(&self, half: usize, trial: &mut Trial) {
        let scene = self.lines.scene;
        let channels = &self.lines.channels;
        let gun = Gun::new(self.lines, self.settings.seed);
        let counts = Counts::new(scene, channels.len());
        let first = half as u64 * self.settings.atoms;
        let stop = || self.watch.cancelled();
        let flown = gun.fire(first..first + self.settings.atoms, &counts, &stop);
        let fired = flown.balance.emitted;
        trial.rays += fired;
        if fired == 0 {
            return;
        }
        let per_atom = gun.real_atoms() / fired as f64;
        let landed = |chosen: usize, channel: usize| {
            f64::from(counts.scattered(self.chosen[chosen], channel))
        };
        let everything: f64 = (0..self.chosen.len())
            .map(|chosen| (0..channels.len()).map(|c| landed(chosen, c)).sum::<f64>())
            .sum();
        let each = everything / self.chosen.len().max(1) as f64;
        for run in neighbours(self.receivers, POOLED_ATOMS / each.max(f64::MIN_POSITIVE)) {
            let area_m2: f64 = run.clone().map(|i| self.receivers[i].area_m2).sum();
            for (number, channel) in channels.iter().enumerate() {
                let atoms: f64 = run.clone().map(|i| landed(i, number)).sum();
                // what lands open and straight is gathered; behind a shut shutter nothing is gathered for
                let film = atoms * per_atom * channel.atom_volume_m3 / area_m2;
                for chosen in run.clone() {
                    trial.halves_m[half][self.group(channel)][chosen] += film;
                }
            }
        }
    }
}

/// Runs of receivers on one side of one body, of about so many each.
fn neighbours(receivers: &[Receiver], about: f64) -> Vec<std::ops::Range<usize>> {
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    for (index, receiver) in receivers.iter().enumerate() {
        let goes_on = runs.last().is_some_and(|run| {
            let first = &receivers[run.start];
            (run.len() as f64) < about && first.body == receiver.body && first.side == receiver.side
        });
        match runs.last_mut() {
            Some(run) if goes_on => run.end = index + 1,
            _ => runs.push(index..index + 1),
        }
    }
    runs
}
