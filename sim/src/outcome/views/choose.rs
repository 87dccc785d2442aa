//! Which views are worth drawing: a part's best and worst side, and the cut that shows most of what no
//! side shows.
//!
//! In: a [`Stage`]. Out: directions. Decided by casting few rays from many sides.

use super::super::colour::Scale;
use super::super::survey::Standing;
use super::camera::Camera;
use super::canvas::Frame;
use super::stage::{Cut, Stage, Surface};
use glam::DVec3;
use rayon::prelude::*;

/// Directions tried.
const DIRECTIONS: u32 = 60;
/// Rays along each side of a trial picture.
const TRIAL: u32 = 44;

/// What was chosen for a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// Looking along this, most film is seen.
    pub best: DVec3,
    /// Looking along this, most of what is bare or thin is seen (else the thinnest film).
    pub worst: DVec3,
    /// The cut that lays open most of what is hidden, if anything is.
    pub cut: Option<Cut>,
}

/// Chooses the views of a part.
pub fn choose(stage: &Stage<'_>, part: usize, scale: &Scale) -> Choice {
    let directions: Vec<DVec3> = (0..DIRECTIONS).map(|k| spread(k, DIRECTIONS)).collect();
    let trials: Vec<Trial> = directions
        .par_iter()
        .map(|&forward| Trial::of(stage, part, (forward, None), scale))
        .collect();
    let any_lack = trials.iter().any(|t| t.lacking_m2 > 0.0);
    let best = most(&trials, |t| t.film);
    let worst = most(&trials, |t| if any_lack { t.lacking_m2 } else { t.poor_m2 });
    let mut seen = vec![0.0_f64; stage.survey.patches.len()];
    for trial in &trials {
        for &(patch, area_m2) in &trial.seen_m2 {
            seen[patch as usize] += area_m2 / f64::from(DIRECTIONS);
        }
    }
    Choice {
        best: directions[best],
        worst: directions[worst],
        cut: choose_cut(stage, part, &seen, scale),
    }
}

/// A direction out of `count` that are spread evenly over the sphere.
///
/// Source: Fibonacci lattice, Á. González, Math. Geosci. 42, 49 (2010), from memory.
fn spread(number: u32, count: u32) -> DVec3 {
    let golden = 0.5 * (1.0 + 5.0_f64.sqrt());
    let z = 1.0 - (2.0 * f64::from(number) + 1.0) / f64::from(count);
    // A quarter of a step keeps the lattice off the plane of the axes.
    let azimuth = std::f64::consts::TAU * (f64::from(number) + 0.25) / golden;
    let across = (1.0 - z * z).sqrt();
    DVec3::new(across * azimuth.cos(), across * azimuth.sin(), z)
}

/// What a trial picture shows.
struct Trial {
    /// Film seen: place on the scale times area on the sheet, m².
    film: f64,
    /// Bare or thin area seen, m² of the sheet.
    lacking_m2: f64,
    /// Want of film: one minus place on the scale, times area on the sheet, m².
    poor_m2: f64,
    /// Area on the sheet by patch, m².
    seen_m2: Vec<(u32, f64)>,
}

impl Trial {
    fn of(
        stage: &Stage<'_>,
        part: usize,
        (forward, cut): (DVec3, Option<Cut>),
        scale: &Scale,
    ) -> Self {
        let side = f64::from(TRIAL);
        let frame = Frame {
            left: 0.0,
            top: 0.0,
            width: side,
            height: side,
        };
        let camera = Camera::parallel(forward, &stage.part_box_m(part), frame);
        let ray_m2 = camera.pixels_per_m(camera.middle_m).powi(-2);
        let mut trial = Self {
            film: 0.0,
            lacking_m2: 0.0,
            poor_m2: 0.0,
            seen_m2: Vec::new(),
        };
        for row in 0..TRIAL {
            for column in 0..TRIAL {
                let ray = camera.ray((f64::from(column) + 0.5, f64::from(row) + 0.5));
                let Surface::Film(number) = stage.look_at_part(part, ray, cut).surface else {
                    continue;
                };
                let patch = &stage.survey.patches[number as usize];
                if patch.standing == Standing::Uncounted {
                    continue;
                }
                let fraction = scale.fraction(patch.thickness_m);
                trial.film += fraction * ray_m2;
                trial.poor_m2 += (1.0 - fraction) * ray_m2;
                if patch.standing != Standing::Enough {
                    trial.lacking_m2 += ray_m2;
                }
                trial.seen_m2.push((number, ray_m2));
            }
        }
        trial
    }
}

fn most(trials: &[Trial], score: impl Fn(&Trial) -> f64) -> usize {
    // The first of equal ones: the choice does not hang on the order of threads.
    let scores = trials.iter().map(score).enumerate();
    scores
        .fold((0, f64::NEG_INFINITY), |best, new| {
            if new.1 > best.1 { new } else { best }
        })
        .0
}

/// The cut through the middle of a part, across one of its axes, that shows most hidden area.
///
/// `seen_m2`: mean area on the sheet over all directions, by patch. A patch that nothing hides has a
/// quarter of its area there (Cauchy: mean projection of a convex face over the whole sphere, half of it
/// for each side).
fn choose_cut(stage: &Stage<'_>, part: usize, seen_m2: &[f64], scale: &Scale) -> Option<Cut> {
    let chamber_from_part = stage.chamber_from_part(part);
    let corners = stage.part_box_m(part);
    let middle = corners.iter().sum::<DVec3>() / corners.len().max(1) as f64;
    // A hair off the middle, so that the plane does not run along edges of a symmetric mesh.
    let aside = 1e-4 * corners.first().map_or(0.0, |c| (*c - middle).length());
    let mut chosen = (0.0, None);
    for axis in [
        DVec3::NEG_Y,
        DVec3::X,
        DVec3::Y,
        DVec3::NEG_X,
        DVec3::NEG_Z,
        DVec3::Z,
    ] {
        let normal = chamber_from_part
            .transform_vector3(axis)
            .normalize_or_zero();
        let cut = Cut {
            point_m: middle + normal * aside,
            normal,
        };
        let trial = Trial::of(stage, part, (-normal, Some(cut)), scale);
        let hidden = trial.seen_m2.iter().map(|&(patch, ray_m2)| {
            let open = 4.0 * seen_m2[patch as usize] / stage.survey.patches[patch as usize].area_m2;
            ray_m2 * (1.0 - open).max(0.0)
        });
        let hidden: f64 = hidden.sum();
        let all: f64 = trial.seen_m2.iter().map(|s| s.1).sum();
        // A fifth hidden at least, and clearly more than a cut tried before.
        if hidden > 0.2 * all && hidden > 1.02 * chosen.0 {
            chosen = (hidden, Some(cut));
        }
    }
    chosen.1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_spread_evenly() {
        let all: Vec<DVec3> = (0..DIRECTIONS).map(|k| spread(k, DIRECTIONS)).collect();
        let mean = all.iter().sum::<DVec3>() / f64::from(DIRECTIONS);
        assert!(mean.length() < 0.02, "{mean}");
        for one in &all {
            let nearest = all
                .iter()
                .filter(|o| *o != one)
                .map(|o| o.dot(*one))
                .fold(-1.0, f64::max);
            // 60 caps that share the sphere have a half-angle of 14.8 degrees.
            let angle = nearest.clamp(-1.0, 1.0).acos().to_degrees();
            assert!((15.0..35.0).contains(&angle), "{angle}");
        }
    }
}
