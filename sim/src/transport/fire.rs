//! Fire: atoms leave the footprints at random and are counted where they stick.
//!
//! In: [`Lines`] (scene, channels, poses). Out: whole numbers. Unbiased and plain; the judge of every
//! faster method. An atom's random numbers depend on its own number alone and counts are integers, so
//! nothing depends on threads.

use super::channel::Channel;
use super::lines::{Lines, body_of, rigid_inverse};
use super::{Balance, Watch};
use crate::plan::model::ChamberShape;
use crate::random::{Stream, Use};
use crate::scene::{BodyId, BodyKind, Side};
use glam::{DVec2, DVec3};
use rayon::prelude::*;
use std::sync::atomic::{AtomicU32, Ordering};

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

    /// Fires the atoms with these numbers; stops between chunks when the user cancels.
    ///
    /// Returns the fates, which add up to the atoms really fired.
    pub fn fire(
        &self,
        numbers: std::ops::Range<u64>,
        counter: &impl Count,
        watch: &dyn Watch,
    ) -> Balance {
        let chunks = (numbers.end - numbers.start).div_ceil(CHUNK);
        (0..chunks)
            .into_par_iter()
            .map(|chunk| {
                let mut balance = Balance::default();
                if self.cumulative.is_empty() || watch.cancelled() {
                    return balance;
                }
                let first = numbers.start + chunk * CHUNK;
                for number in first..(first + CHUNK).min(numbers.end) {
                    let flight = self.fly(number);
                    self.tally(&flight, &mut balance);
                    counter.count(&flight);
                }
                balance
            })
            .reduce(Balance::default, |a, b| a.plus(&b))
    }

    /// Flies atom `number`.
    pub fn fly(&self, number: u64) -> Flight {
        let mut stream = Stream::new(self.seed, Use::Atom, number);
        let pick = stream.uniform() * self.real_atoms();
        let channel = self
            .cumulative
            .partition_point(|&sum| sum <= pick)
            .min(self.cumulative.len() - 1);
        let landing = self.land(&self.lines.channels[channel], &mut stream);
        Flight {
            channel,
            landing,
            receiver: self.receiver(landing),
        }
    }

    fn land(&self, channel: &Channel, stream: &mut Stream) -> Landing {
        let start = self.lines.start(channel, stream.pair());
        let law = &self.lines.scene.sources[channel.source].law;
        let direction = from_normal(start.normal, law.sample(stream.pair()));
        let pose = self.lines.pose(channel, stream.uniform());
        let back = rigid_inverse(&pose);
        let mut nearest = f64::INFINITY;
        let mut landing = None;
        for riding in [false, true] {
            let group = self.lines.group(channel.configuration, riding);
            let (origin, along) = if riding {
                (
                    back.transform_point3(start.position_m),
                    back.transform_vector3(direction),
                )
            } else {
                (start.position_m, direction)
            };
            if let Some(hit) = group.kernel.first_hit(origin, along, nearest, None) {
                nearest = hit.t;
                let (body, triangle) = body_of(group, hit.triangle);
                landing = Some(Landing::Body {
                    body,
                    triangle,
                    side: if hit.from_front {
                        Side::Front
                    } else {
                        Side::Back
                    },
                    bary: hit.bary,
                    incidence_rad: incidence(group.kernel.triangle(hit.triangle), along),
                });
            }
        }
        let Some(chamber) = &self.lines.scene.chamber else {
            return landing.unwrap_or(Landing::Escaped);
        };
        // What lies outside the walls is cut off: the wall is nearer.
        match landing {
            Some(landing) if nearest <= wall_distance(chamber, start.position_m, direction) => {
                landing
            }
            _ => Landing::Wall,
        }
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

    fn tally(&self, flight: &Flight, balance: &mut Balance) {
        balance.emitted += 1;
        let fate = match flight.landing {
            Landing::Wall => &mut balance.walls,
            Landing::Escaped => &mut balance.escaped,
            Landing::Body { body, side, .. } => {
                match self.lines.scene.bodies[body.0 as usize].kind {
                    BodyKind::Part(part) => {
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
                }
            }
        };
        *fate += 1;
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
    microradians: Vec<std::sync::atomic::AtomicU64>,
    channels: usize,
}

impl Counts {
    /// No landings yet.
    pub fn new(receivers: usize, channels: usize) -> Self {
        Self {
            landed: (0..receivers * channels)
                .map(|_| AtomicU32::new(0))
                .collect(),
            microradians: (0..receivers)
                .map(|_| std::sync::atomic::AtomicU64::new(0))
                .collect(),
            channels,
        }
    }

    /// Landings on a receiver from a channel.
    pub fn landed(&self, receiver: usize, channel: usize) -> u32 {
        self.landed[receiver * self.channels + channel].load(Ordering::Relaxed)
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
        self.landed[receiver * self.channels + flight.channel].fetch_add(1, Ordering::Relaxed);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "an angle of 0 to π/2 in microradians"
        )]
        let angle = (incidence_rad * 1e6).round() as u64;
        self.microradians[receiver].fetch_add(angle, Ordering::Relaxed);
    }
}

fn incidence([a, b, c]: [DVec3; 3], along: DVec3) -> f64 {
    let normal = (b - a).cross(c - a).normalize_or_zero();
    normal.dot(along.normalize_or_zero()).abs().min(1.0).acos()
}

/// A direction given about +z, about a normal instead. Azimuth is free: all laws are even in it.
///
/// Source: T. Duff et al., "Building an orthonormal basis, revisited", J. Comput. Graph. Tech. 6(1), 1 (2017).
pub(crate) fn from_normal(normal: DVec3, local: DVec3) -> DVec3 {
    let sign = 1.0_f64.copysign(normal.z);
    let a = -1.0 / (sign + normal.z);
    let b = normal.x * normal.y * a;
    let x = DVec3::new(
        1.0 + sign * normal.x * normal.x * a,
        sign * b,
        -sign * normal.x,
    );
    let y = DVec3::new(b, sign + normal.y * normal.y * a, -normal.y);
    x * local.x + y * local.y + normal * local.z
}

/// Distance along a unit direction from a point inside to the chamber's wall, m.
fn wall_distance(chamber: &ChamberShape, from: DVec3, along: DVec3) -> f64 {
    let slab = |x: f64, v: f64, low: f64, high: f64| {
        if v > 0.0 {
            (high - x) / v
        } else if v < 0.0 {
            (low - x) / v
        } else {
            f64::INFINITY
        }
    };
    match *chamber {
        ChamberShape::Box { size_m } => slab(from.x, along.x, -size_m.x / 2.0, size_m.x / 2.0)
            .min(slab(from.y, along.y, -size_m.y / 2.0, size_m.y / 2.0))
            .min(slab(from.z, along.z, 0.0, size_m.z)),
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            let (x, v) = (from.truncate(), along.truncate());
            let a = v.length_squared();
            let b = x.dot(v);
            let c = x.length_squared() - diameter_m * diameter_m / 4.0;
            let round = if a > 0.0 {
                (-b + (b * b - a * c).max(0.0).sqrt()) / a
            } else {
                f64::INFINITY
            };
            round.min(slab(from.z, along.z, 0.0, height_m))
        }
    }
}
