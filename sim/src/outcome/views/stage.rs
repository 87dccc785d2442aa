//! What stands in front of the eye: parts with their facets, everything else, and rays into it.
//!
//! In: an [`Outcome`]. Out: for each ray what it meets first. Bodies are put where they stand when the
//! first open step begins.

use super::super::model::{BodyOutcome, Facet, Outcome};
use super::super::survey::{Standing, Survey};
use super::camera::Camera;
use super::canvas::Spot;
use crate::scene::motion::Motion;
use crate::transport::kernel::{Hit, Kernel};
use glam::{DAffine3, DVec3};

/// Everything that can be seen.
#[derive(Debug)]
pub struct Stage<'a> {
    /// The outcome.
    pub outcome: &'a Outcome,
    /// Its patches.
    pub survey: &'a Survey,
    props: Props,
}

/// What stands on a stage.
#[derive(Debug)]
pub struct Props {
    parts: Vec<Layer>,
    bodies: Vec<(Layer, Kind)>,
    /// Corners of a box around each part, chamber frame, m.
    part_boxes_m: Vec<Vec<DVec3>>,
}

/// What kind of body a layer holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Fixtures and whatever else is in the way.
    Fixture,
    /// Shutters and sheets of stencils: drawn as a veil.
    Shutter,
    /// Coupons.
    Coupon,
    /// Emitting faces.
    Source,
}

/// Triangles that move together.
#[derive(Debug)]
struct Layer {
    kernel: Kernel,
    /// Unit normals by corner order, layer's frame; zero for triangles without area.
    normals: Vec<glam::Vec3>,
    chamber_from_layer: DAffine3,
    layer_from_chamber: DAffine3,
    /// A ball that holds all of it: centre, chamber frame, and square of the radius, m and m².
    ball: (DVec3, f64),
}

/// A plane that opens things up: what lies on the side of its normal is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// A point on it, chamber frame, m.
    pub point_m: DVec3,
    /// Unit normal towards what is taken away.
    pub normal: DVec3,
}

/// What is to be seen, and how.
#[derive(Debug, Clone)]
pub struct Shot {
    /// The eye.
    pub camera: Camera,
    /// Which parts.
    pub parts: Vec<usize>,
    /// Which kinds of bodies.
    pub bodies: Vec<Kind>,
    /// Opens the parts.
    pub cut_parts: Option<Cut>,
    /// Opens the fixtures.
    pub cut_fixtures: Option<Cut>,
}

/// What a ray meets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Surface {
    /// Nothing.
    Nothing,
    /// A side of a facet on which film counts: index into the survey's patches.
    Film(u32),
    /// The side of a part that does not count.
    OtherSide(u32),
    /// The inside of a part's solid, laid open by a cut.
    CutPart(u32),
    /// A body of this kind.
    Body(Kind, u32),
    /// The inside of a fixture's solid, laid open by a cut.
    CutBody(Kind, u32),
}

/// What a ray meets, where, and how it is turned.
#[derive(Debug, Clone, Copy)]
pub struct Sample {
    /// What.
    pub surface: Surface,
    /// Distance along the ray, m.
    pub distance_m: f64,
    /// Unit normal towards the eye, chamber frame.
    pub normal: DVec3,
    /// A shut shutter would stand before it.
    pub veil: Veil,
}

/// Whether a shutter stands in front.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Veil {
    /// None.
    Clear,
    /// The shutter's place, while it is shut.
    Shutter,
}

/// Beyond any chamber, m.
const FAR_M: f64 = 1e4;
/// More than rounding does to distances, relative to coordinates.
const ROUNDING: f64 = 1e-6;

const NOTHING: Sample = Sample {
    surface: Surface::Nothing,
    distance_m: f64::INFINITY,
    normal: DVec3::ZERO,
    veil: Veil::Clear,
};

impl Props {
    /// Makes everything of an outcome ready to be looked at.
    pub fn of(outcome: &Outcome) -> Self {
        let open = outcome
            .steps
            .iter()
            .find(|s| s.coats())
            .or(outcome.steps.first());
        let mut angles_rad = open.map(|s| s.start_rad.clone()).unwrap_or_default();
        angles_rad.resize(outcome.rotations.len(), 0.0);
        let chamber_from_riding = Motion {
            axes: outcome.rotations.clone(),
        }
        .pose(&angles_rad);
        let parts = outcome.parts.iter().map(|part| {
            let corners = part
                .facets
                .iter()
                .map(|f: &Facet| f.corners_m.map(|c| c.as_vec3()));
            Layer::new(
                corners.collect(),
                chamber_from_riding * part.chamber_from_part,
            )
        });
        let boxes = outcome.parts.iter().map(|part| {
            let points = part.facets.iter().flat_map(|f| f.corners_m);
            let pose = chamber_from_riding * part.chamber_from_part;
            let corners = box_corners_m(points).into_iter();
            corners.map(|c| pose.transform_point3(c)).collect()
        });
        let bodies = outcome.bodies.iter().map(|body| {
            let pose = if body.riding {
                chamber_from_riding
            } else {
                DAffine3::IDENTITY
            };
            (Layer::new(body_triangles(body), pose), Kind::of(body))
        });
        Self {
            part_boxes_m: boxes.collect(),
            parts: parts.collect(),
            bodies: bodies.collect(),
        }
    }
}

impl<'a> Stage<'a> {
    /// Sets the stage.
    pub fn of(outcome: &'a Outcome, survey: &'a Survey, props: Props) -> Self {
        Self {
            outcome,
            survey,
            props,
        }
    }

    /// chamber_from_part at the moment shown.
    pub fn chamber_from_part(&self, part: usize) -> DAffine3 {
        self.props
            .parts
            .get(part)
            .map_or(DAffine3::IDENTITY, |layer| layer.chamber_from_layer)
    }

    /// Corners of a box around a part, chamber frame, m: for cameras.
    pub fn part_box_m(&self, part: usize) -> Vec<DVec3> {
        self.props.part_boxes_m[part].clone()
    }

    /// Corners of a box around a body, chamber frame, m.
    pub fn body_box_m(&self, body: usize) -> Vec<DVec3> {
        let corners = box_corners_m(self.outcome.bodies[body].vertices_m.iter().copied());
        let pose = self.props.bodies[body].0.chamber_from_layer;
        corners
            .into_iter()
            .map(|c| pose.transform_point3(c))
            .collect()
    }

    /// What the ray through a spot of the sheet meets first.
    #[inline]
    pub fn look(&self, shot: &Shot, spot: Spot) -> Sample {
        let (origin, direction) = shot.camera.ray(spot);
        let mut nearest = NOTHING;
        for &part in &shot.parts {
            let found = self.look_at_part(part, (origin, direction), shot.cut_parts);
            if found.distance_m < nearest.distance_m {
                nearest = found;
            }
        }
        let mut veil_m = f64::INFINITY;
        for (number, (layer, kind)) in self.props.bodies.iter().enumerate() {
            if !shot.bodies.contains(kind) {
                continue;
            }
            let cut = shot.cut_fixtures.filter(|_| *kind == Kind::Fixture);
            let Some((hit, start_m)) = layer.hit(origin, direction, cut) else {
                continue;
            };
            let number = u32::try_from(number).unwrap_or(u32::MAX);
            if *kind == Kind::Shutter {
                veil_m = veil_m.min(hit.t);
                continue;
            }
            let (surface, distance_m, normal) = match cut {
                Some(cut) if !hit.from_front => {
                    (Surface::CutBody(*kind, number), start_m, cut.normal)
                }
                _ => (
                    Surface::Body(*kind, number),
                    hit.t,
                    layer.normal(hit, direction),
                ),
            };
            if distance_m < nearest.distance_m {
                nearest = Sample {
                    surface,
                    distance_m,
                    normal,
                    veil: Veil::Clear,
                };
            }
        }
        if veil_m < nearest.distance_m {
            nearest.veil = Veil::Shutter;
        }
        nearest
    }

    /// What a ray meets on one part.
    #[inline]
    pub fn look_at_part(&self, part: usize, ray: (DVec3, DVec3), cut: Option<Cut>) -> Sample {
        let layer = &self.props.parts[part];
        let Some((hit, start_m)) = layer.hit(ray.0, ray.1, cut) else {
            return NOTHING;
        };
        let what = &self.outcome.parts[part];
        let number = u32::try_from(part).unwrap_or(u32::MAX);
        let first = u32::try_from(self.survey.first_of_part[part]).unwrap_or(u32::MAX);
        let fronts = u32::try_from(what.facets.len()).unwrap_or(u32::MAX);
        let found = |surface| Sample {
            surface,
            distance_m: hit.t,
            normal: layer.normal(hit, ray.1),
            veil: Veil::Clear,
        };
        match cut {
            _ if hit.from_front => found(Surface::Film(first + hit.triangle)),
            _ if what.both_sides => found(Surface::Film(first + fronts + hit.triangle)),
            Some(cut) if what.health.open_sheets == 0 => Sample {
                surface: Surface::CutPart(number),
                distance_m: start_m,
                normal: cut.normal,
                veil: Veil::Clear,
            },
            _ => found(Surface::OtherSide(number)),
        }
    }

    /// How a surface stands against the wish, where film counts on it.
    pub fn standing(&self, surface: Surface) -> Option<Standing> {
        match surface {
            Surface::Film(patch) => self.survey.patches.get(patch as usize).map(|p| p.standing),
            _ => None,
        }
    }
}

impl Kind {
    /// The kind of a body.
    pub fn of(body: &BodyOutcome) -> Self {
        match body.kind.as_str() {
            "shutter" | "mask" => Self::Shutter, // what lies under a sheet is to be seen
            "coupon" => Self::Coupon,
            "source" => Self::Source,
            _ => Self::Fixture,
        }
    }
}

impl Layer {
    fn new(triangles: Vec<[glam::Vec3; 3]>, chamber_from_layer: DAffine3) -> Self {
        let normal = |[a, b, c]: &[glam::Vec3; 3]| {
            let (a, b, c) = (a.as_dvec3(), b.as_dvec3(), c.as_dvec3());
            (b - a).cross(c - a).normalize_or_zero().as_vec3()
        };
        let normals = triangles.iter().map(normal).collect();
        let kernel = Kernel::build(triangles);
        let (low, high) = kernel.bounds().unwrap_or_default();
        let (low, high) = (low.as_dvec3(), high.as_dvec3());
        let size = low.abs().max(high.abs()).max_element();
        let radius = 0.5 * low.distance(high) + ROUNDING * size;
        Self {
            normals,
            kernel,
            chamber_from_layer,
            layer_from_chamber: chamber_from_layer.inverse(),
            ball: (
                chamber_from_layer.transform_point3(0.5 * (low + high)),
                radius * radius,
            ),
        }
    }

    /// False when the ray's line, of a unit direction, passes by all of it: most lines of a picture pass by most bodies.
    #[inline]
    fn is_near(&self, origin: DVec3, direction: DVec3) -> bool {
        let (centre, radius_2) = self.ball;
        (centre - origin).cross(direction).length_squared() <= radius_2
    }

    /// First hit behind the cut, with distances from the ray's own origin, and where the cut lies.
    #[inline]
    fn hit(&self, origin: DVec3, direction: DVec3, cut: Option<Cut>) -> Option<(Hit, f64)> {
        if !self.is_near(origin, direction) {
            return None;
        }
        let start_m = cut.map_or(0.0, |cut| {
            let towards = -direction.dot(cut.normal);
            let height = (origin - cut.point_m).dot(cut.normal);
            if towards > 1e-9 {
                (height / towards).max(0.0)
            } else {
                0.0
            }
        });
        let from = self
            .layer_from_chamber
            .transform_point3(origin + direction * start_m);
        let along = self.layer_from_chamber.transform_vector3(direction);
        let mut hit = self.kernel.first_hit(from, along, FAR_M, None)?;
        hit.t += start_m;
        Some((hit, start_m))
    }

    #[inline]
    fn normal(&self, hit: Hit, direction: DVec3) -> DVec3 {
        let normal = self.normals[hit.triangle as usize].as_dvec3();
        let normal = self.chamber_from_layer.transform_vector3(normal);
        if normal.dot(direction) > 0.0 {
            -normal
        } else {
            normal
        }
    }
}

fn body_triangles(body: &BodyOutcome) -> Vec<[glam::Vec3; 3]> {
    let corner = |index: u32| body.vertices_m[index as usize].as_vec3();
    body.triangles.iter().map(|t| t.map(corner)).collect()
}

fn box_corners_m(points: impl Iterator<Item = DVec3>) -> Vec<DVec3> {
    let (low, high) = points.fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), p| {
        (low.min(p), high.max(p))
    });
    if !low.is_finite() || !high.is_finite() {
        return Vec::new();
    }
    let pick = |low: f64, high: f64, bit: bool| if bit { high } else { low };
    (0..8_u32)
        .map(|k| {
            DVec3::new(
                pick(low.x, high.x, k & 1 != 0),
                pick(low.y, high.y, k & 2 != 0),
                pick(low.z, high.z, k & 4 != 0),
            )
        })
        .collect()
}
