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
    /// Where, part's coordinates, m.
    pub at_m: DVec3,
    /// Unit normal of the side that is seen, part's coordinates.
    pub normal: DVec3,
}

/// Finds spots.
pub struct Picker {
    parts: Vec<Pickable>,
}

/// One part.
struct Pickable {
    /// Its front facets, part's coordinates.
    kernel: Kernel,
    /// Number of its first patch, and of its front facets.
    first: usize,
    facets: usize,
    both_sides: bool,
}

impl Picker {
    /// Prepares all parts.
    pub fn new(outcome: &Outcome) -> Self {
        let mut first = 0;
        let parts = outcome.parts.iter().map(|part| {
            let facets = part.facets.iter();
            let triangles = facets.map(|facet| facet.corners_m.map(|corner| corner.as_vec3()));
            let pickable = Pickable {
                kernel: Kernel::build(triangles.collect()),
                first,
                facets: part.facets.len(),
                both_sides: part.both_sides,
            };
            first += part.facets.len() + part.back_facets.len();
            pickable
        });
        Self {
            parts: parts.collect(),
        }
    }

    /// True when a part is between two points of the chamber.
    ///
    /// - `places`: chamber_from_part of each part
    pub fn blocks(&self, places: &[DAffine3], (from, to): (DVec3, DVec3)) -> bool {
        self.parts.iter().zip(places).any(|(part, place)| {
            let back = place.inverse();
            let [from, to] = [from, to].map(|point| back.transform_point3(point));
            part.kernel.blocked(from, to, None)
        })
    }

    /// The first spot on a line of sight.
    ///
    /// - `places`: chamber_from_part of each part
    /// - `ray`: origin (m) and direction, chamber frame
    /// - `keeps`: false for points (chamber frame) that are cut away
    pub fn spot(
        &self,
        places: &[DAffine3],
        ray: (DVec3, DVec3),
        keeps: impl Fn(DVec3) -> bool,
    ) -> Option<Spot> {
        let parts = self.parts.iter().zip(places).enumerate();
        let met = parts.filter_map(|(number, (part, place))| {
            let back = place.inverse();
            let (origin, toward) = (back.transform_point3(ray.0), back.transform_vector3(ray.1));
            let crossings = part.kernel.crossings(origin, toward, f64::INFINITY, None);
            let hit = crossings
                .into_iter()
                .find(|hit| keeps(ray.0 + ray.1 * hit.t))?;
            let [a, b, c] = part.kernel.triangle(hit.triangle);
            let front = (b - a).cross(c - a).normalize_or_zero();
            let on_back = !hit.from_front && part.both_sides;
            let spot = Spot {
                part: number,
                patch: part.first + hit.triangle as usize + if on_back { part.facets } else { 0 },
                at_m: origin + toward * hit.t,
                normal: if hit.from_front { front } else { -front },
            };
            Some((hit.t, spot))
        });
        met.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, spot)| spot)
    }
}
