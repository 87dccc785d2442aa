//! Lines between footprints and receivers: where they start, how they are weighted, what is in the way.
//!
//! In: a scene and real atoms per source and step. Out: for a point of a receiver, a point of a
//! footprint and a time: flux weight, clear or not, and the first solid met. Shared by `gather`, the
//! coupon scaling and (for poses and bodies) `fire`.

mod target;

use crate::gas::Survival;
use crate::random::DIMENSIONS;
use crate::scene::{BodyId, BodyKind, Configuration, Group, Receiver, Scene, Side, Source};
use crate::transport::Rates;
use crate::transport::channel::{Channel, Course};
use crate::transport::looks::Seen;
use crate::transport::window::{Sweep, Window};
use crate::trig::sin_cos_of_turns;
use glam::{DAffine3, DVec2, DVec3};
use std::f64::consts::TAU;

pub(crate) use target::Target;

/// Where a body is found in a configuration.
#[derive(Debug, Clone, Copy)]
struct Place {
    riding: bool,
    first: u32,
}

/// A scene prepared for lines.
#[derive(Debug)]
pub(crate) struct Lines<'a> {
    pub scene: &'a Scene,
    pub channels: Vec<Channel>,
    sweeps: Vec<Sweep>,
    places: Vec<Vec<Option<Place>>>,
    standoff_m: f64,
    /// Per source: what survives a straight line in gas; empty without gas.
    survivals: Vec<Survival>,
}

/// A line from a footprint to a receiver.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    /// Flux per atom at the receiver if it faced the footprint, 1/m².
    pub open: f64,
    /// Cosine of the incidence angle; below 0 behind the receiver.
    pub cosine: f64,
    /// Unit vector towards the footprint, frame of the receiver.
    pub toward: DVec3,
    /// In the chamber, and as a rider sees it.
    pub ends: [Ends; 2],
}

/// The ends of a line in one frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ends {
    /// On the footprint.
    pub from: DVec3,
    /// On the receiver.
    pub to: DVec3,
}

/// What takes a share of the open flux.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub(crate) enum Share {
    Direct = 0,
    Facing = 1,
    Itself = 2,
    Fixtures = 3,
    Mask = 4,
    Shutter = 5,
    Gas = 6,
}

impl Line {
    /// From the footprint to the receiver, m.
    pub fn length_m(&self) -> f64 {
        self.ends[0].from.distance(self.ends[0].to)
    }
}

/// Inverse of a rigid motion.
#[inline]
pub(crate) fn rigid_inverse(pose: &DAffine3) -> DAffine3 {
    let back = pose.matrix3.transpose();
    DAffine3 {
        matrix3: back,
        translation: -(back * pose.translation),
    }
}

impl<'a> Lines<'a> {
    /// Prepares all channels with atoms in them.
    pub fn new(scene: &'a Scene, rates: &Rates) -> Self {
        let mut channels = Vec::new();
        for (index, step) in scene.steps.iter().enumerate() {
            for (source, thing) in scene.sources.iter().enumerate() {
                let atoms = rates.atoms[source][index];
                if atoms > 0.0 {
                    channels.push(Channel {
                        source,
                        step: index,
                        configuration: step.configuration,
                        metal: thing.metal,
                        atoms,
                        atom_volume_m3: scene.metals[thing.metal].atom_volume_m3(),
                        open: step.open[source],
                        course: Course::new(scene, &step.motion),
                        motion: step.motion.clone(),
                    });
                }
            }
        }
        Self::with_channels(scene, channels)
    }

    /// Prepares the given channels.
    pub fn with_channels(scene: &'a Scene, channels: Vec<Channel>) -> Self {
        let places = scene
            .configurations
            .iter()
            .map(|c| places(c, scene.bodies.len()))
            .collect();
        let mut lines = Self {
            scene,
            channels,
            sweeps: Vec::new(),
            places,
            standoff_m: standoff_m(scene),
            survivals: survivals(scene),
        };
        lines.sweeps = lines
            .channels
            .iter()
            .map(|channel| Sweep::new(scene, channel, lines.standoff_m, |u| lines.pose(channel, u)))
            .collect();
        lines
    }

    /// Share of a channel's atoms that fly along a line without meeting a gas atom; 1 without gas.
    #[inline]
    pub fn survival(&self, channel: &Channel, line: &Line) -> f64 {
        self.survival_over(channel, || line.length_m())
    }

    /// The same over a length, m, which is not worked out without gas.
    #[inline]
    pub fn survival_over(&self, channel: &Channel, length_m: impl FnOnce() -> f64) -> f64 {
        match self.survivals.get(channel.source) {
            Some(survival) => survival.at(length_m()),
            None => 1.0,
        }
    }

    /// Share of what arrives on a receiver that stays.
    pub fn sticking(&self, target: &Target) -> f64 {
        self.scene.bodies[target.body.0 as usize].sticking
    }

    /// How far starts are lifted off an emitting face, m.
    pub fn standoff_m(&self) -> f64 {
        self.standoff_m
    }

    /// When a receiver can see the footprint of a channel, and how much it then gets.
    pub fn window(&self, channel: usize, target: &Target, seen: Option<&Seen>) -> Window {
        let law = &self.scene.sources[self.channels[channel].source].law;
        self.sweeps[channel].window(target, seen, |cosine| law.pdf_per_sr(cosine))
    }

    /// Balls in whose hull a channel's footprint stays through a piece ([`Sweep::balls`]), if one rotation moves.
    #[cfg(test)]
    pub fn balls(&self, channel: usize, bin: usize) -> Option<[(DVec3, f64); 2]> {
        (self.channels[channel].motion.moving() == 1).then(|| self.sweeps[channel].balls(bin))
    }

    /// Distance from a receiver to the middle of a channel's footprint when that is nearest, m; where several rotations
    /// move, half way through the step.
    pub fn nearest_m(&self, channel: usize, target: &Target) -> f64 {
        let middle = target.bounding_sphere().0;
        let places = self.sweeps[channel].places(target);
        let nearest = places.map(|place| place.distance(middle)).reduce(f64::min);
        nearest.unwrap_or_else(|| {
            let channel = &self.channels[channel];
            let (centre, _) = self.scene.sources[channel.source]
                .footprint
                .bounding_sphere();
            let there = rigid_inverse(&self.pose(channel, 0.5)).transform_point3(centre);
            there.distance(middle)
        })
    }

    /// True when all lines of a channel and a piece of its time are proved clear of what shares the receiver's
    /// frame.
    pub fn is_clear(&self, channel: usize, target: &Target, bin: usize) -> bool {
        let group = self.group(self.channels[channel].configuration, target.riding);
        self.sweeps[channel]
            .shaft(target, bin)
            .is_some_and(|shaft| group.kernel.is_clear(&shaft, Some(target.triangle)))
    }

    /// The receiver as it lies in a configuration; none if it has no area there or is not there.
    pub fn target(&self, receiver: &Receiver, configuration: usize) -> Option<Target> {
        let place = self.places[configuration][receiver.body.0 as usize]?;
        let group = self.group(configuration, place.riding);
        let triangle = place.first + receiver.triangle;
        let [a, b, c] = group.kernel.triangle(triangle);
        let at = |w: DVec2| a + (b - a) * w.x + (c - a) * w.y;
        let [p, q, r] = receiver.corners.map(at);
        let front = (b - a).cross(c - a).try_normalize()?;
        let normal = match receiver.side {
            Side::Front => front,
            Side::Back => -front,
        };
        Some(Target {
            corner: p,
            edges: [q - p, r - p],
            normal,
            across: normal.any_orthonormal_pair().into(),
            riding: place.riding,
            triangle,
            body: receiver.body,
        })
    }

    /// A number that is near for targets that lie near each other: place in the kernel of the target's group.
    pub fn order_of(&self, target: &Target, configuration: usize) -> u64 {
        let group = self.group(configuration, target.riding);
        u64::from(target.riding) << 32 | u64::from(group.kernel.place(target.triangle))
    }

    /// Pose of the riding group at the fraction `u` of a channel's step (folded over whole turns).
    #[inline]
    pub fn pose(&self, channel: &Channel, u: f64) -> DAffine3 {
        match &channel.course {
            Course::Still(pose) => *pose,
            Course::Turning { rotation, terms } => {
                let angle = channel.motion.angle_for(*rotation, u);
                let (sine, cosine) = sin_cos_of_turns(angle * (1.0 / TAU));
                let [level, by_cosine, by_sine] = terms;
                DAffine3 {
                    matrix3: level.matrix3 + by_cosine.matrix3 * cosine + by_sine.matrix3 * sine,
                    translation: level.translation
                        + by_cosine.translation * cosine
                        + by_sine.translation * sine,
                }
            }
            Course::Tumbling => {
                let angles = channel.motion.angles_for(u);
                self.scene.motion.pose(&angles)
            }
        }
    }

    /// A point of the footprint, lifted off the face so far that rounding cannot put it behind.
    #[inline]
    pub fn start(&self, channel: &Channel, u: [f64; 2]) -> crate::emission::FootprintPoint {
        let mut point = self.scene.sources[channel.source].footprint.sample(u);
        point.position_m += point.normal * self.standoff_m;
        point
    }

    /// The line for one sample: point on the receiver, point on the footprint, time.
    ///
    /// Open flux per atom: p(θ)/r², with p the emission density per steradian; PHYSICS.md "Gather".
    #[inline]
    pub fn line(&self, channel: &Channel, target: &Target, u: [f64; DIMENSIONS]) -> Line {
        let root = u[0].sqrt();
        let to = target.corner
            + target.edges[0] * (root * (1.0 - u[1]))
            + target.edges[1] * (root * u[1]);
        let start = self.start(channel, [u[2], u[3]]);
        let pose = self.pose(channel, u[4]);
        let back = pose.matrix3.transpose();
        let in_riding = Ends {
            from: back * (start.position_m - pose.translation),
            to: if target.riding {
                to
            } else {
                back * (to - pose.translation)
            },
        };
        let in_chamber = Ends {
            from: start.position_m,
            to: if target.riding {
                pose.transform_point3(to)
            } else {
                to
            },
        };
        let ends = [in_chamber, in_riding];
        let own = ends[usize::from(target.riding)];
        let span = in_chamber.to - in_chamber.from;
        let squared = span.length_squared();
        let per_distance = 1.0 / squared.sqrt();
        let emitted = span.dot(start.normal) * per_distance;
        let open = self.scene.sources[channel.source].law.pdf_per_sr(emitted) / squared;
        let toward = (own.from - own.to) * per_distance;
        Line {
            open,
            cosine: toward.dot(target.normal),
            toward,
            ends,
        }
    }

    /// Who takes the share of a blocked line: the first solid met from the footprint.
    pub fn blocker(&self, channel: &Channel, target: &Target, line: &Line) -> Share {
        let mut first = (f64::INFINITY, None);
        for riding in [false, true] {
            let group = self.group(channel.configuration, riding);
            let Ends { from, to } = line.ends[usize::from(riding)];
            let skip = (riding == target.riding).then_some(target.triangle);
            if let Some(hit) = group.kernel.first_hit(from, to - from, 1.0, skip)
                && hit.t < first.0
            {
                first = (hit.t, Some(body_of(group, hit.triangle).0));
            }
        }
        match first.1 {
            None => Share::Itself, // grazing an edge of its own surface within rounding
            Some(body) if body == target.body => Share::Itself,
            Some(body) => match self.scene.bodies[body.0 as usize].kind {
                BodyKind::Shutter(_) => Share::Shutter,
                BodyKind::Mask { .. } => Share::Mask,
                _ => Share::Fixtures,
            },
        }
    }

    /// One of the two rigid groups.
    #[inline]
    pub fn group(&self, configuration: usize, riding: bool) -> &Group {
        let configuration = &self.scene.configurations[configuration];
        if riding {
            &configuration.riding
        } else {
            &configuration.still
        }
    }
}

/// Body and row of a kernel triangle.
pub(crate) fn body_of(group: &Group, triangle: u32) -> (BodyId, u32) {
    let index = group
        .bodies
        .partition_point(|&(_, first)| first <= triangle)
        - 1;
    let (body, first) = group.bodies[index];
    (body, triangle - first)
}

fn places(configuration: &Configuration, bodies: usize) -> Vec<Option<Place>> {
    let mut places = vec![None; bodies];
    for (group, riding) in [(&configuration.still, false), (&configuration.riding, true)] {
        for &(body, first) in &group.bodies {
            places[body.0 as usize] = Some(Place { riding, first });
        }
    }
    places
}

/// What survives a straight line, per source; nothing without gas.
fn survivals(scene: &Scene) -> Vec<Survival> {
    let of = |source: &Source| {
        let gas = scene.gas.as_ref()?;
        Some(Survival::new(&gas.pairs[source.metal], &source.energy?))
    };
    let sources = scene.sources.iter();
    sources.map(of).collect::<Option<_>>().unwrap_or_default()
}

/// How far starts are lifted off an emitting face, m: corners of the face are rounded to f32
/// (half a unit in the last place, 2⁻²⁵ of the largest coordinate each); eight times that.
fn standoff_m(scene: &Scene) -> f64 {
    let mut largest: f64 = 0.0;
    for source in &scene.sources {
        let (centre, radius) = source.footprint.bounding_sphere();
        largest = largest.max(centre.abs().max_element() + radius);
    }
    largest * 2.0_f64.powi(-22)
}
