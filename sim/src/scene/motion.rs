//! How the riding group moves: a chain of rotations, each turning, swinging or parked.
//!
//! In: angles and speeds from `schedule`. Out: angles at a time, angles for a uniform variate with the
//! distribution that the step has over its time, and poses.

use glam::{DAffine3, DMat3, DVec3};
use std::f64::consts::TAU;

/// The longest chain of rotations.
pub const MAX_ROTATIONS: usize = 4;

/// One angle per rotation of the chain, rad; entries beyond the chain are 0.
pub type Angles = [f64; MAX_ROTATIONS];

/// The chain, first rotation acting first on the parts.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Motion {
    /// Unit axis and a point on it (m), both at angles 0; at most [`MAX_ROTATIONS`].
    pub axes: Vec<(DVec3, DVec3)>,
}

/// What one rotation does during a step.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
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
    /// T = Rₙ(αₙ) … R₂(α₂) R₁(α₁), each about its own axis as it stands at angles 0: a later rotation
    /// carries the axes of those before it.
    ///
    /// - `angles_rad`: one angle per rotation; missing ones are 0, what is beyond the chain is not read
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

impl AxisMotion {
    /// Whether the angle changes at all.
    pub fn moves(&self) -> bool {
        self.rate_rad_per_s() != 0.0
    }

    /// Rate, rad/s: signed for turning, along the path for swinging, 0 for parked.
    pub fn rate_rad_per_s(&self) -> f64 {
        match *self {
            Self::Parked(_) => 0.0,
            Self::Turning { rate_rad_per_s, .. } | Self::Swinging { rate_rad_per_s, .. } => {
                rate_rad_per_s
            }
        }
    }

    /// Angle after a time, rad (not reduced to a turn).
    ///
    /// - `time_s`: since the step's beginning, s
    pub fn angle_at(&self, time_s: f64) -> f64 {
        match *self {
            Self::Parked(angle) => angle,
            Self::Turning {
                start_rad,
                rate_rad_per_s,
            } => start_rad + rate_rad_per_s * time_s,
            Self::Swinging {
                amplitude_rad,
                start_rad,
                rate_rad_per_s,
                sign,
            } => sign * triangle_wave(start_rad + rate_rad_per_s * time_s, amplitude_rad),
        }
    }

    /// Angle whose share of the step's time below it, counted along one turn or one swing, is `u`.
    ///
    /// Turning by N = K + r turns: density (K + 1)/N per turn on the arc of r turns after the start and
    /// K/N elsewhere, inverted in closed form. Swinging: the same over one there-and-back, laid onto the
    /// angles. The map is monotone, so strata of `u` are strata of the angle.
    ///
    /// - `u`: uniform variate in [0, 1)
    /// - `lasts_s`: duration of the step, s
    ///
    /// Source: the last partial turn alone is uneven, derived from counting passes.
    fn folded_angle(&self, u: f64, lasts_s: f64) -> f64 {
        match *self {
            Self::Parked(angle) => angle,
            Self::Turning {
                start_rad,
                rate_rad_per_s,
            } => {
                let turns = (rate_rad_per_s * lasts_s).abs() / TAU;
                let (whole, rest) = (turns.floor(), turns.fract());
                let passes = u * turns;
                let in_rest = rest * (whole + 1.0);
                let turned = if passes < in_rest {
                    passes / (whole + 1.0)
                } else if whole > 0.0 {
                    rest + (passes - in_rest) / whole
                } else {
                    rest
                };
                start_rad + rate_rad_per_s.signum() * TAU * turned
            }
            Self::Swinging {
                amplitude_rad,
                start_rad,
                rate_rad_per_s,
                sign,
            } => sign * folded_swing(amplitude_rad, start_rad, rate_rad_per_s * lasts_s, u),
        }
    }

    /// Lowest and highest angle visited, rad; a full turn at most.
    ///
    /// - `lasts_s`: duration of the step, s
    pub fn range(&self, lasts_s: f64) -> [f64; 2] {
        match *self {
            Self::Parked(angle) => [angle, angle],
            Self::Turning {
                start_rad,
                rate_rad_per_s,
            } => {
                let end = start_rad + (rate_rad_per_s * lasts_s).clamp(-TAU, TAU);
                [start_rad.min(end), start_rad.max(end)]
            }
            Self::Swinging {
                amplitude_rad,
                start_rad,
                rate_rad_per_s,
                sign,
            } => {
                let path = (rate_rad_per_s * lasts_s).min(2.0 * amplitude_rad);
                let pieces = swing_pieces(amplitude_rad, start_rad, path);
                let [low, high] = pieces.iter().fold(
                    [triangle_wave(start_rad, amplitude_rad); 2],
                    |[low, high], piece| [low.min(piece[0]), high.max(piece[1])],
                );
                let ends = [sign * low, sign * high];
                [ends[0].min(ends[1]), ends[0].max(ends[1])]
            }
        }
    }
}

impl StepMotion {
    /// Angles at a time.
    ///
    /// - `time_s`: since the step's beginning, s
    pub fn angles_at(&self, time_s: f64) -> Angles {
        let mut angles = Angles::default();
        for (angle, axis) in angles.iter_mut().zip(&self.axes) {
            *angle = axis.angle_at(time_s);
        }
        angles
    }

    /// Angles for a uniform variate, distributed as over the step's time.
    ///
    /// With one moving rotation the angles are those of a turn (or a swing) with the exact share of the
    /// time that the step spends at each, in order of the angle: whole turns come out even, and strata
    /// of `u` are strata of the angle. With several it is the plain time u · lasts.
    ///
    /// - `u`: uniform variate in [0, 1)
    pub fn angles_for(&self, u: f64) -> Angles {
        if self.moving() > 1 {
            return self.angles_at(u * self.lasts_s);
        }
        let mut angles = Angles::default();
        for (angle, axis) in angles.iter_mut().zip(&self.axes) {
            *angle = axis.folded_angle(u, self.lasts_s);
        }
        angles
    }

    /// Angle of the only moving rotation for a uniform variate, as in [`StepMotion::angles_for`], rad.
    ///
    /// - `rotation`: its number
    #[inline]
    pub fn angle_for(&self, rotation: usize, u: f64) -> f64 {
        self.axes[rotation].folded_angle(u, self.lasts_s)
    }

    /// Number of rotations that move.
    pub fn moving(&self) -> usize {
        self.axes.iter().filter(|axis| axis.moves()).count()
    }
}

/// Height of a triangular wave that rises from 0 to `amplitude` and falls back.
fn triangle_wave(path: f64, amplitude: f64) -> f64 {
    let phase = path.rem_euclid(2.0 * amplitude);
    phase.min(2.0 * amplitude - phase)
}

/// The stretches of a swing on a path of at most one there-and-back, as [lower, upper] angle; unused
/// entries are empty stretches.
fn swing_pieces(amplitude: f64, start: f64, path: f64) -> [[f64; 2]; 3] {
    let mut pieces = [[triangle_wave(start, amplitude); 2]; 3];
    let mut from = start.rem_euclid(2.0 * amplitude);
    let end = from + path;
    for piece in &mut pieces {
        let turning_point = ((from / amplitude).floor() + 1.0) * amplitude;
        let to = end.min(turning_point);
        let heights = [from, to].map(|at| triangle_wave(at, amplitude));
        *piece = [heights[0].min(heights[1]), heights[0].max(heights[1])];
        from = to;
    }
    pieces
}

/// Angle of a swing for a uniform variate: 2K passes everywhere plus those of the last partial period.
fn folded_swing(amplitude: f64, start: f64, path: f64, u: f64) -> f64 {
    let periods = (path / (2.0 * amplitude)).floor();
    let pieces = swing_pieces(amplitude, start, path - periods * 2.0 * amplitude);
    let mut marks = [0.0, amplitude, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
    for (mark, end) in marks[2..].iter_mut().zip(pieces.iter().flatten()) {
        *mark = *end;
    }
    marks.sort_by(f64::total_cmp);
    let passes_in = |stretch: &[f64]| {
        let middle = 0.5 * (stretch[0] + stretch[1]);
        let covering = pieces.iter().filter(|p| p[0] <= middle && middle < p[1]);
        2.0 * periods + covering.map(|_| 1.0).sum::<f64>()
    };
    let lengths = || marks.windows(2).map(|s| (s, passes_in(s)));
    let total: f64 = lengths().map(|(s, passes)| (s[1] - s[0]) * passes).sum();
    let mut left = u * total;
    let mut angle = triangle_wave(start, amplitude);
    for (stretch, passes) in lengths() {
        let weight = (stretch[1] - stretch[0]) * passes;
        if weight <= 0.0 {
            continue;
        }
        angle = stretch[0] + (left / passes).clamp(0.0, stretch[1] - stretch[0]);
        if left < weight {
            break;
        }
        left -= weight;
    }
    angle
}

#[cfg(test)]
mod tests;
