//! Proofs that no line from a footprint can reach a row: `dark`, and `unreached`, exactly 0, where all fly straight or
//! the row lies in a closed cavity.
//!
//! In: parts, footprints, the schedule. Out: two flags per row and side. False in doubt: what is not proved
//! is left to the samples, which then say `none seen`.

use super::model::{Part, Scene, Side, Source};
use super::motion::Motion;
use super::sweep::{Stretch, Sweep};
use crate::plan::model::Faces;
use glam::{DAffine3, DVec3};
use rayon::prelude::*;

/// Cells made for one part, at most; a full turn is then cut into steps of 0.1 deg.
const CELLS: usize = 8192;

/// Share of the coordinates by which rounding can move a height over a plane: some ten steps of f64.
const ROUNDING: f64 = 2e-15;

/// Marks the rows of all parts that are proved to stay bare, or dark.
pub(super) fn prove(scene: &mut Scene) {
    let straight = scene.is_straight();
    let proved: Vec<[(Vec<bool>, Vec<bool>); 2]> = scene
        .parts
        .iter()
        .map(|part| {
            let views = Views::of(scene, part);
            [Side::Front, Side::Back].map(|side| {
                let rows = part.mesh.triangles.len();
                if side == Side::Back && part.faces != Faces::Both {
                    return (vec![false; rows], vec![false; rows]);
                }
                let sealed = views.keep_out_of_cavities(scene, part);
                (0..rows)
                    .into_par_iter()
                    .map(|row| {
                        let whole = !part.mesh.needle[row];
                        let sealed = sealed && part.mesh.sealed.get(row).copied().unwrap_or(false);
                        let dark =
                            whole && (sealed || views.below_horizon(scene, part, (row, side)));
                        (dark && (sealed || straight), dark)
                    })
                    .unzip()
            })
        })
        .collect();
    for (part, [front, back]) in scene.parts.iter_mut().zip(proved) {
        part.unreached = [front.0, back.0];
        part.dark = [front.1, back.1];
    }
}

/// What a part can see of the footprints through the whole run.
struct Views<'a> {
    runs: Vec<Run<'a>>,
}

/// Steps in which the part stands in one place of the riding frame.
struct Run<'a> {
    riding_from_part: DAffine3,
    sweep: Sweep<'a>,
    /// Sources with power in these steps.
    sources: Vec<usize>,
    /// Per cell and source: how far the footprint can stray from where the middle pose has it, m.
    stray_m: Vec<Vec<f64>>,
}

impl<'a> Views<'a> {
    fn of(scene: &'a Scene, part: &Part) -> Self {
        let mut kinds: Vec<(DAffine3, Vec<usize>, Vec<Stretch<'a>>)> = Vec::new();
        for step in &scene.steps {
            let powered = step
                .power
                .iter()
                .enumerate()
                .filter(|(_, power)| **power > 0.0);
            let sources: Vec<usize> = powered.map(|(source, _)| source).collect();
            if sources.is_empty() {
                continue;
            }
            let riding = &scene.configurations[step.configuration].riding;
            let index = riding.bodies.iter().position(|(id, _)| *id == part.body);
            let riding_from_part = index.map_or(DAffine3::IDENTITY, |i| riding.poses[i]);
            let stretch = Stretch::box_of_step(&step.motion);
            match kinds
                .iter_mut()
                .find(|k| k.0 == riding_from_part && k.1 == sources)
            {
                Some(kind) => kind.2.push(stretch),
                None => kinds.push((riding_from_part, sources, vec![stretch])),
            }
        }
        let cells = CELLS / kinds.len().max(1);
        let runs = kinds
            .into_iter()
            .map(|(riding_from_part, sources, stretches)| {
                Run::new(scene, riding_from_part, sources, (stretches, cells))
            });
        Self {
            runs: runs.collect(),
        }
    }

    /// Whether every footprint stays behind the plane of a row, seen from one side, through all cells.
    fn below_horizon(&self, scene: &Scene, part: &Part, (row, side): (usize, Side)) -> bool {
        let corners = part.mesh.triangles[row].map(|corner| part.mesh.vertices[corner as usize]);
        self.runs.iter().all(|run| {
            let [a, b, c] = corners.map(|corner| run.riding_from_part.transform_point3(corner));
            let normal = (b - a).cross(c - a).normalize_or_zero();
            let normal = match side {
                Side::Front => normal,
                Side::Back => -normal,
            };
            // the lowest corner counts, and the rounding of heights over the plane is left as a margin
            run.all_below(&scene.sources, [a, b, c], normal)
        })
    }

    /// Whether no footprint comes near the closed cavities of the part, so that they are dark.
    fn keep_out_of_cavities(&self, scene: &Scene, part: &Part) -> bool {
        let walls = part.mesh.triangles.iter().zip(&part.mesh.sealed);
        let walls = walls.filter(|(_, sealed)| **sealed);
        let corners =
            walls.flat_map(|(row, _)| row.map(|corner| part.mesh.vertices[corner as usize]));
        let Some([low, high]) = crate::geometry::bounds(corners) else {
            return false;
        };
        let (middle, radius) = (0.5 * (low + high), 0.5 * (high - low).length());
        self.runs.iter().all(|run| {
            let middle = run.riding_from_part.transform_point3(middle);
            run.all_away(&scene.sources, middle, radius)
        })
    }
}

impl<'a> Run<'a> {
    fn new(
        scene: &'a Scene,
        riding_from_part: DAffine3,
        sources: Vec<usize>,
        (stretches, cells): (Vec<Stretch<'a>>, usize),
    ) -> Self {
        let motion: &Motion = &scene.motion;
        let mut sweep = Sweep::new(motion, stretches);
        // breadth first, so that all parts of the motion are cut equally fine
        let mut next = 0;
        let mut made = sweep.roots().len();
        while next < made && made + 2 <= cells {
            let cell = super::shapes::number(next);
            if !sweep.cell(cell).is_still() {
                let _ = sweep.halves(cell);
                made += 2;
            }
            next += 1;
        }
        let spheres: Vec<(DVec3, f64)> = sources
            .iter()
            .map(|&source| scene.sources[source].footprint.bounding_sphere())
            .collect();
        let strays = (0..made).map(|cell| {
            let stray = |&(centre, radius): &(DVec3, f64)| {
                sweep.stray_seen_m(super::shapes::number(cell), centre, radius)
            };
            spheres.iter().map(stray).collect()
        });
        Self {
            riding_from_part,
            stray_m: strays.collect(),
            sweep,
            sources,
        }
    }

    fn all_below(&self, sources: &[Source], corners: [DVec3; 3], normal: DVec3) -> bool {
        let mut stack: Vec<u32> = self.sweep.roots().collect();
        while let Some(cell) = stack.pop() {
            let pose = &self.sweep.cell(cell).pose;
            let normal = pose.transform_vector3(normal);
            let corners = corners.map(|corner| pose.transform_point3(corner));
            let heights = corners.map(|corner| normal.dot(corner));
            let plane = heights.into_iter().fold(f64::INFINITY, f64::min);
            let reach = corners.map(DVec3::length).into_iter().fold(0.0, f64::max);
            let mut open = false;
            for (&source, &stray) in self.sources.iter().zip(&self.stray_m[cell as usize]) {
                let footprint = &sources[source].footprint;
                let above = footprint.support(normal) - plane;
                let (centre, radius) = footprint.bounding_sphere();
                let rounding = ROUNDING * (reach + centre.length() + radius);
                if above > rounding {
                    return false; // seen in this very pose
                }
                open |= stray > 0.0 && above + stray > rounding;
            }
            if open {
                match self.sweep.made_halves(cell) {
                    Some(halves) => stack.extend(halves),
                    None => return false,
                }
            }
        }
        true
    }

    fn all_away(&self, sources: &[Source], middle: DVec3, radius_m: f64) -> bool {
        let mut stack: Vec<u32> = self.sweep.roots().collect();
        while let Some(cell) = stack.pop() {
            let at = self.sweep.cell(cell).pose.transform_point3(middle);
            let mut open = false;
            for (&source, &stray) in self.sources.iter().zip(&self.stray_m[cell as usize]) {
                let (centre, radius) = sources[source].footprint.bounding_sphere();
                let apart = at.distance(centre) - radius - radius_m;
                if apart <= 0.0 {
                    return false;
                }
                open |= apart <= stray;
            }
            if open {
                match self.sweep.made_halves(cell) {
                    Some(halves) => stack.extend(halves),
                    None => return false,
                }
            }
        }
        true
    }
}

/// Rows of every part that lie inside another solid of it.
pub(super) fn buried(scene: &mut Scene) {
    for part in &mut scene.parts {
        part.buried = crate::mesh::find_buried(&part.mesh);
        part.buried.resize(part.mesh.triangles.len(), false);
    }
}

#[cfg(test)]
mod tests;
