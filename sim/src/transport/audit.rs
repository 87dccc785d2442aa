//! The audit: what plain firing says of every part and coupon, against the faster method.
//!
//! In: flights. Out: mean thickness by firing with its error.

use super::fire::{Count, Flight, Gun};
use super::{Tally, channel::Channel};
use crate::scene::Scene;
use std::sync::atomic::{AtomicU64, Ordering};

/// Landings per part and coupon, by channel.
pub(crate) struct Audit {
    /// Receiver ranges and areas: parts, then coupons.
    things: Vec<Thing>,
    landed: Vec<Vec<AtomicU64>>,
    parts: usize,
    /// Thing of each receiver.
    thing_of: Vec<u32>,
}

struct Thing {
    area_m2: f64,
}

impl Audit {
    /// Nothing landed yet.
    pub fn new(scene: &Scene) -> Self {
        let mut thing_of = vec![0; scene.receivers.len()];
        let mut things = Vec::new();
        let ranges = scene
            .parts
            .iter()
            .map(|part| vec![part.front.clone(), part.back.clone()])
            .chain(
                scene
                    .coupons
                    .iter()
                    .map(|coupon| vec![coupon.receivers.clone()]),
            );
        for (index, ranges) in ranges.enumerate() {
            let mut area_m2 = 0.0;
            for receiver in ranges.into_iter().flatten() {
                area_m2 += scene.receivers[receiver].area_m2;
                thing_of[receiver] = u32::try_from(index).unwrap_or(u32::MAX);
            }
            things.push(Thing { area_m2 });
        }
        let channels = scene.steps.len() * scene.sources.len();
        let landed = things
            .iter()
            .map(|_| (0..channels.max(1)).map(|_| AtomicU64::new(0)).collect())
            .collect();
        Self {
            things,
            landed,
            parts: scene.parts.len(),
            thing_of,
        }
    }

    /// Writes means and errors into the tally.
    pub fn report(&self, gun: &Gun, fired: u64, tally: &mut Tally) {
        let all: Vec<(f64, f64)> = self
            .things
            .iter()
            .zip(&self.landed)
            .map(|(thing, landed)| {
                let counts: Vec<u64> = landed.iter().map(|n| n.load(Ordering::Relaxed)).collect();
                mean_thickness(
                    gun.channels(),
                    &counts,
                    (gun.real_atoms(), fired),
                    thing.area_m2,
                )
            })
            .collect();
        tally.audit_part_mean_m = all[..self.parts].to_vec();
        tally.audit_coupons_m = all[self.parts..].to_vec();
    }
}

impl Count for Audit {
    fn count(&self, flight: &Flight) {
        if let Some(receiver) = flight.receiver {
            let thing = self.thing_of[receiver] as usize;
            self.landed[thing][flight.channel].fetch_add(1, Ordering::Relaxed);
        }
    }
}

/// Thickness from landings per channel, m, and its standard error.
///
/// Each fired atom stands for `real/fired` atoms. Atoms are independent, so landings are
/// multinomial: Var Σ v_c n_c = Σ v_c² n_c − (Σ v_c n_c)²/fired.
pub(crate) fn mean_thickness(
    channels: &[Channel],
    landed: &[u64],
    (real, fired): (f64, u64),
    area_m2: f64,
) -> (f64, f64) {
    if fired == 0 || area_m2 <= 0.0 {
        return (0.0, 0.0);
    }
    let fired = fired as f64;
    let (mut volume, mut squares) = (0.0, 0.0);
    for (channel, &n) in channels.iter().zip(landed) {
        volume += channel.atom_volume_m3 * n as f64;
        squares += channel.atom_volume_m3.powi(2) * n as f64;
    }
    let scale = real / fired / area_m2;
    (
        volume * scale,
        (squares - volume * volume / fired).max(0.0).sqrt() * scale,
    )
}
