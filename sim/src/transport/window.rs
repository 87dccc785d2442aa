//! When a receiver can see a footprint at all, and how much it then gets: where samples in time go.
//!
//! In: a channel's motion and footprint, a receiver's plane. Out: a density over the step's time that
//! follows the unblocked flux; drawing by it and dividing by it leaves every estimate unbiased.
//! PHYSICS.md "Gather".

use super::channel::Channel;
use super::kernel::shaft::Shaft;
use super::lines::{Target, rigid_inverse};
use super::looks::Seen;
use crate::scene::Scene;
use crate::scene::motion::AxisMotion;
use glam::DVec3;
use std::f64::consts::PI;

/// Pieces of a step in time (or in angle, where turns are folded).
pub(crate) const BINS: usize = 32;

/// Share of the samples spread evenly over all pieces in which the receiver can see the footprint, so
/// that no weight exceeds ten times the mean.
const EVEN_SHARE: f64 = 0.1;

/// Where a footprint is, in the receiver's frame.
#[derive(Debug, Clone, Copy)]
struct Place {
    centre: DVec3,
    normal: DVec3,
}

/// A footprint through a step: one place where nothing moves, [`BINS`] pieces between places where one
/// rotation moves, none where several do (their time does not fold; samples are then spread evenly).
#[derive(Debug, Clone)]
pub(crate) struct Sweep {
    /// For receivers that stand still.
    still: Place,
    /// For receivers that ride: in the middle of each piece, or the only one.
    riding: Vec<Place>,
    /// At the ends of the pieces.
    ends: Vec<Place>,
    /// No point of the footprint is farther than this from the middle place during a piece, m.
    radius_m: f64,
    /// Radius of the footprint itself, m.
    footprint_m: f64,
    /// No point of the footprint bulges farther than this out of the straight way through a piece, m.
    bulge_m: f64,
}

impl Sweep {
    /// Works out where a channel's footprint is.
    ///
    /// - `standoff_m`: how far starts are lifted off it
    pub fn new(
        scene: &Scene,
        channel: &Channel,
        standoff_m: f64,
        pose: impl Fn(f64) -> glam::DAffine3,
    ) -> Self {
        let footprint = &scene.sources[channel.source].footprint;
        let (centre, radius) = footprint.bounding_sphere();
        let footprint_m = radius * (1.0 + 1e-6) + standoff_m;
        let [_, _, normal] = footprint.frame;
        let seen_by_rider = |u: f64| {
            let back = rigid_inverse(&pose(u));
            Place {
                centre: back.transform_point3(centre),
                normal: back.transform_vector3(normal),
            }
        };
        let pieces = |count: usize, shift: f64| {
            let places = (0..count).map(|k| seen_by_rider((k as f64 + shift) / BINS as f64));
            places.collect::<Vec<Place>>()
        };
        let (riding, ends) = match channel.motion.moving() {
            0 => (vec![seen_by_rider(0.5)], Vec::new()),
            1 => (pieces(BINS, 0.5), pieces(BINS + 1, 0.0)),
            _ => (Vec::new(), Vec::new()),
        };
        let [strays_m, bulge_m] = if ends.is_empty() {
            [0.0; 2]
        } else {
            strays_m(scene, channel, centre, radius)
        };
        Self {
            still: Place { centre, normal },
            riding,
            ends,
            radius_m: footprint_m + strays_m,
            footprint_m,
            bulge_m,
        }
    }

    /// Where the middle of the footprint is, as a receiver sees it: once, in every piece, or nowhere where several rotations
    /// move it.
    pub fn places(&self, target: &Target) -> impl Iterator<Item = DVec3> {
        let places = if target.riding() {
            &self.riding[..]
        } else {
            std::slice::from_ref(&self.still)
        };
        places.iter().map(|place| place.centre)
    }

    /// The shaft from a receiver to the footprint, through a piece or, where it has none, through the step;
    /// none where several rotations move it.
    ///
    /// A point of the footprint stays near the chord between where it is at the ends of the piece, and the hull
    /// of two balls holds all chords.
    pub fn shaft(&self, target: &Target, bin: usize) -> Option<Shaft> {
        let base = target.base();
        let still = |place: &Place| Shaft::new(&base, &[(place.centre, self.footprint_m)]);
        if !target.riding() {
            return Some(still(&self.still));
        }
        if self.ends.is_empty() {
            return self.riding.first().map(still);
        }
        Some(Shaft::new(&base, &self.balls(bin)))
    }

    /// Balls (centre, radius m) in whose hull the footprint stays through a piece, as a rider sees it; one rotation
    /// moves it.
    pub fn balls(&self, bin: usize) -> [(DVec3, f64); 2] {
        let radius_m = self.footprint_m + self.bulge_m;
        [bin, bin + 1].map(|end| (self.ends[end].centre, radius_m))
    }

    /// The window of a receiver.
    ///
    /// - `seen`: what a pilot learned, if there was one
    pub fn window(
        &self,
        target: &Target,
        seen: Option<&Seen>,
        pdf_per_sr: impl Fn(f64) -> f64,
    ) -> Window {
        let (places, radius_m, ends) = if target.riding() {
            (&self.riding[..], self.radius_m, &self.ends[..])
        } else {
            (std::slice::from_ref(&self.still), self.footprint_m, &[][..])
        };
        let mut window = Window {
            cumulative: [0.0; BINS],
            density: [[1.0; 2]; BINS],
            bins: places.len(),
        };
        let (middle, extent) = target.bounding_sphere();
        let mut possible = [false; BINS];
        for (place, possible) in places.iter().zip(&mut possible) {
            let height = (place.centre - middle).dot(target.normal());
            *possible = height + radius_m + extent > 0.0;
        }
        let open = possible.iter().filter(|&&p| p).count();
        if !places.is_empty() && open == 0 {
            window.bins = usize::MAX; // below the horizon throughout
        }
        if open == 0 || ends.is_empty() {
            return window;
        }
        let mut flux = [0.0; BINS + 1];
        for (place, flux) in ends.iter().zip(&mut flux) {
            let to = place.centre - middle;
            let height = above_horizon(to.dot(target.normal()), self.footprint_m);
            if height > 0.0 {
                let squared = to.length_squared();
                let distance = squared.sqrt();
                let emitted = pdf_per_sr(-to.dot(place.normal) / distance);
                *flux = emitted * height / (squared * distance);
            }
        }
        let pieces = possible
            .iter()
            .enumerate()
            .filter(|(_, possible)| **possible);
        let sum: f64 = pieces
            .map(|(bin, _)| 0.5 * (flux[bin] + flux[bin + 1]))
            .sum();
        let (of_flux, even) = if sum > 0.0 {
            ((1.0 - EVEN_SHARE) * open as f64 / sum, EVEN_SHARE)
        } else {
            (0.0, 1.0)
        };
        let mut running = 0.0;
        for (bin, &possible) in possible.iter().enumerate() {
            if possible {
                // continuous from piece to piece: a jump in the weights would be one more thing to find
                let density = [bin, bin + 1].map(|end| {
                    let factor = seen.map_or(1.0, |seen| factor_at(seen, end));
                    factor * (of_flux * flux[end] + even)
                });
                running += 0.5 * (density[0] + density[1]);
                window.density[bin] = density;
            }
            window.cumulative[bin] = running;
        }
        window
    }
}

/// The factor at the end between two pieces.
fn factor_at(seen: &Seen, end: usize) -> f64 {
    let [before, after] = [end.saturating_sub(1), end.min(BINS - 1)].map(|bin| seen.uneven[bin]);
    (f64::from(before) + f64::from(after)) / 510.0
}

/// How far a point of a footprint can be, as a rider sees it, from where it is in the middle of a piece, and
/// from the chord between where it is at the ends of the piece, m. One rotation moves.
fn strays_m(scene: &Scene, channel: &Channel, centre: DVec3, radius: f64) -> [f64; 2] {
    let axes = &channel.motion.axes;
    let Some(moving) = axes.iter().position(AxisMotion::moves) else {
        return [0.0; 2];
    };
    // Half a turn apart on the circle of the centre, whatever carries the rotation or is carried by it.
    let [here, there] = [0.0, PI].map(|angle| {
        let mut angles = channel.motion.angles_for(0.5);
        angles[moving] = angle;
        rigid_inverse(&scene.motion.pose(&angles)).transform_point3(centre)
    });
    let reach = 0.5 * here.distance(there) + radius;
    let angle = |k: usize| channel.motion.angle_for(moving, k as f64 / BINS as f64);
    // Angles rise with u, so they stay between those at the ends.
    let turned = (0..BINS)
        .map(|bin| (angle(bin + 1) - angle(bin)).abs())
        .fold(0.0, f64::max);
    [turned * reach, (1.0 - (0.5 * turned).cos()) * reach]
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

/// A density over a step's time for one receiver: linear in each piece.
#[derive(Debug, Clone)]
pub(crate) struct Window {
    cumulative: [f64; BINS],
    /// At the ends of each piece, relative.
    density: [[f64; 2]; BINS],
    bins: usize,
}

/// A time drawn from a window.
#[cfg(test)]
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drawn {
    /// Time variate.
    pub at: f64,
    /// Weight of the sample.
    pub weight: f64,
    /// Piece that holds it.
    pub bin: u8,
}

impl Window {
    /// All times alike.
    pub const EVEN: Self = Self {
        cumulative: [0.0; BINS],
        density: [[1.0; 2]; BINS],
        bins: 0,
    };

    /// True when every point of the footprint is below the receiver's horizon through the whole step.
    pub fn is_shut(&self) -> bool {
        self.bins == usize::MAX
    }

    /// The window of several receivers together: as dense as all of theirs. None without any.
    pub fn joined(windows: &[Self]) -> Option<Self> {
        let open = || windows.iter().filter(|window| !window.is_shut());
        let mut all = open().next().or(windows.first())?.clone();
        if !all.has_pieces() {
            return Some(all);
        }
        let mut running = 0.0;
        for bin in 0..BINS {
            let drawn = || open().filter(|window| window.mass(bin) > 0.0);
            if drawn().next().is_some() {
                all.density[bin] = [0, 1].map(|end| drawn().map(|w| w.density[bin][end]).sum());
                running += 0.5 * (all.density[bin][0] + all.density[bin][1]);
            }
            all.cumulative[bin] = running;
        }
        Some(all)
    }

    /// What is drawn in a piece, relative.
    fn mass(&self, bin: usize) -> f64 {
        let before = if bin == 0 {
            0.0
        } else {
            self.cumulative[bin - 1]
        };
        self.cumulative[bin] - before
    }

    /// True when there are pieces to learn about.
    pub fn has_pieces(&self) -> bool {
        self.bins == BINS
    }

    /// Pieces in which lines may be drawn.
    pub fn pieces(&self) -> impl Iterator<Item = usize> {
        (0..self.bins.min(BINS)).filter(|&bin| self.mass(bin) > 0.0)
    }

    /// Sums of the density up to the end of each piece, and densities at the ends of each; none without pieces.
    pub fn of_pieces(&self) -> Option<(&[f64; BINS], &[[f64; 2]; BINS])> {
        (self.bins == BINS).then_some((&self.cumulative, &self.density))
    }

    /// Time for a uniform variate, one at a time: what [`super::draw`] is held against.
    #[cfg(test)]
    pub fn place(&self, u: f64) -> Drawn {
        if self.bins != BINS {
            return Drawn {
                at: u,
                weight: 1.0,
                bin: 0,
            };
        }
        let all = self.cumulative[BINS - 1];
        let pick = u * all;
        let below: usize = self
            .cumulative
            .iter()
            .map(|&c| usize::from(c <= pick))
            .sum();
        let bin = below.min(BINS - 1);
        let before = if bin == 0 {
            0.0
        } else {
            self.cumulative[bin - 1]
        };
        let [from, to] = self.density[bin];
        let within = ((pick - before) / (self.cumulative[bin] - before)).clamp(0.0, 1.0);
        // Inverse of the integral of a line, without cancellation where it is nearly level.
        let root = (from * from + within * (to * to - from * from))
            .max(0.0)
            .sqrt();
        let part = (within * (from + to) / (from + root)).min(1.0);
        let width = 1.0 / BINS as f64;
        Drawn {
            at: (bin as f64 + part) * width,
            weight: width * all / (from + part * (to - from)),
            #[expect(clippy::cast_possible_truncation, reason = "below BINS")]
            bin: bin as u8,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::looks::Looks;
    use super::*;

    /// A window with empty pieces, level ones, rising and falling ones, some thinned out.
    fn uneven(looks: Option<&Looks>) -> Window {
        let mut window = Window {
            cumulative: [0.0; BINS],
            density: [[1.0; 2]; BINS],
            bins: BINS,
        };
        let seen = looks.map(Looks::uneven);
        let mut sum = 0.0;
        for bin in 0..BINS {
            if bin % 5 != 4 {
                let factor = seen.map_or(1.0, |seen| f64::from(seen[bin]) / 255.0);
                let end = |k: usize| factor * (0.1 + (0.3 * k as f64).sin().powi(2));
                window.density[bin] =
                    [end(bin), if bin % 3 == 0 { end(bin) } else { end(bin + 1) }];
                sum += 0.5 * (window.density[bin][0] + window.density[bin][1]);
            }
            window.cumulative[bin] = sum;
        }
        window
    }

    /// Integrals of 0 where the window never looks and 1 + cos 7u elsewhere: plainly, and through the window.
    fn integrals(window: &Window) -> (f64, f64) {
        let seen = |u: f64| ((u * BINS as f64).floor() % 5.0 - 4.0).abs() > 0.5;
        let f = |u: f64| if seen(u) { 1.0 + (7.0 * u).cos() } else { 0.0 };
        let n = 1 << 16;
        let (mut plain, mut through) = (0.0, 0.0);
        for i in 0..n {
            let u = (f64::from(i) + 0.5) / f64::from(n);
            plain += f(u) / f64::from(n);
            let drawn = window.place(u);
            through += f(drawn.at) * drawn.weight / f64::from(n);
        }
        (plain, through)
    }

    #[test]
    fn drawing_by_a_window_and_weighting_leaves_integrals_as_they_are() {
        let mut looks = Looks::NONE;
        (0..200).for_each(|i| looks.count(i * i % BINS, i % 3 == 0));
        for window in [uneven(None), uneven(Some(&looks))] {
            let (plain, through) = integrals(&window);
            assert!((plain - through).abs() < 1e-4, "{plain} {through}");
        }
    }

    #[test]
    fn windows_joined_leave_integrals_as_they_are() {
        let mut looks = Looks::NONE;
        (0..200).for_each(|i| looks.count(i * i % BINS, i % 3 == 0));
        let shut = Window {
            bins: usize::MAX,
            ..uneven(None)
        };
        let all = [shut.clone(), uneven(Some(&looks)), uneven(None)];
        let joined = Window::joined(&all).expect("some windows");
        let (plain, through) = integrals(&joined);
        assert!((plain - through).abs() < 1e-4, "{plain} {through}");
        let mass = |window: &Window| window.cumulative[BINS - 1];
        assert!((mass(&joined) - mass(&all[1]) - mass(&all[2])).abs() < 1e-12);
        let two_shut = [shut.clone(), shut];
        assert!(Window::joined(&two_shut).expect("some windows").is_shut());
    }

    #[test]
    fn the_integral_notices_a_density_that_is_not_the_drawn_one() {
        let mut window = uneven(None);
        window.density[7][1] *= 1.2;
        let (plain, through) = integrals(&window);
        assert!((plain - through).abs() > 1e-4, "{plain} {through}");
    }
}
