//! What the pointer meets: a ray of our own kernel, no picture is read back.

use evenfall_sim::outcome::Outcome;
use evenfall_sim::transport::kernel::Kernel;
use glam::{DAffine3, DVec3};

/// A spot on a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Index of the part.
    pub part: usize,
    /// Index of the patch ([`evenfall_sim::outcome::survey::Survey::patches`]).
    pub patch: usize,
    /// Where, riding frame at angles 0, m.
    pub at_m: DVec3,
    /// Unit normal of the side that is seen, riding frame.
    pub normal: DVec3,
}

/// Finds spots.
pub struct Picker {
    /// All front facets, riding frame.
    kernel: Kernel,
    /// Number of the first facet of each part in the kernel, its first patch, its number of front facets.
    parts: Vec<(usize, usize, usize)>,
    both_sides: Vec<bool>,
}

impl Picker {
    /// Prepares all parts.
    pub fn new(outcome: &Outcome) -> Self {
        let mut triangles = Vec::new();
        let mut parts = Vec::new();
        let mut patches = 0;
        for part in &outcome.parts {
            parts.push((triangles.len(), patches, part.facets.len()));
            triangles.extend(part.facets.iter().map(|facet| {
                let at = |corner| part.chamber_from_part.transform_point3(corner).as_vec3();
                facet.corners_m.map(at)
            }));
            patches += part.facets.len() + part.back_facets.len();
        }
        Self {
            kernel: Kernel::build(triangles),
            parts,
            both_sides: outcome.parts.iter().map(|part| part.both_sides).collect(),
        }
    }

    /// True when a part is between two points, riding frame.
    pub fn blocks(&self, from: DVec3, to: DVec3) -> bool {
        self.kernel.blocked(from, to, None)
    }

    /// The first spot on a line of sight.
    ///
    /// - `ray`: origin (m) and direction, chamber frame
    /// - `keeps`: false for points (chamber frame) that are cut away
    pub fn spot(
        &self,
        chamber_from_riding: &DAffine3,
        ray: (DVec3, DVec3),
        keeps: impl Fn(DVec3) -> bool,
    ) -> Option<Spot> {
        let back = chamber_from_riding.inverse();
        let (origin, toward) = (back.transform_point3(ray.0), back.transform_vector3(ray.1));
        let hit = self
            .kernel
            .crossings(origin, toward, f64::INFINITY, None)
            .into_iter()
            .find(|hit| keeps(ray.0 + ray.1 * hit.t))?;
        let number = hit.triangle as usize;
        let part = self
            .parts
            .partition_point(|&(first, _, _)| first <= number)
            .checked_sub(1)?;
        let (first, patch, facets) = self.parts[part];
        let [a, b, c] = self.kernel.triangle(hit.triangle);
        let front = (b - a).cross(c - a).normalize_or_zero();
        let on_back = !hit.from_front && self.both_sides[part];
        Some(Spot {
            part,
            patch: patch + (number - first) + if on_back { facets } else { 0 },
            at_m: origin + toward * hit.t,
            normal: if hit.from_front { front } else { -front },
        })
    }
}
