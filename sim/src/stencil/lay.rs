//! The sheet laid where it belongs: flat, round a cylinder, or pushed onto a surface.
//!
//! In: a flat [`Sheet`], its thickness and its lift. Out: a closed solid, bottom, top and side walls, in the frame of
//! the artwork (x to the right, y up, z away from the surface).

use super::refine::Halved;
use super::sheet::Sheet;
use crate::transport::kernel::Kernel;
use glam::{DVec2, DVec3};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// How far a flat piece of a bent sheet may stray from the surface it is laid on, m.
const BEND_M: f64 = 2e-6;

/// Edges of a pushed sheet shorter than this are not cut further, m: steps of the surface stay steps.
const SHORT_M: f64 = 0.1e-3;

/// Longest edges of a pushed sheet that reach from the surface beside it, and those beside it, against the surface's extent.
const ACROSS_RIM: f64 = 1.0 / 64.0;
const OFF: f64 = 1.0 / 8.0;

/// Second difference of depths over [`SHORT_M`] up to which a surface counts as smooth there, against that length.
const SMOOTH: f64 = 0.1;

/// Triangles of a pushed sheet narrower than this do not tell how the surface lies, m: the corners are no truer.
const NARROW_M: f64 = 5.0 * BEND_M;

/// Most that a corner of a pushed sheet is stretched away from a sharp edge of the surface.
const MOST_STRETCH: f64 = 2.0;

/// How a sheet is laid.
#[derive(Debug, Clone, Copy)]
pub enum Lay<'a> {
    /// Flat.
    Flat,
    /// Round a cylinder of this radius, m, whose axis runs along y below the artwork's origin.
    Wrapped(f64),
    /// Pushed along a direction onto a surface; both in the frame of the artwork.
    Pushed(DVec3, &'a Kernel),
}

/// A sheet where it belongs.
#[derive(Debug, Clone, Default)]
pub struct Laid {
    /// Corners, m, frame of the artwork: the bottom's, then the top's.
    pub vertices: Vec<DVec3>,
    /// Triangles that face out.
    pub triangles: Vec<[u32; 3]>,
    /// Corners under which a pushed sheet found no surface.
    pub missed: usize,
    /// It could not be bent as finely as it should.
    pub is_coarse: bool,
}

impl Lay<'_> {
    /// Lays a sheet that fills `lift_m` … `lift_m + thickness_m` over the surface.
    pub fn lay(&self, mut sheet: Sheet, lift_m: f64, thickness_m: f64) -> Laid {
        let fits = match *self {
            Lay::Flat => true,
            Lay::Wrapped(radius_m) => {
                let widest_m = (8.0 * radius_m * BEND_M).sqrt();
                sheet.refine(Halved::TooLong, |a, b| (a.x - b.x).abs() > widest_m)
            }
            Lay::Pushed(direction, surface) => {
                let depth = |p: DVec2| depth(p, direction, surface);
                let extent_m = surface.bounds().map_or(0.0, |(low, high)| {
                    f64::from((high - low).truncate().max_element())
                });
                sheet.refine(Halved::Longest, |a, b| {
                    let [from, middle, to] = [depth(a), depth(0.5 * (a + b)), depth(b)];
                    let (Some(from), Some(middle), Some(to)) = (from, middle, to) else {
                        // beside the surface: short enough for what lies on it to bend by itself
                        let off = from.or(middle).or(to).is_none();
                        let most_m = extent_m * if off { OFF } else { ACROSS_RIM };
                        return a.distance(b) > most_m.max(SHORT_M);
                    };
                    a.distance(b) > SHORT_M && (0.5 * (from + to) - middle).abs() > BEND_M
                })
            }
        };
        let heights = [lift_m, lift_m + thickness_m];
        let (points, missed) = match *self {
            Lay::Flat => (levels(&sheet, heights, |p, z| p.extend(z)), 0),
            Lay::Wrapped(radius_m) => (levels(&sheet, heights, |p, z| wrapped(p, z, radius_m)), 0),
            Lay::Pushed(direction, surface) => pushed(&sheet, heights, direction, surface),
        };
        Laid {
            vertices: points,
            triangles: closed(&sheet),
            missed,
            is_coarse: !fits,
        }
    }
}

/// A point of the artwork's plane on the surface that a sheet is laid on, frame of the artwork; none where a push
/// finds nothing.
pub(crate) fn on_surface(lay: &Lay, p: DVec2) -> Option<DVec3> {
    match *lay {
        Lay::Flat => Some(p.extend(0.0)),
        Lay::Wrapped(radius_m) => Some(wrapped(p, 0.0, radius_m)),
        Lay::Pushed(direction, surface) => {
            Some(p.extend(0.0) + direction * depth(p, direction, surface)?)
        }
    }
}

/// A point of a sheet at a height over a cylinder: lengths along the artwork are kept on the cylinder itself.
pub(super) fn wrapped(p: DVec2, z: f64, radius_m: f64) -> DVec3 {
    let (sine, cosine) = (p.x / radius_m).sin_cos();
    let r = radius_m + z;
    DVec3::new(r * sine, p.y, r * cosine - radius_m)
}

/// Widest artwork that goes round a cylinder, m from its middle.
pub(crate) fn half_round_m(radius_m: f64) -> f64 {
    PI * radius_m
}

fn levels(sheet: &Sheet, heights: [f64; 2], at: impl Fn(DVec2, f64) -> DVec3) -> Vec<DVec3> {
    let level = |z: f64| {
        let at = &at;
        sheet.points_m.iter().map(move |p| at(*p, z))
    };
    level(heights[0]).chain(level(heights[1])).collect()
}

/// Bottom, top and side walls over the corners of [`levels`].
fn closed(sheet: &Sheet) -> Vec<[u32; 3]> {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "refining stops below a million corners, and artworks have at most two"
    )]
    let up = sheet.points_m.len() as u32;
    let bottom = sheet.triangles.iter().map(|&[a, b, c]| [a, c, b]);
    let top = sheet.triangles.iter().map(|row| row.map(|c| c + up));
    let walls = sheet
        .rim
        .iter()
        .flat_map(|&[a, b]| [[a, b, b + up], [a, b + up, a + up]]);
    bottom.chain(top).chain(walls).collect()
}

/// How far a point of the artwork's plane goes along a direction until it meets the surface from outside, m.
fn depth(p: DVec2, direction: DVec3, surface: &Kernel) -> Option<f64> {
    let (low, high) = surface.bounds()?;
    let reach =
        (high - low).as_dvec3().length() + p.extend(0.0).distance(0.5 * (low + high).as_dvec3());
    let hit = surface.first_hit(
        p.extend(0.0) - direction * reach,
        direction,
        2.0 * reach,
        None,
    )?;
    Some(hit.t - reach)
}

fn pushed(
    sheet: &Sheet,
    heights: [f64; 2],
    direction: DVec3,
    surface: &Kernel,
) -> (Vec<DVec3>, usize) {
    let depths = sheet.points_m.iter();
    let depths: Vec<Option<f64>> = depths.map(|p| depth(*p, direction, surface)).collect();
    let missed = depths.iter().filter(|d| d.is_none()).count();
    let depths = spread(sheet, depths);
    let points = sheet.points_m.iter().zip(&depths);
    let points: Vec<DVec3> = points
        .map(|(p, depth)| p.extend(0.0) + direction * *depth)
        .collect();
    let smooth = sheet.points_m.iter();
    let smooth = smooth.map(|p| smooth_normal(*p, direction, surface));
    let ways = ways(sheet, &points, smooth.collect(), direction);
    let level = |z: f64| {
        let corners = points.iter().zip(&ways);
        corners.map(move |(point, way)| *point + *way * z)
    };
    (level(heights[0]).chain(level(heights[1])).collect(), missed)
}

/// Which way corners of a pushed sheet go away from the surface, and how far for each metre of height.
///
/// Square to the surface where it is smooth. Elsewhere the mean of the sheet's own normals around, weighted by the
/// angle that each takes up, stretched so that the flattest of them is still as far off as it should. That mean does
/// not do at the rim of a sheet on a bent surface: all its triangles lie on one side, where the surface leans another
/// way.
fn ways(
    sheet: &Sheet,
    points: &[DVec3],
    smooth: Vec<Option<DVec3>>,
    direction: DVec3,
) -> Vec<DVec3> {
    let corners_of = |row: &[u32; 3]| row.map(|corner| points[corner as usize]);
    let mut means = vec![DVec3::ZERO; points.len()];
    for row in &sheet.triangles {
        let corners = corners_of(row);
        let normal = square_to(corners).normalize_or_zero();
        for i in 0..3 {
            let [at, one, other] = [i, (i + 1) % 3, (i + 2) % 3].map(|k| corners[k]);
            means[row[i] as usize] += normal * (one - at).angle_between(other - at);
        }
    }
    for mean in &mut means {
        *mean = mean.normalize_or(-direction);
    }
    let mut flattest = vec![1.0_f64; points.len()];
    for row in &sheet.triangles {
        let [a, b, c] = corners_of(row);
        let square = square_to([a, b, c]);
        let longest = a.distance(b).max(b.distance(c)).max(c.distance(a));
        if square.length() > longest * NARROW_M {
            for corner in row.map(|corner| corner as usize) {
                let leaning = square.normalize().dot(means[corner]);
                flattest[corner] = flattest[corner].min(leaning);
            }
        }
    }
    let stretched = means.iter().zip(flattest);
    let stretched =
        stretched.map(|(mean, flattest)| *mean * (1.0 / flattest.max(1e-3)).min(MOST_STRETCH));
    let both = smooth.into_iter().zip(stretched);
    both.map(|(smooth, stretched)| smooth.unwrap_or(stretched))
        .collect()
}

/// Twice the area of a triangle, along its normal.
fn square_to([a, b, c]: [DVec3; 3]) -> DVec3 {
    (b - a).cross(c - a)
}

/// Unit normal of the surface under a point of the artwork's plane, where it is smooth.
fn smooth_normal(p: DVec2, direction: DVec3, surface: &Kernel) -> Option<DVec3> {
    let middle = depth(p, direction, surface)?;
    let along = |way: DVec2| {
        let ends = [p - way * SHORT_M, p + way * SHORT_M];
        let [low, high] = ends.map(|end| depth(end, direction, surface));
        let (low, high) = (low?, high?);
        let is_smooth = (low + high - 2.0 * middle).abs() < SMOOTH * SHORT_M;
        is_smooth.then(|| (2.0 * SHORT_M * way).extend(0.0) + direction * (high - low))
    };
    along(DVec2::X)?.cross(along(DVec2::Y)?).try_normalize()
}

/// Gives corners that found no surface the depth of the nearest (along edges) that did.
fn spread(sheet: &Sheet, mut depths: Vec<Option<f64>>) -> Vec<f64> {
    loop {
        let mut learned: BTreeMap<u32, (f64, u32)> = BTreeMap::new();
        for row in &sheet.triangles {
            let mut known = row.iter().filter_map(|&corner| depths[corner as usize]);
            let Some(first) = known.next() else { continue };
            let count = 1 + u32::try_from(known.clone().count()).unwrap_or(0);
            let mean = (first + known.sum::<f64>()) / f64::from(count);
            for &corner in row.iter().filter(|&&c| depths[c as usize].is_none()) {
                let entry = learned.entry(corner).or_insert((0.0, 0));
                *entry = (entry.0 + mean, entry.1 + 1);
            }
        }
        if learned.is_empty() {
            return depths.into_iter().map(Option::unwrap_or_default).collect();
        }
        for (corner, (sum, count)) in learned {
            depths[corner as usize] = Some(sum / f64::from(count));
        }
    }
}
