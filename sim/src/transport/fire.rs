//! Fire: atoms leave the footprints at random and are counted where they stick.
//!
//! In: [`Lines`] (scene, channels, poses). Out: whole numbers. Unbiased and plain; the judge of every
//! faster method. An atom's random numbers depend on its own number alone and counts are integers, so
//! nothing depends on threads.

use super::Arrivals;
use super::channel::Channel;
use super::flight::Way;
use super::flown::Flown;
use super::lines::Lines;
use crate::constants::ELEMENTARY_CHARGE_C;
use crate::random::{Stream, Use};
use crate::scene::{BodyId, BodyKind, Side};
use glam::DVec2;
use rayon::prelude::*;

/// Atoms per unit of parallel work.
const CHUNK: u64 = 4096;

/// Where an atom stuck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Landing {
    /// On a body.
    Body {
        body: BodyId,
        triangle: u32,
        side: Side,
        bary: DVec2,
        /// Incidence angle from the normal, rad.
        incidence_rad: f64,
    },
    /// On a wall of the chamber.
    Wall,
    /// Out of the scene.
    Escaped,
}

/// One flight: which channel, where it ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Flight {
    pub channel: usize,
    pub landing: Landing,
    /// Receiver that counts it, if any does.
    pub receiver: Option<usize>,
    /// Collisions with gas atoms on the way.
    pub collisions: u32,
    /// Surfaces that it left again.
    pub bounces: u32,
    /// Energy on landing, J; none without gas, where no energy is drawn.
    pub energy_j: Option<f64>,
}

impl Flight {
    /// Whether it came otherwise than straight from the footprint.
    pub fn scattered(&self) -> bool {
        self.collisions > 0 || self.bounces > 0
    }
}

/// What is done with flights; one receiver of them serves all threads.
pub(crate) trait Count: Sync {
    /// Takes a flight.
    fn count(&self, flight: &Flight);
}

/// Fires atoms through a scene.
pub(crate) struct Gun<'a> {
    lines: &'a Lines<'a>,
    cumulative: Vec<f64>,
    seed: u64,
}

impl<'a> Gun<'a> {
    /// Loads all channels.
    pub fn new(lines: &'a Lines<'a>, seed: u64) -> Self {
        let mut sum = 0.0;
        let cumulative = lines
            .channels
            .iter()
            .map(|channel| {
                sum += channel.atoms;
                sum
            })
            .collect();
        Self {
            lines,
            cumulative,
            seed,
        }
    }

    /// The channels that atoms leave through.
    pub fn channels(&self) -> &[Channel] {
        &self.lines.channels
    }

    /// Real atoms in all channels.
    pub fn real_atoms(&self) -> f64 {
        self.cumulative.last().copied().unwrap_or(0.0)
    }

    /// Fires the atoms with these numbers until `stop` says so; an atom stopped on its way counts as not fired.
    ///
    /// Returns what became of them; the fates add up to the atoms really fired.
    pub fn fire(
        &self,
        numbers: std::ops::Range<u64>,
        counter: &impl Count,
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Flown {
        let chunks = (numbers.end - numbers.start).div_ceil(CHUNK);
        let none = || Flown::new(self.lines.scene.parts.len());
        (0..chunks)
            .into_par_iter()
            .map(|chunk| {
                let mut flown = none();
                if self.cumulative.is_empty() || stop() {
                    return flown;
                }
                let first = numbers.start + chunk * CHUNK;
                for number in first..(first + CHUNK).min(numbers.end) {
                    let Some(flight) = self.fly(number, stop) else {
                        return flown;
                    };
                    self.tally(&flight, &mut flown);
                    counter.count(&flight);
                }
                flown
            })
            .reduce(none, Flown::plus)
    }

    /// Flies atom `number`; none if it was stopped on its way.
    pub fn fly(&self, number: u64, stop: &dyn Fn() -> bool) -> Option<Flight> {
        let mut stream = Stream::new(self.seed, Use::Atom, number);
        let pick = stream.uniform() * self.real_atoms();
        let channel = self
            .cumulative
            .partition_point(|&sum| sum <= pick)
            .min(self.cumulative.len() - 1);
        let way = Way::new(self.lines, channel, &mut stream);
        let (landing, atom) = way.follow(&mut stream, stop)?;
        Some(Flight {
            channel,
            landing,
            receiver: self.receiver(landing),
            collisions: atom.collisions,
            bounces: atom.bounces,
            energy_j: way.energy_j(&atom),
        })
    }

    fn receiver(&self, landing: Landing) -> Option<usize> {
        let Landing::Body {
            body,
            triangle,
            side,
            bary,
            ..
        } = landing
        else {
            return None;
        };
        self.lines.scene.receiver_at(body, triangle, side, bary)
    }

    fn tally(&self, flight: &Flight, flown: &mut Flown) {
        flown.collisions.push(u64::from(flight.collisions));
        flown.bounces.push(u64::from(flight.bounces));
        let balance = &mut flown.balance;
        balance.emitted += 1;
        let fate = match flight.landing {
            Landing::Wall => &mut balance.walls,
            Landing::Escaped => &mut balance.escaped,
            Landing::Body { body, side, .. } => {
                match self.lines.scene.bodies[body.0 as usize].kind {
                    BodyKind::Part(part) => {
                        let arrivals = &mut flown.arrivals[part as usize];
                        add(&mut arrivals[usize::from(side == Side::Back)], flight);
                        let part = &self.lines.scene.parts[part as usize];
                        if side == Side::Front || part.faces == crate::plan::model::Faces::Both {
                            &mut balance.part
                        } else {
                            &mut balance.part_back
                        }
                    }
                    BodyKind::Fixture(_) => &mut balance.fixtures,
                    BodyKind::Shutter(_) => &mut balance.shutter,
                    BodyKind::Coupon(_) => &mut balance.coupons,
                    BodyKind::SourceFace(_) => &mut balance.source,
                    BodyKind::Mask { .. } => &mut balance.mask,
                }
            }
        };
        *fate += 1;
    }
}

/// Adds a flight to what arrived.
fn add(arrivals: &mut Arrivals, flight: &Flight) {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an energy of at most 1 MeV in whole microelectronvolts"
    )]
    let micro_ev = |energy_j: f64| (energy_j / ELEMENTARY_CHARGE_C * 1e6).round() as u64;
    arrivals.atoms += 1;
    arrivals.scattered += u64::from(flight.scattered());
    arrivals.collisions.push(u64::from(flight.collisions));
    arrivals.micro_ev.push(flight.energy_j.map_or(0, micro_ev));
}
