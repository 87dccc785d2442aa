//! Proofs that places lie wholly under a stencil: no line from a footprint arrives there.
//!
//! In: receivers, flat sheets, the schedule. Out: [`Receiver::lit`], a bit for each of 64 pieces of a facet that lines may
//! arrive on. A line that passes a height of the sheet inside its area is blocked, for it is outside the solid at its far
//! end. False in doubt: pieces that are not proved dark are left to the lines.

use super::model::{BodyKind, Receiver, Scene, Side};
use super::stencils::Stencil;
use crate::stencil::{Cover, Covered};
use glam::{DAffine3, DVec2, DVec3};
use rayon::prelude::*;

/// Bits of a facet of which nothing is proved.
pub(crate) const ALL_LIT: u64 = u64::MAX;

/// Pieces of a facet: quarters of quarters of quarters.
pub(crate) const PIECES: u8 = 64;

const LEVELS: u32 = 3;

/// Share of the largest coordinate by which corners of bodies are off: they are rounded to f32.
const ROUNDING: f64 = 1.0 / (1_u64 << 22) as f64;

/// Sheets thinner than so many roundings hide nothing for certain.
const LEAST_SHEET: f64 = 8.0;

/// Above what starts are lifted off their footprint by, m.
const LIFTED_M: f64 = 2e-6;

/// Footprints, in one pose each, beyond which nothing is proved of lifted sheets.
const MOST_BALLS: usize = 32;

/// A piece of a facet: weights of the facet's second and third corner at its corners.
pub(crate) fn piece(number: u8) -> [DVec2; 3] {
    let mut corners = [DVec2::ZERO, DVec2::X, DVec2::Y];
    for level in (0..LEVELS).rev() {
        corners = quarters(corners, |a, b| 0.5 * (a + b))[usize::from(number >> (2 * level) & 3)];
    }
    corners
}

fn quarters<P: Copy>([a, b, c]: [P; 3], middle: impl Fn(P, P) -> P) -> [[P; 3]; 4] {
    let [ab, bc, ca] = [middle(a, b), middle(b, c), middle(c, a)];
    [[a, ab, ca], [ab, b, bc], [bc, ca, ab], [ca, bc, c]]
}

/// Marks what is proved dark of the receivers of all parts with stencils.
pub(super) fn prove(scene: &mut Scene) {
    let mut receivers = std::mem::take(&mut scene.receivers);
    for (index, stencil) in scene.stencils.iter().enumerate() {
        let Some(shade) = Shade::of(scene, index) else {
            continue;
        };
        let part = &scene.parts[stencil.part];
        for range in [part.front.clone(), part.back.clone()] {
            receivers[range].par_iter_mut().for_each(|receiver| {
                receiver.lit &= shade.lit(scene, receiver);
            });
        }
    }
    scene.receivers = receivers;
}

impl Scene {
    /// Whether a receiver is proved to stay bare, because it lies under a stencil.
    pub fn is_covered(&self, receiver: &Receiver) -> bool {
        receiver.lit == 0 && self.is_straight()
    }
}

/// A flat sheet that hides what is under it.
struct Shade {
    cover: Cover,
    artwork_from_part: DAffine3,
    /// Lower and upper side, m over the plane of the artwork.
    levels_m: [f64; 2],
    /// Footprints in the frame of the artwork (middle, radius m) in every pose; none if something moves.
    balls: Option<Vec<(DVec3, f64)>>,
    rounding_m: f64,
}

impl Shade {
    fn of(scene: &Scene, index: usize) -> Option<Self> {
        let (stencil, mask) = (&scene.stencils[index], &scene.plan.masks[index]);
        if mask.wrap_m.is_some() || mask.conform.is_some() {
            return None;
        }
        let largest_m = scene
            .configurations
            .iter()
            .filter_map(|configuration| configuration.riding.kernel.bounds())
            .flat_map(|(low, high)| [low, high])
            .map(|corner| f64::from(corner.abs().max_element()))
            .fold(0.0, f64::max);
        let rounding_m = ROUNDING * largest_m;
        if mask.sheet_m < LEAST_SHEET * rounding_m {
            return None;
        }
        Some(Self {
            cover: Cover::of(&stencil.area),
            artwork_from_part: stencil.placement.inverse(),
            levels_m: [mask.lift_m, mask.lift_m + mask.sheet_m],
            balls: balls(scene, stencil),
            rounding_m,
        })
    }

    /// Pieces of a receiver that are not proved dark.
    fn lit(&self, scene: &Scene, receiver: &Receiver) -> u64 {
        let body = &scene.bodies[receiver.body.0 as usize];
        debug_assert!(matches!(body.kind, BodyKind::Part(_)));
        let [a, b, c] = body
            .corners(receiver.triangle)
            .map(|corner| self.artwork_from_part.transform_point3(corner));
        let corners = receiver.corners.map(|w| a + (b - a) * w.x + (c - a) * w.y);
        let normal = match receiver.side {
            Side::Front => (b - a).cross(c - a),
            Side::Back => (c - a).cross(b - a),
        };
        self.pieces(corners, normal.z > 0.0, LEVELS)
    }

    /// A bit for each piece of a triangle that may be lit.
    fn pieces(&self, corners: [DVec3; 3], faces_up: bool, levels: u32) -> u64 {
        let count = 1_u32 << (2 * levels);
        let all = ALL_LIT >> (64 - count);
        match self.under(corners, faces_up) {
            Covered::Wholly => 0,
            Covered::Not => all,
            Covered::Partly if levels == 0 => all,
            Covered::Partly => {
                let quarters = quarters(corners, |a, b| 0.5 * (a + b));
                let quarters = quarters.into_iter().zip(0_u32..);
                quarters.fold(0, |bits, (corners, number)| {
                    let own = self.pieces(corners, faces_up, levels - 1);
                    bits | own << (number * (count / 4))
                })
            }
        }
    }

    /// Whether all lines to a triangle are blocked by the sheet; `Not` if no part of it can be proved so.
    fn under(&self, corners: [DVec3; 3], faces_up: bool) -> Covered {
        let [low_m, high_m] = self.levels_m;
        let heights = corners.map(|corner| corner.z);
        let touches = heights.iter().all(|h| (h - low_m).abs() <= self.rounding_m);
        let at_once = if touches && faces_up {
            // what leaves it upwards runs into the sheet at once, wherever it goes
            let (middle, radius) = disc(corners);
            self.cover.of_disc(middle, radius + self.rounding_m)
        } else {
            Covered::Not
        };
        let Some(balls) = self.balls.as_ref().filter(|_| at_once != Covered::Wholly) else {
            return at_once;
        };
        if heights.iter().any(|h| *h > low_m + self.rounding_m) {
            return Covered::Not; // it reaches into the sheet, or above
        }
        let mut all = Covered::Wholly;
        for ball in balls {
            let seen = [low_m, high_m].map(|level_m| self.crossed(corners, ball, level_m));
            match seen {
                [Covered::Wholly, _] | [_, Covered::Wholly] => {}
                [Covered::Not, Covered::Not] => return Covered::Not,
                _ => all = Covered::Partly,
            }
        }
        all
    }

    /// What of the sheet's area lines from a ball to a triangle cross at a height.
    ///
    /// A line from y to p crosses height z at p + τ (y − p), τ = (z − p_z)/(y_z − p_z), in the plane. From the middles m, c
    /// and the middle τ₀ that strays by at most R (1 − τ) + r τ + |c − m| |τ − τ₀|.
    fn crossed(&self, corners: [DVec3; 3], (centre, radius): &(DVec3, f64), z: f64) -> Covered {
        let (middle, spread) = disc(corners);
        let heights = corners.map(|corner| corner.z);
        let [least, most] = [
            heights.into_iter().fold(f64::INFINITY, f64::min),
            heights.into_iter().fold(f64::NEG_INFINITY, f64::max),
        ];
        let top_m = self.levels_m[1];
        if centre.z - radius <= top_m + self.rounding_m {
            return Covered::Partly; // nothing is proved, and pieces do no better
        }
        let share = |h: f64, end: f64| ((z - h).max(0.0) / (end - h)).min(1.0);
        let [low, high] = [
            share(most, centre.z + radius),
            share(least, centre.z - radius),
        ];
        let share = 0.5 * (low + high);
        let away = centre.truncate() - middle;
        let strays = spread * (1.0 - low)
            + radius * high
            + away.length() * 0.5 * (high - low)
            + self.rounding_m * (1.0 + away.length() / (centre.z - radius - top_m));
        self.cover.of_disc(middle + away * share, strays)
    }
}

/// A disc around a triangle seen from above.
fn disc(corners: [DVec3; 3]) -> (DVec2, f64) {
    let flat = corners.map(DVec3::truncate);
    let middle = flat.iter().sum::<DVec2>() / 3.0;
    let far = flat.iter().map(|corner| corner.distance(middle));
    (middle, far.fold(0.0, f64::max))
}

/// Footprints with power, as seen from a stencil's artwork, in all poses of a schedule in which nothing moves.
fn balls(scene: &Scene, stencil: &Stencil) -> Option<Vec<(DVec3, f64)>> {
    let body = scene.parts[stencil.part].body;
    let mut found: Vec<(DVec3, f64)> = Vec::new();
    for step in &scene.steps {
        let powered = step.power.iter().enumerate();
        let mut powered = powered.filter(|(_, power)| **power > 0.0).peekable();
        if powered.peek().is_none() {
            continue;
        }
        if step.motion.moving() > 0 {
            return None;
        }
        let riding = &scene.configurations[step.configuration].riding;
        let place = riding.bodies.iter().position(|(id, _)| *id == body)?;
        let chamber_from_part =
            scene.motion.pose(&step.motion.angles_for(0.5)) * riding.poses[place];
        let artwork_from_chamber = (chamber_from_part * stencil.placement).inverse();
        for (source, _) in powered {
            let (centre, radius) = scene.sources[source].footprint.bounding_sphere();
            let ball = (
                artwork_from_chamber.transform_point3(centre),
                radius * (1.0 + 1e-6) + LIFTED_M,
            );
            if !found.contains(&ball) {
                found.push(ball);
            }
        }
    }
    (found.len() <= MOST_BALLS).then_some(found)
}
