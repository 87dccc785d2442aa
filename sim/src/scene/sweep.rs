//! Motion cut into cells: what a body can reach while its angles stay within a cell.
//!
//! In: the motions of steps, or full turns. Out: a lazily refined tree of cells, each with the pose at its
//! middle and a bound on how far a point can be from where that pose puts it. Clearances and the proofs of
//! `unreached` search over it.

use super::motion::{Angles, MAX_ROTATIONS, Motion, StepMotion};
use glam::{DAffine3, DVec3};
use std::f64::consts::TAU;

/// A stretch of motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Stretch<'a> {
    /// Every combination of angles within these limits, rad.
    Angles { low: Angles, high: Angles },
    /// What a step does between two times, s.
    Time {
        motion: &'a StepMotion,
        from_s: f64,
        to_s: f64,
    },
}

impl<'a> Stretch<'a> {
    /// All that a step visits: its range of angles while at most one rotation moves, else its way through
    /// time.
    pub fn of_step(motion: &'a StepMotion) -> Self {
        if motion.moving() > 1 {
            return Self::Time {
                motion,
                from_s: 0.0,
                to_s: motion.lasts_s,
            };
        }
        Self::box_of_step(motion)
    }

    /// Every combination of the angles that the rotations visit during a step.
    pub fn box_of_step(motion: &StepMotion) -> Self {
        let (mut low, mut high) = (Angles::default(), Angles::default());
        for (i, axis) in motion.axes.iter().enumerate() {
            [low[i], high[i]] = axis.range(motion.lasts_s);
            if high[i] - low[i] >= TAU {
                [low[i], high[i]] = [0.0, TAU]; // one and the same full turn, wherever it began
            }
        }
        Self::Angles { low, high }
    }

    /// A full turn of the first `rotations` rotations, the others at 0.
    pub fn full_turn(rotations: usize) -> Self {
        let low = Angles::default();
        let mut high = low;
        high[..rotations.min(MAX_ROTATIONS)].fill(TAU);
        Self::Angles { low, high }
    }

    fn middle_and_half(&self) -> (Angles, Angles) {
        let mut half = Angles::default();
        match *self {
            Self::Angles { low, high } => {
                let mut middle = low;
                for i in 0..MAX_ROTATIONS {
                    middle[i] = 0.5 * (low[i] + high[i]);
                    half[i] = 0.5 * (high[i] - low[i]);
                }
                (middle, half)
            }
            Self::Time {
                motion,
                from_s,
                to_s,
            } => {
                for (half, axis) in half.iter_mut().zip(&motion.axes) {
                    *half = 0.5 * (to_s - from_s) * axis.rate_rad_per_s().abs();
                }
                (motion.angles_at(0.5 * (from_s + to_s)), half)
            }
        }
    }

    /// The two halves, cut across the widest direction.
    fn halves(&self) -> [Self; 2] {
        match *self {
            Self::Angles { low, high } => {
                let widest = (0..MAX_ROTATIONS).fold(0, |best, i| {
                    if high[i] - low[i] > high[best] - low[best] {
                        i
                    } else {
                        best
                    }
                });
                let (mut first_high, mut second_low) = (high, low);
                first_high[widest] = 0.5 * (low[widest] + high[widest]);
                second_low[widest] = first_high[widest];
                [
                    Self::Angles {
                        low,
                        high: first_high,
                    },
                    Self::Angles {
                        low: second_low,
                        high,
                    },
                ]
            }
            Self::Time {
                motion,
                from_s,
                to_s,
            } => {
                let middle_s = 0.5 * (from_s + to_s);
                [(from_s, middle_s), (middle_s, to_s)].map(|(from_s, to_s)| Self::Time {
                    motion,
                    from_s,
                    to_s,
                })
            }
        }
    }
}

/// A cell of a sweep.
#[derive(Debug, Clone)]
pub(super) struct Cell<'a> {
    stretch: Stretch<'a>,
    /// Angles in the middle.
    pub angles: Angles,
    /// How far each angle can be from the middle, rad.
    half: Angles,
    /// chamber_from_riding in the middle.
    pub pose: DAffine3,
    /// Axes as later rotations have carried them there: unit direction and a point on it, m, chamber frame.
    carried: [(DVec3, DVec3); MAX_ROTATIONS],
    halves: Option<[u32; 2]>,
}

impl Cell<'_> {
    /// Whether the cell is a single pose.
    pub fn is_still(&self) -> bool {
        self.half.iter().all(|&half| half <= 0.0)
    }
}

/// A tree of cells, refined as a search asks for it.
#[derive(Debug, Clone)]
pub(super) struct Sweep<'a> {
    motion: &'a Motion,
    cells: Vec<Cell<'a>>,
    roots: u32,
}

impl<'a> Sweep<'a> {
    pub fn new(motion: &'a Motion, stretches: impl IntoIterator<Item = Stretch<'a>>) -> Self {
        let mut sweep = Self {
            motion,
            cells: Vec::new(),
            roots: 0,
        };
        let mut known: Vec<Stretch> = Vec::new();
        for stretch in stretches {
            if !known.contains(&stretch) {
                known.push(stretch);
                sweep.push(stretch);
                sweep.roots += 1;
            }
        }
        sweep
    }

    /// The cells to begin with.
    pub fn roots(&self) -> std::ops::Range<u32> {
        0..self.roots
    }

    pub fn cell(&self, cell: u32) -> &Cell<'a> {
        &self.cells[cell as usize]
    }

    /// The two halves of a cell.
    pub fn halves(&mut self, cell: u32) -> [u32; 2] {
        if let Some(halves) = self.cells[cell as usize].halves {
            return halves;
        }
        let halves = self.cells[cell as usize].stretch.halves();
        let halves = halves.map(|stretch| self.push(stretch));
        self.cells[cell as usize].halves = Some(halves);
        halves
    }

    /// The halves of a cell if they were made already.
    pub fn made_halves(&self, cell: u32) -> Option<[u32; 2]> {
        self.cells[cell as usize].halves
    }

    /// How far points of a sphere of the riding body can stray along a direction.
    ///
    /// From where the middle pose puts a point x, each rotation i (half angle hᵢ, distance ρᵢ from its
    /// axis aᵢ, with what earlier rotations can have moved) moves it by a chord of at most min(hᵢ, 2) ρᵢ. Taken in turn,
    /// the first rotation first, each chord lies across aᵢ: along u it counts |u × aᵢ|. Nor is the way along u more than the
    /// tangents Σ hᵢ (|u·(aᵢ × rᵢ)| + |u × aᵢ| radius) plus the curvature Σ ρᵢ hᵢ (hᵢ sᵢ/2 + Σ_{j>i} hⱼ sⱼ) with
    /// sᵢ = min(1, |u × aᵢ| + Σ_{j>i} hⱼ): u·∂²x/∂αᵢ∂αⱼ = (u × aⱼ)·(aᵢ × rᵢ) for i ≤ j, and later rotations tilt an axis
    /// by no more than their angles. The smaller of the two counts. What turns about u itself strays nowhere along it.
    ///
    /// - `centre_m`: centre of the sphere in the chamber, in the middle pose
    /// - `along`: unit vector u; any direction counts when it is zero
    pub fn stray_m(&self, cell: u32, centre_m: DVec3, radius_m: f64, along: DVec3) -> f64 {
        let cell = &self.cells[cell as usize];
        let carried = &cell.carried[..self.motion.axes.len()];
        let (mut across, mut bent) = ([1.0; MAX_ROTATIONS], [0.0; MAX_ROTATIONS]);
        let (mut later, mut later_bent) = (0.0, 0.0);
        for (i, &(axis, _)) in carried.iter().enumerate().rev() {
            if along != DVec3::ZERO {
                across[i] = along.cross(axis).length();
            }
            let own = cell.half[i] * f64::min(1.0, across[i] + later);
            bent[i] = 0.5 * own + later_bent;
            later += cell.half[i];
            later_bent += own;
        }
        let (mut chords, mut chords_along, mut tangents, mut curvature) = (0.0, 0.0, 0.0, 0.0);
        for (i, &(axis, through)) in carried.iter().enumerate() {
            let half = cell.half[i];
            if half <= 0.0 {
                continue;
            }
            let way = axis.cross(centre_m - through);
            let from_axis = way.length() + radius_m + chords;
            let chord = half.min(2.0) * from_axis;
            chords += chord;
            chords_along += across[i] * chord;
            tangents += half * (along.dot(way).abs() + across[i] * radius_m);
            curvature += from_axis * half * bent[i];
        }
        if along == DVec3::ZERO {
            return chords;
        }
        chords_along.min(tangents + curvature)
    }

    /// How far points of a sphere of the chamber can stray, seen from the riding frame, from where the
    /// middle pose has them.
    pub fn stray_seen_m(&self, cell: u32, centre_m: DVec3, radius_m: f64) -> f64 {
        let cell = &self.cells[cell as usize];
        let (mut at, mut stray) = (centre_m, 0.0);
        for (i, &(axis, through)) in self.motion.axes.iter().enumerate().rev() {
            if cell.half[i] > 0.0 {
                let from_axis = (at - through).reject_from_normalized(axis).length();
                stray += cell.half[i].min(2.0) * (from_axis + radius_m + stray);
            }
            let turn = glam::DQuat::from_axis_angle(axis, -cell.angles[i]);
            at = through + turn * (at - through);
        }
        stray
    }

    fn push(&mut self, stretch: Stretch<'a>) -> u32 {
        let (angles, half) = stretch.middle_and_half();
        let mut pose = DAffine3::IDENTITY;
        let mut carried = [(DVec3::ZERO, DVec3::ZERO); MAX_ROTATIONS];
        for (i, &(axis, through)) in self.motion.axes.iter().enumerate().rev() {
            carried[i] = (pose.transform_vector3(axis), pose.transform_point3(through));
            let mut only = Angles::default();
            only[i] = angles[i];
            pose *= self.motion.pose(&only);
        }
        let number = super::shapes::number(self.cells.len());
        self.cells.push(Cell {
            stretch,
            angles,
            half,
            pose,
            carried,
            halves: None,
        });
        number
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Stream, Use};

    /// Two rotations about axes askew.
    fn motion() -> Motion {
        let axes = [
            (DVec3::new(0.3, -0.5, 0.8), DVec3::new(0.02, 0.01, 0.15)),
            (DVec3::new(0.9, 0.1, -0.2), DVec3::new(-0.01, 0.03, 0.1)),
        ];
        Motion {
            axes: axes.map(|(axis, at)| (axis.normalize(), at)).to_vec(),
        }
    }

    /// A vector whose components are even from -1 to 1.
    fn any(stream: &mut Stream) -> DVec3 {
        let mut one = || 2.0 * stream.uniform() - 1.0;
        DVec3::new(one(), one(), one())
    }

    /// The largest share that points drawn in a sphere of the riding body stray along directions, of what is said.
    fn largest_share(radius_m: f64, mut half: impl FnMut(&mut Stream) -> f64) -> f64 {
        let motion = motion();
        let mut stream = Stream::new(1, Use::CalibrateAtom, 0);
        let mut largest: f64 = 0.0;
        for _ in 0..400 {
            let (mut low, mut high) = (Angles::default(), Angles::default());
            for i in 0..motion.axes.len() {
                let (middle, half) = (TAU * stream.uniform(), half(&mut stream));
                [low[i], high[i]] = [middle - half, middle + half];
            }
            let sweep = Sweep::new(&motion, [Stretch::Angles { low, high }]);
            let cell = sweep.cell(0);
            let centre_m = 0.2 * any(&mut stream);
            let towards = any(&mut stream).normalize();
            let said_m = sweep.stray_m(0, centre_m, radius_m, towards);
            let said_any_m = sweep.stray_m(0, centre_m, radius_m, DVec3::ZERO);
            assert!(said_m <= said_any_m * (1.0 + 1e-12));
            for _ in 0..200 {
                let middle_m = centre_m + radius_m * any(&mut stream).normalize();
                let mut angles = low;
                for i in 0..motion.axes.len() {
                    angles[i] += (high[i] - low[i]) * stream.uniform().round();
                }
                let then = motion.pose(&angles) * cell.pose.inverse();
                let way = then.transform_point3(middle_m) - middle_m;
                largest = largest.max(towards.dot(way).abs() / said_m);
                assert!(way.length() <= said_any_m * (1.0 + 1e-12));
            }
        }
        largest
    }

    #[test]
    fn no_point_strays_further_along_a_direction_than_is_said() {
        for radius_m in [0.0, 0.01, 0.1] {
            let wide = largest_share(radius_m, |stream| 2.0 * stream.uniform());
            assert!(wide <= 1.0, "{wide}");
        }
        // small angles and a point: the tangents are nearly all of it
        let small = largest_share(0.0, |stream| 1e-3 * stream.uniform());
        assert!((0.99..=1.0).contains(&small), "{small}");
    }

    #[test]
    fn what_turns_about_a_direction_strays_nowhere_along_it() {
        let motion = Motion {
            axes: vec![(DVec3::Z, DVec3::new(0.03, 0.0, 0.0))],
        };
        let sweep = Sweep::new(&motion, [Stretch::full_turn(1)]);
        let at_m = DVec3::new(0.0, 0.05, 0.1);
        assert!(sweep.stray_m(0, at_m, 0.02, DVec3::Z) <= 0.0);
        assert!(sweep.stray_m(0, at_m, 0.02, DVec3::X) > 0.05);
    }
}
