//! The eye: rays through pixels, and where points of the chamber fall on the sheet.
//!
//! In: a direction and what must be in the picture. Out: a [`Camera`].

use super::canvas::{Frame, Spot};
use glam::DVec3;

/// An eye looking along a direction; parallel rays, or rays from one point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Point in the middle of the frame (parallel rays) or the eye itself (rays from a point), m.
    pub middle_m: DVec3,
    /// Unit vector to the right of the picture.
    pub right: DVec3,
    /// Unit vector upward in the picture.
    pub up: DVec3,
    /// Unit vector into the picture.
    pub forward: DVec3,
    /// Middle of the frame, pixels.
    pub centre: Spot,
    /// Kind of rays.
    pub lens: Lens,
}

/// Kind of rays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lens {
    /// Parallel rays.
    Parallel {
        /// Pixels per metre, everywhere.
        pixels_per_m: f64,
        /// Distance by which rays start before the middle, m.
        before_m: f64,
    },
    /// Rays from the eye.
    Eye {
        /// Pixels per unit of tangent from the middle.
        pixels_per_tangent: f64,
    },
}

impl Camera {
    /// Parallel rays that show all `points_m` in a frame.
    ///
    /// - `forward`: direction of looking, any length
    /// - `points_m`: what must be in the picture, m; not empty
    /// - `frame`: where on the sheet
    pub fn parallel(forward: DVec3, points_m: &[DVec3], frame: Frame) -> Self {
        let (right, up, forward) = axes(forward);
        let mut low = DVec3::INFINITY;
        let mut high = DVec3::NEG_INFINITY;
        for point in points_m {
            let seen = DVec3::new(point.dot(right), point.dot(up), point.dot(forward));
            low = low.min(seen);
            high = high.max(seen);
        }
        let size = (high - low).max(DVec3::splat(1e-9));
        let middle = 0.5 * (low + high);
        Self {
            middle_m: right * middle.x + up * middle.y + forward * middle.z,
            right,
            up,
            forward,
            centre: frame.middle(),
            lens: Lens::Parallel {
                pixels_per_m: (frame.width / size.x).min(frame.height / size.y),
                before_m: size.z + size.length(),
            },
        }
    }

    /// Rays from an eye that show all `points_m` in a frame, looking at their middle.
    pub fn eye(eye_m: DVec3, points_m: &[DVec3], frame: Frame) -> Self {
        let middle = points_m.iter().sum::<DVec3>() / points_m.len().max(1) as f64;
        let (right, up, forward) = axes(middle - eye_m);
        // A view of at most 2·atan(1.5) = 113 degrees, so that nearby parts do not bend too much.
        let mut widest = DVec3::splat(1e-6);
        for point in points_m {
            let to = *point - eye_m;
            let depth = to.dot(forward).max(1e-9);
            let tangent = DVec3::new(to.dot(right), to.dot(up), 0.0).abs() / depth;
            widest = widest.max(tangent.min(DVec3::splat(1.5)));
        }
        let (half_width, half_height) = (0.5 * frame.width, 0.5 * frame.height);
        Self {
            middle_m: eye_m,
            right,
            up,
            forward,
            centre: frame.middle(),
            lens: Lens::Eye {
                pixels_per_tangent: (half_width / widest.x).min(half_height / widest.y),
            },
        }
    }

    /// Origin and unit direction of the ray through a spot of the sheet, m.
    #[inline]
    pub fn ray(&self, spot: Spot) -> (DVec3, DVec3) {
        let (x, y) = (spot.0 - self.centre.0, self.centre.1 - spot.1);
        match self.lens {
            Lens::Parallel {
                pixels_per_m,
                before_m,
            } => {
                let across = (self.right * x + self.up * y) / pixels_per_m;
                (
                    self.middle_m + across - self.forward * before_m,
                    self.forward,
                )
            }
            Lens::Eye { pixels_per_tangent } => {
                let across = (self.right * x + self.up * y) / pixels_per_tangent;
                (self.middle_m, (self.forward + across).normalize())
            }
        }
    }

    /// Where a point falls on the sheet; for an eye only what lies in front of it.
    pub fn spot(&self, point_m: DVec3) -> Option<Spot> {
        let to = point_m - self.middle_m;
        let (x, y, depth) = (to.dot(self.right), to.dot(self.up), to.dot(self.forward));
        let scale = match self.lens {
            Lens::Parallel { pixels_per_m, .. } => pixels_per_m,
            Lens::Eye { pixels_per_tangent } if depth > 1e-9 => pixels_per_tangent / depth,
            Lens::Eye { .. } => return None,
        };
        Some((self.centre.0 + scale * x, self.centre.1 - scale * y))
    }

    /// Unit direction of the ray through a spot of the sheet.
    #[inline]
    pub fn direction(&self, spot: Spot) -> DVec3 {
        match self.lens {
            Lens::Parallel { .. } => self.forward,
            Lens::Eye { .. } => self.ray(spot).1,
        }
    }

    /// True when all rays go the same way.
    pub fn is_parallel(&self) -> bool {
        matches!(self.lens, Lens::Parallel { .. })
    }

    /// Pixels per metre at a point, across the direction of looking.
    pub fn pixels_per_m(&self, point_m: DVec3) -> f64 {
        match self.lens {
            Lens::Parallel { pixels_per_m, .. } => pixels_per_m,
            Lens::Eye { pixels_per_tangent } => {
                pixels_per_tangent / (point_m - self.middle_m).dot(self.forward).max(1e-9)
            }
        }
    }
}

/// Right, up and forward: the chamber's z is up in the picture; looking along z, its y is.
pub fn axes(forward: DVec3) -> (DVec3, DVec3, DVec3) {
    let forward = forward.try_normalize().unwrap_or(DVec3::Y);
    let upward = if forward.z.abs() > 0.99 {
        DVec3::Y
    } else {
        DVec3::Z
    };
    let right = forward.cross(upward).normalize();
    (right, right.cross(forward), forward)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame {
        left: 10.0,
        top: 20.0,
        width: 400.0,
        height: 300.0,
    };

    fn cube_m() -> Vec<DVec3> {
        let at = |k: i32| f64::from(k) * 0.1 - 0.05;
        (0..8_i32)
            .map(|k| DVec3::new(at(k & 1), at(k >> 1 & 1), 0.3 + at(k >> 2)))
            .collect()
    }

    #[test]
    fn a_ray_through_the_spot_of_a_point_meets_the_point() {
        let eye = DVec3::new(0.02, -0.4, 0.1);
        for camera in [
            Camera::parallel(DVec3::new(0.3, 1.0, -0.4), &cube_m(), FRAME),
            Camera::eye(eye, &cube_m(), FRAME),
        ] {
            for point in cube_m() {
                let (origin, direction) = camera.ray(camera.spot(point).unwrap());
                let off = (point - origin).cross(direction).length();
                assert!(off < 1e-12, "{off} m beside the point");
            }
        }
    }

    #[test]
    fn everything_asked_for_is_in_the_frame() {
        let camera = Camera::parallel(DVec3::new(1.0, 1.0, 1.0), &cube_m(), FRAME);
        for point in cube_m() {
            let (x, y) = camera.spot(point).unwrap();
            assert!(
                (9.9..410.1).contains(&x) && (19.9..320.1).contains(&y),
                "{x} {y}"
            );
        }
    }
}
