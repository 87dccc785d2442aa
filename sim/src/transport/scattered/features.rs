//! What the scattered film of a facet depends on: where it lies, which way it looks, how much sky it sees.
//!
//! In: receivers of a part. Out: seven numbers each. Scattered atoms come from all sides, out of a volume, so that
//! their film varies smoothly with these, though the part's own shadow may change from one facet to the next.

use crate::scene::{Group, Receiver};
use crate::transport::lines::{Lines, Target};
use glam::DVec3;
use rayon::prelude::*;
use std::f64::consts::{GOLDEN_RATIO, TAU};
use std::ops::Range;

/// Numbers per facet: place (3), mean direction of what it sees (3), share of the sky.
pub(super) const FEATURES: usize = 7;

/// Directions looked into, all around.
const DIRECTIONS: u32 = 96;
/// How far they reach, in free paths: what is farther is hidden by the gas.
const REACH: f64 = 4.0;

/// Features of one facet.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Features(pub [f32; FEATURES]);

impl Features {
    /// Coordinate of a space in which facets that get much the same film lie near: place, and direction times a length.
    ///
    /// - `axis`: 0 to 5
    pub fn coordinate(&self, axis: usize, length_m: f32) -> f32 {
        if axis < 3 {
            self.0[axis]
        } else {
            self.0[axis] * length_m
        }
    }
}

/// Directions spread evenly, by the golden angle. Source: R. Swinbank and R. J. Purser, Q. J. R. Meteorol. Soc. 132,
/// 1769 (2006), from memory.
fn directions() -> Vec<DVec3> {
    (0..DIRECTIONS)
        .map(|number| {
            let z = 1.0 - (2.0 * f64::from(number) + 1.0) / f64::from(DIRECTIONS);
            let radius = (1.0 - z * z).sqrt();
            let angle = TAU * f64::from(number) / GOLDEN_RATIO;
            DVec3::new(radius * angle.cos(), radius * angle.sin(), z)
        })
        .collect()
}

/// Features of a range of receivers, as they lie in a configuration.
pub(super) fn features(
    lines: &Lines,
    range: Range<usize>,
    configuration: usize,
    free_path_m: f64,
) -> Vec<Features> {
    let all = directions();
    let reach_m = REACH * free_path_m;
    let receivers = lines.scene.receivers[range].par_iter();
    let of = |receiver: &Receiver| {
        lines
            .target(receiver, configuration)
            .map(|target| {
                let group = lines.group(configuration, target.riding());
                one(group, &target, &all, reach_m)
            })
            .unwrap_or_default()
    };
    receivers.map(of).collect()
}

fn one(group: &Group, target: &Target, all: &[DVec3], reach_m: f64) -> Features {
    let (middle, _) = target.bounding_sphere();
    let kernel = &group.kernel;
    let size_m = kernel
        .bounds()
        .map_or(0.0, |(least, most)| f64::from((most - least).length()));
    let reach_m = reach_m.min(size_m);
    let normal = target.normal();
    let (mut bent, mut open) = (DVec3::ZERO, 0.0);
    let ahead: Vec<DVec3> = all
        .iter()
        .copied()
        .filter(|direction| direction.dot(normal) > 0.0)
        .collect();
    for eight in ahead.chunks(8) {
        let mut segments = [(middle, middle); 8];
        for (segment, direction) in segments.iter_mut().zip(eight) {
            segment.1 = middle + *direction * reach_m;
        }
        let blocked = kernel.blocked_eight(&segments[..eight.len()], Some(target.triangle()));
        for (bit, direction) in eight.iter().enumerate() {
            if blocked >> bit & 1 == 0 {
                let cosine = direction.dot(normal);
                bent += *direction * cosine;
                open += cosine;
            }
        }
    }
    // ∫ cos θ ω dω over the half sky is 2π/3 · normal, ∫ cos θ dω is π
    let bent = bent * (6.0 / f64::from(DIRECTIONS));
    let open = open * (4.0 / f64::from(DIRECTIONS));
    let [p, b] = [middle.as_vec3(), bent.as_vec3()];
    #[expect(clippy::cast_possible_truncation, reason = "a regressor")]
    let open = open as f32;
    Features([p.x, p.y, p.z, b.x, b.y, b.z, open])
}
