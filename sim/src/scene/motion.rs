//! How the riding group moves: a chain of rotations, each turning, swinging or parked.

use glam::{DAffine3, DMat3, DVec3};

/// The chain, first rotation acting first on the parts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Motion {
    /// Unit axis and a point on it (m), both at angles 0.
    pub axes: Vec<(DVec3, DVec3)>,
}

/// What one rotation does during a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AxisMotion {
    /// Parked at this angle, rad.
    Parked(f64),
    /// From `start_rad` at `rate_rad_per_s` (signed).
    Turning {
        /// Angle at the step's beginning, rad.
        start_rad: f64,
        /// Signed rate, rad/s.
        rate_rad_per_s: f64,
    },
    /// Triangular wave between 0 and `amplitude_rad`.
    Swinging {
        /// Amplitude, rad, above 0.
        amplitude_rad: f64,
        /// Path already covered at the step's beginning, in [0, 2·amplitude): up to the amplitude going up.
        start_rad: f64,
        /// Rate along the path, rad/s, above or equal 0.
        rate_rad_per_s: f64,
        /// −1 when the swing starts the other way (angles are then negative), else +1.
        sign: f64,
    },
}

/// What all rotations do during a step.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct StepMotion {
    /// One entry per rotation of the chain.
    pub axes: Vec<AxisMotion>,
    /// Duration, s.
    pub lasts_s: f64,
}

impl Motion {
    /// Pose of the riding group at the given angles.
    ///
    /// - `angles_rad`: one angle per rotation
    /// - returns chamber_from_riding
    pub fn pose(&self, angles_rad: &[f64]) -> DAffine3 {
        let mut chamber_from_riding = DAffine3::IDENTITY;
        for (&(axis, through), &angle) in self.axes.iter().zip(angles_rad) {
            let turn = DMat3::from_axis_angle(axis, angle);
            let about = DAffine3::from_mat3_translation(turn, through - turn * through);
            chamber_from_riding = about * chamber_from_riding;
        }
        chamber_from_riding
    }
}
