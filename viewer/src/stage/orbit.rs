//! Where the stage is looked at from: an eye that goes round a point.

use glam::{DMat4, DVec2, DVec3, DVec4};
use std::f64::consts::{FRAC_PI_2, PI};

/// Height of the picture as the eye sees it, rad.
const FIELD_RAD: f64 = 0.6;
/// As near to straight up and down as the eye goes, rad.
const STEEPEST_RAD: f64 = FRAC_PI_2 - 1e-3;

/// An eye that goes round a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orbit {
    /// The point, chamber frame, m.
    pub about_m: DVec3,
    /// Direction of the eye from it: round z from x, and up from the x-y plane, rad.
    pub round_rad: f64,
    pub up_rad: f64,
    /// Distance of the eye from it, m.
    pub away_m: f64,
}

/// From where the keys look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Front,
    Right,
    Top,
    Below,
    Corner,
}

impl Side {
    /// All, in the order of their keys.
    pub const ALL: [Self; 5] = [
        Self::Front,
        Self::Right,
        Self::Top,
        Self::Below,
        Self::Corner,
    ];

    /// Name on buttons.
    pub fn name(self) -> &'static str {
        match self {
            Self::Front => "Front",
            Self::Right => "Right",
            Self::Top => "Top",
            Self::Below => "Below",
            Self::Corner => "Corner",
        }
    }

    fn angles_rad(self) -> [f64; 2] {
        match self {
            Self::Front => [-FRAC_PI_2, 0.0],
            Self::Right => [0.0, 0.0],
            Self::Top => [-FRAC_PI_2, STEEPEST_RAD],
            Self::Below => [-FRAC_PI_2, -STEEPEST_RAD],
            Self::Corner => [-1.0, -0.45],
        }
    }
}

impl Default for Orbit {
    fn default() -> Self {
        let [round_rad, up_rad] = Side::Corner.angles_rad();
        Self {
            about_m: DVec3::ZERO,
            round_rad,
            up_rad,
            away_m: 0.5,
        }
    }
}

impl Orbit {
    /// Unit vector from the point to the eye.
    fn back(&self) -> DVec3 {
        let (sin_up, cos_up) = self.up_rad.sin_cos();
        let (sin, cos) = self.round_rad.sin_cos();
        DVec3::new(cos_up * cos, cos_up * sin, sin_up)
    }

    /// Unit vectors to the right and up in the picture.
    fn across(&self) -> [DVec3; 2] {
        let right = DVec3::Z.cross(self.back()).normalize_or(DVec3::X);
        [right, self.back().cross(right)]
    }

    /// Where the eye is, m.
    pub fn eye_m(&self) -> DVec3 {
        self.about_m + self.back() * self.away_m
    }

    /// Height of the picture at the point, m.
    pub fn height_m(&self) -> f64 {
        2.0 * self.away_m * (0.5 * FIELD_RAD).tan()
    }

    /// clip_from_chamber for a picture's width over height (depth from 0 to 1).
    pub fn clip_from_chamber(&self, aspect: f64) -> DMat4 {
        let [right, up] = self.across();
        let back = self.back();
        let eye = self.eye_m();
        let row = |axis: DVec3| axis.extend(-axis.dot(eye));
        let eye_from_chamber =
            DMat4::from_cols(row(right), row(up), row(back), DVec4::W).transpose();
        let (near, far) = (0.01 * self.away_m, 100.0 * self.away_m.max(0.1));
        let tall = 1.0 / (0.5 * FIELD_RAD).tan();
        let clip_from_eye = DMat4::from_cols(
            DVec4::new(tall / aspect, 0.0, 0.0, 0.0),
            DVec4::new(0.0, tall, 0.0, 0.0),
            DVec4::new(0.0, 0.0, far / (near - far), -1.0),
            DVec4::new(0.0, 0.0, near * far / (near - far), 0.0),
        );
        clip_from_eye * eye_from_chamber
    }

    /// The line of sight through a spot of the picture, −1 to 1 to the right and up: origin (m) and direction.
    pub fn ray(&self, spot: DVec2, aspect: f64) -> (DVec3, DVec3) {
        let [right, up] = self.across();
        let half = (0.5 * FIELD_RAD).tan();
        let toward = right * (spot.x * half * aspect) + up * (spot.y * half) - self.back();
        (self.eye_m(), toward.normalize())
    }

    /// Where a point is in the picture, as for [`Orbit::ray`]; none behind the eye.
    pub fn spot(&self, point_m: DVec3, aspect: f64) -> Option<DVec2> {
        let clip = self.clip_from_chamber(aspect) * point_m.extend(1.0);
        (clip.w > 0.0).then(|| DVec2::new(clip.x, clip.y) / clip.w)
    }

    /// Goes round by a drag, in heights of the picture.
    pub fn turn(&mut self, drag: DVec2) {
        self.round_rad = (self.round_rad - PI * drag.x).rem_euclid(2.0 * PI);
        self.up_rad = (self.up_rad + PI * drag.y).clamp(-STEEPEST_RAD, STEEPEST_RAD);
    }

    /// Moves along the picture by a drag, in heights of the picture, x to the right and y down.
    pub fn slide(&mut self, drag: DVec2) {
        let [right, up] = self.across();
        self.about_m += (up * drag.y - right * drag.x) * self.height_m();
    }

    /// Comes nearer by a factor; what is under a spot of the picture stays there.
    pub fn near(&mut self, factor: f64, spot: DVec2, aspect: f64) {
        let before_m = self.height_m();
        self.away_m = (self.away_m / factor).clamp(1e-4, 1e3);
        let gained_m = before_m - self.height_m();
        let [right, up] = self.across();
        self.about_m += (right * spot.x * aspect + up * spot.y) * (0.5 * gained_m);
    }

    /// Looks from a side.
    pub fn look_from(&mut self, side: Side) {
        [self.round_rad, self.up_rad] = side.angles_rad();
    }

    /// Takes some points into the picture.
    pub fn fit(&mut self, points_m: &[DVec3], aspect: f64) {
        if points_m.is_empty() {
            return;
        }
        let low = points_m.iter().fold(DVec3::INFINITY, |low, &p| low.min(p));
        let high = points_m
            .iter()
            .fold(DVec3::NEG_INFINITY, |high, &p| high.max(p));
        self.about_m = 0.5 * (low + high);
        let radius_m = 0.5 * low.distance(high);
        let narrow = (0.5 * FIELD_RAD).tan() * aspect.min(1.0);
        self.away_m = (1.1 * radius_m / narrow.atan().sin()).max(1e-3);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ray_through_the_spot_of_a_point_goes_through_the_point() {
        let mut orbit = Orbit::default();
        orbit.turn(DVec2::new(0.3, -0.2));
        orbit.slide(DVec2::new(0.1, 0.05));
        for point in [DVec3::new(0.05, -0.02, 0.1), DVec3::new(-0.1, 0.0, 0.03)] {
            let spot = orbit.spot(point, 1.6).expect("in front of the eye");
            let (eye, toward) = orbit.ray(spot, 1.6);
            let beside = (point - eye).cross(toward).length();
            assert!(beside < 1e-9, "{beside}");
        }
    }

    #[test]
    fn what_is_under_the_pointer_stays_there_when_the_eye_comes_nearer() {
        let mut orbit = Orbit::default();
        let spot = DVec2::new(0.4, -0.3);
        // a point in the plane of the middle
        let (eye, toward) = orbit.ray(spot, 1.5);
        let depth = (orbit.about_m - eye).dot(-orbit.back()) / toward.dot(-orbit.back());
        let point = eye + toward * depth;
        orbit.near(1.7, spot, 1.5);
        let after = orbit.spot(point, 1.5).expect("in front of the eye");
        assert!(after.distance(spot) < 1e-9, "{after}");
    }

    #[test]
    fn what_is_fitted_is_in_the_picture() {
        let points: Vec<DVec3> = (0..8)
            .map(|i| DVec3::new(f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2)))
            .collect();
        for aspect in [0.5, 1.0, 2.0] {
            let mut orbit = Orbit::default();
            orbit.fit(&points, aspect);
            for &point in &points {
                let spot = orbit.spot(point, aspect).expect("in front of the eye");
                assert!(spot.abs().max_element() < 1.0, "{aspect}: {spot}");
            }
        }
    }
}
