//! One collision between an atom and a gas atom.
//!
//! In: the velocity before. Out: the velocity after, drawn.

use super::{Pair, Scatter};
use crate::random::Stream;
use crate::trig::sin_cos_of_turns;
use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, PI};

/// Velocity of an atom, its direction kept apart from its speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Velocity {
    /// Unit vector.
    pub along: DVec3,
    /// In units of √(2kT/m), m the mass of a gas atom.
    pub speed: f64,
}

/// A direction, all alike.
#[inline]
pub(crate) fn any_direction(stream: &mut Stream) -> DVec3 {
    let z = 1.0 - 2.0 * stream.fraction();
    let (sine, cosine) = sin_cos_of_turns(stream.fraction());
    let r = (1.0 - z * z).sqrt();
    DVec3::new(r * cosine, r * sine, z)
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
/// from u² exp(−u²), u² = −ln r₁ − cos²(π r₃/2) ln r₂.
#[inline]
fn partner(atom: Velocity, stream: &mut Stream) -> (DVec3, f64) {
    let y = atom.speed;
    let cubic = 1.0 / (1.0 + 0.5 * PI.sqrt() * y);
    loop {
        let squared = if stream.fraction() < cubic {
            -(stream.fraction() * stream.fraction()).ln()
        } else {
            let (_, cosine) = sin_cos_of_turns(stream.fraction() * FRAC_PI_2 / (2.0 * PI));
            -stream.fraction().ln() - cosine * cosine * stream.fraction().ln()
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
