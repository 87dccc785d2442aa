//! Stations along cut edges: where the film across an edge is looked at.
//!
//! In: the shapes of an artwork and what of it is open. Out: points on the outlines with the way into the opening, and
//! how wide the opening is there.

use super::corners::{Smears, Stretch, stretches};
use super::outline::{Contour, Outlines, in_metres};
use super::sheet::Opens;
use crate::transport::kernel::Kernel;
use glam::{DVec2, Vec3};
use rayon::prelude::*;
use std::ops::Range;

/// Farthest apart stations are, m.
const APART_M: f64 = 0.5e-3;

/// Nearest that they are put to each other, m.
const NEAR_M: f64 = 20e-6;

/// Most stations of one stencil.
const MOST: f64 = 24_000.0;

/// Most stations beside corners of one stencil: where there are more corners, steps are longer.
const MOST_BESIDE_CORNERS: f64 = 12_000.0;

/// A point on a cut edge, plane of the artwork.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Where the edge is drawn, m.
    pub at_m: DVec2,
    /// Unit vector into the opening, square to the edge.
    pub into: DVec2,
    /// Number of the contour, in the order of [`Outlines::contours`].
    pub contour: usize,
    /// Corner that begins the side it lies on, and the share of that side before it.
    pub side: (usize, f64),
    /// Length of edge that it speaks for, m.
    pub step_m: f64,
    /// It lies so near a corner that film changes along the edge as well.
    pub is_at_corner: bool,
    /// Distance to the other side of the opening, m; none where the opening does not end.
    pub across_m: Option<f64>,
    /// Width of the opening half way across: twice the distance to its nearest edge, m.
    pub width_m: Option<f64>,
    /// Number of the shape that the opening is; none where all around shapes is open.
    pub opening: Option<usize>,
}

impl Station {
    /// A point across the edge: so far into the opening, m.
    pub fn across(&self, x_m: f64) -> DVec2 {
        self.at_m + self.into * x_m
    }
}

/// Puts stations on the outlines of an artwork, evenly along each contour, nearer on small ones, and more of them beside
/// corners, where film changes along an edge as well.
///
/// - `smears`: how far from an edge its film changes
pub(crate) fn stations(shapes: &Outlines, opens: Opens, smears: Smears) -> Vec<Station> {
    let total_m = shapes.length_m();
    let least_m = (total_m / MOST).max(NEAR_M);
    let contours = shapes.shapes.iter().enumerate();
    let contours = contours.flat_map(|(shape, contours)| contours.iter().map(move |c| (shape, c)));
    let contours: Vec<(usize, Line)> = contours
        .map(|(shape, contour)| (shape, Line::of(contour, opens, smears)))
        .collect();
    let wanted: f64 = contours.iter().map(|(_, line)| line.beside_corners()).sum();
    let coarser = (wanted / MOST_BESIDE_CORNERS).max(1.0);
    let mut all = Vec::new();
    for (number, (shape, line)) in contours.iter().enumerate() {
        let opening = (opens == Opens::Shapes).then_some(*shape);
        all.extend(line.stations(least_m, coarser).map(|station| Station {
            contour: number,
            opening,
            ..station
        }));
    }
    let far = Far::of(shapes);
    all.par_iter_mut().for_each(|station| far.measure(station));
    all
}

/// A contour that stations are put on.
struct Line {
    corners: Vec<DVec2>,
    lengths_m: Vec<f64>,
    opens: Opens,
    /// Of every side.
    stretches: Vec<[Option<Stretch>; 2]>,
}

impl Line {
    fn of(contour: &Contour, opens: Opens, smears: Smears) -> Self {
        let corners: Vec<DVec2> = contour.iter().map(|corner| in_metres(*corner)).collect();
        let count = corners.len();
        let lengths = (0..count).map(|i| corners[i].distance(corners[(i + 1) % count]));
        Self {
            lengths_m: lengths.collect(),
            stretches: stretches(&corners, opens, smears),
            corners,
            opens,
        }
    }

    /// Steps beside corners that resolve the film.
    fn beside_corners(&self) -> f64 {
        let sides = self.stretches.iter().zip(&self.lengths_m);
        let steps = sides.flat_map(|(ends, length_m)| {
            let of =
                move |s: &Stretch| ((s.shares.end - s.shares.start) * length_m / s.step_m).ceil();
            ends.iter().flatten().map(of)
        });
        steps.sum()
    }

    /// Stations in their order along the contour.
    ///
    /// - `least_m`: not nearer than this, beside corners apart; `coarser`: how much longer steps there are
    fn stations(&self, least_m: f64, coarser: f64) -> impl Iterator<Item = Station> {
        let mut all = self.even(least_m);
        for (side, (ends, length_m)) in self.stretches.iter().zip(&self.lengths_m).enumerate() {
            for stretch in ends.iter().flatten() {
                let Range { start, end } = stretch.shares;
                let whole_m = (end - start) * length_m;
                let steps = (whole_m / (stretch.step_m * coarser)).ceil().max(1.0);
                all.retain(|s| {
                    s.is_at_corner || s.side.0 != side || !stretch.shares.contains(&s.side.1)
                });
                let mut step = 0.5;
                while step < steps {
                    let share = start + (end - start) * step / steps;
                    all.push(Station {
                        is_at_corner: true,
                        step_m: whole_m / steps,
                        ..self.at(side, share)
                    });
                    step += 1.0;
                }
            }
        }
        all.sort_by(|a, b| a.side.0.cmp(&b.side.0).then(a.side.1.total_cmp(&b.side.1)));
        // what is not beside a corner is shared out evenly
        let beside_m: f64 = all
            .iter()
            .filter(|s| s.is_at_corner)
            .map(|s| s.step_m)
            .sum();
        let others = all.iter().filter(|s| !s.is_at_corner).count();
        let each_m = (self.lengths_m.iter().sum::<f64>() - beside_m) / others.max(1) as f64;
        all.into_iter().map(move |station| Station {
            step_m: if station.is_at_corner {
                station.step_m
            } else {
                each_m
            },
            ..station
        })
    }

    /// Stations without regard to corners.
    fn even(&self, least_m: f64) -> Vec<Station> {
        let round_m: f64 = self.lengths_m.iter().sum();
        // twelve at least, so that a dot is seen from all sides
        let step_m = (round_m / 12.0).min(APART_M).max(least_m);
        let step_m = round_m / (round_m / step_m).round().max(4.0);
        let (mut side, mut before_m) = (0, 0.0);
        let mut next_m = 0.5 * step_m;
        let mut all = Vec::new();
        while next_m < round_m {
            while side + 1 < self.corners.len() && before_m + self.lengths_m[side] < next_m {
                before_m += self.lengths_m[side];
                side += 1;
            }
            let share = (next_m - before_m) / self.lengths_m[side].max(f64::MIN_POSITIVE);
            all.push(self.at(side, share.clamp(0.0, 1.0)));
            next_m += step_m;
        }
        all
    }

    /// A station on a side.
    fn at(&self, side: usize, share: f64) -> Station {
        let [a, b] = [
            self.corners[side],
            self.corners[(side + 1) % self.corners.len()],
        ];
        // shapes lie on the left of their contours
        let left = (b - a).perp().normalize_or_zero();
        Station {
            at_m: a.lerp(b, share),
            into: if self.opens == Opens::Shapes {
                left
            } else {
                -left
            },
            contour: 0,
            side: (side, share),
            step_m: 0.0,
            is_at_corner: false,
            across_m: None,
            width_m: None,
            opening: None,
        }
    }
}

/// Outlines as walls, to look across openings.
struct Far {
    walls: Kernel,
    reach_m: f64,
}

impl Far {
    fn of(shapes: &Outlines) -> Self {
        // walls as high as they are long, so that a nearest point is never one of their rims
        let [low, high] = shapes.bounds_m().unwrap_or_default();
        let reach_m = 2.0 * (high - low).length().max(1e-6);
        let walls = shapes.sides_m().flat_map(|[a, b]| {
            let [low, high] = [-reach_m, reach_m].map(|z| [a, b].map(|p| p.extend(z).as_vec3()));
            [[low[0], low[1], high[1]], [low[0], high[1], high[0]]]
        });
        let walls: Vec<[Vec3; 3]> = walls.collect();
        Self {
            walls: Kernel::build(walls),
            reach_m,
        }
    }

    fn measure(&self, station: &mut Station) {
        let start_m = 1e-4 * self.reach_m.min(1e-2); // clear of its own edge, whose corners are f32 here
        let from = station.across(start_m).extend(0.0);
        let hit = self
            .walls
            .first_hit(from, station.into.extend(0.0), self.reach_m, None);
        station.across_m = hit.map(|hit| hit.t + start_m);
        station.width_m = station.across_m.and_then(|across_m| {
            let middle = station.across(0.5 * across_m).extend(0.0);
            let nearest = self.walls.nearest_point(middle)?;
            Some((2.0 * nearest.distance).min(across_m))
        });
    }
}
