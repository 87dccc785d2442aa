//! A trial: the film on chosen receivers from a fixed number of lines, the same for every scene that is tried.
//!
//! In: a scene, its rates, receivers and how steps are told apart. Out: [`Trial`], film by group of steps in two
//! independent halves. Nothing is settled by what is found, so that scenes which differ a little get the same random
//! numbers and errors that differ a little: what a search compares. A run goes on to `film` by [`super::run`].

use super::causes::{self, Points};
use super::channel::Channel;
use super::gather::{Effort, Job, Keep, SCRAMBLINGS, STRIDE, Sums};
use super::lines::Lines;
use super::scattered::Cloud;
use super::{Rates, Watch, pilot};
use crate::random::Use;
use crate::scene::{BodyId, BodyKind, Receiver, Scene};

/// Fired atoms that cost about as much as a walked one.
const FIRED_PER_WALKED: u64 = 64;
/// The same for a few coupons, which few atoms come near.
const FIRED_PER_COUPONS: u64 = 2;

/// How a trial is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrialSettings {
    /// Lines per scrambling, receiver, source and step; 32 scramblings.
    pub lines: u16,
    /// Atoms for what collides or bounces, where anything does, as many as could be fired for the same price.
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
                        (sum - *before) / f64::from(sums.many);
                    *before = sum;
                }
            }
        }
        debug_assert_eq!(2 * STRIDE, SCRAMBLINGS, "two halves are all scramblings");
        trial
    }

    /// What comes straight is gathered; what collides or bounces is walked.
    fn scattered(&self) -> Trial {
        let mut trial = self.nothing();
        for half in 0..2 {
            for group in 0..self.groups {
                self.add_direct((half, group), &mut trial);
            }
            if self.watch.cancelled() {
                return trial;
            }
        }
        self.add_walked(&mut trial);
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

    /// What collides or bounces, by walks towards the parts, smoothed as a run does it.
    fn add_walked(&self, trial: &mut Trial) {
        let channels = &self.lines.channels;
        let mut bodies: Vec<BodyId> = self.receivers.iter().map(|r| r.body).collect();
        bodies.dedup();
        let body = |id: &BodyId| &self.lines.scene.bodies[id.0 as usize];
        let only_coupons = bodies
            .iter()
            .all(|id| matches!(body(id).kind, BodyKind::Coupon(_)));
        let seed = self.settings.seed;
        let mut cloud = if only_coupons {
            Cloud::towards_coupons(self.lines, seed, &bodies)
        } else {
            Cloud::new(self.lines, seed)
        };
        let stop = || self.watch.cancelled();
        let per_walked = if only_coupons {
            FIRED_PER_COUPONS
        } else {
            FIRED_PER_WALKED
        };
        while cloud.atoms() * per_walked < self.settings.atoms {
            if !cloud.batch(&stop) {
                return;
            }
        }
        trial.rays += cloud.atoms() * per_walked;
        let found = cloud.read();
        for (place, &receiver) in self.chosen.iter().enumerate() {
            let all_m = found.thickness_m[receiver];
            if all_m <= 0.0 {
                continue;
            }
            for (channel, films) in channels.iter().zip(&found.by_channel_m) {
                let share = films[receiver] / all_m;
                let group = self.group(channel);
                for (half, scattered_m) in trial.halves_m.iter_mut().zip(&found.halves_m) {
                    half[group][place] += share * scattered_m[receiver];
                }
            }
        }
    }
}
