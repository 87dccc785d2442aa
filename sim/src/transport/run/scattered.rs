//! The part of a run that is scattered: walked until it is known well enough, beside what comes straight.
//!
//! In: a run and its causes. Out: film in the [`Tally`].

use super::{MOST_ATOMS, Run};
use crate::transport::causes;
use crate::transport::gather::Job;
use crate::transport::pilot::Aim;
use crate::transport::scattered::{Cloud, Scattered};
use crate::transport::tally;
use crate::transport::{Stopped, Tally};

/// Batches of scattered atoms in a sketch where not all fly straight.
const SKETCH_BATCHES: usize = 16;

/// Shares of the error asked that go to what is scattered and to what comes straight, in quadrature.
const SCATTERED_SHARE: f64 = 0.92;
const STRAIGHT_SHARE: f64 = 0.38;

/// Share of a time limit after which nothing is walked any more.
const SCATTERED_TIME: f64 = 0.85;

/// Batches of scattered atoms, at least: from their spread comes the error.
const BATCHES: u64 = 32;

impl Run<'_> {
    /// Walks what is scattered, then gathers what comes straight, each as well as the whole needs it.
    pub(super) fn with_scattered(&self, job: &Job, aim: &Aim, tally: &mut Tally) {
        let straight_m: Vec<f64> = self.rough_m(aim.causes);
        let (stopped, scattered) = self.scattered(aim, &straight_m);
        let whole_m = |(a, b): (&f64, &f64)| a + b;
        let rough: Vec<f64> = straight_m
            .iter()
            .zip(&scattered.thickness_m)
            .map(whole_m)
            .collect();
        // where the walk ended short of what is asked, more than that of the rest would be in vain
        let reached = self.accuracy_with(aim, &straight_m, &scattered);
        let straight = Aim {
            accuracy: aim.accuracy.max(reached / SCATTERED_SHARE) * STRAIGHT_SHARE,
            floor_m: Some(self.floor_of(aim, &rough)),
            beside_m: &scattered.thickness_m,
            ..*aim
        };
        let (gathered, sums, rows) = self.rounds(job, &straight, &mut tally.rays);
        tally::from_gather(self.scene, self.lines, (&sums, aim.causes), tally);
        rows.report(tally, sums.scramblings, self.rates);
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

    /// Walks until scattered film is known well enough beside what comes straight.
    fn scattered(&self, aim: &Aim, straight_m: &[f64]) -> (Stopped, Scattered) {
        let mut cloud = Cloud::new(self.lines, self.settings.seed);
        let mut wanted = cloud.atoms_of(BATCHES);
        let most = self.settings.atoms.unwrap_or(MOST_ATOMS).max(wanted);
        let asked = aim.accuracy * SCATTERED_SHARE;
        loop {
            while cloud.atoms() < wanted {
                let done = cloud.atoms() as f64 / wanted as f64;
                self.watch.progress("scattered", done);
                // without two batches there is no error
                let few = cloud.batches() < 2;
                let stop = || !few && (self.watch.cancelled() || self.is_late());
                if !cloud.batch(&stop) {
                    let why = self.why_stop().unwrap_or(Stopped::Time);
                    return (why, cloud.read());
                }
            }
            let found = cloud.read();
            let accuracy = self.accuracy_with(aim, straight_m, &found);
            if accuracy <= asked {
                return (Stopped::Reached, found);
            }
            if cloud.atoms() >= most {
                return (Stopped::Atoms, found);
            }
            let more = (1.1 * (accuracy / asked).powi(2)).clamp(1.1, 16.0);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a number of atoms"
            )]
            let more = (wanted as f64 * more).ceil() as u64;
            wanted = more.min(most);
        }
    }

    /// Whether so much of the time limit is gone that the rest is needed for what comes straight.
    fn is_late(&self) -> bool {
        let limit = self.settings.time;
        limit.is_some_and(|limit| self.watch.elapsed_s() > SCATTERED_TIME * limit.as_secs_f64())
    }

    /// Accuracy of scattered film, taken against all film.
    fn accuracy_with(&self, aim: &Aim, straight_m: &[f64], found: &Scattered) -> f64 {
        let films = straight_m.iter().zip(&found.thickness_m);
        let whole: Vec<f64> = films.map(|(a, b)| a + b).collect();
        let floor_m = self.floor_of(aim, &whole);
        let errors = found.std_error_m.iter().zip(&whole);
        let errors: Vec<f64> = errors
            .map(|(error, film)| error / film.max(floor_m).max(f64::MIN_POSITIVE))
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
