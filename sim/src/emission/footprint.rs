//! Footprints: where on a source an atom leaves, and how far the footprint reaches.

use super::{EmissionError, EmissionLaw, Footprint, FootprintPoint, FootprintShape, MeshFootprint};
use crate::trig::sin_cos_of_turns;
use glam::DVec3;
use std::f64::consts::PI;

impl Footprint {
    /// Places a footprint: completes the frame from the normal and, where it matters, a direction.
    ///
    /// - `centre_m`: centre of the face, m
    /// - `normal`: direction of emission, any length above 0
    /// - `along`: direction of width or length, projected onto the face; none, or a direction along the
    ///   normal, picks one that depends on the normal alone
    pub fn new(
        centre_m: DVec3,
        normal: DVec3,
        along: Option<DVec3>,
        shape: FootprintShape,
    ) -> Self {
        let normal = normal.normalize_or(DVec3::Z);
        let along = along
            .and_then(|along| along.reject_from_normalized(normal).try_normalize())
            .unwrap_or_else(|| normal.any_orthonormal_vector());
        let frame = [along, normal.cross(along), normal];
        Self {
            centre_m,
            frame,
            shape,
        }
    }

    /// Draws a point, distributed as the emission.
    ///
    /// Ring and groove: polar map, radius by inversion of the share of the emission inside it from u₁,
    /// azimuth 2π·u₂. Rectangle: u₁ along, u₂ across. Line: u₁. Mesh: u₁ picks the face by area and is
    /// stretched over it, then (1 − √v₁, √v₁·v₂) are the weights of second and third corner. Each map
    /// keeps areas, so strata of the unit square stay strata of the footprint.
    ///
    /// - `u`: uniform variates in [0, 1)
    /// - returns position and normal in the chamber frame
    ///
    /// Source: PHYSICS.md eqs. 6 to 9.
    pub fn sample(&self, u: [f64; 2]) -> FootprintPoint {
        let position_m = match &self.shape {
            FootprintShape::Spot => self.centre_m,
            FootprintShape::Ring {
                inner_radius_m,
                outer_radius_m,
            } => {
                let [inner, outer] = [
                    inner_radius_m * inner_radius_m,
                    outer_radius_m * outer_radius_m,
                ];
                self.polar((inner + u[0] * (outer - inner)).sqrt(), u[1])
            }
            FootprintShape::Rectangle { width_m, depth_m } => {
                self.in_face((u[0] - 0.5) * width_m, (u[1] - 0.5) * depth_m)
            }
            FootprintShape::Line { length_m } => self.in_face((u[0] - 0.5) * length_m, 0.0),
            FootprintShape::Groove(groove) => self.polar(groove.radius_m(u[0]), u[1]),
            FootprintShape::Mesh(mesh) => return mesh.sample(u),
        };
        FootprintPoint {
            position_m,
            normal: self.frame[2],
        }
    }

    /// A sphere that holds the footprint: centre and radius, m.
    pub fn bounding_sphere(&self) -> (DVec3, f64) {
        match &self.shape {
            FootprintShape::Mesh(mesh) => mesh.ball,
            _ => (self.centre_m, self.reach_m()),
        }
    }

    /// The largest distance of a point of the footprint from `centre_m`, m.
    pub fn reach_m(&self) -> f64 {
        match &self.shape {
            FootprintShape::Spot => 0.0,
            FootprintShape::Ring { outer_radius_m, .. } => *outer_radius_m,
            FootprintShape::Rectangle { width_m, depth_m } => 0.5 * width_m.hypot(*depth_m),
            FootprintShape::Line { length_m } => 0.5 * length_m,
            FootprintShape::Groove(groove) => groove.emitting_radii_m()[1],
            FootprintShape::Mesh(mesh) => mesh.reach_m(self.centre_m),
        }
    }

    /// The largest value of `direction`·x over all points x of the footprint.
    ///
    /// A plane with normal n through p has the whole footprint behind it exactly if
    /// `support(n)` ≤ n·p.
    ///
    /// - `direction`: any vector
    /// - returns in m times the length of `direction`
    ///
    /// Source: support function of disc, box, segment and point set.
    pub fn support(&self, direction: DVec3) -> f64 {
        let [along, across] = [self.frame[0].dot(direction), self.frame[1].dot(direction)];
        let beyond_centre = match &self.shape {
            FootprintShape::Spot => 0.0,
            FootprintShape::Ring { outer_radius_m, .. } => outer_radius_m * along.hypot(across),
            FootprintShape::Rectangle { width_m, depth_m } => {
                0.5 * (width_m * along.abs() + depth_m * across.abs())
            }
            FootprintShape::Line { length_m } => 0.5 * length_m * along.abs(),
            FootprintShape::Groove(groove) => groove.emitting_radii_m()[1] * along.hypot(across),
            FootprintShape::Mesh(mesh) => return mesh.support(direction),
        };
        self.centre_m.dot(direction) + beyond_centre
    }

    /// Area from which atoms leave, m²; 0 for spot and line.
    pub fn area_m2(&self) -> f64 {
        match &self.shape {
            FootprintShape::Spot | FootprintShape::Line { .. } => 0.0,
            FootprintShape::Ring {
                inner_radius_m,
                outer_radius_m,
            } => PI * (outer_radius_m - inner_radius_m) * (outer_radius_m + inner_radius_m),
            FootprintShape::Rectangle { width_m, depth_m } => width_m * depth_m,
            FootprintShape::Groove(groove) => {
                let [inner, outer] = groove.emitting_radii_m();
                PI * (outer - inner) * (outer + inner)
            }
            FootprintShape::Mesh(mesh) => mesh.area_m2,
        }
    }

    /// A point of the face from lengths along its two axes.
    fn in_face(&self, along_m: f64, across_m: f64) -> DVec3 {
        self.centre_m + self.frame[0] * along_m + self.frame[1] * across_m
    }

    /// A point of the face from a radius and a share of the full turn.
    fn polar(&self, radius_m: f64, turn: f64) -> DVec3 {
        let (sin, cos) = sin_cos_of_turns(turn);
        self.in_face(radius_m * cos, radius_m * sin)
    }
}

impl FootprintPoint {
    /// Flux at a point that faces this one with nothing in the way, per atom that leaves the footprint.
    ///
    /// p(θ)/r², θ from the normal of the face.
    ///
    /// - `at_m`: the point, chamber frame, m
    /// - returns 1/m²
    ///
    /// Source: PHYSICS.md "Gather". Neglects: gas.
    pub fn open_flux_per_m2(&self, law: &EmissionLaw, at_m: DVec3) -> f64 {
        let span = at_m - self.position_m;
        let squared = span.length_squared();
        law.pdf_per_sr(span.dot(self.normal) / squared.sqrt()) / squared
    }

    /// Turns a direction of the face's frame (z its normal) into the chamber frame.
    ///
    /// Which way x and y lie in the face depends on the normal alone; laws do not depend on it.
    pub fn direction(&self, in_face: DVec3) -> DVec3 {
        let (along, across) = self.normal.any_orthonormal_pair();
        along * in_face.x + across * in_face.y + self.normal * in_face.z
    }
}

impl MeshFootprint {
    /// Lists the faces that emit, leaving out those without area.
    ///
    /// - `faces`: corners in the chamber frame, m, in an order that turns right-handed about the normal
    ///
    /// # Errors
    ///
    /// If no face has an area.
    pub fn new(faces: &[[DVec3; 3]]) -> Result<Self, EmissionError> {
        let count = faces.len();
        let faces: Vec<_> = faces
            .iter()
            .copied()
            .filter(|face| area_m2(face) > 0.0)
            .collect();
        let mut area = 0.0;
        let mut cumulative: Vec<f64> = faces
            .iter()
            .map(|face| {
                area += area_m2(face);
                area
            })
            .collect();
        if !(area > 0.0 && area.is_finite()) {
            return Err(EmissionError::NoArea { faces: count });
        }
        cumulative.iter_mut().for_each(|share| *share /= area);
        let mut mesh = Self {
            faces,
            cumulative,
            area_m2: area,
            ball: (DVec3::ZERO, 0.0),
        };
        mesh.ball = mesh.bounding_sphere();
        Ok(mesh)
    }

    fn sample(&self, u: [f64; 2]) -> FootprintPoint {
        let face = self
            .cumulative
            .partition_point(|&share| share <= u[0])
            .min(self.faces.len() - 1);
        let below = if face == 0 {
            0.0
        } else {
            self.cumulative[face - 1]
        };
        let within = ((u[0] - below) / (self.cumulative[face] - below)).clamp(0.0, 1.0);
        let [a, b, c] = self.faces[face];
        let root = within.sqrt();
        let position_m = a + (b - a) * (1.0 - root) + (c - a) * (root * u[1]);
        let normal = (b - a).cross(c - a).normalize();
        FootprintPoint { position_m, normal }
    }

    fn bounding_sphere(&self) -> (DVec3, f64) {
        let corners = || self.faces.iter().flatten();
        let low = corners().fold(DVec3::INFINITY, |low, &corner| low.min(corner));
        let high = corners().fold(DVec3::NEG_INFINITY, |high, &corner| high.max(corner));
        let centre = 0.5 * (low + high);
        (centre, self.reach_m(centre))
    }

    fn reach_m(&self, centre_m: DVec3) -> f64 {
        let distances = self
            .faces
            .iter()
            .flatten()
            .map(|corner| corner.distance(centre_m));
        distances.fold(0.0, f64::max)
    }

    fn support(&self, direction: DVec3) -> f64 {
        let heights = self
            .faces
            .iter()
            .flatten()
            .map(|corner| corner.dot(direction));
        heights.fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Area of a triangle, m².
fn area_m2([a, b, c]: &[DVec3; 3]) -> f64 {
    0.5 * (*b - *a).cross(*c - *a).length()
}
