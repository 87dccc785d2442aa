//! The flight of one atom: straight lines, collisions, bounces, until it sticks or leaves.
//!
//! In: [`Lines`] (scene, poses), a channel and the atom's own random numbers. Out: where it ended. Everything that
//! turns stands still meanwhile: transit time is nil against a turn.

use super::channel::Channel;
use super::fire::Landing;
use super::lines::{Lines, body_of, rigid_inverse};
use super::walls::{is_inside, is_within, reach_beyond_m, wall_from};
use crate::emission::StartEnergy;
use crate::gas::{Pair, Velocity};
use crate::plan::model::ChamberShape;
use crate::random::Stream;
use crate::scene::Side;
use crate::transport::kernel::Hit;
use crate::trig::sin_cos_of_turns;
use glam::{DAffine3, DVec3};
use std::f64::consts::PI;

/// Collisions and bounces between two looks at whether to stop.
const LOOKS: u32 = 1 << 16;
/// Bounces after which an atom is left where it is, so that nothing flies for ever between surfaces that hold nothing.
const MOST_BOUNCES: u32 = 1 << 20;

/// An atom on its way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Atom {
    /// Chamber frame, m.
    pub at_m: DVec3,
    /// Direction in the chamber frame; the speed counts in gas only.
    pub velocity: Velocity,
    /// Triangle that it leaves, and the group of it (riding or not).
    leaves: Option<(bool, u32)>,
    /// Collisions so far.
    pub collisions: u32,
    /// Bounces so far.
    pub bounces: u32,
}

/// What one flight came to.
pub(super) enum Met {
    /// A body, in one of the groups (riding or not).
    Body(Hit, bool),
    /// A wall, with the normal inward and how far away it is, m.
    Wall(DVec3, f64),
    /// A gas atom, so far away, m.
    Gas(f64),
    /// Nothing within reach.
    Nothing,
}

/// From where an atom flies on.
#[derive(Debug, Clone, Copy)]
pub(super) enum Turn {
    /// A collision in the gas.
    Gas,
    /// A surface, with its normal on the side that was met, chamber frame.
    Surface(DVec3),
}

/// The scene as one atom finds it.
pub(super) struct Way<'a> {
    lines: &'a Lines<'a>,
    channel: &'a Channel,
    pair: Option<&'a Pair>,
    start: Atom,
    chamber_from_riding: DAffine3,
    riding_from_chamber: DAffine3,
}

impl<'a> Way<'a> {
    /// Draws start, direction, time and (in gas) energy.
    pub fn new(lines: &'a Lines<'a>, channel: usize, stream: &mut Stream) -> Self {
        let channel = &lines.channels[channel];
        let source = &lines.scene.sources[channel.source];
        let point = lines.start(channel, stream.pair());
        let along = from_normal(point.normal, source.law.sample(stream.pair()));
        let pose = lines.pose(channel, stream.uniform());
        let gas = lines.scene.gas.as_ref();
        let pair = gas.map(|gas| &gas.pairs[channel.metal]);
        let speed = match (pair, &source.energy) {
            (Some(pair), Some(energy)) => pair.speed_of(energy.sample_j(stream)),
            _ => 0.0, // speed plays no part
        };
        Self {
            lines,
            channel,
            pair,
            start: Atom {
                at_m: point.position_m,
                velocity: Velocity { along, speed },
                leaves: None,
                collisions: 0,
                bounces: 0,
            },
            riding_from_chamber: rigid_inverse(&pose),
            chamber_from_riding: pose,
        }
    }

    /// Energy of an atom, J; none without gas.
    pub fn energy_j(&self, atom: &Atom) -> Option<f64> {
        self.pair.map(|pair| pair.energy_j(atom.velocity.speed))
    }

    /// The atom as it leaves its source.
    pub fn start(&self) -> Atom {
        self.start
    }

    /// Where the riding group stands.
    pub fn chamber_from_riding(&self) -> &DAffine3 {
        &self.chamber_from_riding
    }

    /// Follows the atom to its end; none if it was stopped on its way.
    pub fn follow(&self, stream: &mut Stream, stop: &dyn Fn() -> bool) -> Option<(Landing, Atom)> {
        let mut atom = self.start;
        loop {
            let met = self.next(&atom, stream);
            if self.ends(&met, &atom, stream) {
                return Some((self.landing(&met, &atom), atom));
            }
            let turn = self.arrive(&mut atom, &met);
            atom.velocity = self.depart(&atom, turn, stream);
            if (atom.collisions + atom.bounces).is_multiple_of(LOOKS) && stop() {
                return None;
            }
        }
    }

    /// Draws how far the atom flies, and finds what it meets.
    pub fn next(&self, atom: &Atom, stream: &mut Stream) -> Met {
        let free_m = match self.pair {
            Some(pair) => -stream.uniform().ln() * pair.free_path_at_m(atom.velocity.speed),
            None => f64::INFINITY,
        };
        match self.meet(atom, free_m) {
            Met::Nothing if free_m < f64::INFINITY => Met::Gas(free_m),
            met => met,
        }
    }

    /// Draws whether the atom's way ends with what it met.
    pub fn ends(&self, met: &Met, atom: &Atom, stream: &mut Stream) -> bool {
        match met {
            Met::Body(hit, riding) => {
                let group = self.lines.group(self.channel.configuration, *riding);
                let (body, _) = body_of(group, hit.triangle);
                stays(
                    self.lines.scene.bodies[body.0 as usize].sticking,
                    atom,
                    stream,
                )
            }
            Met::Wall(..) => stays(self.wall_sticking(), atom, stream),
            Met::Gas(_) => false,
            Met::Nothing => true,
        }
    }

    /// Chance to stay on the chamber's wall.
    pub fn wall_sticking(&self) -> f64 {
        let chamber = self.lines.scene.plan.chamber.as_ref();
        chamber.map_or(1.0, |chamber| chamber.sticking)
    }

    /// Takes the atom to what it met, if its way goes on from there.
    pub fn arrive(&self, atom: &mut Atom, met: &Met) -> Turn {
        let along = atom.velocity.along;
        let (distance_m, leaves, turn) = match met {
            Met::Gas(free_m) => (*free_m, None, Turn::Gas),
            Met::Wall(inward, distance_m) => (*distance_m, None, Turn::Surface(*inward)),
            Met::Body(hit, riding) => {
                let normal = self.normal_met(hit, *riding, along);
                let leaves = Some((*riding, hit.triangle));
                (hit.t, leaves, Turn::Surface(normal))
            }
            Met::Nothing => (0.0, atom.leaves, Turn::Gas),
        };
        atom.at_m += along * distance_m;
        atom.leaves = leaves;
        match turn {
            Turn::Gas => atom.collisions += 1,
            Turn::Surface(_) => atom.bounces += 1,
        }
        turn
    }

    /// Draws the velocity with which the atom flies on.
    ///
    /// From a surface by the cosine law and, in gas, with the energy of a gas behind it at the gas's temperature,
    /// E = −k T ln(ξ₁ ξ₂): full accommodation, walls as warm as the gas. Source: PHYSICS.md eq. 55.
    #[inline]
    pub fn depart(&self, atom: &Atom, turn: Turn, stream: &mut Stream) -> Velocity {
        match (turn, self.pair) {
            (Turn::Gas, Some(pair)) => pair.collide(atom.velocity, stream),
            (Turn::Gas, None) => atom.velocity, // not without gas
            (Turn::Surface(normal), _) => {
                let along = from_normal(normal, by_cosine(stream.pair()));
                self.depart_along(atom, turn, along, stream)
            }
        }
    }

    /// Density of the directions in which an atom flies on, per steradian; none where it is not known, as after a
    /// collision of hard spheres.
    pub fn density(&self, turn: Turn, along: DVec3) -> Option<f64> {
        match (turn, self.pair) {
            (Turn::Gas, Some(pair)) => pair.even_density(),
            (Turn::Gas, None) => None,
            (Turn::Surface(normal), _) => Some(normal.dot(along).max(0.0) / PI),
        }
    }

    /// Draws the velocity of an atom that flies on in a given direction, where [`Way::density`] is known.
    pub fn depart_along(
        &self,
        atom: &Atom,
        turn: Turn,
        along: DVec3,
        stream: &mut Stream,
    ) -> Velocity {
        let speed = match (turn, self.pair, &self.lines.scene.gas) {
            (Turn::Surface(_), Some(pair), Some(gas)) => {
                let energy = StartEnergy::Effusive {
                    temperature_k: gas.state.temperature_k,
                };
                pair.speed_of(energy.sample_j(stream))
            }
            _ => atom.velocity.speed,
        };
        Velocity { along, speed }
    }

    /// Mean free path at a velocity, m; without end where there is no gas.
    #[inline]
    pub fn free_path_m(&self, velocity: &Velocity) -> f64 {
        self.pair
            .map_or(f64::INFINITY, |pair| pair.free_path_at_m(velocity.speed))
    }

    /// How far an atom gets before it has forgotten its direction, roughly, m; without end where there is no gas.
    #[inline]
    pub fn straight_path_m(&self, velocity: &Velocity) -> f64 {
        self.pair
            .map_or(f64::INFINITY, |pair| pair.straight_path_m(velocity.speed))
    }

    /// What the atom meets within a distance.
    fn meet(&self, atom: &Atom, within_m: f64) -> Met {
        let along = atom.velocity.along;
        let chamber = self.lines.scene.chamber.as_ref();
        let ends_inside = |chamber: &&ChamberShape| {
            within_m < f64::INFINITY && is_inside(chamber, atom.at_m + along * within_m)
        };
        let wall = chamber
            .filter(|chamber| !ends_inside(chamber))
            .map(|chamber| wall_from(chamber, atom.at_m, along));
        let beyond = match (wall, chamber) {
            (Some(wall), Some(chamber)) => wall.distance_m + reach_beyond_m(chamber),
            _ => f64::INFINITY,
        };
        let met = self.first_body(atom, along, within_m.min(beyond));
        let wall = wall.filter(|wall| wall.distance_m <= within_m);
        // What lies outside the walls is cut off: the wall is nearer.
        let met = met.filter(|(hit, _)| match (wall, chamber) {
            (Some(wall), Some(chamber)) if hit.t > wall.distance_m => {
                is_within(chamber, atom.at_m + atom.velocity.along * hit.t)
            }
            _ => true,
        });
        match (met, wall) {
            (Some((hit, riding)), _) => Met::Body(hit, riding),
            (None, Some(wall)) => Met::Wall(wall.inward, wall.distance_m),
            (None, None) => Met::Nothing,
        }
    }

    /// The first body along a direction within a distance, whatever walls may be nearer.
    pub fn first_body(&self, atom: &Atom, along: DVec3, within_m: f64) -> Option<(Hit, bool)> {
        let mut nearest = within_m;
        let mut met = None;
        for riding in [true, false] {
            let group = self.lines.group(self.channel.configuration, riding);
            if group.kernel.is_empty() {
                continue;
            }
            let (from, along) = self.in_group(atom.at_m, along, riding);
            if nearest < f64::INFINITY && !group.kernel.near(from, from + along * nearest) {
                continue;
            }
            let skip = atom
                .leaves
                .and_then(|(group, triangle)| (group == riding).then_some(triangle));
            if let Some(hit) = group.kernel.first_hit(from, along, nearest, skip) {
                nearest = hit.t;
                met = Some((hit, riding));
            }
        }
        met
    }

    /// A point and a direction of the chamber as a group has them.
    fn in_group(&self, at_m: DVec3, along: DVec3, riding: bool) -> (DVec3, DVec3) {
        if riding {
            let back = &self.riding_from_chamber;
            (back.transform_point3(at_m), back.transform_vector3(along))
        } else {
            (at_m, along)
        }
    }

    /// Where an atom's way ended.
    fn landing(&self, met: &Met, atom: &Atom) -> Landing {
        match met {
            Met::Body(hit, riding) => self.landing_on(hit, *riding, atom.velocity.along),
            Met::Wall(..) => Landing::Wall,
            Met::Gas(_) | Met::Nothing => Landing::Escaped,
        }
    }

    /// Where an atom sticks that meets a body, flying along a direction of the chamber.
    pub fn landing_on(&self, hit: &Hit, riding: bool, along: DVec3) -> Landing {
        let group = self.lines.group(self.channel.configuration, riding);
        let (body, triangle) = body_of(group, hit.triangle);
        let (_, along) = self.in_group(DVec3::ZERO, along, riding);
        Landing::Body {
            body,
            triangle,
            side: if hit.from_front {
                Side::Front
            } else {
                Side::Back
            },
            bary: hit.bary,
            incidence_rad: incidence(group.kernel.triangle(hit.triangle), along),
        }
    }

    /// Normal of a body's triangle on the side that an atom met, chamber frame.
    fn normal_met(&self, hit: &Hit, riding: bool, along: DVec3) -> DVec3 {
        let group = self.lines.group(self.channel.configuration, riding);
        let [a, b, c] = group.kernel.triangle(hit.triangle);
        let front = (b - a).cross(c - a).normalize_or(-along);
        let normal = if hit.from_front { front } else { -front };
        if riding {
            self.chamber_from_riding.transform_vector3(normal)
        } else {
            normal
        }
    }
}

/// Whether an atom stays where it landed.
fn stays(sticking: f64, atom: &Atom, stream: &mut Stream) -> bool {
    sticking >= 1.0 || stream.uniform() < sticking || atom.bounces >= MOST_BOUNCES
}

/// A direction about +z by the cosine law: sin²θ is even.
fn by_cosine([u, turns]: [f64; 2]) -> DVec3 {
    let (sine, cosine) = sin_cos_of_turns(turns);
    let sin_theta = u.sqrt();
    DVec3::new(sin_theta * cosine, sin_theta * sine, (1.0 - u).sqrt())
}

fn incidence([a, b, c]: [DVec3; 3], along: DVec3) -> f64 {
    let normal = (b - a).cross(c - a).normalize_or_zero();
    normal.dot(along.normalize_or_zero()).abs().min(1.0).acos()
}

/// A direction given about +z, about a normal instead. Azimuth is free: all laws are even in it.
///
/// Source: T. Duff et al., "Building an orthonormal basis, revisited", J. Comput. Graph. Tech. 6(1), 1 (2017).
pub(super) fn from_normal(normal: DVec3, local: DVec3) -> DVec3 {
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
