//! The schedule: what the rotations do, which shutters are shut and which power sources have, per step.
//!
//! In: rotations and steps of the plan. Out: motions whose angles run on from step to step, and the key
//! of the geometry that each step needs.

use super::issue::{Problem, SceneIssue};
use super::motion::{AxisMotion, MAX_ROTATIONS, Motion, StepMotion};
use crate::plan::model::{Hold, Placement, Plan, Rotation, ShutterState, Step, StepPower};

/// What a step needs, before geometries are shared between steps.
pub(super) struct StepNeeds {
    pub shut: Vec<bool>,
    pub placements: Vec<Placement>,
    pub power: Vec<f64>,
    pub open: Vec<bool>,
    pub motion: StepMotion,
}

/// The chain of rotations.
pub(super) fn chain(plan: &Plan, issues: &mut Vec<SceneIssue>) -> Motion {
    let count = plan.rotations.len();
    if count > MAX_ROTATIONS {
        issues.push(SceneIssue {
            key: format!("rotation.{}", MAX_ROTATIONS + 1),
            problem: Problem::TooManyRotations {
                count,
                most: MAX_ROTATIONS,
            },
        });
    }
    let rotations = plan.rotations.iter().take(MAX_ROTATIONS);
    Motion {
        axes: rotations.map(|r| (r.axis, r.through_m)).collect(),
    }
}

/// What the rotations do when left to the plan's own speeds from angle 0 on.
pub(super) fn free_motion(plan: &Plan) -> StepMotion {
    let rotations = plan.rotations.iter().take(MAX_ROTATIONS);
    let axes = rotations.map(|rotation| {
        let track = Track::new(rotation, &[]);
        track.motion(rotation.speed_rad_per_s, rotation.swing_rad)
    });
    StepMotion {
        axes: axes.collect(),
        lasts_s: 0.0,
    }
}

/// The steps in order.
pub(super) fn steps(plan: &Plan, issues: &mut Vec<SceneIssue>) -> Vec<StepNeeds> {
    let rotations = &plan.rotations[..plan.rotations.len().min(MAX_ROTATIONS)];
    let mut tracks: Vec<Track> = rotations
        .iter()
        .enumerate()
        .map(|(i, rotation)| Track::new(rotation, &step_speeds(plan, i)))
        .collect();
    let mut placements: Vec<Placement> = plan.parts.iter().map(|part| part.placement).collect();
    let mut needs = Vec::with_capacity(plan.steps.len());
    for (number, step) in (1..).zip(&plan.steps) {
        check_step(number, step, rotations.len(), issues);
        repose(plan, number, step, &mut placements, issues);
        let axes = tracks.iter_mut().enumerate().map(|(i, track)| {
            let speeds = step.speed_rad_per_s.as_ref();
            let speed = speeds
                .and_then(|speeds| speeds.get(i).copied())
                .unwrap_or(rotations[i].speed_rad_per_s);
            let hold = step.hold.as_ref().and_then(|hold| hold.get(i).copied());
            let motion = match hold {
                Some(Hold::At(angle)) => track.park(angle),
                _ => track.motion(speed, rotations[i].swing_rad),
            };
            if let Some(problem) = track.stuck(&motion, rotations[i].swing_rad) {
                let key = format!("step.{number}");
                issues.push(SceneIssue { key, problem });
            }
            track.advance(&motion, speed, step.lasts_s);
            motion
        });
        let motion = StepMotion {
            axes: axes.collect(),
            lasts_s: step.lasts_s,
        };
        let shut = shut(plan, number, step, issues);
        let power = power(plan, number, step, issues);
        let open = plan.sources.iter().zip(&power).map(|(source, &power)| {
            let covered = plan.shutters.iter().zip(&shut);
            let mut covered =
                covered.filter(|(shutter, shut)| **shut && shutter.over.contains(&source.name));
            power > 0.0 && covered.next().is_none()
        });
        needs.push(StepNeeds {
            open: open.collect(),
            shut,
            placements: placements.clone(),
            power,
            motion,
        });
    }
    needs
}

/// Where one rotation is while the schedule runs.
struct Track {
    /// Angle, rad.
    angle_rad: f64,
    /// Which way the swing goes first.
    sign: f64,
    /// +1 while a swing at its own sense of speed would move away from 0, −1 while it would come back.
    outward: f64,
}

impl Track {
    fn new(rotation: &Rotation, step_speeds: &[f64]) -> Self {
        let speeds = std::iter::once(&rotation.speed_rad_per_s).chain(step_speeds);
        let mut moving = speeds.filter(|speed| **speed != 0.0);
        Self {
            angle_rad: 0.0,
            sign: moving.next().map_or(1.0, |speed| speed.signum()),
            outward: 1.0,
        }
    }

    /// Parks at an absolute angle; a swing goes upwards from there.
    fn park(&mut self, angle_rad: f64) -> AxisMotion {
        self.angle_rad = angle_rad;
        self.outward = 1.0;
        AxisMotion::Parked(angle_rad)
    }

    /// Moves on from where it is.
    fn motion(&self, speed_rad_per_s: f64, swing_rad: Option<f64>) -> AxisMotion {
        if speed_rad_per_s == 0.0 {
            return AxisMotion::Parked(self.angle_rad);
        }
        let Some(amplitude_rad) = swing_rad else {
            return AxisMotion::Turning {
                start_rad: self.angle_rad,
                rate_rad_per_s: speed_rad_per_s,
            };
        };
        // a speed against the swing's own sense walks its path backwards
        let forward = self.outward * self.sign * speed_rad_per_s.signum();
        let height = (self.angle_rad * self.sign).clamp(0.0, amplitude_rad);
        let start_rad = if forward > 0.0 || height == 0.0 {
            height
        } else {
            2.0 * amplitude_rad - height
        };
        AxisMotion::Swinging {
            amplitude_rad,
            start_rad,
            rate_rad_per_s: speed_rad_per_s.abs(),
            sign: self.sign,
        }
    }

    /// A swing that should go on from an angle outside its range.
    fn stuck(&self, motion: &AxisMotion, swing_rad: Option<f64>) -> Option<Problem> {
        let amplitude_rad = swing_rad.filter(|_| motion.moves())?;
        let height = self.angle_rad * self.sign;
        // 1e-9 rad forgives rounding of degrees
        let outside = height < -1e-9 || height > amplitude_rad + 1e-9;
        outside.then_some(Problem::SwingParkedOutside {
            parked_rad: self.angle_rad,
            from_rad: 0.0,
            to_rad: self.sign * amplitude_rad,
        })
    }

    fn advance(&mut self, motion: &AxisMotion, speed_rad_per_s: f64, lasts_s: f64) {
        self.angle_rad = motion.angle_at(lasts_s);
        if let AxisMotion::Swinging {
            amplitude_rad,
            start_rad,
            rate_rad_per_s,
            ..
        } = *motion
        {
            let phase = (start_rad + rate_rad_per_s * lasts_s).rem_euclid(2.0 * amplitude_rad);
            let direction = if phase < amplitude_rad { 1.0 } else { -1.0 };
            self.outward = direction * self.sign * speed_rad_per_s.signum();
        }
    }
}

fn step_speeds(plan: &Plan, rotation: usize) -> Vec<f64> {
    let speeds = plan
        .steps
        .iter()
        .filter_map(|step| step.speed_rad_per_s.as_ref());
    speeds
        .filter_map(|speeds| speeds.get(rotation).copied())
        .collect()
}

fn check_step(number: usize, step: &Step, rotations: usize, issues: &mut Vec<SceneIssue>) {
    if !(step.lasts_s > 0.0 && step.lasts_s.is_finite()) {
        issues.push(SceneIssue {
            key: format!("step.{number}.lasts"),
            problem: Problem::NoDuration {
                lasts_s: step.lasts_s,
            },
        });
    }
    let lists = [
        ("hold", step.hold.as_ref().map(Vec::len)),
        ("speed", step.speed_rad_per_s.as_ref().map(Vec::len)),
    ];
    for (key, given) in lists {
        if let Some(given) = given.filter(|&given| given != rotations) {
            issues.push(SceneIssue {
                key: format!("step.{number}.{key}"),
                problem: Problem::PerRotation { given, rotations },
            });
        }
    }
}

fn repose(
    plan: &Plan,
    number: usize,
    step: &Step,
    placements: &mut [Placement],
    issues: &mut Vec<SceneIssue>,
) {
    let names = || plan.parts.iter().map(|part| part.name.as_str());
    for (name, &turn_rad) in &step.turn_rad {
        match names().position(|known| known == name) {
            Some(part) => placements[part].turn_rad = turn_rad,
            None => issues.push(unknown(
                format!("step.{number}.turn"),
                "part",
                name,
                names(),
            )),
        }
    }
    for (name, &at_m) in &step.at_m {
        match names().position(|known| known == name) {
            Some(part) => placements[part].at_m = at_m,
            None => issues.push(unknown(format!("step.{number}.at"), "part", name, names())),
        }
    }
}

fn shut(plan: &Plan, number: usize, step: &Step, issues: &mut Vec<SceneIssue>) -> Vec<bool> {
    let names = || plan.shutters.iter().map(|shutter| shutter.name.as_str());
    match &step.shutter {
        ShutterState::All { shut } => vec![*shut; plan.shutters.len()],
        ShutterState::Named(by_name) => {
            for name in by_name
                .keys()
                .filter(|name| !names().any(|known| known == *name))
            {
                issues.push(unknown(
                    format!("step.{number}.shutter"),
                    "shutter",
                    name,
                    names(),
                ));
            }
            names()
                .map(|name| by_name.get(name).copied().unwrap_or(false))
                .collect()
        }
    }
}

fn power(plan: &Plan, number: usize, step: &Step, issues: &mut Vec<SceneIssue>) -> Vec<f64> {
    let names = || plan.sources.iter().map(|source| source.name.as_str());
    match &step.power {
        StepPower::All(power) => vec![*power; plan.sources.len()],
        StepPower::Named(by_name) => {
            for name in by_name
                .keys()
                .filter(|name| !names().any(|known| known == *name))
            {
                issues.push(unknown(
                    format!("step.{number}.power"),
                    "source",
                    name,
                    names(),
                ));
            }
            names()
                .map(|name| by_name.get(name).copied().unwrap_or(0.0))
                .collect()
        }
    }
}

/// The issue of a name that nothing bears.
pub(super) fn unknown<'a>(
    key: String,
    what: &'static str,
    name: &str,
    known: impl Iterator<Item = &'a str>,
) -> SceneIssue {
    let known = known.collect::<Vec<_>>();
    let known = if known.is_empty() {
        "none".to_owned()
    } else {
        known.join(", ")
    };
    let name = name.to_owned();
    SceneIssue {
        key,
        problem: Problem::UnknownName { what, name, known },
    }
}
