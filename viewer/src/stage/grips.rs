//! Grips that move and turn a part: where they are, and what a drag on the screen means to them.
//!
//! Each grip changes one number of the plan, `at` along an axis of the chamber or `turn` about one of its three axes:
//! with x ↦ at + Rz·Ry·Rx·x the last turn is about z of the chamber, the one before about y as that leaves it, and so
//! on.

use super::orbit::Orbit;
use evenfall_sim::plan::model::Placement;
use evenfall_sim::scene::pose_of;
use glam::{DAffine3, DMat3, DVec2, DVec3, EulerRot};
use std::f64::consts::FRAC_PI_4;

/// What a grip changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Grip {
    /// A coordinate of `at`, by number.
    Along(usize),
    /// An angle of `turn`, by number.
    About(usize),
}

/// Where a part is as the plan says it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    pub at_m: DVec3,
    pub turn_rad: DVec3,
}

const AXES: [DVec3; 3] = [DVec3::X, DVec3::Y, DVec3::Z];
/// A grip that is seen end on moves nothing: so many heights of the picture per metre or radian are needed, as a share
/// of what would be seen square on.
const END_ON: f64 = 0.12;

impl Grip {
    /// All six.
    pub const ALL: [Self; 6] = [
        Self::Along(0),
        Self::Along(1),
        Self::Along(2),
        Self::About(0),
        Self::About(1),
        Self::About(2),
    ];

    /// Letter of its axis.
    pub fn letter(self) -> char {
        let (Self::Along(axis) | Self::About(axis)) = self;
        ['x', 'y', 'z'][axis]
    }
}

impl Pose {
    /// The pose of a rigid motion.
    pub fn of(affine: &DAffine3) -> Self {
        let (z, y, x) = affine.matrix3.to_euler(EulerRot::ZYX);
        Self {
            at_m: affine.translation,
            turn_rad: DVec3::new(x, y, z),
        }
    }

    /// riding_from_part.
    pub fn affine(&self) -> DAffine3 {
        pose_of(&Placement {
            at_m: self.at_m,
            turn_rad: self.turn_rad,
        })
    }

    /// Direction of a grip's axis in the chamber.
    pub fn axis(&self, grip: Grip) -> DVec3 {
        let about_z = DMat3::from_rotation_z(self.turn_rad.z);
        match grip {
            Grip::Along(axis) => AXES[axis],
            Grip::About(2) => DVec3::Z,
            Grip::About(1) => about_z * DVec3::Y,
            Grip::About(_) => about_z * DMat3::from_rotation_y(self.turn_rad.y) * DVec3::X,
        }
    }

    /// Where a grip can be taken, m.
    ///
    /// - `reach_m`: how far arrows reach; circles are somewhat smaller
    pub fn hold(&self, grip: Grip, reach_m: f64) -> DVec3 {
        match grip {
            Grip::Along(_) => self.at_m + self.axis(grip) * reach_m,
            Grip::About(axis) => self.round(grip, reach_m, self.turn_rad[axis] + FRAC_PI_4),
        }
    }

    /// A point of the circle of a turning grip, m.
    pub fn round(&self, grip: Grip, reach_m: f64, angle_rad: f64) -> DVec3 {
        let axis = self.axis(grip);
        let start = if axis.z.abs() < 0.9 {
            DVec3::Z
        } else {
            DVec3::X
        };
        let first = start.reject_from(axis).normalize_or(DVec3::X);
        let (sin, cos) = angle_rad.sin_cos();
        self.at_m + (first * cos + axis.cross(first) * sin) * (0.75 * reach_m)
    }

    /// The pose with one number changed.
    pub fn with(mut self, grip: Grip, value: f64) -> Self {
        match grip {
            Grip::Along(axis) => self.at_m[axis] = value,
            Grip::About(axis) => self.turn_rad[axis] = value,
        }
        self
    }

    /// The number that a grip changes: m or rad.
    pub fn value(&self, grip: Grip) -> f64 {
        match grip {
            Grip::Along(axis) => self.at_m[axis],
            Grip::About(axis) => self.turn_rad[axis],
        }
    }

    /// By how much a drag changes that number; 0 where the grip is seen end on.
    ///
    /// - `drag`: in the picture, −1 to 1 to the right and up, as [`Orbit::spot`] has it
    pub fn dragged(
        &self,
        grip: Grip,
        drag: DVec2,
        (orbit, aspect, reach_m): (&Orbit, f64, f64),
    ) -> f64 {
        let hold = self.hold(grip, reach_m);
        // a small step along the way that the hold takes
        let (step, ahead) = match grip {
            Grip::Along(_) => (1e-3 * reach_m, hold + self.axis(grip) * (1e-3 * reach_m)),
            Grip::About(axis) => {
                let angle = self.turn_rad[axis] + FRAC_PI_4 + 1e-3;
                (1e-3, self.round(grip, reach_m, angle))
            }
        };
        let spots = [orbit.spot(hold, aspect), orbit.spot(ahead, aspect)];
        let [Some(here), Some(there)] = spots else {
            return 0.0;
        };
        // the same scale to the right and up
        let square = DVec2::new(aspect, 1.0);
        let per_unit = (there - here) * square / step;
        let arm_m = match grip {
            Grip::Along(_) => 1.0,
            Grip::About(_) => 0.75 * reach_m,
        };
        let square_on = 2.0 * arm_m / orbit.height_m();
        if per_unit.length() < END_ON * square_on {
            return 0.0;
        }
        per_unit.dot(drag * square) / per_unit.length_squared()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pose() -> Pose {
        Pose {
            at_m: DVec3::new(0.02, -0.01, 0.15),
            turn_rad: DVec3::new(0.3, -0.6, 1.1),
        }
    }

    fn orbit() -> Orbit {
        Orbit {
            about_m: DVec3::new(0.0, 0.0, 0.15),
            away_m: 0.4,
            ..Orbit::default()
        }
    }

    #[test]
    fn a_turning_grip_changes_its_angle_and_nothing_else() {
        for grip in [Grip::About(0), Grip::About(1), Grip::About(2)] {
            let turned = pose().with(grip, pose().value(grip) + 0.2);
            // what is on the axis stays where it is
            let axis = pose().axis(grip);
            let on_part = pose().affine().inverse().transform_vector3(axis);
            let moved = turned.affine().transform_vector3(on_part);
            assert!(moved.distance(axis) < 1e-12, "{grip:?}");
            // what is square to it turns by 0.2 about it
            let across = axis.any_orthonormal_vector();
            let on_part = pose().affine().inverse().transform_vector3(across);
            let moved = turned.affine().transform_vector3(on_part);
            assert!(
                (moved.dot(across) - 0.2_f64.cos()).abs() < 1e-12,
                "{grip:?}"
            );
            assert!(
                moved.cross(across).dot(axis) < 0.0,
                "right-handed, {grip:?}"
            );
        }
    }

    #[test]
    fn the_hold_follows_the_pointer() {
        let (orbit, aspect, reach_m) = (orbit(), 1.4, 0.05);
        for grip in Grip::ALL {
            let spot = |pose: Pose| orbit.spot(pose.hold(grip, reach_m), aspect).unwrap();
            let before = pose();
            let after = before.with(grip, before.value(grip) + 1e-4);
            let drag = spot(after) - spot(before);
            let found = before.dragged(grip, drag, (&orbit, aspect, reach_m));
            assert!((found / 1e-4 - 1.0).abs() < 0.01, "{grip:?}: {found}");
        }
    }

    #[test]
    fn a_grip_that_is_seen_end_on_moves_nothing() {
        let mut orbit = orbit();
        orbit.look_from(super::super::orbit::Side::Top);
        orbit.about_m = pose().at_m;
        let drag = DVec2::new(0.1, 0.1);
        let found = pose().dragged(Grip::Along(2), drag, (&orbit, 1.0, 0.02));
        assert!(found.abs() < 1e-12, "{found}");
        assert!(pose().dragged(Grip::Along(0), drag, (&orbit, 1.0, 0.02)) > 0.0);
    }
}
