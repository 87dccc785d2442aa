//! Corrected stencils: edges moved until half the open film ends where they were drawn, and looked at again.
//!
//! In: a scene with stencils. Out: [`StencilFilm`] per stencil. Every round cuts a sheet after the moved outlines, lays
//! it as the plan says, and looks across all edges anew.

use super::Rates;
use super::edges::{Edges, Look, look, stations_of};
use crate::scene::Scene;
use crate::scene::stencils::{area_with, with_sheet};
use crate::stencil::{Opens, Outlines, Station, Vanished, moved};

/// Rounds of moving and looking again, at most.
const ROUNDS: usize = 3;

/// Share of the edge length that must be true to stop earlier.
const ENOUGH: f64 = 0.985;

/// Most that an edge is moved, in widths of its penumbra.
const MOST_MOVE: f64 = 2.0;

/// The film under a stencil.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct StencilFilm {
    /// Across all edges, as drawn.
    pub edges: Edges,
    /// How the edges would have to be cut; none if that was stopped.
    pub corrected: Option<Corrected>,
}

/// A corrected stencil.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Corrected {
    /// The shapes to cut.
    pub shapes: Outlines,
    /// The film across the edges of the corrected sheet, distances from the edges as drawn.
    pub edges: Edges,
    /// Largest move of an edge, m.
    pub most_m: f64,
    /// What vanished.
    pub vanished: Vanished,
}

/// Looks at all stencils of a scene and corrects them; as many as could be finished before a stop.
pub(crate) fn all(
    scene: &Scene,
    rates: &Rates,
    seed: u64,
    stop: &(dyn Fn() -> bool + Sync),
) -> Vec<StencilFilm> {
    (0..scene.stencils.len())
        .map_while(|index| one(scene, rates, (seed, stop), index))
        .collect()
}

fn one(
    scene: &Scene,
    rates: &Rates,
    (seed, stop): (u64, &(dyn Fn() -> bool + Sync)),
    index: usize,
) -> Option<StencilFilm> {
    let open = with_sheet(scene, index, None).ok()?;
    let stations = stations_of(scene, index);
    let drawn = Look {
        scene,
        open: &open,
        rates,
        seed,
        stop,
    };
    let edges = look(&drawn, index, &stations, &vec![0.0; stations.len()])?;
    let corrected = correct(&drawn, index, (&stations, &edges));
    Some(StencilFilm { edges, corrected })
}

/// Moves every piece of edge by as much as its film is off, round by round; the best round counts.
fn correct(
    drawn: &Look,
    index: usize,
    (stations, edges): (&[Station], &Edges),
) -> Option<Corrected> {
    let scene = drawn.scene;
    let opens = if scene.plan.masks[index].opens_shapes {
        Opens::Shapes
    } else {
        Opens::Ground
    };
    let shapes = &scene.stencils[index].artwork.shapes;
    let mut moves = vec![0.0; stations.len()];
    let mut last = edges.clone();
    let mut best: Option<Corrected> = None;
    for _ in 0..ROUNDS {
        for (own, profile) in moves.iter_mut().zip(&last.profiles) {
            let most = MOST_MOVE * profile.penumbra_m;
            // an opening that is dark to its middle is opened a little; the next round sees how much that brings
            let off = profile.half_m.unwrap_or(0.3 * profile.penumbra_m);
            *own = (*own - off).clamp(-most, most);
        }
        let cut = moved(shapes, opens, stations, &moves).ok()?;
        let area = area_with(scene, index, &cut).ok()?;
        let other = with_sheet(scene, index, Some(&area)).ok()?;
        let again = Look {
            scene: &other,
            ..*drawn
        };
        let Some(found) = look(&again, index, stations, &moves) else {
            break; // stopped: what the rounds before found stands
        };
        let share = found.true_share();
        if best
            .as_ref()
            .is_none_or(|best| share > best.edges.true_share())
        {
            best = Some(Corrected {
                vanished: Vanished::of(shapes, &cut),
                shapes: cut,
                edges: found.clone(),
                most_m: moves.iter().fold(0.0, |most: f64, m| most.max(m.abs())),
            });
        }
        if share >= ENOUGH {
            break;
        }
        last = found;
    }
    best
}
