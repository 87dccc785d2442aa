//! Orders of receivers along a curve that fills space: what lies near on it lies near in space.
//!
//! In: a scene and places in it. Out: keys to sort by.

use crate::scene::{Receiver, Scene};
use glam::DVec3;

/// Bits of the curve per axis.
const LEVELS: u32 = 10;

/// The curve through a box.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Curve {
    least: DVec3,
    /// Cells per metre.
    scale: f64,
}

impl Curve {
    /// Through all of these places, m.
    pub fn through(places: impl Iterator<Item = DVec3>) -> Self {
        let none = (DVec3::INFINITY, DVec3::NEG_INFINITY);
        let (least, most) = places.fold(none, |(least, most), place| {
            (least.min(place), most.max(place))
        });
        let last = f64::from((1_u32 << LEVELS) - 1);
        Self {
            least,
            scale: last / (most - least).max_element().max(f64::MIN_POSITIVE),
        }
    }

    /// How far along the curve a place is, below 2^30.
    ///
    /// Source: G. M. Morton, IBM report (1966), from memory.
    pub fn along(&self, place: DVec3) -> u64 {
        let cell = ((place - self.least) * self.scale).as_u64vec3();
        (0..LEVELS).rev().fold(0, |bits, level| {
            let bit = |axis: usize| cell[axis] >> level & 1;
            bits << 3 | bit(0) << 2 | bit(1) << 1 | bit(2)
        })
    }
}

/// Sorts groups of receivers, each known by its first, so that groups that lie near each other follow one another.
///
/// Whoever works through them in that order finds the hierarchy's nodes and the triangles that the last group's lines
/// read still at hand.
pub(crate) fn side_by_side<T: Send>(
    groups: Vec<T>,
    first: impl Fn(&T) -> usize,
    (scene, receivers): (&Scene, &[Receiver]),
) -> Vec<T> {
    let place = |group: &T| {
        let receiver = &receivers[first(group)];
        (
            receiver.body.0,
            scene.bodies[receiver.body.0 as usize].corners(receiver.triangle)[0],
        )
    };
    let curve = Curve::through(groups.iter().map(|group| place(group).1));
    let mut keyed: Vec<(u64, T)> = groups
        .into_iter()
        .map(|group| {
            let (body, at_m) = place(&group);
            (u64::from(body) << (3 * LEVELS) | curve.along(at_m), group)
        })
        .collect();
    keyed.sort_by_key(|(key, _)| *key);
    keyed.into_iter().map(|(_, group)| group).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_passes_through_every_cell_of_a_cube_octant_by_octant() {
        let corner = |k: u32, side: f64| {
            DVec3::new(
                f64::from(k >> 2 & 1),
                f64::from(k >> 1 & 1),
                f64::from(k & 1),
            ) * side
        };
        let all = || (0..8).flat_map(|k| (0..8).map(move |j| corner(k, 2.0) + corner(j, 1.0)));
        let curve = Curve::through(all());
        let mut along: Vec<u64> = all().map(|place| curve.along(place)).collect();
        assert!(along.is_sorted(), "{along:?}");
        along.dedup();
        assert_eq!(along.len(), 64);
    }
}
