//! Lines on parts: edges of named regions, and probes.

use super::{LIFTED, Place, Solids};
use evenfall_sim::geometry::edge_key;
use evenfall_sim::outcome::{Outcome, PartOutcome};
use glam::DVec3;
use std::collections::HashMap;

const REGION: [u8; 4] = [214, 48, 132, 255];
const PROBE: [u8; 4] = [235, 235, 235, 255];
const PROBE_TICK: [u8; 4] = [20, 20, 20, 255];

/// Edges between rows that do not belong to the same regions, and free edges of regions.
///
/// Rows, not facets: facets of neighbouring rows need not share corners.
pub fn region_edges(part: &PartOutcome) -> Vec<[DVec3; 2]> {
    let mut regions = vec![0; part.triangles.len()];
    for facet in &part.facets {
        if let Some(row) = regions.get_mut(facet.row as usize) {
            *row = facet.regions;
        }
    }
    if regions.iter().all(|&regions| regions == 0) {
        return Vec::new();
    }
    let mut open: HashMap<[[u64; 3]; 2], (u64, [DVec3; 2])> = HashMap::new();
    let mut edges = Vec::new();
    for (row, &regions) in part.triangles.iter().zip(&regions) {
        let [a, b, c] = row.map(|corner| part.vertices_m[corner as usize]);
        for ends in [[a, b], [b, c], [c, a]] {
            match open.remove(&edge_key(ends)) {
                Some((other, _)) if other == regions => {}
                Some(_) => edges.push(ends),
                None => {
                    open.insert(edge_key(ends), (regions, ends));
                }
            }
        }
    }
    let free = open.into_values().filter(|(regions, _)| *regions != 0);
    let mut free: Vec<[DVec3; 2]> = free.map(|(_, ends)| ends).collect();
    // in an order that does not depend on hashes
    free.sort_by_key(|ends| edge_key(*ends));
    edges.extend(free);
    edges
}

impl Solids {
    /// Adds the lines of an outcome.
    pub(super) fn traces(&mut self, outcome: &Outcome) {
        for (number, part) in outcome.parts.iter().enumerate() {
            for ends in region_edges(part) {
                self.flagged_line(ends, (Place::Part(number), LIFTED), REGION);
            }
        }
        for ((_, points), name) in outcome.probes.iter().zip(&outcome.probe_parts) {
            let Some(part) = outcome.parts.iter().position(|part| part.name == *name) else {
                continue;
            };
            for (number, pair) in points.windows(2).enumerate() {
                let ends = [pair[0].position_m, pair[1].position_m];
                // dashes: a line of one colour could be that of the film
                let rgba = if number % 4 < 2 { PROBE } else { PROBE_TICK };
                self.flagged_line(ends, (Place::Part(part), LIFTED), rgba);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::Action;
    use crate::panel::tests::{empty, folder, settle};

    #[test]
    fn the_edge_of_a_region_runs_between_its_facets_and_all_others() {
        let (_folder, plan) = folder();
        let region =
            "[[region]]\nname = \"top\"\npart = \"cube\"\nfacing = [0, 0, 1]\nwithin = \"5 deg\"\n";
        let text = std::fs::read_to_string(&plan).unwrap() + region;
        std::fs::write(&plan, text).unwrap();
        let mut state = empty();
        state.apply(Action::Open(plan));
        settle(&mut state);
        let shown = state.shown.as_ref().expect("a map");
        let edges = region_edges(&shown.outcome.parts[0]);
        let length: f64 = edges.iter().map(|[a, b]| a.distance(*b)).sum();
        // the top of a cube of 20 mm: four edges
        assert!((length - 0.08).abs() < 1e-9, "{length}");
        let [low, high] = [f64::min, f64::max].map(|pick| {
            let heights = edges.iter().flatten().map(|at| at.z);
            heights.reduce(pick).unwrap()
        });
        assert!((low - 0.01).abs() < 1e-12 && (high - 0.01).abs() < 1e-12);
    }
}
