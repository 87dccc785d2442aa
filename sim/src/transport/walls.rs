//! The chamber's walls as atoms meet them from inside.
//!
//! In: a point inside and a direction. Out: where the wall is, and which way is in there.

use crate::plan::model::ChamberShape;
use glam::{DVec2, DVec3};

/// How far outside a wall a body still counts as flush with it, as a share of the chamber's size: corners of bodies
/// are rounded to f32, 2⁻²⁵ of the largest coordinate each.
const FLUSH: f64 = 1.0 / (1u64 << 22) as f64;

/// Where a line meets a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct WallHit {
    /// Distance, m; never below 0.
    pub distance_m: f64,
    /// Unit normal, into the chamber.
    pub inward: DVec3,
}

/// The wall along a unit direction from a point inside.
pub(super) fn wall_from(chamber: &ChamberShape, from: DVec3, along: DVec3) -> WallHit {
    let mut nearest = WallHit {
        distance_m: f64::INFINITY,
        inward: -along,
    };
    let mut meet = |distance_m: f64, inward: DVec3| {
        if distance_m < nearest.distance_m {
            nearest = WallHit {
                distance_m: distance_m.max(0.0),
                inward,
            };
        }
    };
    let plane = |x: f64, v: f64, [low, high]: [f64; 2]| {
        if v > 0.0 {
            (high - x) / v
        } else if v < 0.0 {
            (low - x) / v
        } else {
            f64::INFINITY
        }
    };
    let axis = |axis: usize| -DVec3::AXES[axis] * along[axis].signum();
    match *chamber {
        ChamberShape::Box { size_m } => {
            let half = 0.5 * size_m;
            meet(plane(from.x, along.x, [-half.x, half.x]), axis(0));
            meet(plane(from.y, along.y, [-half.y, half.y]), axis(1));
            meet(plane(from.z, along.z, [0.0, size_m.z]), axis(2));
        }
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            let (x, v) = (from.truncate(), along.truncate());
            let a = v.length_squared();
            let b = x.dot(v);
            let c = x.length_squared() - diameter_m * diameter_m / 4.0;
            if a > 0.0 {
                let distance_m = (-b + (b * b - a * c).max(0.0).sqrt()) / a;
                let out: DVec2 = (x + v * distance_m).normalize_or_zero();
                meet(distance_m, -out.extend(0.0));
            }
            meet(plane(from.z, along.z, [0.0, height_m]), axis(2));
        }
    }
    nearest
}

/// Whether a point is inside the walls. They are convex: between two points inside no wall is met.
#[inline]
pub(super) fn is_inside(chamber: &ChamberShape, point: DVec3) -> bool {
    match *chamber {
        ChamberShape::Box { size_m } => {
            point.x.abs() < 0.5 * size_m.x
                && point.y.abs() < 0.5 * size_m.y
                && point.z > 0.0
                && point.z < size_m.z
        }
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            point.truncate().length_squared() < 0.25 * diameter_m * diameter_m
                && point.z > 0.0
                && point.z < height_m
        }
    }
}

/// Whether a point is inside the walls, or so little outside that what is there is flush with them.
pub(super) fn is_within(chamber: &ChamberShape, point: DVec3) -> bool {
    match *chamber {
        ChamberShape::Box { size_m } => {
            let middle = DVec3::new(0.0, 0.0, 0.5 * size_m.z);
            let slack = DVec3::splat(FLUSH * size_m.max_element());
            (point - middle).abs().cmple(0.5 * size_m + slack).all()
        }
        ChamberShape::Cylinder {
            diameter_m,
            height_m,
        } => {
            let slack = FLUSH * diameter_m.max(height_m);
            point.truncate().length() <= 0.5 * diameter_m + slack
                && point.z >= -slack
                && point.z <= height_m + slack
        }
    }
}

/// Distance beyond a wall up to which bodies are looked for, so that those flush with it are met, m.
pub(super) fn reach_beyond_m(chamber: &ChamberShape) -> f64 {
    // a line that grazes the wall goes on just outside it; lines at under 10⁻³ rad may miss what is flush
    1e3 * FLUSH
        * match *chamber {
            ChamberShape::Box { size_m } => size_m.max_element(),
            ChamberShape::Cylinder {
                diameter_m,
                height_m,
            } => diameter_m.max(height_m),
        }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CYLINDER: ChamberShape = ChamberShape::Cylinder {
        diameter_m: 0.3,
        height_m: 0.4,
    };
    const BOX: ChamberShape = ChamberShape::Box {
        size_m: DVec3::new(0.2, 0.4, 0.6),
    };

    #[test]
    fn walls_are_where_the_plan_has_them() {
        let from = DVec3::new(0.05, 0.0, 0.1);
        for (chamber, along, distance_m) in [
            (CYLINDER, DVec3::X, 0.1),
            (CYLINDER, DVec3::NEG_X, 0.2),
            (
                CYLINDER,
                DVec3::Y,
                (0.15_f64.powi(2) - 0.05_f64.powi(2)).sqrt(),
            ),
            (CYLINDER, DVec3::Z, 0.3),
            (CYLINDER, DVec3::NEG_Z, 0.1),
            (BOX, DVec3::X, 0.05),
            (BOX, DVec3::NEG_X, 0.15),
            (BOX, DVec3::Y, 0.2),
            (BOX, DVec3::Z, 0.5),
        ] {
            let hit = wall_from(&chamber, from, along);
            assert!(
                (hit.distance_m - distance_m).abs() < 1e-15,
                "{along}: {hit:?}"
            );
            assert!(hit.inward.dot(along) < 0.0 && (hit.inward.length() - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn a_point_is_inside_if_no_wall_is_met_before_it() {
        let from = DVec3::new(0.05, -0.02, 0.1);
        for chamber in [CYLINDER, BOX] {
            for k in 0..2000 {
                let turn = f64::from(k);
                let along =
                    DVec3::new(turn.sin(), (1.7 * turn).cos(), (2.3 * turn).sin()).normalize();
                let distance_m = 0.5 * (0.37 * turn).sin().abs();
                let before = distance_m < wall_from(&chamber, from, along).distance_m;
                assert_eq!(
                    is_inside(&chamber, from + along * distance_m),
                    before,
                    "{along} {distance_m}"
                );
            }
        }
    }

    #[test]
    fn from_a_wall_the_other_side_is_met() {
        let from = DVec3::new(-0.15, 0.0, 0.2);
        let hit = wall_from(&CYLINDER, from, DVec3::X);
        assert!((hit.distance_m - 0.3).abs() < 1e-15, "{hit:?}");
        // a rounding outside, leaving: it is on the wall
        let hit = wall_from(&CYLINDER, DVec3::new(0.0, 0.0, 0.4 + 1e-16), DVec3::Z);
        assert!(hit.distance_m.abs() < 1e-15, "{hit:?}");
    }

    #[test]
    fn a_body_flush_with_a_wall_to_single_precision_is_inside() {
        // 12 in, whose nearest single-precision number lies 3.8 nm above
        let height_m = f64::from(0.3048_f32);
        assert!(height_m > 0.3048 + 3e-9);
        let chamber = ChamberShape::Cylinder {
            diameter_m: 0.3,
            height_m: 0.3048,
        };
        assert!(is_within(&chamber, DVec3::new(0.1, 0.0, height_m)));
        assert!(!is_within(&chamber, DVec3::new(0.1, 0.0, 0.304_801)));
        assert!(!is_within(&BOX, DVec3::new(0.1001, 0.0, 0.1)));
    }
}
