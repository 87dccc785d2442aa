//! What a pinned spot sees of the footprints: lines to them, what is in their way, and the turn that would help.

use super::Shown;
use super::pick::Spot;
use evenfall_sim::emission::sight::{Emitter, Fate, view};
use evenfall_sim::outcome::BodyOutcome;
use evenfall_sim::transport::kernel::Kernel;
use glam::{DAffine3, DVec3};
use std::f64::consts::TAU;

/// Angles of the first rotation that are tried.
const TURNS: u32 = 72;
/// A turn that does not bring so many times as much, and a hundredth of the open flux more, is not told.
const WORTH: f64 = 1.25;
/// Starts are lifted off the part by this, m.
const LIFT_M: f64 = 1e-7;

/// What a line meets first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meets {
    /// Nothing: metal comes along it.
    Nothing,
    /// The spot looks the other way.
    Behind,
    /// Its own part, or another one.
    Part,
    /// A fixture, a shutter, a coupon, the back of a source.
    Fixture,
}

/// A line from a pinned spot towards a footprint, chamber frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// On the spot, m.
    pub from_m: DVec3,
    /// On the footprint, m.
    pub to_m: DVec3,
    /// What is in the way.
    pub meets: Meets,
}

/// What a spot sees at one moment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sight {
    /// Lines to all footprints.
    pub lines: Vec<Line>,
    /// What arrives along clear lines over what would if the spot faced the footprints with nothing in the way.
    pub share: f64,
    /// The angle of the first rotation at which it sees most (rad), and the share there, if that is worth a turn.
    pub better: Option<(f64, f64)>,
}

/// A solid that is no part.
pub struct Obstacle {
    name: String,
    riding: bool,
    kernel: Kernel,
}

impl Obstacle {
    /// From an outcome's body.
    pub fn of(body: &BodyOutcome) -> Self {
        let corner = |&at: &u32| body.vertices_m[at as usize].as_vec3();
        let triangles = body.triangles.iter().map(|t| t.each_ref().map(corner));
        Self {
            name: body.name.clone(),
            riding: body.riding,
            kernel: Kernel::build(triangles.collect()),
        }
    }
}

/// What a spot sees at a time; none when the footprints are not known (an outcome opened without its plan).
pub fn sight(shown: &Shown, spot: &Spot, time_s: f64) -> Option<Sight> {
    if shown.footprints.is_empty() {
        return None;
    }
    let angles = shown.angles_at(time_s);
    let (lines, share) = look(shown, spot, &angles, time_s);
    let mut best: Option<(f64, f64)> = None;
    if !angles.is_empty() {
        for turn in 0..TURNS {
            let mut angles = angles.clone();
            angles[0] = TAU * f64::from(turn) / f64::from(TURNS);
            let (_, share) = look(shown, spot, &angles, time_s);
            if best.is_none_or(|(_, most)| share > most) {
                best = Some((angles[0], share));
            }
        }
    }
    Some(Sight {
        lines,
        share,
        better: best.filter(|(_, most)| *most > WORTH * share + 0.01),
    })
}

fn look(shown: &Shown, spot: &Spot, angles_rad: &[f64], time_s: f64) -> (Vec<Line>, f64) {
    let pose = shown.pose(angles_rad);
    let placed = shown.placed_at(time_s);
    let places: Vec<DAffine3> = placed.iter().map(|&place| pose * place).collect();
    let place = places[spot.part];
    let from_m = place.transform_point3(spot.at_m + spot.normal * LIFT_M);
    let normal = place.transform_vector3(spot.normal);
    let shut = shown.shut_at(time_s);
    let (step, _) = shown.step_at(time_s);
    let footprints = shown.footprints.iter().enumerate();
    let emitters: Vec<Emitter<'_>> = footprints
        .map(|(number, (footprint, law))| Emitter {
            footprint,
            law,
            rate_per_s: shown.atoms_per_second(number, step),
        })
        .collect();
    let seen = view((from_m, normal), &emitters, LIFT_M, |from, to| {
        blocked(shown, (from, to), (&pose, &places), shut)
    });
    let lines = seen.lines.iter().map(|line| Line {
        from_m,
        to_m: line.foot_m,
        meets: match line.fate {
            Fate::Arrives => Meets::Nothing,
            Fate::Behind => Meets::Behind,
            Fate::Blocked(meets) => meets,
        },
    });
    (lines.collect(), seen.share)
}

/// What is between two points of the chamber.
fn blocked(
    shown: &Shown,
    (from, to): (DVec3, DVec3),
    (pose, places): (&DAffine3, &[DAffine3]),
    shut: &[String],
) -> Option<Meets> {
    if shown.picker().blocks(places, (from, to)) {
        return Some(Meets::Part);
    }
    let back = pose.inverse();
    let riding = (back.transform_point3(from), back.transform_point3(to));
    let in_way = shown.obstacles.iter().any(|obstacle| {
        let is_open = shown.is_shutter(&obstacle.name) && !shut.contains(&obstacle.name);
        let (from, to) = if obstacle.riding { riding } else { (from, to) };
        !is_open && obstacle.kernel.blocked(from, to, None)
    });
    in_way.then_some(Meets::Fixture)
}
