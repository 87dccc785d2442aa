//! Walls of the chamber: how far off they are, and whether turning changes that.
//!
//! In: the chamber's shape and places in it. Out: distances to one wall. Used by `clearance` alone.

use super::Scene;
use crate::plan::model::ChamberShape;
use glam::DVec3;

/// A surface of the chamber.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Wall {
    Side,
    BasePlate,
    Lid,
}

impl Wall {
    pub(super) const ALL: [Self; 3] = [Self::Side, Self::BasePlate, Self::Lid];

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Side => "wall",
            Self::BasePlate => "base plate",
            Self::Lid => "lid",
        }
    }

    /// Whether no rotation changes the distance of any place from it: all turn about upright axes and, for
    /// the side of a cylinder, about its own.
    pub(super) fn sees_no_turning(self, scene: &Scene) -> bool {
        let upright = |axis: DVec3| axis.x == 0.0 && axis.y == 0.0;
        let central = |through: DVec3| through.x == 0.0 && through.y == 0.0;
        let cylinder = matches!(scene.chamber, Some(ChamberShape::Cylinder { .. }));
        let mut axes = scene.motion.axes.iter();
        match self {
            Self::BasePlate | Self::Lid => axes.all(|&(axis, _)| upright(axis)),
            Self::Side => {
                cylinder && axes.all(|&(axis, through)| upright(axis) && central(through))
            }
        }
    }

    /// Distance of a place from the wall, m, negative outside.
    pub(super) fn distance_m(self, shape: &ChamberShape, at: DVec3) -> f64 {
        match (self, *shape) {
            (Self::BasePlate, _) => at.z,
            (Self::Lid, ChamberShape::Cylinder { height_m, .. }) => height_m - at.z,
            (Self::Lid, ChamberShape::Box { size_m }) => size_m.z - at.z,
            (Self::Side, ChamberShape::Cylinder { diameter_m, .. }) => {
                0.5 * diameter_m - at.x.hypot(at.y)
            }
            (Self::Side, ChamberShape::Box { size_m }) => {
                (0.5 * size_m.x - at.x.abs()).min(0.5 * size_m.y - at.y.abs())
            }
        }
    }
}
