//! Film on a coupon per emitted atom where atoms collide or bounce.
//!
//! In: lines of one channel and a coupon. Out: mean, standard error and open value. What comes straight is gathered,
//! which is nearly exact; what comes after a collision or a bounce is walked for.

use crate::random::Use;
use crate::scene::Coupon;
use crate::stats::Running;
use crate::transport::RunSettings;
use crate::transport::causes::{self, Points};
use crate::transport::gather::Job;
use crate::transport::lines::Lines;
use crate::transport::scattered::Cloud;

/// Repetitions of the straight part, of so many lines each, from which its spread is taken.
const REPETITIONS: u32 = 32;
const LINES: usize = 256;

/// Share of the accuracy asked of the run up to which the scaling may err: the two then add up to 8 % more.
const SHARE_OF_ACCURACY: f64 = 0.4;

/// Batches from whose spread the error comes, and most atoms: a minute at the shortest free paths, seconds otherwise.
const BATCHES: usize = 32;
const MOST_ATOMS: u64 = 1 << 20;

/// Thickness on a coupon per emitted atom, m: mean, standard error, and with nothing in the way.
///
/// The spreads of both parts are added in quadrature. `stop` ends it early, with the error that it then has.
pub(super) fn coupon_mean(
    lines: &Lines,
    coupon: &Coupon,
    settings: &RunSettings,
    stop: &(dyn Fn() -> bool + Sync),
) -> (f64, f64, f64) {
    let (straight, open) = straight(lines, coupon, settings.seed);
    let mut cloud = Cloud::towards(lines, settings.seed, coupon.body);
    loop {
        // without two batches there is no error
        let few = cloud.batches() < 2;
        let whole = cloud.batch(&|| !few && stop());
        let (mean_m, error_m) = cloud.mean_over(coupon.receivers.clone());
        let mean = straight.mean() + mean_m;
        let error = error_m.hypot(straight.std_error().unwrap_or(f64::INFINITY));
        let enough = error <= SHARE_OF_ACCURACY * settings.accuracy * mean;
        let told = cloud.batches() >= BATCHES;
        if !whole || (told && enough) || cloud.atoms() >= MOST_ATOMS {
            return (mean, error, open);
        }
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
