//! The part of a run that is scattered: walked until it is known well enough, beside what comes straight.
//!
//! In: a run and its causes. Out: film in the [`Tally`].

use super::{MOST_ATOMS, Run};
use crate::transport::causes;
use crate::transport::gather::Job;
use crate::transport::pilot::{Aim, Beside};
use crate::transport::scattered::{Cloud, Scattered};
use crate::transport::tally::{self, SCATTERED_SHARE};
use crate::transport::{Stopped, Tally};

/// Batches of scattered atoms in a sketch where not all fly straight.
const SKETCH_BATCHES: usize = 16;

/// Share of a time limit after which nothing is walked any more: the rest is for what comes straight.
const SCATTERED_TIME: f64 = 0.85;

/// Batches of scattered atoms, at least: from their spread comes the error.
const BATCHES: u64 = 32;

/// Scores per receiver, or in all, without which what is scattered is not looked at.
const SCORES_EACH: u64 = 2;
const ENOUGH_SCORES: u64 = 100_000;
/// But no more than so many times the least number of atoms are walked unseen.
const MOST_UNSEEN: u64 = 64;

/// Times as many atoms, from which on it is a long way off.
const FAR_OFF: f64 = 3.0;

/// Until when atoms are walked.
struct Goal {
    /// Accuracy to be reached.
    accuracy: f64,
    /// Atoms, in all: so many at least, and at most.
    least: u64,
    most: u64,
    /// Share of the time limit.
    time: f64,
}

impl Run<'_> {
    /// Walks what is scattered, then gathers what comes straight, each as well as the whole needs it.
    ///
    /// The whole is judged receiver by receiver: the worst of what is scattered and the worst of what comes straight
    /// lie in different places.
    pub(super) fn with_scattered(&self, job: &Job, aim: &Aim, tally: &mut Tally) {
        let asked = aim.accuracy;
        let straight_m: Vec<f64> = self.rough_m(aim.causes);
        let none = vec![0.0; straight_m.len()];
        let mut cloud = Cloud::new(self.lines, self.settings.seed);
        let least = cloud.atoms_of(BATCHES);
        let most = self.settings.atoms.unwrap_or(MOST_ATOMS).max(least);
        let rough = |found: &Scattered| self.accuracy_with(aim, (&straight_m, &none), found);
        let first = Goal {
            accuracy: asked * SCATTERED_SHARE,
            least,
            most,
            time: SCATTERED_TIME,
        };
        let (mut stopped, mut scattered) = self.walk(&mut cloud, &first, &rough);
        let whole_m = |(a, b): (&f64, &f64)| a + b;
        let whole: Vec<f64> = straight_m
            .iter()
            .zip(&scattered.thickness_m)
            .map(whole_m)
            .collect();
        let straight = Aim {
            // where the walk ended short of what is asked, more than that of the rest would be in vain
            accuracy: asked.max(rough(&scattered) / SCATTERED_SHARE),
            floor_m: Some(self.floor_of(aim, &whole)),
            beside: Beside {
                film_m: &scattered.thickness_m,
                error_m: &scattered.std_error_m,
            },
            ..*aim
        };
        let (gathered, sums, rows) = self.rounds(job, &straight, &mut tally.rays);
        tally::from_gather(self.scene, self.lines, (&sums, aim.causes), tally);
        rows.report(tally, sums.scramblings);
        if (stopped, gathered) == (Stopped::Reached, Stopped::Reached) {
            let films = tally.receivers.iter().map(|sums| sums.thickness_m);
            let errors = tally.receivers.iter().map(|sums| sums.std_error_m);
            let known: [Vec<f64>; 2] = [films.collect(), errors.collect()];
            let whole = |found: &Scattered| self.accuracy_with(aim, (&known[0], &known[1]), found);
            let reached = whole(&scattered);
            // what lines left unknown no walk makes good
            let exact = Scattered {
                std_error_m: none,
                ..scattered.clone()
            };
            let accuracy = asked.max(whole(&exact) / SCATTERED_SHARE);
            if reached > accuracy {
                let further = Goal {
                    accuracy,
                    least: more_atoms(&cloud, reached / accuracy).min(most),
                    most,
                    time: 1.0,
                };
                (stopped, scattered) = self.walk(&mut cloud, &further, &whole);
            }
        }
        tally.stopped = Some(match (stopped, gathered) {
            (Stopped::Reached, gathered) => gathered,
            (stopped, _) => stopped,
        });
        scattered.join(self.scene, self.lines, tally);
        self.finish(aim, tally);
    }

    /// What comes straight to each receiver, roughly, m.
    fn rough_m(&self, causes: &[causes::Causes]) -> Vec<f64> {
        let receivers = self.scene.receivers.iter().zip(causes);
        receivers
            .map(|(receiver, causes)| {
                let sticking = self.scene.bodies[receiver.body.0 as usize].sticking;
                causes.open_thickness_m * causes.shares[0] * sticking
            })
            .collect()
    }

    /// Thickness below which errors are taken against this, m: as asked, or 5 % of the median of these.
    fn floor_of(&self, aim: &Aim, rough_m: &[f64]) -> f64 {
        let weights: Vec<f64> = rough_m
            .iter()
            .zip(aim.areas_m2)
            .map(|(&film, &area)| if film > 0.0 { area } else { 0.0 })
            .collect();
        aim.floor_m.unwrap_or_else(|| {
            0.05 * crate::stats::weighted_quantile(rough_m, &weights, 0.5).unwrap_or(0.0)
        })
    }

    /// Walks until scattered film is known well enough.
    ///
    /// - `accuracy`: what is reached with it
    fn walk(
        &self,
        cloud: &mut Cloud,
        goal: &Goal,
        accuracy: &dyn Fn(&Scattered) -> f64,
    ) -> (Stopped, Scattered) {
        let mut wanted = goal.least;
        // where hardly any come, more of them would not help; what was seen is looked at again
        let unseen = if cloud.batches() == 0 {
            goal.most.min(MOST_UNSEEN * goal.least)
        } else {
            0
        };
        loop {
            while cloud.atoms() < wanted {
                let done = cloud.atoms() as f64 / wanted as f64;
                self.watch.progress("scattered", done);
                // without two batches there is no error
                let few = cloud.batches() < 2;
                let stop = || !few && (self.watch.cancelled() || self.is_late(goal.time));
                if !cloud.batch(&stop) {
                    let why = self.why_stop().unwrap_or(Stopped::Time);
                    return (why, cloud.read());
                }
            }
            if cloud.scores() < self.fewest_scores() && cloud.atoms() < unseen {
                wanted = (cloud.atoms() * 4).min(unseen);
                continue;
            }
            let found = cloud.read();
            let reached = accuracy(&found);
            if reached <= goal.accuracy {
                return (Stopped::Reached, found);
            }
            if cloud.atoms() >= goal.most {
                return (Stopped::Atoms, found);
            }
            wanted = more_atoms(cloud, reached / goal.accuracy).min(goal.most);
        }
    }

    /// Scores without which a look at them is not worth its time.
    fn fewest_scores(&self) -> u64 {
        let receivers = self.scene.receivers.len() as u64;
        (receivers * SCORES_EACH).min(ENOUGH_SCORES)
    }

    /// Whether this share of the time limit is gone.
    fn is_late(&self, share: f64) -> bool {
        let limit = self.settings.time;
        limit.is_some_and(|limit| self.watch.elapsed_s() > share * limit.as_secs_f64())
    }

    /// Accuracy of all film with what is scattered; what comes straight, m, with its errors.
    fn accuracy_with(
        &self,
        aim: &Aim,
        (straight_m, errors_m): (&[f64], &[f64]),
        found: &Scattered,
    ) -> f64 {
        let films = straight_m.iter().zip(&found.thickness_m);
        let whole: Vec<f64> = films.map(|(a, b)| a + b).collect();
        let floor_m = self.floor_of(aim, &whole);
        let errors = found.std_error_m.iter().zip(errors_m);
        let errors: Vec<f64> = errors
            .zip(&whole)
            .map(|((a, b), film)| a.hypot(*b) / film.max(floor_m).max(f64::MIN_POSITIVE))
            .collect();
        tally::of_the_area(&errors, aim)
    }

    /// A first look at what is scattered.
    pub(super) fn sketch_scattered(&self) -> Scattered {
        let mut cloud = Cloud::new(self.lines, self.settings.seed);
        while cloud.batches() < SKETCH_BATCHES {
            cloud.batch(&|| false);
        }
        cloud.read()
    }
}

/// Atoms to go on to where the error is so many times too large.
///
/// A long way off fewer than noise alone would ask for: smoothing, too, gets better with them.
fn more_atoms(cloud: &Cloud, times: f64) -> u64 {
    let squared = times.powi(2);
    let near = 1.05 * squared.min(FAR_OFF);
    let more = near.max(0.7 * squared).clamp(1.1, 16.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a number of atoms"
    )]
    let atoms = (cloud.atoms() as f64 * more).ceil() as u64;
    atoms
}
