//! Subdivision: rows too large to resolve the film are cut into facets.
//!
//! In: a part's mesh, where footprints and obstacles are in each step. Out: per row the bisections and the
//! facets they make. Rows are cut at middles of edges, longest first, wherever an edge is longer than the
//! film can be told apart there. Whether an edge is too long depends on its two ends alone, so that the
//! rows on both sides of it are cut alike and the refined mesh has no gaps.

use super::model::{BodyId, Scene};
use super::motion::Angles;
use super::receivers::{Bisection, WHOLE, bisect};
use crate::emission::Footprint;
use crate::mesh::Mesh;
use crate::units::mm;
use glam::{DAffine3, DVec2, DVec3};
use rayon::prelude::*;

/// Rows from which a mesh is left as it is: it resolves its film by itself.
const FINE_ROWS: usize = 60_000;

/// Facets that subdivision may add to all parts together.
const MOST_ADDED: usize = 150_000;

/// How much coarser the first look at the number of facets is.
const COARSE_LOOK: f64 = 4.0;

/// Facets that the extent alone may ask for.
const PLAIN_FACETS: f64 = 4_000.0;

/// Facet edge against the part's extent, where nothing else asks for smaller ones.
const OF_EXTENT: f64 = 1.0 / 30.0;

/// Smallest facet edge against the part's extent.
const FLOOR_OF_EXTENT: f64 = 1.0 / 160.0;

/// Facet edge against the distance to the nearest footprint: the film then changes by about a third
/// over a facet at most.
const OF_DISTANCE: f64 = 0.1;

/// Facet edge against the width over which a shadow's edge is smeared.
const OF_PENUMBRA: f64 = 0.25;

/// A parked pose that brings less than this share of a run's film draws no shadow worth resolving: its edges
/// are steps of so much in what the other poses bring.
const FAINT: f64 = 0.08;

/// Poses looked at for distances while something moves.
const MOVING_POSES: u32 = 12;

/// A row that was cut.
pub(super) struct CutRow {
    /// In preorder.
    pub bisections: Vec<Bisection>,
    /// In the order of the bisections' leaves.
    pub facets: Vec<[DVec2; 3]>,
}

/// Cuts the rows of all parts; whole rows have no entry. Warns where the limit on facets binds.
pub(super) fn subdivide(
    scene: &Scene,
    bodies: &[(BodyId, &Mesh)],
    warnings: &mut Vec<String>,
) -> Vec<Vec<Option<CutRow>>> {
    let measures: Vec<Measure> = bodies
        .iter()
        .map(|&(body, mesh)| Measure::of(scene, body, mesh))
        .collect();
    let cut_all = |coarser: f64| -> (Vec<Vec<Option<CutRow>>>, usize) {
        let parts = bodies.iter().zip(&measures);
        let cut: Vec<Vec<Option<CutRow>>> = parts
            .map(|(&(_, mesh), measure)| cut_rows(mesh, measure, coarser))
            .collect();
        let added = cut.iter().flatten().flatten();
        let added = added.map(|row| row.facets.len() - 1).sum();
        (cut, added)
    };
    // Facets go with the square of the edge: a coarse look tells whether the fine one will fit.
    let (_, added) = cut_all(COARSE_LOOK);
    let foreseen = COARSE_LOOK * (added as f64 / MOST_ADDED as f64).sqrt();
    let mut coarser = if foreseen > 1.5 { foreseen } else { 1.0 };
    loop {
        let (cut, added) = cut_all(coarser);
        if added <= MOST_ADDED {
            if coarser > 1.0 {
                let floors: Vec<String> =
                    measures.iter().map(|m| mm(m.floor_m * coarser)).collect();
                warnings.push(format!(
                    "shadow edges and near faces would ask for more than {MOST_ADDED} facets beyond the \
                     mesh's own; facets are {} at least, and edges of the film finer than that are averaged \
                     over a facet",
                    floors.join(", ")
                ));
            }
            return cut;
        }
        let over = added as f64 / MOST_ADDED as f64;
        coarser *= over.sqrt().clamp(1.1, 4.0);
    }
}

fn cut_rows(mesh: &Mesh, measure: &Measure, coarser: f64) -> Vec<Option<CutRow>> {
    if mesh.triangles.len() >= FINE_ROWS {
        return (0..mesh.triangles.len()).map(|_| None).collect();
    }
    (0..mesh.triangles.len())
        .into_par_iter()
        .map(|row| {
            if mesh.needle[row] {
                return None;
            }
            let corners = mesh.triangles[row].map(|corner| mesh.vertices[corner as usize]);
            let mut cut = CutRow {
                bisections: Vec::new(),
                facets: Vec::new(),
            };
            let ask = |a: DVec3, b: DVec3| measure.too_long(a, b, coarser);
            let edges = [0, 1, 2].map(|i| Edge {
                too_long: ask(corners[i], corners[(i + 1) % 3]),
                rim: true,
            });
            cut.piece((corners, WHOLE, edges), &ask);
            (cut.facets.len() > 1).then_some(cut)
        })
        .collect()
}

/// An edge of a piece, from one corner to the next.
#[derive(Clone, Copy)]
struct Edge {
    too_long: bool,
    /// Part of an edge of the row: its neighbour cuts it just so.
    rim: bool,
}

/// Corners in space, weights in the row, edges (each from the corner of its number to the next).
type Piece = ([DVec3; 3], [DVec2; 3], [Edge; 3]);

/// Pieces whose area is under this share of their longest edge squared are slivers.
const SLIVER: f64 = 1.0 / 16.0;

/// The edge at which a piece is cut: the longest one that is too long.
///
/// Where the longest edge of all is short enough, only pieces that are no slivers are cut inside their row:
/// such cuts make slivers, and without end where answers differ from edge to edge. Rims are cut always, each a
/// bounded number of times.
fn edge_to_cut(corners: [DVec3; 3], edges: [Edge; 3]) -> Option<usize> {
    let squared = [0, 1, 2].map(|i: usize| corners[i].distance_squared(corners[(i + 1) % 3]));
    let longest = (0..3).max_by(|&i, &j| squared[i].total_cmp(&squared[j]))?;
    let [a, b, c] = corners;
    let stout = (b - a).cross(c - a).length() > 2.0 * SLIVER * squared[longest];
    (0..3)
        .filter(|&i| edges[i].too_long && (stout || edges[i].rim || edges[longest].too_long))
        .max_by(|&i, &j| squared[i].total_cmp(&squared[j]))
}

impl CutRow {
    /// Cuts a piece as long as [`edge_to_cut`] finds an edge; returns its number of facets.
    fn piece(&mut self, piece: Piece, ask: &impl Fn(DVec3, DVec3) -> bool) -> u32 {
        let (corners, weights, edges) = piece;
        let Some(edge) = edge_to_cut(corners, edges) else {
            self.facets.push(weights);
            return 1;
        };
        let number = self.bisections.len();
        let edge_number = [0_u8, 1, 2][edge];
        self.bisections.push(Bisection {
            edge: edge_number,
            left_facets: 0,
        });
        let [first_weights, second_weights] = bisect(weights, edge_number);
        let [a, b, c] = [edge, (edge + 1) % 3, (edge + 2) % 3].map(|i| corners[i]);
        let middle = 0.5 * (a + b);
        let half = |from: DVec3, to: DVec3| Edge {
            too_long: ask(from, to),
            rim: edges[edge].rim,
        };
        let across = Edge {
            too_long: ask(middle, c),
            rim: false,
        };
        // (a, m, c): edges am, mc, ca; (m, b, c): edges mb, bc, cm
        let first = (
            [a, middle, c],
            first_weights,
            [half(a, middle), across, edges[(edge + 2) % 3]],
        );
        let second = (
            [middle, b, c],
            second_weights,
            [half(middle, b), edges[(edge + 1) % 3], across],
        );
        let left_facets = self.piece(first, ask);
        self.bisections[number].left_facets = left_facets;
        left_facets + self.piece(second, ask)
    }
}

/// What decides how long an edge may be.
struct Measure<'a> {
    scene: &'a Scene,
    body: BodyId,
    plain_m: f64,
    floor_m: f64,
    views: Vec<View<'a>>,
}

/// A pose in which footprints are open.
struct View<'a> {
    configuration: usize,
    chamber_from_part: DAffine3,
    riding_from_chamber: DAffine3,
    footprints: Vec<&'a Footprint>,
    /// Parked for long enough: shadows stand still, and so do their edges.
    shadows: bool,
}

impl<'a> Measure<'a> {
    fn of(scene: &'a Scene, body: BodyId, mesh: &Mesh) -> Self {
        let bounds = crate::geometry::bounds(mesh.vertices.iter().copied());
        let extent_m = bounds.map_or(0.0, |[low, high]| (high - low).max_element());
        let area_m2: f64 = (0..mesh.triangles.len()).map(|row| mesh.area_m2(row)).sum();
        // facets of edge ¾ h on the average have an area of about 0.24 h²
        let by_number = (area_m2 / (0.24 * PLAIN_FACETS)).sqrt();
        Self {
            scene,
            body,
            plain_m: by_number.max(OF_EXTENT * extent_m),
            floor_m: FLOOR_OF_EXTENT * extent_m,
            views: views(scene, body),
        }
    }

    /// Whether an edge is too long; the same whichever way it is walked.
    fn too_long(&self, a: DVec3, b: DVec3, coarser: f64) -> bool {
        let length = a.distance(b);
        if length <= self.floor_m * coarser {
            return false;
        }
        if length > self.plain_m * coarser {
            return true;
        }
        let middle = 0.5 * (a + b);
        let near = self.views.iter().any(|view| {
            let at = view.chamber_from_part.transform_point3(middle);
            let mut distances = view
                .footprints
                .iter()
                .map(|footprint| distance_m(footprint, at));
            distances.any(|distance| length > OF_DISTANCE * coarser * distance)
        });
        near || self.views.iter().any(|view| {
            view.shadows
                && self
                    .penumbra_m(view, a, b)
                    .is_some_and(|w| length > OF_PENUMBRA * coarser * w)
        })
    }

    /// Width over which the edge of a shadow that crosses an edge is smeared, m; none if none crosses.
    ///
    /// w = D g / (H − g): footprint of diameter D at distance H, obstacle at distance g. A shadow crosses
    /// where of the lines from two points of the edge to points of a footprint some are clear and some are
    /// not. Lines that begin inside the part itself look away from the source: that is no shadow's edge.
    fn penumbra_m(&self, view: &View, a: DVec3, b: DVec3) -> Option<f64> {
        let points = [0.75 * a + 0.25 * b, 0.25 * a + 0.75 * b];
        let widths = view.footprints.iter().filter_map(|footprint| {
            let (centre, reach) = footprint.bounding_sphere();
            let (mut clear, mut width) = (false, f64::INFINITY);
            for point in points {
                let from = view.chamber_from_part.transform_point3(point);
                for to in marks(footprint, centre, reach) {
                    match self.line(view, from, to) {
                        Line::Clear => clear = true,
                        Line::Blocked { near_m, length_m } => {
                            let beyond = (length_m - near_m).max(1e-3 * length_m);
                            width = width.min(2.0 * reach * near_m / beyond);
                        }
                        Line::Inward => {}
                    }
                }
            }
            (clear && width.is_finite()).then_some(width)
        });
        widths.reduce(f64::min)
    }

    fn line(&self, view: &View, from: DVec3, to: DVec3) -> Line {
        let length_m = from.distance(to);
        let Some(direction) = (to - from).try_normalize() else {
            return Line::Clear;
        };
        // clear of the surface it starts on, and of the face it ends on
        let clear_m = 1e-2 * self.floor_m;
        let (start, end) = (from + direction * clear_m, to - direction * clear_m);
        let t_max = length_m - 2.0 * clear_m;
        if t_max <= 0.0 {
            return Line::Clear;
        }
        let configuration = &self.scene.configurations[view.configuration];
        let riding = &configuration.riding;
        let [riding_start, riding_end] =
            [start, end].map(|at| view.riding_from_chamber.transform_point3(at));
        // most lines are clear, and that is found sooner than what is met first
        if !configuration.still.kernel.blocked(start, end, None)
            && !riding.kernel.blocked(riding_start, riding_end, None)
        {
            return Line::Clear;
        }
        let still = configuration
            .still
            .kernel
            .first_hit(start, direction, t_max, None);
        let riding_direction = view.riding_from_chamber.transform_vector3(direction);
        let met = riding
            .kernel
            .first_hit(riding_start, riding_direction, t_max, None);
        let own = |triangle: u32| {
            let after = riding
                .bodies
                .partition_point(|(_, first)| *first <= triangle);
            after
                .checked_sub(1)
                .is_some_and(|index| riding.bodies[index].0 == self.body)
        };
        let still_t = still.map_or(f64::INFINITY, |hit| hit.t);
        match met {
            Some(hit) if hit.t <= still_t => {
                if own(hit.triangle) && !hit.from_front {
                    Line::Inward
                } else {
                    let near_m = hit.t + clear_m;
                    Line::Blocked { near_m, length_m }
                }
            }
            _ if still_t.is_finite() => Line::Blocked {
                near_m: still_t + clear_m,
                length_m,
            },
            _ => Line::Clear,
        }
    }
}

/// What a line from a part to a footprint meets.
enum Line {
    Clear,
    /// At this distance from the part, of the whole length.
    Blocked {
        near_m: f64,
        length_m: f64,
    },
    /// It begins inside the part.
    Inward,
}

/// Points spread over a footprint: its rim in three directions and its middle.
fn marks(footprint: &Footprint, centre: DVec3, reach: f64) -> impl Iterator<Item = DVec3> {
    let [along, across, _] = footprint.frame;
    let rim = (0..3).map(move |i| {
        let to = DVec2::from_angle(std::f64::consts::TAU * f64::from(i) / 3.0);
        centre + 0.9 * reach * (along * to.x + across * to.y)
    });
    rim.chain(std::iter::once(centre))
}

/// Distance of a point from a footprint, as of a disc around it, m.
fn distance_m(footprint: &Footprint, at: DVec3) -> f64 {
    let (centre, reach) = footprint.bounding_sphere();
    let away = at - centre;
    let height = away.dot(footprint.frame[2]);
    let aside = (away - footprint.frame[2] * height).length();
    height.hypot((aside - reach).max(0.0))
}

/// The poses in which a part sees open footprints: parked ones, and some of every motion.
fn views(scene: &Scene, body: BodyId) -> Vec<View<'_>> {
    let mut known: Vec<(usize, Angles, Vec<bool>)> = Vec::new();
    let mut views = Vec::new();
    // open time of each, s
    let mut parked_s: Vec<f64> = Vec::new();
    for step in scene.steps.iter().filter(|step| step.open.contains(&true)) {
        let riding = &scene.configurations[step.configuration].riding;
        let Some(index) = riding.bodies.iter().position(|(id, _)| *id == body) else {
            continue;
        };
        let parked = step.motion.moving() == 0;
        let poses = if parked { 1 } else { MOVING_POSES };
        let lasts_s = if parked { step.motion.lasts_s } else { 0.0 };
        for i in 0..poses {
            let angles = step
                .motion
                .angles_for((f64::from(i) + 0.5) / f64::from(poses));
            let key = (step.configuration, angles, step.open.clone());
            if let Some(number) = known.iter().position(|one| *one == key) {
                parked_s[number] += lasts_s;
                continue;
            }
            known.push(key);
            parked_s.push(lasts_s);
            let chamber_from_riding = scene.motion.pose(&angles);
            let open = scene
                .sources
                .iter()
                .zip(&step.open)
                .filter(|(_, open)| **open);
            views.push(View {
                configuration: step.configuration,
                chamber_from_part: chamber_from_riding * riding.poses[index],
                riding_from_chamber: chamber_from_riding.inverse(),
                footprints: open.map(|(source, _)| &source.footprint).collect(),
                shadows: false,
            });
        }
    }
    let open = scene.steps.iter().filter(|step| step.open.contains(&true));
    let open_s: f64 = open.map(|step| step.motion.lasts_s).sum();
    for (view, parked_s) in views.iter_mut().zip(parked_s) {
        view.shadows = parked_s > FAINT * open_s;
    }
    views
}

#[cfg(test)]
mod tests;
