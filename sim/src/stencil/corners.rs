//! Stations beside corners of outlines, where film changes along an edge as fast as across it.
//!
//! In: a contour and how far the film beside each of its sides changes. Out: shares of each side at which to look, and
//! the length of edge that each speaks for.

use super::sheet::Opens;
use glam::DVec2;
use std::ops::Range;

/// Turn from which on a corner is one, rad: less is a piece of a curve.
const SHARP: f64 = 0.44;

/// Steps through the penumbra of the other side.
const STEPS: f64 = 10.0;

/// Narrower stretches than this are passed over, m: the film steps.
const NARROWEST_M: f64 = 2e-6;

/// Least sine of the angle between two sides that stretches what one throws along the other.
const LEAST_SINE: f64 = 0.3;

/// From where to where the film beside a side changes, from the edge into the opening, m: place on it, way into it.
pub(crate) type Smears<'a> = &'a (dyn Fn(DVec2, DVec2) -> [f64; 2] + Sync);

/// A stretch of a side in which the film changes along it because of the side next to it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    /// Shares of the side.
    pub shares: Range<f64>,
    /// Length of a step that resolves it, m.
    pub step_m: f64,
}

/// Stretches of every side of a contour: at its beginning, at its end.
///
/// - `corners`: the area that the contour bounds lies on their left
pub(super) fn stretches(
    corners: &[DVec2],
    opens: Opens,
    smears: Smears,
) -> Vec<[Option<Stretch>; 2]> {
    let count = corners.len();
    let way =
        |side: usize| (corners[(side + 1) % count] - corners[side % count]).normalize_or_zero();
    let into = |side: usize| match opens {
        Opens::Shapes => way(side).perp(),
        Opens::Ground => -way(side).perp(),
    };
    (0..count)
        .map(|side| {
            let length_m = corners[side].distance(corners[(side + 1) % count]);
            let ends = [(side, side + count - 1), (side + 1, side + 1)];
            let [first, last] = ends.map(|(corner, other)| {
                let (one, two) = (way(corner + count - 1), way(corner));
                if one.angle_to(two).abs() < SHARP {
                    return None;
                }
                let convex = (one.perp_dot(two) > 0.0) == (opens == Opens::Shapes);
                let smear = smears(corners[corner % count], into(other));
                along(smear, one.perp_dot(two).abs(), convex, length_m)
            });
            let turned = last.map(|stretch| Stretch {
                shares: 1.0 - stretch.shares.end..1.0 - stretch.shares.start,
                ..stretch
            });
            [first, turned]
        })
        .collect()
}

/// What the penumbra of another side covers along this one, from their corner on.
///
/// Where the opening is convex this side runs into the opening of the other; else under its sheet.
fn along([from_m, to_m]: [f64; 2], sine: f64, convex: bool, length_m: f64) -> Option<Stretch> {
    let slant = 1.0 / sine.max(LEAST_SINE);
    let step_m = slant * (to_m - from_m) / STEPS;
    let ends = if convex {
        [from_m, to_m]
    } else {
        [-to_m, -from_m]
    };
    let [begin_m, end_m] = ends.map(|x| (x * slant).clamp(0.0, 0.5 * length_m));
    (end_m - begin_m > NARROWEST_M && step_m > 0.0).then(|| Stretch {
        shares: begin_m / length_m..end_m / length_m,
        step_m,
    })
}
