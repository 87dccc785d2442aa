//! What became of fired atoms: sums over flights, and landings per receiver.
//!
//! In: flights. Out: whole numbers, so that the order in which threads add them does not matter.

use super::fire::{Count, Flight, Landing};
use super::{Arrivals, Balance, Moments};
use crate::scene::Scene;
use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

/// Sums over fired atoms.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Flown {
    /// Fates.
    pub balance: Balance,
    /// Collisions of all atoms.
    pub collisions: Moments,
    /// Bounces of all atoms.
    pub bounces: Moments,
    /// Per part: what arrived on its front, on its back.
    pub arrivals: Vec<[Arrivals; 2]>,
}

impl Flown {
    /// Nothing fired yet.
    pub fn new(parts: usize) -> Self {
        Self {
            arrivals: vec![Default::default(); parts],
            ..Self::default()
        }
    }

    /// Both together; parts alike.
    #[must_use]
    pub fn plus(mut self, other: Self) -> Self {
        self.balance = self.balance.plus(&other.balance);
        self.collisions = self.collisions.plus(&other.collisions);
        self.bounces = self.bounces.plus(&other.bounces);
        for (here, there) in self
            .arrivals
            .iter_mut()
            .flatten()
            .zip(other.arrivals.iter().flatten())
        {
            *here = here.plus(there);
        }
        self
    }
}

impl Balance {
    /// Sum of two balances.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            emitted: self.emitted + other.emitted,
            part: self.part + other.part,
            part_back: self.part_back + other.part_back,
            fixtures: self.fixtures + other.fixtures,
            mask: self.mask + other.mask,
            shutter: self.shutter + other.shutter,
            coupons: self.coupons + other.coupons,
            walls: self.walls + other.walls,
            source: self.source + other.source,
            escaped: self.escaped + other.escaped,
        }
    }

    /// Sum of all fates; equals `emitted`.
    pub fn fates(&self) -> u64 {
        self.part
            + self.part_back
            + self.fixtures
            + self.mask
            + self.shutter
            + self.coupons
            + self.walls
            + self.source
            + self.escaped
    }
}

/// Landings per receiver and channel, with the sum of incidence angles in whole microradians.
pub(crate) struct Counts {
    landed: Vec<AtomicU32>,
    /// Of these, not straight from the footprint; empty where all fly straight.
    scattered: Vec<AtomicU32>,
    microradians: Vec<AtomicU64>,
    channels: usize,
}

impl Counts {
    /// No landings yet.
    pub fn new(scene: &Scene, channels: usize) -> Self {
        let receivers = scene.receivers.len();
        let zeros = |n: usize| (0..n).map(|_| AtomicU32::new(0)).collect();
        Self {
            landed: zeros(receivers * channels),
            scattered: zeros(if scene.is_straight() {
                0
            } else {
                receivers * channels
            }),
            microradians: (0..receivers).map(|_| AtomicU64::new(0)).collect(),
            channels,
        }
    }

    /// Landings on a receiver from a channel.
    pub fn landed(&self, receiver: usize, channel: usize) -> u32 {
        self.landed[receiver * self.channels + channel].load(Ordering::Relaxed)
    }

    /// Landings on a receiver from a channel that did not come straight.
    pub fn scattered(&self, receiver: usize, channel: usize) -> u32 {
        let entry = self.scattered.get(receiver * self.channels + channel);
        entry.map_or(0, |n| n.load(Ordering::Relaxed))
    }

    /// Mean incidence angle on a receiver, rad; NaN without landings.
    pub fn incidence_rad(&self, receiver: usize) -> f64 {
        let landed: u64 = (0..self.channels)
            .map(|c| u64::from(self.landed(receiver, c)))
            .sum();
        let sum = self.microradians[receiver].load(Ordering::Relaxed);
        if landed == 0 {
            f64::NAN
        } else {
            sum as f64 * 1e-6 / landed as f64
        }
    }
}

impl Count for Counts {
    fn count(&self, flight: &Flight) {
        let (Some(receiver), Landing::Body { incidence_rad, .. }) =
            (flight.receiver, flight.landing)
        else {
            return;
        };
        let entry = receiver * self.channels + flight.channel;
        self.landed[entry].fetch_add(1, Ordering::Relaxed);
        if flight.scattered() {
            self.scattered[entry].fetch_add(1, Ordering::Relaxed);
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "an angle of 0 to π/2 in microradians"
        )]
        let angle = (incidence_rad * 1e6).round() as u64;
        self.microradians[receiver].fetch_add(angle, Ordering::Relaxed);
    }
}
