//! Edges of stencils: the film across every cut edge, and half way across every opening.
//!
//! In: a scene with stencils and its rates. Out: [`Edges`] per stencil: profiles that resolve the penumbra to a tenth of
//! its width, evaluated at points as probes are. Only where atoms fly straight.

use super::causes;
use super::gather::{Effort, Job, Keep, SCRAMBLINGS, Sums as Gathered};
use super::lines::Lines;
use super::{Rates, tally};
use crate::random::Use;
use crate::scene::covered::ALL_LIT;
use crate::scene::stencils::Stencil;
use crate::scene::{Receiver, Scene, Side};
use crate::stencil::{Opens, Station, stations};
use crate::transport::kernel::Kernel;
use glam::{DAffine3, DVec2, DVec3};

/// Points across the edge: ten steps through the penumbra, and one on either side.
const ACROSS: usize = 13;

/// Steps through the penumbra.
const STEPS: f64 = 10.0;

/// Lines of a point per scrambling, over all open channels, where film is told.
pub(crate) const LINES: u16 = 8;

/// Stations worked on in one go.
const AT_ONCE: usize = 2048;

/// Narrowest penumbra that is resolved, m: below, the film steps.
const NARROWEST_M: f64 = 2e-6;

/// Poses looked at while something moves.
const POSES: u32 = 24;

/// Steepest slope (run over rise) of lines that widens a penumbra.
const STEEPEST: f64 = 20.0;

/// The film at a point across an edge.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct EdgePoint {
    /// Distance from the drawn edge into the opening, m.
    pub x_m: f64,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Its standard error, m.
    pub std_error_m: f64,
}

/// The film half way across an opening.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Middle {
    /// Place in the part's coordinates, m.
    pub position_m: DVec3,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Its standard error, m.
    pub std_error_m: f64,
    /// Shares: direct, facing, self, fixtures, mask, shutter, gas.
    pub shares: [f64; 7],
}

/// The film across an edge at a station.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeProfile {
    /// Where.
    pub station: Station,
    /// Place of the drawn edge in the part's coordinates, m.
    pub position_m: DVec3,
    /// Thickness there without the stencil, m.
    pub open_m: f64,
    /// Width over which the edge smears the film, m.
    pub penumbra_m: f64,
    /// Farthest from the sheet's edge that it does so, m.
    pub reach_m: f64,
    /// From the shadow into the opening.
    pub points: Vec<EdgePoint>,
    /// Where the film is half of `open_m`, from the drawn edge into the opening, m; none if it nowhere is.
    pub half_m: Option<f64>,
    /// Half way across, where the opening has another side.
    pub middle: Option<Middle>,
}

/// The film across all edges of a stencil.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Edges {
    /// In the order of the artwork's outlines.
    pub profiles: Vec<EdgeProfile>,
}

impl EdgeProfile {
    /// How far the contour of half the open film may lie from where it was drawn, m: the smaller of 0.05 mm and a tenth
    /// of the penumbra, 2 µm at least.
    pub fn tolerance_m(&self) -> f64 {
        (0.1 * self.penumbra_m).clamp(2e-6, 50e-6)
    }

    /// Whether it lies within that.
    pub fn is_true(&self) -> bool {
        self.half_m
            .is_some_and(|half_m| half_m.abs() <= self.tolerance_m())
    }
}

impl Edges {
    /// Length of all edges that were looked at, m.
    pub fn length_m(&self) -> f64 {
        self.profiles.iter().map(|p| p.station.step_m).sum()
    }

    /// Share of the edge length along which half the open film lies where it was drawn, within
    /// [`EdgeProfile::tolerance_m`].
    pub fn true_share(&self) -> f64 {
        let held = self.profiles.iter().filter(|p| p.is_true());
        held.map(|p| p.station.step_m).sum::<f64>() / self.length_m().max(f64::MIN_POSITIVE)
    }
}

/// What edges are looked at by.
#[derive(Clone, Copy)]
pub(crate) struct Look<'a> {
    /// The scene with the sheet.
    pub scene: &'a Scene,
    /// The same without it.
    pub open: &'a Scene,
    pub rates: &'a Rates,
    pub seed: u64,
    /// Lines of a point per scrambling, over all open channels.
    pub lines: u16,
    /// Asked between batches: true ends it.
    pub stop: &'a (dyn Fn() -> bool + Sync),
}

/// Stations of a stencil of a scene.
pub(crate) fn stations_of(scene: &Scene, rates: &Rates, index: usize) -> Vec<Station> {
    let opens = if scene.plan.masks[index].opens_shapes {
        Opens::Shapes
    } else {
        Opens::Ground
    };
    let lines = Lines::new(scene, rates);
    let surface = Surface::of(scene, index);
    let smears = |at_m, into| match surface.drop(at_m) {
        Some((place_m, _)) => surface.penumbra(&lines, (at_m, into), place_m),
        None => [0.0; 2],
    };
    stations(&scene.stencils[index].artwork.shapes, opens, &smears)
}

/// Looks across the edges of a stencil.
///
/// - `moved_m`: how far the sheet's edge lies from where it is drawn at each station, into the opening, m
/// - returns none if it was stopped
pub(crate) fn look(look: &Look, index: usize, all: &[Station], moved_m: &[f64]) -> Option<Edges> {
    let shut = Lines::new(look.scene, look.rates);
    let open = Lines::new(look.open, look.rates);
    let surface = Surface::of(look.scene, index);
    let mut profiles = Vec::with_capacity(all.len());
    let batches = all.chunks(AT_ONCE).zip(moved_m.chunks(AT_ONCE));
    for ((stations, moved_m), batch) in batches.zip(0..) {
        if (look.stop)() {
            return None;
        }
        let begun = stations.iter().zip(moved_m);
        let begun: Vec<Begun> = begun.map(|(s, m)| surface.begin(&shut, *s, *m)).collect();
        let places = |of: &dyn Fn(&Begun) -> Vec<Receiver>| -> Vec<Receiver> {
            begun.iter().flat_map(of).collect()
        };
        let with = (look.seed, look.lines);
        let across = gathered(&shut, with, batch, &places(&|b| b.across.clone()));
        let bare = gathered(&open, with, batch, &places(&|b| vec![b.foot]));
        let middles = places(&|b| b.middle.iter().map(|(_, r)| *r).collect());
        let film = gathered(&shut, with, batch, &middles);
        let why = shares(&shut, look.seed, &middles);
        let (mut across, mut middles) = (across.into_iter(), film.into_iter().zip(why));
        for (begun, (open_m, _)) in begun.iter().zip(bare) {
            let points = begun.xs_m.iter().zip(across.by_ref());
            let points: Vec<EdgePoint> = points
                .map(|(&x_m, (thickness_m, std_error_m))| EdgePoint {
                    x_m,
                    thickness_m,
                    std_error_m,
                })
                .collect();
            let middle = begun.middle.as_ref().and_then(|(position_m, _)| {
                let ((thickness_m, std_error_m), shares) = middles.next()?;
                Some(Middle {
                    position_m: *position_m,
                    thickness_m,
                    std_error_m,
                    shares,
                })
            });
            profiles.push(EdgeProfile {
                station: begun.station,
                position_m: begun.position_m,
                open_m,
                penumbra_m: begun.penumbra_m,
                reach_m: begun.reach_m,
                half_m: half(&points, open_m, begun.foot_m),
                points,
                middle,
            });
        }
    }
    Some(Edges { profiles })
}

/// Where a profile first reaches half of the open film.
///
/// - `foot_m`: where a sheet without lift ends; a film that is thicker than half right beside it ends there
fn half(points: &[EdgePoint], open_m: f64, foot_m: Option<f64>) -> Option<f64> {
    let wanted = 0.5 * open_m;
    let first = points.iter().position(|p| p.thickness_m >= wanted)?;
    let here = points[first];
    let Some(before) = first.checked_sub(1).map(|i| points[i]) else {
        return Some(here.x_m);
    };
    if let Some(foot_m) = foot_m.filter(|foot_m| before.x_m <= *foot_m && *foot_m <= here.x_m) {
        return Some(foot_m);
    }
    let rise = here.thickness_m - before.thickness_m;
    Some(
        before.x_m
            + (here.x_m - before.x_m) * ((wanted - before.thickness_m) / rise).clamp(0.0, 1.0),
    )
}

/// Thickness and standard error at points, m.
fn gathered(
    lines: &Lines,
    (seed, count): (u64, u16),
    batch: u16,
    receivers: &[Receiver],
) -> Vec<(f64, f64)> {
    if receivers.is_empty() {
        return Vec::new();
    }
    let job = Job {
        lines,
        receivers,
        seed,
        purpose: Use::Probe,
        round: 16 + batch,
    };
    let channels = lines.channels.len();
    let open = lines
        .channels
        .iter()
        .filter(|channel| channel.open)
        .count()
        .max(1);
    let each = (count / u16::try_from(open).unwrap_or(count)).max(2);
    let mut effort = Effort::even(receivers.len(), channels, each);
    for row in effort.lines.chunks_mut(channels.max(1)) {
        for (lines, channel) in row.iter_mut().zip(&lines.channels) {
            *lines = if channel.open { *lines } else { 1 };
        }
    }
    let mut sums = Gathered::new(receivers.len(), channels, Keep::Means);
    while sums.scramblings < SCRAMBLINGS {
        job.scramblings(&effort, &mut sums);
    }
    let none = vec![causes::Causes::default(); receivers.len()];
    tally::receivers_of(&sums, &none)
        .map(|sums| (sums.thickness_m, sums.std_error_m))
        .collect()
}

fn shares(lines: &Lines, seed: u64, receivers: &[Receiver]) -> Vec<[f64; 7]> {
    let job = Job {
        lines,
        receivers,
        seed,
        purpose: Use::Causes,
        round: 0,
    };
    let idle = vec![false; receivers.len()];
    let found = causes::look(&job, &idle, causes::Points::MANY, &mut 0);
    found.into_iter().map(|causes| causes.shares).collect()
}

/// A station with the points that are to be looked at.
struct Begun {
    station: Station,
    position_m: DVec3,
    penumbra_m: f64,
    reach_m: f64,
    foot_m: Option<f64>,
    xs_m: Vec<f64>,
    across: Vec<Receiver>,
    foot: Receiver,
    middle: Option<(DVec3, Receiver)>,
}

/// The part under a stencil.
struct Surface<'a> {
    scene: &'a Scene,
    stencil: &'a Stencil,
    /// Lower and upper side of the sheet over the surface, m.
    levels_m: [f64; 2],
    kernel: Kernel,
}

impl<'a> Surface<'a> {
    fn of(scene: &'a Scene, index: usize) -> Self {
        let stencil = &scene.stencils[index];
        let mask = &scene.plan.masks[index];
        let body = &scene.bodies[scene.parts[stencil.part].body.0 as usize];
        let rows = 0..body.triangles.len();
        let corners = |row: usize| body.triangles[row].map(|c| body.vertices[c as usize].as_vec3());
        Self {
            scene,
            stencil,
            levels_m: [mask.lift_m, mask.lift_m + mask.sheet_m],
            kernel: Kernel::build(rows.map(corners).collect()),
        }
    }

    /// A point of the artwork's plane dropped onto the part: the place and what receives film there.
    fn drop(&self, p: DVec2) -> Option<(DVec3, Receiver)> {
        let at = self.stencil.on_part(p)?;
        let nearest = self.kernel.nearest_point(at)?;
        let body_id = self.scene.parts[self.stencil.part].body;
        let [a, b, c] = self.scene.bodies[body_id.0 as usize].corners(nearest.triangle);
        let bary = nearest.bary;
        let receiver = Receiver {
            body: body_id,
            triangle: nearest.triangle,
            side: Side::Front,
            corners: [bary; 3],
            area_m2: 0.0,
            lit: ALL_LIT,
        };
        Some((a + (b - a) * bary.x + (c - a) * bary.y, receiver))
    }

    fn begin(&self, lines: &Lines, station: Station, moved_m: f64) -> Begun {
        let nothing = Receiver {
            body: self.scene.parts[self.stencil.part].body,
            triangle: 0,
            side: Side::Front,
            corners: [DVec2::ZERO; 3],
            area_m2: 0.0,
            lit: ALL_LIT,
        };
        let mut begun = Begun {
            station,
            position_m: DVec3::NAN,
            penumbra_m: 0.0,
            reach_m: 0.0,
            foot_m: None,
            xs_m: Vec::new(),
            across: Vec::new(),
            foot: nothing,
            middle: None,
        };
        let Some((position_m, foot)) = self.drop(station.at_m) else {
            return begun; // off the part
        };
        (begun.position_m, begun.foot) = (position_m, foot);
        let [from_m, to_m] = self.penumbra(lines, (station.at_m, station.into), position_m);
        let width_m = to_m - from_m;
        begun.penumbra_m = width_m;
        begun.reach_m = from_m.abs().max(to_m.abs());
        let touches = self.levels_m[0] <= 0.0;
        begun.foot_m = touches.then_some(moved_m);
        let step_m = width_m.max(NARROWEST_M) / STEPS;
        let end_m = station
            .across_m
            .map_or(f64::INFINITY, |across_m| across_m - moved_m.max(0.0));
        for k in 0..ACROSS {
            // a hair off the wall's foot, which no line should start on
            let x_m = moved_m + from_m + step_m * (k as f64 - 0.98);
            if x_m >= end_m {
                break;
            }
            if let Some((_, receiver)) = self.drop(station.across(x_m)) {
                begun.xs_m.push(x_m);
                begun.across.push(receiver);
            }
        }
        begun.middle = station
            .across_m
            .and_then(|across_m| self.drop(station.across(0.5 * across_m)));
        begun
    }

    /// From where all is dark to where the edge hides nothing any more, from the sheet's edge into the opening, m.
    ///
    /// A line of slope s (run into the opening over rise) that ends at x passes the sheet's heights at x + s z: it is
    /// clear of x < 0 if x > −s z there, lowest for s > 0 and highest for s < 0.
    fn penumbra(&self, lines: &Lines, (edge_m, way): (DVec2, DVec2), at_m: DVec3) -> [f64; 2] {
        let [low_m, high_m] = self.levels_m;
        let limit = |slope: f64| -slope * if slope > 0.0 { low_m } else { high_m };
        let (mut dark_m, mut lit_m) = (f64::INFINITY, f64::NEG_INFINITY);
        let ahead = self.stencil.on_part(edge_m + way * 1e-5);
        let Some(into) = ahead.and_then(|ahead| (ahead - at_m).try_normalize()) else {
            return [0.0, 0.0];
        };
        let up = self.stencil.away_at(edge_m, into);
        for channel in lines.channels.iter().filter(|channel| channel.open) {
            let group = &self.scene.configurations[channel.configuration].riding;
            let body = self.scene.parts[self.stencil.part].body;
            let Some(place) = group.bodies.iter().position(|(id, _)| *id == body) else {
                continue;
            };
            let poses = if channel.motion.moving() == 0 {
                1
            } else {
                POSES
            };
            let (centre, reach) = self.scene.sources[channel.source]
                .footprint
                .bounding_sphere();
            for pose in 0..poses {
                let u = (f64::from(pose) + 0.5) / f64::from(poses);
                let chamber_from_part: DAffine3 = lines.pose(channel, u) * group.poses[place];
                let there = chamber_from_part.inverse().transform_point3(centre) - at_m;
                let (run, rise) = (there.dot(into), there.dot(up));
                if rise <= 0.0 {
                    continue; // behind the surface
                }
                let slope = |run: f64| (run / rise).clamp(-STEEPEST, STEEPEST);
                dark_m = dark_m.min(limit(slope(run + reach)));
                lit_m = lit_m.max(limit(slope(run - reach)));
            }
        }
        if dark_m <= lit_m {
            [dark_m, lit_m]
        } else {
            [0.0, 0.0]
        }
    }
}
