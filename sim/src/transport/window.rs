//! When a receiver can see a footprint at all, and how much it then gets: where samples in time go.
//!
//! In: a channel's motion and footprint, a receiver's plane. Out: a density over the step's time that
//! follows the unblocked flux; drawing by it and dividing by it leaves every estimate unbiased.
//! PHYSICS.md "Gather".

use super::lines::{Channel, Target, rigid_inverse};
use crate::scene::Scene;
use glam::DVec3;

/// Pieces of a step in time (or in angle, where turns are folded).
const BINS: usize = 32;

/// Share of the samples spread evenly over all pieces in which the receiver can see the footprint, so
/// that no weight exceeds ten times the mean.
const EVEN_SHARE: f64 = 0.1;

/// A footprint as it stands during one piece of a step, in the receiver's frame.
#[derive(Debug, Clone, Copy)]
struct Stand {
    centre: DVec3,
    normal: DVec3,
    /// No point of the footprint is farther than this from the centre during the piece, m.
    radius_m: f64,
    /// Radius of the footprint itself, m.
    footprint_m: f64,
}

/// A footprint through a step: one stand where nothing moves, [`BINS`] where one rotation moves, none
/// where several do (their time does not fold; samples are then spread evenly).
#[derive(Debug, Clone)]
pub(crate) struct Sweep {
    /// For receivers that stand still.
    still: Stand,
    /// For receivers that ride.
    riding: Vec<Stand>,
}

impl Sweep {
    /// Works out where a channel's footprint stands.
    pub fn new(scene: &Scene, channel: &Channel, pose: impl Fn(f64) -> glam::DAffine3) -> Self {
        let footprint = &scene.sources[channel.source].footprint;
        let (centre, radius) = footprint.bounding_sphere();
        let radius = radius * (1.0 + 1e-6); // starts are lifted off the face by far less
        let [_, _, normal] = footprint.frame;
        let still = Stand {
            centre,
            normal,
            radius_m: radius,
            footprint_m: radius,
        };
        let seen_by_rider = |u: f64, pad: f64| {
            let back = rigid_inverse(&pose(u));
            Stand {
                centre: back.transform_point3(centre),
                normal: back.transform_vector3(normal),
                radius_m: radius + pad,
                footprint_m: radius,
            }
        };
        let riding = match channel.motion.moving() {
            0 => vec![seen_by_rider(0.5, 0.0)],
            1 => (0..BINS)
                .map(|bin| {
                    let edges = [bin, bin + 1].map(|k| k as f64 / BINS as f64);
                    // Angles rise with u, so they stay between those at the edges.
                    let [from, to] = edges.map(|u| channel.motion.angles_for(u));
                    let turned: f64 = from
                        .iter()
                        .zip(&to)
                        .map(|(a, b)| (b - a).abs())
                        .fold(0.0, f64::max);
                    let arm = scene
                        .motion
                        .axes
                        .iter()
                        .map(|&(axis, through)| (centre - through).cross(axis).length())
                        .fold(0.0, f64::max);
                    let reach = scene.motion.axes.len() as f64 * (arm + radius);
                    seen_by_rider((edges[0] + edges[1]) / 2.0, turned * reach)
                })
                .collect(),
            _ => Vec::new(),
        };
        Self { still, riding }
    }

    /// The window of a receiver.
    pub fn window(&self, target: &Target, pdf_per_sr: impl Fn(f64) -> f64) -> Window {
        let stands = if target.riding() {
            &self.riding[..]
        } else {
            std::slice::from_ref(&self.still)
        };
        let mut window = Window {
            cumulative: [0.0; BINS],
            bins: stands.len(),
        };
        let (middle, extent) = target.bounding_sphere();
        let mut possible = [false; BINS];
        let mut sum = 0.0;
        for (bin, stand) in stands.iter().enumerate() {
            let to = stand.centre - middle;
            let height = to.dot(target.normal());
            if height + stand.radius_m + extent <= 0.0 {
                continue;
            }
            possible[bin] = true;
            let squared = to.length_squared();
            let distance = squared.sqrt();
            let emitted = pdf_per_sr(-to.dot(stand.normal) / distance);
            let flux = emitted * above_horizon(height, stand.footprint_m) / (squared * distance);
            window.cumulative[bin] = flux;
            sum += flux;
        }
        let open = possible.iter().filter(|&&p| p).count();
        if !stands.is_empty() && open == 0 {
            window.bins = usize::MAX; // below the horizon throughout
            return window;
        }
        let even = 1.0 / open.max(1) as f64;
        let mut running = 0.0;
        for (bin, &possible) in possible.iter().enumerate().take(stands.len()) {
            if possible {
                running += if sum > 0.0 {
                    (1.0 - EVEN_SHARE) * window.cumulative[bin] / sum + EVEN_SHARE * even
                } else {
                    even
                };
            }
            window.cumulative[bin] = running;
        }
        window
    }
}

/// Mean height above the horizon over a footprint spread evenly over ±radius about `height`.
fn above_horizon(height: f64, radius: f64) -> f64 {
    if height >= radius {
        height
    } else if height > -radius {
        (height + radius).powi(2) / (4.0 * radius)
    } else {
        0.0
    }
}

/// A density over a step's time for one receiver.
#[derive(Debug, Clone)]
pub(crate) struct Window {
    cumulative: [f64; BINS],
    bins: usize,
}

impl Window {
    /// True when every point of the footprint is below the receiver's horizon through the whole step.
    pub fn is_shut(&self) -> bool {
        self.bins == usize::MAX
    }

    /// Time variate for a uniform one, and the weight to give the sample.
    #[inline]
    pub fn place(&self, u: f64) -> (f64, f64) {
        if self.bins <= 1 {
            return (u, 1.0);
        }
        let bins = &self.cumulative[..self.bins];
        let pick = u * bins[self.bins - 1];
        let bin = bins.partition_point(|&c| c <= pick).min(self.bins - 1);
        let before = if bin == 0 { 0.0 } else { bins[bin - 1] };
        let share = bins[bin] - before;
        let within = ((pick - before) / share).clamp(0.0, 1.0);
        let width = 1.0 / self.bins as f64;
        (
            (bin as f64 + within) * width,
            width * bins[self.bins - 1] / share,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drawing_by_a_window_and_weighting_leaves_integrals_as_they_are() {
        let mut window = Window {
            cumulative: [0.0; BINS],
            bins: BINS,
        };
        let mut sum = 0.0;
        for bin in 0..BINS {
            sum += if bin % 5 == 4 {
                0.0
            } else {
                1.0 + (bin as f64).sin().powi(2)
            };
            window.cumulative[bin] = sum;
        }
        // An integrand that is 0 where the window never looks; exact integral by the midpoint rule.
        let seen = |u: f64| ((u * BINS as f64).floor() % 5.0 - 4.0).abs() > 0.5;
        let f = |u: f64| if seen(u) { 1.0 + (7.0 * u).cos() } else { 0.0 };
        let n = 1 << 16;
        let (mut plain, mut drawn) = (0.0, 0.0);
        for i in 0..n {
            let u = (f64::from(i) + 0.5) / f64::from(n);
            plain += f(u) / f64::from(n);
            let (at, weight) = window.place(u);
            drawn += f(at) * weight / f64::from(n);
        }
        assert!((plain - drawn).abs() < 1e-4, "{plain} {drawn}");
    }
}
