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

/// Most that an edge is moved, in widths of its penumbra or, where that is more, in how far from the edge it ends.
const MOST_MOVE: f64 = 2.0;

/// Lines of a point per scrambling while edges are moved: where half the film ends is known well by fewer than its height.
const LINES: u16 = 4;

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
    let stations = stations_of(scene, rates, index);
    let drawn = Look {
        scene,
        open: &open,
        rates,
        seed,
        lines: super::edges::LINES,
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
            if profile.station.is_at_corner {
                continue;
            }
            let most = MOST_MOVE * profile.penumbra_m.max(profile.reach_m);
            // an opening that is dark to its middle is opened a little; the next round sees how much that brings
            let off = profile.half_m.unwrap_or(0.3 * profile.penumbra_m);
            *own = (*own - off).clamp(-most, most);
        }
        moves_beside_corners(stations, &mut moves);
        let cut = moved(shapes, opens, stations, &moves).ok()?;
        let area = area_with(scene, index, &cut).ok()?;
        let other = with_sheet(scene, index, Some(&area)).ok()?;
        let again = Look {
            scene: &other,
            lines: LINES,
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

/// Edges beside corners go with the nearest piece of their side that is not, or of their contour where there is none: what
/// a corner rounds off no move of an edge mends.
fn moves_beside_corners(stations: &[Station], moves: &mut [f64]) {
    let known = moves.to_vec();
    // the nearest that is not beside a corner, before and after each
    let nearest = |order: &mut dyn Iterator<Item = usize>| {
        let (mut found, mut last) = (vec![None; stations.len()], None);
        for number in order {
            let station = &stations[number];
            if !station.is_at_corner {
                last = Some(number);
            }
            found[number] =
                last.filter(|&other: &usize| stations[other].contour == station.contour);
        }
        found
    };
    let before = nearest(&mut (0..stations.len()));
    let after = nearest(&mut (0..stations.len()).rev());
    for (number, own) in stations.iter().enumerate().filter(|(_, s)| s.is_at_corner) {
        let beside = [before[number], after[number]];
        let closest = beside.into_iter().flatten().min_by(|&a, &b| {
            let key = |other: usize| {
                (
                    stations[other].side.0 != own.side.0,
                    stations[other].at_m.distance(own.at_m),
                )
            };
            let ((far, away), (further, beyond)) = (key(a), key(b));
            far.cmp(&further).then(away.total_cmp(&beyond))
        });
        moves[number] = closest.map_or(0.0, |other| known[other]);
    }
}
