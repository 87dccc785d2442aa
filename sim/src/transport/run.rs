//! The run: method, rounds, limits, audit.
//!
//! In: a scene and its rates. Out: the [`Tally`].

mod scattered;

use super::audit::Audit;
use super::fire::Gun;
use super::fired;
use super::flown::{Counts, Flown};
use super::gather::{Job, Keep, SCRAMBLINGS, STRIDE, Sums as Gathered};
use super::led::Led;
use super::lines::Lines;
use super::pilot::{self, Aim};
use super::tally::{self, Rows};
use super::{Method, Rates, RunSettings, Stopped, Tally, Watch, probe};
use super::{causes, corrected};
use crate::plan::model::Want;
use crate::random::Use;
use crate::scene::Scene;

/// Least atoms fired as audit, unless fewer are asked for.
const AUDIT_ATOMS: u64 = 1_000_000;

/// Atoms fired as audit of a sketch.
const FEW_ATOMS: u64 = 10_000;

/// Lines of a sketch that a coupon gets for each of a facet: there are few of them, and their number is read.
const COUPON_LINES: u16 = 16;
/// Most atoms of a firing run without a limit: 2^40, days of work.
const MOST_ATOMS: u64 = 1 << 40;

/// Atoms of the first batch of a firing run; later ones double up to sixteen times that.
const FIRST_BATCH: u64 = 1 << 20;

/// Rounds of gathering: each is thrown away when it falls short and serves the next as pilot; the
/// last one goes on with further scramblings.
const ROUNDS: u16 = 4;

/// Errors this much above what is asked are worked off by further scramblings: up to a quarter more.
const LITTLE: f64 = 1.12;

/// So many at a time.
const FURTHER: u32 = 4;

/// Receivers that count below which as many go on at a time as before: with few, looking often would end runs by the luck
/// of a small spread.
const FEW: usize = 200;

/// Share of the accuracy asked that is left to sampling however badly the rate is known.
const LEAST_LEFT: f64 = 0.7;

/// Lets a scene's atoms fly.
///
/// - `rates`: from [`super::calibrate`]
/// - `watch`: told the progress, asked for time and cancel
/// - returns the tally; same seed, settings and scene give the same bits on any number of threads unless
///   time or the user ended the run
pub fn run(scene: &Scene, rates: &Rates, settings: &RunSettings, watch: &dyn Watch) -> Tally {
    prepared(scene, rates, (settings, watch), |run| {
        match settings.method.in_effect(scene) {
            Method::Fire => run.fire(MOST_ATOMS),
            Method::Auto | Method::Gather => run.gather(),
        }
    })
}

/// A first look at a scene: few lines for some of the receivers, no more than a token audit, in a fraction of a
/// second.
///
/// Everything that [`run`] fills is there, with errors as large as they then are; probes are left out. Of many
/// receivers (above 30 000) only one in a few that lie side by side and face alike is looked at and speaks for all,
/// with an error to match, so that edges of shadows are as coarse as that.
///
/// - as for [`run`]; `settings` gives seed and threads alone
pub fn sketch(scene: &Scene, rates: &Rates, settings: &RunSettings, watch: &dyn Watch) -> Tally {
    let tally = prepared(scene, rates, (settings, watch), |run| run.sketch());
    Tally {
        is_sketch: true,
        ..tally
    }
}

/// Makes everything ready and does it on the threads asked for.
fn prepared(
    scene: &Scene,
    rates: &Rates,
    (settings, watch): (&RunSettings, &dyn Watch),
    way: impl FnOnce(&Run) -> Tally + Send,
) -> Tally {
    super::with_threads(settings.threads, || {
        let lines = Lines::new(scene, rates);
        let untold = tally::idle(scene);
        let idle = tally::idle_or_covered(scene, &untold);
        way(&Run {
            scene,
            rates,
            settings,
            watch,
            lines: &lines,
            unlit: tally::unlit(scene, &idle),
            idle,
            untold,
        })
    })
}

struct Run<'a> {
    scene: &'a Scene,
    rates: &'a Rates,
    settings: &'a RunSettings,
    watch: &'a dyn Watch,
    lines: &'a Lines<'a>,
    /// Receivers of which nothing is asked.
    idle: Vec<bool>,
    /// Those, and all that nothing comes straight to.
    unlit: Vec<bool>,
    /// Those among them of which not even causes are told.
    untold: Vec<bool>,
}

impl Run<'_> {
    /// A tally that holds an audit and nothing else.
    fn audited(&self, atoms: u64) -> Tally {
        let mut tally = Tally::default();
        let gun = Gun::new(self.lines, self.settings.seed);
        let audit = Audit::new(self.scene);
        book(self.audit(&gun, &audit, atoms), &mut tally);
        audit.report(&gun, tally.balance.emitted, &mut tally);
        tally
    }

    fn job(&self) -> Job<'_> {
        Job {
            lines: self.lines,
            receivers: &self.scene.receivers,
            seed: self.settings.seed,
            purpose: Use::Scramble,
            round: 0,
        }
    }

    fn causes(
        &self,
        (points, spared): (causes::Points, &[bool]),
        rays: &mut u64,
    ) -> Vec<causes::Causes> {
        let job = Job {
            purpose: Use::Causes,
            ..self.job()
        };
        causes::look(&job, spared, points, rays)
    }

    fn aim<'b>(&'b self, areas_m2: &'b [f64], causes: &'b [causes::Causes]) -> Aim<'b> {
        Aim {
            accuracy: self.asked(),
            floor_m: self.floor_m(),
            areas_m2,
            idle: &self.idle,
            unlit: &self.unlit,
            causes,
            beside: pilot::Beside::default(),
        }
    }

    /// The accuracy that sampling should have: what is asked less the error of the rate, in quadrature.
    ///
    /// Where all fly straight a rate from a coupon is known nearly exactly, and nothing is taken off.
    fn asked(&self) -> f64 {
        let asked = self.settings.accuracy;
        if self.scene.is_straight() {
            return asked;
        }
        let rate = tally::rate_error(self.lines, self.rates);
        let left = (asked.powi(2) - rate.powi(2)).max(0.0).sqrt();
        left.max(LEAST_LEFT * asked)
    }

    fn sketch(&self) -> Tally {
        let mut tally = self.audited(FEW_ATOMS);
        let areas: Vec<f64> = tally::accuracy_areas(self.scene);
        let job = Job {
            purpose: Use::Pilot,
            ..self.job()
        };
        let led = Led::new(&job, &self.untold);
        let mut causes = self.causes((causes::Points::FEW, &led.spared), &mut tally.rays);
        let mut effort = pilot::sketch_effort(&job, &led.spared);
        for coupon in self.scene.coupons.iter().flat_map(|c| c.receivers.clone()) {
            let lines = &mut effort.lines[coupon * effort.channels..][..effort.channels];
            lines.iter_mut().for_each(|lines| *lines *= COUPON_LINES);
        }
        let mut sums = Gathered::new(job.receivers.len(), effort.channels, Keep::Means);
        let mut rows = Rows::new(self.scene);
        tally.rays += job.scramblings(&effort, &mut sums);
        led.follow(&mut sums, effort.channels, &mut causes);
        rows.add(self.scene, &sums);
        tally::from_gather(self.scene, self.lines, (&sums, &causes), &mut tally);
        rows.report(&mut tally, sums.scramblings);
        led.doubt(self.scene, &mut tally);
        if !self.scene.is_straight() {
            self.sketch_scattered()
                .join(self.scene, self.lines, &mut tally);
        }
        tally.stopped = Some(Stopped::Reached);
        tally::add_rate_error(self.lines, self.rates, &mut tally);
        tally.accuracy = tally::accuracy_of_receivers(&tally.receivers, &self.aim(&areas, &causes));
        tally
    }

    fn gather(&self) -> Tally {
        let atoms = self
            .settings
            .atoms
            .map_or(AUDIT_ATOMS, |n| n.min(AUDIT_ATOMS));
        let mut tally = self.audited(atoms);
        let areas: Vec<f64> = tally::accuracy_areas(self.scene);
        let job = self.job();
        self.watch.progress("causes", 0.0);
        let causes = self.causes((causes::Points::MANY, &self.untold), &mut tally.rays);
        let aim = self.aim(&areas, &causes);
        if self.scene.is_straight() {
            let (stopped, sums, rows) = self.rounds(&job, &aim, &mut tally.rays);
            tally::from_gather(self.scene, self.lines, (&sums, &causes), &mut tally);
            rows.report(&mut tally, sums.scramblings);
            tally.stopped = Some(stopped);
            self.finish(&aim, &mut tally);
        } else {
            self.with_scattered(&job, &aim, &mut tally);
        }
        tally
    }

    /// Pilot and rounds of gathering; ends with the last sums that are whole.
    fn rounds(&self, job: &Job, aim: &Aim, rays: &mut u64) -> (Stopped, Gathered, Rows) {
        self.watch.progress("pilot", 0.0);
        let (pilot_effort, sums) = pilot::run_pilot(job, aim.unlit, rays);
        let mut effort = pilot::settle(job, aim, &pilot_effort, &sums);
        let mut rows = Rows::new(self.scene);
        rows.add(self.scene, &sums);
        let mut whole = (sums, rows);
        let counted = aim.areas_m2.iter().zip(aim.unlit);
        let counted = counted.filter(|(area_m2, unlit)| **area_m2 > 0.0 && !**unlit);
        let many = counted.count() >= FEW;
        // beside film that is known otherwise, what a pilot finds may be good enough
        let enough = |sums| tally::accuracy_of(sums, aim) <= tally::within_reach(sums, aim);
        if many && !aim.beside.error_m.is_empty() && enough(&whole.0) {
            return (Stopped::Reached, whole.0, whole.1);
        }
        for round in 1.. {
            let job = &Job { round, ..*job };
            let begun_s = self.watch.elapsed_s();
            let fresh = Gathered::new(job.receivers.len(), effort.channels, Keep::Means);
            let mut now = (fresh, Rows::new(self.scene));
            loop {
                if now.0.scramblings > 0 {
                    whole.clone_from(&now);
                }
                self.watch.progress("gather", self.share_done(&now.0));
                let stop = || self.why_stop().is_some();
                let Some(drawn) = job.scramblings_until(&effort, &mut now.0, &stop) else {
                    return (self.why_stop().unwrap_or(Stopped::User), whole.0, whole.1);
                };
                *rays += drawn;
                now.1.add(self.scene, &now.0);
                if now.0.scramblings < SCRAMBLINGS {
                    continue;
                }
                let accuracy = tally::accuracy_of(&now.0, aim);
                if accuracy <= tally::within_reach(&now.0, aim) {
                    return (Stopped::Reached, now.0, now.1);
                }
                // Short of the mark: draw more lines in another round or, where a little is missing or more
                // is not possible, go on with further scramblings.
                let little = accuracy <= aim.accuracy * LITTLE;
                now.0.many = if little && many { FURTHER } else { STRIDE };
                if little {
                    continue;
                }
                let raised = pilot::raise(&effort, &now.0, aim);
                let more = raised.sum() as f64 / effort.sum().max(1) as f64;
                let needs_s = (self.watch.elapsed_s() - begun_s) * more;
                let fits = self.left_s().is_none_or(|left| left > needs_s);
                if round < ROUNDS && raised.sum() > effort.sum() && fits {
                    effort = raised;
                    break;
                }
            }
            whole = now;
        }
        (Stopped::User, whole.0, whole.1)
    }

    fn share_done(&self, sums: &Gathered) -> f64 {
        (f64::from(sums.scramblings) / f64::from(SCRAMBLINGS)).min(1.0)
    }

    /// Why the run should stop now, if it should.
    fn why_stop(&self) -> Option<Stopped> {
        if self.watch.cancelled() {
            Some(Stopped::User)
        } else {
            self.left_s()
                .is_some_and(|left| left <= 0.0)
                .then_some(Stopped::Time)
        }
    }

    fn left_s(&self) -> Option<f64> {
        self.settings
            .time
            .map(|time| time.as_secs_f64() - self.watch.elapsed_s())
    }

    fn audit(&self, gun: &Gun, audit: &Audit, atoms: u64) -> Flown {
        let mut flown = Flown::new(self.scene.parts.len());
        let batch = (atoms / 8).max(1);
        let mut next = 0;
        while next < atoms && !self.watch.cancelled() {
            self.watch.progress("audit", next as f64 / atoms as f64);
            let end = (next + batch).min(atoms);
            flown = flown.plus(gun.fire(next..end, audit, &|| self.watch.cancelled()));
            next = end;
        }
        flown
    }

    /// Fires until the accuracy is reached, at most so many atoms.
    fn fire(&self, most: u64) -> Tally {
        let mut tally = Tally::default();
        let gun = Gun::new(self.lines, self.settings.seed);
        let counts = Counts::new(self.scene, self.lines.channels.len());
        let areas = tally::accuracy_areas(self.scene);
        self.watch.progress("causes", 0.0);
        let causes = self.causes((causes::Points::MANY, &self.untold), &mut tally.rays);
        let aim = self.aim(&areas, &causes);
        let most = self.settings.atoms.unwrap_or(most).min(most);
        let mut batch = FIRST_BATCH;
        let mut next = 0;
        let mut flown = Flown::new(self.scene.parts.len());
        let stopped = loop {
            let end = (next + batch).min(most);
            let stop = || self.why_stop().is_some();
            flown = flown.plus(gun.fire(next..end, &counts, &stop));
            next = end;
            tally.balance.clone_from(&flown.balance);
            fired::from_fire(self.scene, self.lines, (&gun, &counts, &causes), &mut tally);
            let accuracy = tally::accuracy_of_receivers(&tally.receivers, &aim);
            self.watch
                .progress("fire", (aim.accuracy / accuracy).powi(2).min(1.0));
            if self.watch.cancelled() {
                break Stopped::User;
            }
            if accuracy <= aim.accuracy {
                break Stopped::Reached;
            }
            if next >= most {
                break Stopped::Atoms;
            }
            if self.left_s().is_some_and(|left| left <= 0.0) {
                break Stopped::Time;
            }
            batch = (batch * 2).min(FIRST_BATCH * 16);
        };
        book(flown, &mut tally);
        tally.stopped = Some(stopped);
        tally.rays += tally.balance.emitted + tally.collisions.sum + tally.bounces.sum;
        self.finish(&aim, &mut tally);
        tally
    }

    /// Probes, accuracy reached, and the share of the error that a computed rate brings.
    fn finish(&self, aim: &Aim, tally: &mut Tally) {
        let floor_m = aim
            .floor_m
            .unwrap_or_else(|| tally::floor_of(&tally.receivers, aim));
        let cancelled = tally.stopped == Some(Stopped::User);
        if !self.scene.plan.probes.is_empty() && !cancelled {
            self.watch.progress("probes", 0.0);
            tally.probes = if self.settings.method.in_effect(self.scene) == Method::Fire {
                probe::read(self.scene, &tally.receivers)
            } else {
                let asked = (self.settings.accuracy, floor_m);
                let mut probes = probe::evaluate(self.scene, self.lines, self.settings.seed, asked);
                probe::add_scattered(self.scene, tally, &mut probes);
                probes
            };
        }
        if !self.scene.stencils.is_empty() && !cancelled && self.scene.is_straight() {
            self.watch.progress("edges", 0.0);
            let stop = || self.why_stop().is_some();
            tally.stencils = corrected::all(self.scene, self.rates, self.settings.seed, &stop);
        }
        tally::add_rate_error(self.lines, self.rates, tally);
        tally.accuracy = tally::accuracy_of_receivers(&tally.receivers, aim);
        self.watch.progress("done", 1.0);
    }

    /// 5 % of the wanted thickness, where one is wanted.
    fn floor_m(&self) -> Option<f64> {
        self.scene.plan.film.as_ref().map(|film| {
            0.05 * match &film.want {
                Want::Total(want_m) => *want_m,
                Want::PerMetal(wants) => wants.values().sum(),
            }
        })
    }
}

/// Writes what became of fired atoms into the tally.
fn book(flown: Flown, tally: &mut Tally) {
    tally.balance = flown.balance;
    tally.collisions = flown.collisions;
    tally.bounces = flown.bounces;
    tally.arrivals = flown.arrivals;
}
