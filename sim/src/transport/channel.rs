//! Channels: one source during one step, and how what rides moves through it.
//!
//! In: a scene's motion. Out: what all lines of a source and a step have in common.

use crate::random::DIMENSIONS;
use crate::scene::Scene;
use crate::scene::motion::{AxisMotion, StepMotion};
use glam::DAffine3;
use std::f64::consts::{FRAC_PI_2, PI};

/// One source during one step: what its atoms have in common.
#[derive(Debug, Clone)]
pub(crate) struct Channel {
    /// Source.
    pub source: usize,
    /// Step.
    pub step: usize,
    /// Configuration.
    pub configuration: usize,
    /// Metal of the source.
    pub metal: usize,
    /// Real atoms that leave.
    pub atoms: f64,
    /// Film volume per atom, m³.
    pub atom_volume_m3: f64,
    /// The source's open time: no shutter over it is shut.
    pub open: bool,
    /// Motion during the step.
    pub motion: StepMotion,
    /// How the riding group stands through the step.
    pub course: Course,
}

/// chamber_from_riding through a step.
#[derive(Debug, Clone)]
pub(crate) enum Course {
    /// Nothing moves.
    Still(DAffine3),
    /// One rotation moves: the pose is `level + cosine · cos α + sine · sin α`, whatever is carried or
    /// carries, since a product of rigid motions is linear in each of them.
    Turning {
        /// Number of the rotation.
        rotation: usize,
        /// The three terms.
        terms: [DAffine3; 3],
    },
    /// Several move.
    Tumbling,
}

impl Course {
    /// The course of a motion.
    pub fn new(scene: &Scene, motion: &StepMotion) -> Self {
        let angles = motion.angles_for(0.5);
        match motion.moving() {
            0 => Self::Still(scene.motion.pose(&angles)),
            1 => {
                let rotation = motion.axes.iter().position(AxisMotion::moves).unwrap_or(0);
                let at = |angle: f64| {
                    let mut angles = angles;
                    angles[rotation] = angle;
                    scene.motion.pose(&angles)
                };
                let half = |a: DAffine3, b: DAffine3, sign: f64| DAffine3 {
                    matrix3: (a.matrix3 + b.matrix3 * sign) * 0.5,
                    translation: (a.translation + b.translation * sign) * 0.5,
                };
                let ends = [at(0.0), at(PI)];
                let level = half(ends[0], ends[1], 1.0);
                let quarter = at(FRAC_PI_2);
                let sine = DAffine3 {
                    matrix3: quarter.matrix3 - level.matrix3,
                    translation: quarter.translation - level.translation,
                };
                Self::Turning {
                    rotation,
                    terms: [level, half(ends[0], ends[1], -1.0), sine],
                }
            }
            _ => Self::Tumbling,
        }
    }
}

impl Channel {
    /// Deals the coordinates of a low-discrepancy point out to what they draw: point on the receiver (2),
    /// point on the footprint (2), time.
    ///
    /// The first two coordinates of a Sobol point are a net at every power of two, later ones only at high
    /// ones; so they go to what film varies with most: time and the place around the footprint, or both
    /// places on the footprint where nothing moves. Receivers are small.
    #[inline]
    pub fn deal(&self, point: [f64; DIMENSIONS]) -> [f64; DIMENSIONS] {
        let [first, second, third, fourth, fifth] = point;
        if matches!(self.course, Course::Still(_)) {
            [third, fourth, first, second, fifth]
        } else {
            [fourth, fifth, third, second, first]
        }
    }

    /// The same where the edge of a sheet runs across the receiver: film then varies most with the place on it.
    #[inline]
    pub fn deal_place_first(&self, point: [f64; DIMENSIONS]) -> [f64; DIMENSIONS] {
        let [first, second, third, fourth, fifth] = point;
        if matches!(self.course, Course::Still(_)) {
            point
        } else {
            [first, second, fifth, fourth, third]
        }
    }
}
