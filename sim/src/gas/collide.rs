//! One collision between an atom and a gas atom.
//!
//! In: the velocity before. Out: the velocity after, drawn.

use super::{Pair, Scatter};
use crate::random::Stream;
use glam::DVec3;
use std::f64::consts::PI;

/// Velocity of an atom, its direction kept apart from its speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Velocity {
    /// Unit vector.
    pub along: DVec3,
    /// In units of √(2kT/m), m the mass of a gas atom.
    pub speed: f64,
}

/// A point of the unit disc, all alike, and the square of its radius; never the middle.
///
/// - returns (a, b, s): a/√s is the cosine of an even angle, s is even in (0, 1) and independent of it
#[inline]
fn in_disc(stream: &mut Stream) -> (f64, f64, f64) {
    loop {
        let (a, b) = (2.0 * stream.fraction() - 1.0, 2.0 * stream.fraction() - 1.0);
        let squared = a * a + b * b;
        if squared < 1.0 && squared > 0.0 {
            return (a, b, squared);
        }
    }
}

/// A direction, all alike: (2a√(1 − s), 2b√(1 − s), 1 − 2s) of a point in the disc.
///
/// Source: G. Marsaglia, Ann. Math. Statist. 43, 645 (1972), from memory; checked by moments.
#[inline]
pub(crate) fn any_direction(stream: &mut Stream) -> DVec3 {
    let (a, b, squared) = in_disc(stream);
    let twice = 2.0 * (1.0 - squared).sqrt();
    DVec3::new(a * twice, b * twice, 1.0 - 2.0 * squared)
}

impl Pair {
    /// The velocity after a collision.
    ///
    /// v′ = V + ρ n, V = (M v + m u)/(M + m), ρ = m |v − u|/(M + m), n even on the sphere; u is 0 in gas at rest
    /// and drawn from |v − u| exp(−u²) in thermal gas. Isotropic: any direction, speed kept.
    ///
    /// Source: mechanics of elastic spheres, PHYSICS.md eqs. 51 and 52.
    #[inline]
    pub fn collide(&self, before: Velocity, stream: &mut Stream) -> Velocity {
        match self.scatter {
            Scatter::HardSphere => {
                let (gas, relative_speed) = partner(before, stream);
                let centre = before.along * (self.atom_share * before.speed) + gas * self.gas_share;
                let after = centre + any_direction(stream) * (self.gas_share * relative_speed);
                let speed = after.length();
                Velocity {
                    along: directed(after, speed, before.along),
                    speed,
                }
            }
            Scatter::HardSphereAtRest => {
                // Relative to the speed before, which may be as small as f64 allows.
                let after = before.along * self.atom_share + any_direction(stream) * self.gas_share;
                let slower = after.length();
                Velocity {
                    along: directed(after, slower, before.along),
                    speed: before.speed * slower,
                }
            }
            Scatter::Isotropic => Velocity {
                along: any_direction(stream),
                speed: before.speed,
            },
        }
    }
}

/// The unit vector along a velocity; an atom stopped dead keeps its direction.
#[inline]
fn directed(velocity: DVec3, length: f64, otherwise: DVec3) -> DVec3 {
    if length > 1e-150 {
        velocity * (1.0 / length)
    } else {
        otherwise
    }
}

/// Velocity of the gas atom that is met, in units of √(2kT/m), and the relative speed.
///
/// Density |v − u| exp(−u²): a speed from (y + u) u² exp(−u²), a direction even on the sphere, kept with
/// probability |v − u|/(y + u). The speed is from u³ exp(−u²) with probability 1/(1 + √π y/2), u² = −ln(r₁r₂), else
/// from u² exp(−u²), u² = −ln r₁ − cos²φ ln r₂ with an even angle φ.
#[inline]
fn partner(atom: Velocity, stream: &mut Stream) -> (DVec3, f64) {
    let y = atom.speed;
    let cubic = 1.0 / (1.0 + 0.5 * PI.sqrt() * y);
    loop {
        let squared = if stream.fraction() < cubic {
            -(stream.fraction() * stream.fraction()).ln()
        } else {
            let (a, _, s) = in_disc(stream);
            -stream.fraction().ln() - a * a / s * s.ln()
        };
        let u = squared.sqrt();
        let direction = any_direction(stream);
        let relative = (y * y + squared - 2.0 * y * u * atom.along.dot(direction))
            .max(0.0)
            .sqrt();
        if stream.fraction() * (y + u) < relative {
            return (direction * u, relative);
        }
    }
}
