//! What a pinned spot sees of the footprints: lines to them, what is in their way, and the turn that would help.

use super::Shown;
use super::grips::{Grip, Pose};
use super::pick::Spot;
use evenfall_sim::emission::sight::{Emitter, Fate, View, view};
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
    /// The tilt of the part with which it gets most, if that is worth it.
    pub tilt: Option<Tilt>,
}

/// Another tilt of the part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilt {
    /// Which angle of `turn` changes: 0, 1 or 2 for x, y, z.
    pub axis: usize,
    /// That angle now and then, rad.
    pub now_rad: f64,
    pub then_rad: f64,
    /// How many times as much the spot gets, over all turning; infinite where it gets nothing now.
    pub times: f64,
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
    let now = Stand::now(shown, time_s);
    let (lines, seen) = look(shown, spot, &angles, &now);
    let share = seen.share;
    let mut best: Option<(f64, f64)> = None;
    if !angles.is_empty() {
        for turn in 0..TURNS {
            let mut angles = angles.clone();
            angles[0] = TAU * f64::from(turn) / f64::from(TURNS);
            let share = look(shown, spot, &angles, &now).1.share;
            if best.is_none_or(|(_, most)| share > most) {
                best = Some((angles[0], share));
            }
        }
    }
    Some(Sight {
        lines,
        share,
        better: best.filter(|(_, most)| *most > WORTH * share + 0.01),
        tilt: tilt(shown, spot, &angles, &now),
    })
}

/// Other angles that are tried for each of the three of `turn`: so many steps either way.
const TILTS: i32 = 5;
/// Between them, rad.
const TILT_STEP_RAD: f64 = 10.0 * TAU / 360.0;
/// Angles of a turning first rotation that a tilt is judged over.
const AROUND: u32 = 8;

/// The tilt with which a spot would get most.
///
/// What rides with the part is taken to go along with it, out of the way.
fn tilt(shown: &Shown, spot: &Spot, angles_rad: &[f64], now: &Stand) -> Option<Tilt> {
    let pose = Pose::of(&now.placed[spot.part]);
    let gets = |pose: &Pose| gets(shown, spot, (angles_rad, now), pose);
    let now_gets = gets(&pose);
    let mut best: Option<(Grip, f64, f64)> = None;
    for grip in [Grip::About(0), Grip::About(1), Grip::About(2)] {
        for number in (-TILTS..=TILTS).filter(|&number| number != 0) {
            let then_rad = pose.value(grip) + TILT_STEP_RAD * f64::from(number);
            let then_gets = gets(&pose.with(grip, then_rad));
            if best.is_none_or(|(_, _, most)| then_gets > most) {
                best = Some((grip, then_rad, then_gets));
            }
        }
    }
    let (grip, then_rad, most) = best?;
    let (Grip::About(axis) | Grip::Along(axis)) = grip;
    (most > WORTH * now_gets && most > 0.0).then(|| Tilt {
        axis,
        now_rad: pose.value(grip),
        then_rad,
        times: most / now_gets,
    })
}

/// What arrives at a spot with its part in a pose, over all angles of a turning first rotation: to be compared with that in
/// other poses.
pub(super) fn gets(
    shown: &Shown,
    spot: &Spot,
    (angles_rad, now): (&[f64], &Stand),
    pose: &Pose,
) -> f64 {
    let step = shown.outcome.steps.get(now.step);
    let turns = step.and_then(|step| step.turns.first());
    let turns = turns.is_some_and(|turns| turns.abs() >= 1.0);
    let mut stand = now.clone();
    stand.placed[spot.part] = pose.affine();
    stand.without_riders = true;
    let count = if turns { AROUND } else { 1 };
    let of = |number: u32| {
        let mut angles = angles_rad.to_vec();
        if turns {
            angles[0] = TAU * f64::from(number) / f64::from(AROUND);
        }
        look(shown, spot, &angles, &stand).1.arrives
    };
    (0..count).map(of).sum::<f64>() / f64::from(count)
}

/// How things stand while a spot looks.
#[derive(Clone)]
pub(super) struct Stand {
    step: usize,
    /// riding_from_part of each part.
    pub(super) placed: Vec<DAffine3>,
    shut: Vec<String>,
    /// Fixtures and coupons that ride are left out.
    without_riders: bool,
}

impl Stand {
    pub(super) fn now(shown: &Shown, time_s: f64) -> Self {
        Self {
            step: shown.step_at(time_s).0,
            placed: shown.placed_at(time_s),
            shut: shown.shut_at(time_s).to_vec(),
            without_riders: false,
        }
    }
}

fn look(shown: &Shown, spot: &Spot, angles_rad: &[f64], stand: &Stand) -> (Vec<Line>, View<Meets>) {
    let pose = shown.pose(angles_rad);
    let places: Vec<DAffine3> = stand.placed.iter().map(|&place| pose * place).collect();
    let place = places[spot.part];
    let from_m = place.transform_point3(spot.at_m + spot.normal * LIFT_M);
    let normal = place.transform_vector3(spot.normal);
    let footprints = shown.footprints.iter().enumerate();
    let emitters: Vec<Emitter<'_>> = footprints
        .map(|(number, (footprint, law))| Emitter {
            footprint,
            law,
            rate_per_s: shown.atoms_per_second(number, stand.step),
        })
        .collect();
    let seen = view((from_m, normal), &emitters, LIFT_M, |from, to| {
        blocked(shown, (from, to), (&pose, &places), stand)
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
    (lines.collect(), seen)
}

/// What is between two points of the chamber.
fn blocked(
    shown: &Shown,
    (from, to): (DVec3, DVec3),
    (pose, places): (&DAffine3, &[DAffine3]),
    stand: &Stand,
) -> Option<Meets> {
    if shown.picker().blocks(places, (from, to)) {
        return Some(Meets::Part);
    }
    let back = pose.inverse();
    let riding = (back.transform_point3(from), back.transform_point3(to));
    let in_way = shown.obstacles.iter().any(|obstacle| {
        let is_open = shown.is_shutter(&obstacle.name) && !stand.shut.contains(&obstacle.name);
        let is_left_out = stand.without_riders && obstacle.riding;
        let (from, to) = if obstacle.riding { riding } else { (from, to) };
        !is_open && !is_left_out && obstacle.kernel.blocked(from, to, None)
    });
    in_way.then_some(Meets::Fixture)
}
