//! Stations along cut edges: where the film across an edge is looked at.
//!
//! In: the shapes of an artwork and what of it is open. Out: points on the outlines with the way into the opening, and
//! how wide the opening is there.

use super::outline::{Contour, Outlines, in_metres};
use super::sheet::Opens;
use crate::transport::kernel::Kernel;
use glam::{DVec2, Vec3};

/// Farthest apart stations are, m.
const APART_M: f64 = 0.5e-3;

/// Nearest that they are put to each other, m.
const NEAR_M: f64 = 20e-6;

/// Most stations of one stencil.
const MOST: f64 = 24_000.0;

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

/// Puts stations on the outlines of an artwork, evenly along each contour, nearer on small ones.
pub fn stations(shapes: &Outlines, opens: Opens) -> Vec<Station> {
    let total_m = shapes.length_m();
    let least_m = (total_m / MOST).max(NEAR_M);
    let far = Far::of(shapes);
    let mut all = Vec::new();
    let mut contour_number = 0;
    for (shape, contours) in shapes.shapes.iter().enumerate() {
        for contour in contours {
            let opening = (opens == Opens::Shapes).then_some(shape);
            along(
                contour,
                contour_number,
                (least_m, opens),
                &mut |mut station| {
                    station.opening = opening;
                    far.measure(&mut station);
                    all.push(station);
                },
            );
            contour_number += 1;
        }
    }
    all
}

/// Stations of one contour.
fn along(
    contour: &Contour,
    number: usize,
    (least_m, opens): (f64, Opens),
    put: &mut dyn FnMut(Station),
) {
    let corners: Vec<DVec2> = contour.iter().map(|corner| in_metres(*corner)).collect();
    let count = corners.len();
    let lengths = (0..count).map(|i| corners[i].distance(corners[(i + 1) % count]));
    let lengths: Vec<f64> = lengths.collect();
    let round_m: f64 = lengths.iter().sum();
    // twelve at least, so that a dot is seen from all sides
    let step_m = (round_m / 12.0).min(APART_M).max(least_m);
    let stations = (round_m / step_m).round().max(4.0);
    let step_m = round_m / stations;
    let (mut side, mut before_m) = (0, 0.0);
    let mut next_m = 0.5 * step_m;
    while next_m < round_m {
        while side + 1 < count && before_m + lengths[side] < next_m {
            before_m += lengths[side];
            side += 1;
        }
        let share = ((next_m - before_m) / lengths[side].max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        let [a, b] = [corners[side], corners[(side + 1) % count]];
        // shapes lie on the left of their contours
        let left = (b - a).perp().normalize_or_zero();
        put(Station {
            at_m: a.lerp(b, share),
            into: if opens == Opens::Shapes { left } else { -left },
            contour: number,
            side: (side, share),
            step_m,
            across_m: None,
            width_m: None,
            opening: None,
        });
        next_m += step_m;
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
