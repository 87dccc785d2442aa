//! What scattered atoms are aimed at: balls around parts and coupons.
//!
//! In: a scene's configurations. Out: where the balls stand for one atom, how many flights are worth drawing
//! towards them, and how heavy an atom should be where it is and flies.

use crate::random::Stream;
use crate::scene::{BodyId, BodyKind, Configuration, Group, Scene};
use crate::transport::flight::from_normal;
use crate::trig::sin_cos_of_turns;
use glam::{DAffine3, DVec3};
use std::f64::consts::{PI, TAU};

/// Flights drawn from a place with the whole sky full of target, by an atom as heavy as it should be one radius from it;
/// fewer by the root of the sky's share, more by that of its weight. Measured on 60 000 facets, silver in thermal argon:
/// at 50 mm 2.5 and 5 take up to 15 % longer to the same error; the same number for all weights half as long again, at
/// 10 mm no longer.
const MOST_FLIGHTS: f64 = 3.2;
/// Least flights, on average, by such an atom; more, too, by the root of weights, but no more than so many times; and most.
const LEAST_FLIGHTS: f64 = 0.32;
const MOST_ROOT: f64 = 4.0;
const MOST_AT_ONCE: f64 = 32.0;

/// How fast an atom's worth falls with the angle by which it flies past a part, and the least of it. Measured on the
/// same part at 50 mm: without it 1.4 times as long, 2 takes 10 % less; but a third longer on a small coupon, where 1
/// takes as long as without.
const PAST: f64 = 1.0;
const LEAST_WORTH: f64 = 0.05;

/// Weight that an atom should have at a distance, as a power of distance over the ball's radius.
const PULL: i32 = 3;
/// Lightest and heaviest that an atom should be, when it weighs 1 at its source.
const WEIGHTS: [f64; 2] = [0.005, 30.0];

/// Flights aimed at a part for an atom as heavy as it should be one radius from it, with the whole sky full of it.
/// Measured on the same part, isotropic, 10 and 50 mm: 2 and 8 take up to a fourth longer.
const AIMED: f64 = 4.0;
/// Most flights aimed at one ball from one place.
const MOST_AIMED: f64 = 16.0;

/// A ball around a part or a coupon.
#[derive(Debug, Clone, Copy)]
struct Ball {
    /// Its group's frame, m.
    centre_m: DVec3,
    radius_m: f64,
    riding: bool,
    aimed: Aimed,
}

/// How much a body is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Aimed {
    /// Flights are drawn towards it.
    Only,
    /// And atoms are made many and light near it.
    Near,
}

/// The balls of every configuration.
#[derive(Debug)]
pub(super) struct Targets {
    balls: Vec<Vec<Ball>>,
    /// Per body: whether and how it is aimed at.
    aimed: Vec<Option<Aimed>>,
    /// Whether an atom's direction tells what it should weigh: on small coupons that gains nothing, and whoever counts
    /// atoms instead of time would know them less well.
    headed: bool,
}

/// The balls as they stand for one atom.
pub(super) struct Standing {
    /// Centre in the chamber frame, radius; m.
    balls: Vec<(DVec3, f64, bool)>,
    /// Weight that an atom should have one radius from a part.
    near: f64,
    headed: bool,
}

impl Targets {
    /// Balls around parts and coupons; parts draw atoms near.
    pub fn new(scene: &Scene) -> Self {
        let bodies = scene.bodies.iter().map(|body| body.kind);
        let aimed = bodies.map(|kind| match kind {
            BodyKind::Part(_) => Some(Aimed::Near),
            BodyKind::Coupon(_) => Some(Aimed::Only),
            _ => None,
        });
        Self {
            headed: true,
            ..Self::around(scene, aimed.collect())
        }
    }

    /// Balls around these bodies, which draw atoms near.
    pub fn of(scene: &Scene, bodies: &[BodyId]) -> Self {
        let mut aimed = vec![None; scene.bodies.len()];
        for body in bodies {
            aimed[body.0 as usize] = Some(Aimed::Near);
        }
        Self::around(scene, aimed)
    }

    fn around(scene: &Scene, aimed: Vec<Option<Aimed>>) -> Self {
        let of = |configuration: &Configuration| {
            [(&configuration.still, false), (&configuration.riding, true)]
                .into_iter()
                .flat_map(|(group, riding)| balls(scene, group, riding, &aimed))
                .collect()
        };
        Self {
            balls: scene.configurations.iter().map(of).collect(),
            aimed,
            headed: false,
        }
    }

    /// Whether a body is aimed at.
    #[inline]
    pub fn is_aimed(&self, body: BodyId) -> bool {
        self.aimed[body.0 as usize].is_some()
    }

    /// The balls in a configuration and pose, for an atom from `source_m`.
    pub fn standing(&self, configuration: usize, pose: &DAffine3, source_m: DVec3) -> Standing {
        let balls: Vec<(DVec3, f64, bool)> = self.balls[configuration]
            .iter()
            .map(|ball| {
                let centre_m = if ball.riding {
                    pose.transform_point3(ball.centre_m)
                } else {
                    ball.centre_m
                };
                (centre_m, ball.radius_m, ball.aimed == Aimed::Near)
            })
            .collect();
        let mut standing = Standing {
            balls,
            near: 1.0,
            headed: self.headed,
        };
        standing.near = 1.0 / standing.far(source_m).powi(PULL);
        standing
    }
}

fn balls(scene: &Scene, group: &Group, riding: bool, aimed: &[Option<Aimed>]) -> Vec<Ball> {
    let of = |&(body, first): &(BodyId, u32)| {
        let thing = &scene.bodies[body.0 as usize];
        let aimed = aimed[body.0 as usize]?;
        let rows = u32::try_from(thing.triangles.len()).unwrap_or(u32::MAX);
        let corners = || (first..first + rows).flat_map(|t| group.kernel.triangle(t));
        let least = corners().fold(DVec3::INFINITY, DVec3::min);
        let most = corners().fold(DVec3::NEG_INFINITY, DVec3::max);
        let centre_m = 0.5 * (least + most);
        let squared = corners().map(|p| p.distance_squared(centre_m));
        Some(Ball {
            centre_m,
            // a little more, against rounding
            radius_m: squared.fold(0.0, f64::max).sqrt() * (1.0 + 1e-6),
            riding,
            aimed,
        })
    };
    let bodies = group.bodies.iter();
    bodies
        .filter_map(of)
        .filter(|ball| ball.radius_m.is_finite())
        .collect()
}

impl Standing {
    /// Distance to the nearest part in its radii, at least 1.
    fn far(&self, at_m: DVec3) -> f64 {
        let parts = self.balls.iter().filter(|(_, _, part)| *part);
        let nearest = parts
            .map(|(centre_m, radius_m, _)| centre_m.distance_squared(at_m) / (radius_m * radius_m))
            .fold(f64::INFINITY, f64::min);
        if nearest.is_finite() {
            nearest.max(1.0).sqrt()
        } else {
            1.0
        }
    }

    /// Weight that an atom should have at a place, whatever its direction.
    pub fn weight(&self, at_m: DVec3) -> f64 {
        (self.near * self.far(at_m).powi(PULL)).clamp(WEIGHTS[0], WEIGHTS[1])
    }

    /// Weight that an atom should have that comes or goes in a direction: more where it will hardly come to a part.
    ///
    /// - `least`: share of an atom's worth that is left it at least
    pub fn weight_along(&self, at_m: DVec3, heading: &Heading, least: f64) -> f64 {
        if !self.headed {
            return self.weight(at_m);
        }
        let mut lightest = f64::INFINITY;
        for &(centre_m, radius_m, part) in &self.balls {
            let to_m = centre_m - at_m;
            let squared = to_m.length_squared() / (radius_m * radius_m);
            let far = if part {
                squared.max(1.0).sqrt()
            } else {
                continue;
            };
            let cube = far * far * far;
            // its worth is 1 at most
            if cube < lightest {
                let worth = heading.worth(to_m, radius_m).max(least).max(LEAST_WORTH);
                lightest = lightest.min(cube / worth);
            }
        }
        if lightest.is_finite() {
            (self.near * lightest).clamp(WEIGHTS[0], WEIGHTS[1])
        } else {
            self.weight(at_m)
        }
    }

    /// How many flights are worth drawing from a place, on average, by an atom of a weight.
    ///
    /// √(weight · share of the sky) · exp(−(distance to the ball)/(2λ)): the best number for a cost that is the same for
    /// all goes as the root of what one brings.
    pub fn flights(&self, at_m: DVec3, (weight, free_path_m): (f64, f64)) -> f64 {
        let near = self.near.clamp(WEIGHTS[0], WEIGHTS[1]);
        let root = (weight / near).sqrt();
        let most = self.balls.iter().map(|(centre_m, radius_m, _)| {
            let distance_m = centre_m.distance(at_m);
            if distance_m <= *radius_m {
                return root * MOST_FLIGHTS;
            }
            let sine = radius_m / distance_m;
            let sky_sr = 2.0 * PI * (1.0 - (1.0 - sine * sine).sqrt());
            let lost = (-0.5 * (distance_m - radius_m) / free_path_m).exp();
            root * MOST_FLIGHTS * (sky_sr / (4.0 * PI)).sqrt() * lost
        });
        let least = LEAST_FLIGHTS * root.min(MOST_ROOT);
        most.fold(least, f64::max).min(MOST_AT_ONCE)
    }

    /// How many flights are worth aiming at each ball from a place, on average, for an atom of a weight.
    ///
    /// As many as make all that arrive weigh much the same.
    ///
    /// - `seen`: room for the balls as they are seen from there
    pub fn aims<'a>(
        &self,
        at_m: DVec3,
        (weight, free_path_m): (f64, f64),
        seen: &'a mut Vec<Seen>,
    ) -> Aims<'a> {
        let per_sky = AIMED * weight / self.near.clamp(WEIGHTS[0], WEIGHTS[1]);
        seen.clear();
        seen.extend(self.balls.iter().map(|&(centre_m, radius_m, _)| {
            let to_m = centre_m - at_m;
            let distance_m = to_m.length();
            let lost = (-(distance_m - radius_m).max(0.0) / free_path_m).exp();
            let lacking = lacking(distance_m, radius_m);
            Seen {
                to_m,
                distance_m,
                lacking,
                flights: (per_sky * 0.5 * lacking * lost).min(MOST_AIMED),
            }
        }));
        Aims {
            flights: seen.iter().map(|ball| ball.flights).sum(),
            seen,
        }
    }

    /// Distance along a unit direction to the first ball, m; none if it meets none.
    #[inline]
    pub fn entry_m(&self, at_m: DVec3, along: DVec3) -> Option<f64> {
        let mut first = f64::INFINITY;
        for (centre_m, radius_m, _) in &self.balls {
            let to = *centre_m - at_m;
            let (squared, ahead) = (to.length_squared(), to.dot(along));
            let inside = radius_m * radius_m - squared;
            let half_chord = ahead * ahead + inside; // squared
            if inside >= 0.0 {
                return Some(0.0);
            }
            if ahead > 0.0 && half_chord >= 0.0 {
                first = first.min(ahead - half_chord.sqrt());
            }
        }
        first.is_finite().then_some(first)
    }
}

/// Direction of an atom and how well it keeps it.
pub(super) struct Heading {
    /// Unit vector.
    pub along: DVec3,
    /// Mean free path, m.
    pub free_path_m: f64,
    /// How far it gets before it has forgotten its direction, m.
    pub straight_path_m: f64,
}

impl Heading {
    /// Share of an atom's worth for a ball that is left when it flies so.
    ///
    /// exp(−(angle by which it passes the ball)/σ), σ the spread of its direction by the collisions on the way there, one at
    /// least; 1 where the ball is farther than the direction lasts.
    ///
    /// - `to_m`: way to the ball's centre
    fn worth(&self, to_m: DVec3, radius_m: f64) -> f64 {
        let (squared, ahead) = (to_m.length_squared(), to_m.dot(self.along));
        let meets = ahead > 0.0 && squared - ahead * ahead <= radius_m * radius_m;
        let lasts = squared < self.straight_path_m.powi(2);
        if meets || !lasts || squared <= radius_m * radius_m {
            return 1.0;
        }
        let distance_m = squared.sqrt();
        let legs = distance_m / self.straight_path_m;
        let (fall, sine) = (1.0 - ahead / distance_m, radius_m / distance_m);
        // angles by the first terms of their series
        let past = (2.0 * fall).sqrt() * (1.0 + fall / 12.0) - sine * (1.0 + sine * sine / 6.0);
        let turns = legs.max(self.free_path_m / self.straight_path_m);
        let spread = (2.0 * turns).sqrt() * (1.0 + legs);
        (-PAST * past.max(0.0) / spread).exp()
    }
}

/// A ball as it is seen from a place.
pub(super) struct Seen {
    /// Way to its centre and how far that is, m.
    to_m: DVec3,
    distance_m: f64,
    /// 1 − cos of the half angle under which it is seen.
    lacking: f64,
    /// Flights worth aiming at it, on average.
    flights: f64,
}

/// Flights aimed at balls from one place.
pub(super) struct Aims<'a> {
    seen: &'a [Seen],
    /// Flights worth drawing, on average.
    pub flights: f64,
}

impl Aims<'_> {
    /// Draws a direction, and tells how many flights go that way on average, per steradian.
    pub fn draw(&self, stream: &mut Stream) -> (DVec3, f64) {
        let mut left = stream.uniform() * self.flights;
        let mut chosen = None;
        for ball in self.seen {
            chosen = Some(ball);
            left -= ball.flights;
            if left < 0.0 {
                break;
            }
        }
        let [u, turns] = stream.pair();
        let along = chosen.map_or(DVec3::Z, |ball| {
            let axis = ball.to_m.try_normalize().unwrap_or(DVec3::Z);
            let fall = u * ball.lacking; // 1 − cos θ
            let across = (fall * (2.0 - fall)).max(0.0).sqrt();
            let (sine, cosine) = sin_cos_of_turns(turns);
            from_normal(axis, DVec3::new(across * cosine, across * sine, 1.0 - fall))
        });
        (along, self.density(along))
    }

    /// Flights per steradian along a direction.
    fn density(&self, along: DVec3) -> f64 {
        let over = self.seen.iter().map(|ball| {
            let least = ball.distance_m * (1.0 - ball.lacking) * (1.0 - 1e-12);
            // the rim, where rounding decides, is part of the cone
            if ball.lacking >= 2.0 || ball.to_m.dot(along) >= least {
                ball.flights / (TAU * ball.lacking)
            } else {
                0.0
            }
        });
        over.sum()
    }
}

/// 1 − cos of the half angle under which a ball is seen; 2 from within.
fn lacking(distance_m: f64, radius_m: f64) -> f64 {
    if distance_m <= radius_m {
        return 2.0;
    }
    let sine = radius_m / distance_m;
    let squared = sine * sine;
    squared / (1.0 + (1.0 - squared).sqrt())
}
