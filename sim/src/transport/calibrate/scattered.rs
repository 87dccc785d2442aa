//! Film on a coupon per emitted atom where atoms collide or bounce.
//!
//! In: lines of one channel and a coupon. Out: mean, standard error and open value. What comes straight is gathered,
//! which is nearly exact; what comes after a collision or a bounce is fired for.

use crate::random::Use;
use crate::scene::Coupon;
use crate::stats::Running;
use crate::transport::RunSettings;
use crate::transport::causes::{self, Points};
use crate::transport::fire::{Count, Flight, Gun};
use crate::transport::gather::Job;
use crate::transport::lines::Lines;
use std::ops::Range;
use std::sync::atomic::{AtomicU64, Ordering};

/// Repetitions of the straight part, of so many lines each, from which its spread is taken.
const REPETITIONS: u32 = 32;
const LINES: usize = 256;

/// Share of the accuracy asked of the run up to which the scaling may err: the two then add up to 8 % more.
const SHARE_OF_ACCURACY: f64 = 0.4;

/// Atoms of the first batch, and most atoms: minutes at the shortest free paths, seconds otherwise.
const FIRST_BATCH: u64 = 1 << 17;
const MOST_ATOMS: u64 = 1 << 22;

/// Scattered atoms that must have arrived before their number says how well it is known.
const ENOUGH: u64 = 25;

/// Thickness on a coupon per emitted atom, m: mean, standard error, and with nothing in the way.
///
/// The straight part's spread and the error √n of the count are added in quadrature. `stop` ends it early, with the error
/// that it then has.
pub(super) fn coupon_mean(
    lines: &Lines,
    coupon: &Coupon,
    settings: &RunSettings,
    stop: &(dyn Fn() -> bool + Sync),
) -> (f64, f64, f64) {
    let scene = lines.scene;
    let area_m2: f64 = scene.receivers[coupon.receivers.clone()]
        .iter()
        .map(|receiver| receiver.area_m2)
        .sum();
    let (straight, open) = straight(lines, coupon, settings.seed);
    let gun = Gun::for_scaling(lines, settings.seed);
    let landed = Scattered {
        on: coupon.receivers.clone(),
        count: AtomicU64::new(0),
    };
    let per_landing = lines.channels[0].atom_volume_m3 / area_m2;
    let (mut numbers, mut fired, mut batch) = (0, 0, FIRST_BATCH);
    loop {
        let flown = gun.fire(numbers..numbers + batch, &landed, stop);
        numbers += batch;
        fired += flown.balance.emitted;
        let count = landed.count.load(Ordering::Relaxed);
        let all = fired.max(1) as f64;
        let mean = straight.mean() + count as f64 / all * per_landing;
        // of a count of none: as if one had arrived
        let of_count = (count.max(1) as f64).sqrt() / all * per_landing;
        let error = of_count.hypot(straight.std_error().unwrap_or(f64::INFINITY));
        let enough = error <= SHARE_OF_ACCURACY * settings.accuracy * mean;
        // where next to nothing arrives in all, a count of none is as good
        let nothing = per_landing * ENOUGH as f64 / all < 0.1 * settings.accuracy * mean;
        if (enough && (count >= ENOUGH || nothing)) || numbers >= MOST_ATOMS || stop() {
            return (mean, error, open);
        }
        batch = numbers.min(MOST_ATOMS - numbers);
    }
}

/// What arrives without a collision or a bounce and stays, and what would with nothing in the way.
fn straight(lines: &Lines, coupon: &Coupon, seed: u64) -> (Running, f64) {
    let scene = lines.scene;
    let receivers = &scene.receivers[coupon.receivers.clone()];
    let job = Job {
        lines,
        receivers,
        seed,
        purpose: Use::Calibrate,
        round: 0,
    };
    let area_m2: f64 = receivers.iter().map(|receiver| receiver.area_m2).sum();
    let sticking = scene.bodies[coupon.body.0 as usize].sticking;
    let idle = vec![false; receivers.len()];
    let (mut spread, mut open) = (Running::default(), Running::default());
    for first in 0..REPETITIONS {
        let points = Points {
            first,
            tables: 1,
            each: LINES,
        };
        let causes = causes::look(&job, &idle, points, &mut 0);
        let both = || causes.iter().zip(receivers);
        let direct: f64 = both()
            .map(|(c, r)| c.open_thickness_m * c.shares[0] * r.area_m2)
            .sum();
        spread.push(sticking * direct / area_m2);
        let whole: f64 = both().map(|(c, r)| c.open_thickness_m * r.area_m2).sum();
        open.push(whole / area_m2);
    }
    (spread, open.mean())
}

/// Counts what arrives otherwise than straight.
struct Scattered {
    on: Range<usize>,
    count: AtomicU64,
}

impl Count for Scattered {
    fn count(&self, flight: &Flight) {
        let here = flight
            .receiver
            .is_some_and(|receiver| self.on.contains(&receiver));
        if here && flight.scattered() {
            self.count.fetch_add(1, Ordering::Relaxed);
        }
    }
}
