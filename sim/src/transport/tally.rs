//! From running sums to the tally: means, standard errors, rows, accuracy.
//!
//! In: sums of a gather. Out: [`Tally`], ready for `film`. `fired` has the same for a firing.

use super::causes::Causes;
use super::gather::{Cell, Sums as Gathered};
use super::lines::Lines;
use super::pilot::Aim;
use super::{Rates, Sums, Tally};
use crate::plan::model::Faces;
use crate::scene::{Part, Receiver, Scene};
use crate::stats::weighted_quantile;
use rayon::prelude::*;
use std::ops::Range;

/// Arrivals below which the spread over scramblings may be small by luck; the error is then at least
/// that of so many single arrivals.
const FEW_ARRIVALS: u32 = 8;

/// Share of the error asked that goes to what is scattered, where some is; the rest, in quadrature, to what comes straight.
pub(crate) const SCATTERED_SHARE: f64 = 0.92;

/// Receivers of which nothing is asked: proved bare, or buried.
pub(crate) fn idle(scene: &Scene) -> Vec<bool> {
    buried_or(scene, |part| &part.unreached)
}

/// Receivers to which no line is drawn: nothing comes straight to them.
///
/// - `idle`: those of which nothing is asked, and so no line either
pub(crate) fn unlit(scene: &Scene, idle: &[bool]) -> Vec<bool> {
    let dark = buried_or(scene, |part| &part.dark);
    dark.iter().zip(idle).map(|(&a, &b)| a || b).collect()
}

/// Receivers on rows that are buried or marked, by side.
fn buried_or(scene: &Scene, marks: impl Fn(&Part) -> &[Vec<bool>; 2]) -> Vec<bool> {
    let mut marked = vec![false; scene.receivers.len()];
    for part in &scene.parts {
        for (range, side) in [(&part.front, 0), (&part.back, 1)] {
            for index in range.clone() {
                let row = scene.receivers[index].triangle as usize;
                let mark = marks(part)[side].get(row).copied().unwrap_or(false);
                marked[index] = part.buried[row] || mark;
            }
        }
    }
    marked
}

/// Idle receivers, and those that are proved to lie in the dark under a stencil.
pub(crate) fn idle_or_covered(scene: &Scene, idle: &[bool]) -> Vec<bool> {
    let receivers = scene.receivers.iter().zip(idle);
    receivers
        .map(|(receiver, idle)| *idle || scene.is_covered(receiver))
        .collect()
}

/// Areas that count in the accuracy: facets of parts; coupons are left out.
pub(crate) fn accuracy_areas(scene: &Scene) -> Vec<f64> {
    let mut areas = vec![0.0; scene.receivers.len()];
    for part in &scene.parts {
        for index in part.front.clone().chain(part.back.clone()) {
            areas[index] = scene.receivers[index].area_m2;
        }
    }
    areas
}

/// One receiver's tally from its running sums and causes.
pub(crate) fn sums_of(cell: &Cell, causes: &Causes, scramblings: u32) -> Sums {
    let n = f64::from(scramblings);
    let thickness_m = cell.sum / n;
    let spread = ((cell.squares - cell.sum * cell.sum / n).max(0.0) / (n - 1.0) / n).sqrt();
    let least = if cell.arrived == 0 {
        if cell.samples == 0 {
            0.0
        } else if cell.blocked > 0 {
            // as if one of the blocked lines had arrived
            cell.missed / f64::from(cell.blocked) / n
        } else {
            // below the horizon all of them, though not proved to be: never certain
            causes.open_thickness_m / f64::from(cell.samples)
        }
    } else if cell.arrived < FEW_ARRIVALS {
        thickness_m / f64::from(cell.arrived).sqrt()
    } else if cell.blocked > 0 || cell.is_point && cell.looked {
        // Stratified lines may be blocked alike in every scrambling though the share that is blocked lies
        // between two counts. One scrambling in R + 1 with a line more or less: (line's film)/R. A point none of whose
        // lines is blocked may yet lie in a shadow that no line met, unless they are proved to be clear: n lines meet a
        // share of 1/n with 1 - 1/e.
        thickness_m / f64::from(cell.arrived)
    } else {
        0.0
    };
    Sums {
        thickness_m,
        std_error_m: spread.max(least),
        incidence_rad: if cell.sum > 0.0 {
            cell.angle / cell.sum
        } else {
            f64::NAN
        },
        visible: (cell.visible / n).min(1.0),
        shares: causes.shares,
        open_thickness_m: causes.open_thickness_m,
        samples: cell.samples,
        arrived: cell.arrived,
    }
}

/// The tally of every receiver.
pub(crate) fn receivers_of<'a>(
    sums: &'a Gathered,
    causes: &'a [Causes],
) -> impl Iterator<Item = Sums> + 'a {
    sums.cells()
        .zip(causes)
        .map(|(cell, causes)| sums_of(cell, causes, sums.scramblings))
}

/// Fills receivers, metals, steps and coupons from a gather.
pub(crate) fn from_gather(
    scene: &Scene,
    lines: &Lines,
    (sums, causes): (&Gathered, &[Causes]),
    tally: &mut Tally,
) {
    let n = f64::from(sums.scramblings.max(1));
    tally.receivers = receivers_of(sums, causes).collect();
    split(scene, lines, tally, |receiver, channel| {
        sums.channel_sum(receiver, channel, lines.channels.len()) / n
    });
}

/// Thickness per metal and per step from thickness per receiver and channel.
pub(super) fn split(
    scene: &Scene,
    lines: &Lines,
    tally: &mut Tally,
    value: impl Fn(usize, usize) -> f64,
) {
    let collect = |of: &dyn Fn(usize) -> bool| -> Vec<f32> {
        let channels: Vec<usize> = (0..lines.channels.len()).filter(|&c| of(c)).collect();
        (0..scene.receivers.len())
            .map(|receiver| {
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "a split for display, seven digits"
                )]
                let sum = channels.iter().map(|&c| value(receiver, c)).sum::<f64>() as f32;
                sum
            })
            .collect()
    };
    tally.by_metal = if scene.metals.len() > 1 {
        (0..scene.metals.len())
            .map(|m| collect(&|c| lines.channels[c].metal == m))
            .collect()
    } else {
        Vec::new()
    };
    tally.by_step = (0..scene.steps.len())
        .map(|step| collect(&|c| lines.channels[c].step == step))
        .collect();
}

/// Runs of receivers that belong to one row.
pub(crate) fn by_row(
    receivers: &[Receiver],
    range: Range<usize>,
) -> impl Iterator<Item = (usize, Range<usize>)> + '_ {
    let mut next = range.start;
    std::iter::from_fn(move || {
        if next >= range.end {
            return None;
        }
        let start = next;
        let row = receivers[start].triangle;
        while next < range.end && receivers[next].triangle == row {
            next += 1;
        }
        Some((row as usize, start..next))
    })
}

/// Running sums of rows, parts and coupons: means over area inside each scrambling, then their spread.
#[derive(Clone)]
pub(crate) struct Rows {
    parts: Vec<[(Vec<f64>, Vec<f64>); 2]>,
    part_means: Vec<crate::stats::Running>,
    coupons: Vec<crate::stats::Running>,
}

impl Rows {
    /// No scrambling yet.
    pub fn new(scene: &Scene) -> Self {
        let parts = scene
            .parts
            .iter()
            .map(|part| {
                let rows = part.mesh.triangles.len();
                let back = if part.faces == Faces::Both { rows } else { 0 };
                [
                    (vec![0.0; rows], vec![0.0; rows]),
                    (vec![0.0; back], vec![0.0; back]),
                ]
            })
            .collect();
        Self {
            parts,
            part_means: vec![crate::stats::Running::default(); scene.parts.len()],
            coupons: vec![crate::stats::Running::default(); scene.coupons.len()],
        }
    }

    /// Adds the last scramblings of the sums.
    pub fn add(&mut self, scene: &Scene, sums: &Gathered) {
        let of = |scrambling: usize| -> Vec<f64> {
            let cells = sums.blocks.par_iter().flat_map_iter(|block| &block.cells);
            cells.map(|cell| cell.last[scrambling]).collect()
        };
        let mut last = of(0);
        let many = sums.many as usize;
        for next in 1..=many {
            // the next ones are fetched meanwhile: they lie far apart
            let fetch = || (next < many).then(|| of(next));
            let ((), fetched) = rayon::join(|| self.add_one(scene, &last), fetch);
            last = fetched.unwrap_or_default();
        }
    }

    fn add_one(&mut self, scene: &Scene, last: &[f64]) {
        for ((part, rows), mean) in scene
            .parts
            .iter()
            .zip(&mut self.parts)
            .zip(&mut self.part_means)
        {
            let mut whole = (0.0, 0.0);
            for (range, (sum, squares)) in [&part.front, &part.back].into_iter().zip(rows) {
                for (row, facets) in by_row(&scene.receivers, range.clone()) {
                    let (volume, area) = over(&scene.receivers, last, facets);
                    whole = (whole.0 + volume, whole.1 + area);
                    if area > 0.0 {
                        let value = volume / area;
                        sum[row] += value;
                        squares[row] += value * value;
                    }
                }
            }
            mean.push(if whole.1 > 0.0 {
                whole.0 / whole.1
            } else {
                0.0
            });
        }
        for (coupon, mean) in scene.coupons.iter().zip(&mut self.coupons) {
            let (volume, area) = over(&scene.receivers, last, coupon.receivers.clone());
            mean.push(if area > 0.0 { volume / area } else { 0.0 });
        }
    }

    /// Writes standard errors of rows, parts and coupons into the tally: those of sampling.
    pub fn report(&self, tally: &mut Tally, scramblings: u32) {
        let n = f64::from(scramblings.max(2));
        let of =
            |sum: &f64, squares: &f64| ((squares - sum * sum / n).max(0.0) / (n - 1.0) / n).sqrt();
        tally.row_std_error_m = self
            .parts
            .iter()
            .map(|sides| {
                [0, 1].map(|side: usize| {
                    let (sum, squares) = &sides[side];
                    sum.iter().zip(squares).map(|(s, q)| of(s, q)).collect()
                })
            })
            .collect();
        let mean = |m: &crate::stats::Running| (m.mean(), m.std_error().unwrap_or(0.0));
        tally.part_mean_m = self.part_means.iter().map(mean).collect();
        tally.coupons_m = self.coupons.iter().map(mean).collect();
    }
}

fn over(receivers: &[Receiver], values: &[f64], range: Range<usize>) -> (f64, f64) {
    range.fold((0.0, 0.0), |(volume, area), index| {
        let own = receivers[index].area_m2;
        (volume + own * values[index], area + own)
    })
}

/// Area-weighted 95th percentile of standard error over thickness (or the floor).
pub(crate) fn accuracy_of_receivers(receivers: &[Sums], aim: &Aim) -> f64 {
    let floor_m = aim.floor_m.unwrap_or_else(|| floor_of(receivers, aim));
    let errors: Vec<f64> = receivers
        .iter()
        .enumerate()
        .map(|(index, r)| {
            let against = aim.against_m(index, r.thickness_m, floor_m);
            if against > 0.0 {
                aim.error_m(index, r.std_error_m) / against
            } else {
                0.0
            }
        })
        .collect();
    of_the_area(&errors, aim)
}

/// The 95th percentile of relative errors over the area that counts.
pub(super) fn of_the_area(errors: &[f64], aim: &Aim) -> f64 {
    let weights: Vec<f64> = aim
        .areas_m2
        .iter()
        .zip(aim.idle)
        .map(|(&a, &idle)| if idle { 0.0 } else { a })
        .collect();
    weighted_quantile(errors, &weights, 0.95).unwrap_or(0.0)
}

/// The same from running sums.
pub(crate) fn accuracy_of(sums: &Gathered, aim: &Aim) -> f64 {
    let receivers: Vec<Sums> = receivers_of(sums, aim.causes).collect();
    accuracy_of_receivers(&receivers, aim)
}

/// The accuracy asked, or where the film beside is not known well enough, what lines can still bring it to.
pub(crate) fn within_reach(sums: &Gathered, aim: &Aim) -> f64 {
    if aim.beside.error_m.is_empty() {
        return aim.accuracy;
    }
    let exact = receivers_of(sums, aim.causes).map(|receiver| Sums {
        std_error_m: 0.0,
        ..receiver
    });
    let beside = accuracy_of_receivers(&exact.collect::<Vec<Sums>>(), aim);
    aim.accuracy.max(beside / SCATTERED_SHARE)
}

/// 5 % of the area-weighted median thickness where anything arrived, m.
pub(crate) fn floor_of(receivers: &[Sums], aim: &Aim) -> f64 {
    let values: Vec<f64> = receivers.iter().map(|r| r.thickness_m).collect();
    let weights: Vec<f64> = receivers
        .iter()
        .zip(aim.areas_m2)
        .map(|(r, &area)| if r.arrived > 0 { area } else { 0.0 })
        .collect();
    0.05 * weighted_quantile(&values, &weights, 0.5).unwrap_or(0.0)
}

/// Relative error of a rate that was itself computed (a coupon scaling): the greatest of all that run.
pub(crate) fn rate_error(lines: &Lines, rates: &Rates) -> f64 {
    let channels = lines.channels.iter();
    channels
        .map(|channel| rates.relative_error[channel.source])
        .fold(0.0, f64::max)
}

/// Adds the relative error of a rate that was itself computed (a coupon scaling) to every error, in quadrature.
pub(crate) fn add_rate_error(lines: &Lines, rates: &Rates, tally: &mut Tally) {
    let rate = rate_error(lines, rates);
    tally.rate_error = rate;
    if rate <= 0.0 {
        return;
    }
    // where there is no film the rate adds nothing, though its error may be without bound
    let of = |film_m: f64| if film_m > 0.0 { rate * film_m } else { 0.0 };
    let scene = lines.scene;
    for (part, errors) in scene.parts.iter().zip(&mut tally.row_std_error_m) {
        for (range, errors) in [&part.front, &part.back].into_iter().zip(errors) {
            for (row, facets) in by_row(&scene.receivers, range.clone()) {
                let film = facets.map(|r| {
                    let area_m2 = scene.receivers[r].area_m2;
                    (area_m2, area_m2 * tally.receivers[r].thickness_m)
                });
                let (area, volume) = film.fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
                if let Some(error) = errors.get_mut(row).filter(|_| area > 0.0) {
                    *error = error.hypot(of(volume / area));
                }
            }
        }
    }
    let means = tally.part_mean_m.iter_mut().chain(&mut tally.coupons_m);
    means.for_each(|(mean_m, error_m)| *error_m = error_m.hypot(of(*mean_m)));
    let grow = |sums: &mut Sums| sums.std_error_m = sums.std_error_m.hypot(of(sums.thickness_m));
    tally.receivers.iter_mut().for_each(grow);
    tally
        .probes
        .iter_mut()
        .flatten()
        .for_each(|point| grow(&mut point.sums));
}
