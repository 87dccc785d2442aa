//! The rays.
//!
//! In: triangles. Out: `shadow`, lines from the front of triangles to a disc of 50 mm diameter 100 mm above, 64 for each, triangles
//! that are near each other one after the other; `sorted`, the same in the order of their directions over each triangle, as a gather
//! has them; `beside`, the same from sixteen such triangles at a time to one place on the disc; `aimed`, rays from the disc into the part; `gas`, flights of an exponential length,
//! 10 mm in the mean, from points all around and inside the part.

use evenfall_sim::random::{Stream, Use};
use evenfall_sim::transport::kernel::Kernel;
use glam::{DVec2, DVec3};
use std::f64::consts::TAU;

/// Rays of a set.
pub const RAYS: usize = 1 << 16;
/// Triangles whose lines go to one place in `beside`.
const TOGETHER: usize = 16;
/// Lines of a triangle in `shadow`.
pub const OF_TRIANGLE: usize = 64;

/// A ray from `origin` along `direction` to `end` times its length.
#[derive(Clone, Copy)]
pub struct Line {
    pub origin: DVec3,
    pub direction: DVec3,
    pub end: f64,
    /// Triangle on which it starts.
    pub skip: Option<u32>,
}

fn on_disc(dice: &mut Stream) -> DVec3 {
    let [u, v] = dice.pair();
    let (radius, angle) = (0.025 * u.sqrt(), v * TAU);
    DVec3::new(radius * angle.cos(), radius * angle.sin(), 0.15)
}

/// All lines of a triangle go to the front of it.
pub fn shadow(kernel: &Kernel) -> Vec<Line> {
    let mut dice = Stream::new(1, Use::Pilot, 0);
    let mut lines = Vec::with_capacity(RAYS);
    for triangle in faces(kernel, 1) {
        for _ in 0..OF_TRIANGLE {
            let place = dice.pair();
            let to = on_disc(&mut dice);
            lines.push(line(kernel, triangle, place, to));
        }
    }
    lines
}

/// Those of `shadow`, the lines of each triangle in the order of their directions: along a Z-curve over the disc.
pub fn sorted(kernel: &Kernel) -> Vec<Line> {
    let cell = |line: &Line| {
        let toward = line.direction.normalize();
        let place = |share: f64| ((0.5 + 0.5 * share) * 16.0) as u32;
        let apart = |cell: u32| {
            let pairs = (cell | cell << 2) & 0x33;
            (pairs | pairs << 1) & 0x55
        };
        apart(place(toward.x)) << 1 | apart(place(toward.y))
    };
    let mut lines = shadow(kernel);
    for of_one in lines.chunks_mut(OF_TRIANGLE) {
        of_one.sort_by_key(cell);
    }
    lines
}

/// Lines of neighbouring triangles to one place, from the same place on each.
pub fn beside(kernel: &Kernel) -> Vec<Line> {
    let mut dice = Stream::new(4, Use::Pilot, 0);
    let mut lines = Vec::with_capacity(RAYS);
    for triangles in faces(kernel, TOGETHER).chunks(TOGETHER) {
        for _ in 0..OF_TRIANGLE {
            let place = dice.pair();
            let to = on_disc(&mut dice);
            lines.extend(
                triangles
                    .iter()
                    .map(|&triangle| line(kernel, triangle, place, to)),
            );
        }
    }
    lines
}

fn line(kernel: &Kernel, triangle: u32, [u, v]: [f64; 2], to: DVec3) -> Line {
    let root = u.sqrt();
    let origin = kernel.point(triangle, DVec2::new(root * (1.0 - v), root * v));
    Line {
        origin,
        direction: to - origin,
        end: 1.0,
        skip: Some(triangle),
    }
}

/// Triangles that face the disc: runs of neighbours, spread over the part, `together` of each run side by side.
fn faces(kernel: &Kernel, together: usize) -> Vec<u32> {
    let count = u32::try_from(kernel.len()).unwrap_or(u32::MAX);
    let mut order: Vec<u32> = (0..count).collect();
    order.sort_by_key(|triangle| kernel.place(*triangle));
    let (runs, all) = (64, RAYS / OF_TRIANGLE);
    let mut faces = Vec::with_capacity(all);
    for run in 0..runs {
        let first = order.len() * run / runs;
        let wanted = all * (run + 1) / runs;
        for &triangle in &order[first..] {
            if faces.len() >= wanted && faces.len().is_multiple_of(together) {
                break;
            }
            let [a, b, c] = kernel.triangle(triangle);
            let normal = (b - a).cross(c - a);
            if normal.dot(DVec3::Z * 0.15 - a) > 0.026 * normal.length() {
                faces.push(triangle);
            }
        }
    }
    faces.truncate(all);
    faces
}

pub fn aimed() -> Vec<Line> {
    let mut dice = Stream::new(2, Use::Pilot, 0);
    (0..RAYS)
        .map(|_| {
            let origin = on_disc(&mut dice);
            let [u, v] = dice.pair();
            let (radius, angle) = (0.045 * u.sqrt(), v * TAU);
            let at = DVec3::new(radius * angle.cos(), radius * angle.sin(), 0.0);
            Line {
                origin,
                direction: at - origin,
                end: f64::INFINITY,
                skip: None,
            }
        })
        .collect()
}

pub fn gas() -> Vec<Line> {
    let mut dice = Stream::new(3, Use::Pilot, 0);
    (0..RAYS)
        .map(|_| {
            let place = DVec3::new(dice.uniform(), dice.uniform(), dice.uniform());
            let [u, v] = dice.pair();
            let (z, angle) = (2.0 * u - 1.0, v * TAU);
            let across = (1.0 - z * z).sqrt();
            Line {
                origin: (place - 0.5) * 0.12,
                direction: DVec3::new(across * angle.cos(), across * angle.sin(), z),
                end: -0.01 * (1.0 - dice.uniform()).ln(),
                skip: None,
            }
        })
        .collect()
}
