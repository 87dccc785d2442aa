//! How warm a part gets, as a sentence with ranges.
//!
//! In: a part with its film by step, the scene, the rates, how energetic atoms arrive. Out: what the summary says of the
//! part's heat. The physics is [`crate::worth::heat`]'s, [`crate::worth::arrival`]'s and [`crate::worth::materials`]'s.

mod load;
mod words;

use super::super::model::{HeatRests, PartHeat, PartOutcome};
use super::Piece;
use crate::plan::model::Part;
use crate::scene::Scene;
use crate::transport::Rates;
use crate::worth::heat::{CHAMBER_K, Rests, Wall, steady_k};
use crate::worth::materials::{Material, Spread};
use load::{Loads, loads};
use std::collections::BTreeMap;

/// Kelvins at 0 °C; exact.
const ZERO_C_K: f64 = 273.15;
/// Emissivity below which nothing radiates worth counting.
const LEAST_EMISSIVITY: f64 = 1e-3;

/// What the heat of a part hangs on.
pub(super) struct Asked<'a> {
    pub(super) part: &'a PartOutcome,
    pub(super) planned: &'a Part,
    pub(super) scene: &'a Scene,
    pub(super) rates: &'a Rates,
    /// Mean energy with which fired atoms arrived, J, where it was looked at.
    pub(super) arriving_j: Option<f64>,
    /// By how much the rates of sources may be off, as factors, by name.
    pub(super) rate_factors: BTreeMap<String, f64>,
}

/// How warm a part gets.
///
/// - returns none without film
pub(super) fn heat(asked: &Asked<'_>) -> Option<PartHeat> {
    let pieces = super::pieces(asked.part);
    let loads = loads(asked, &pieces)?;
    let body = Body::of(asked.planned, asked.part, &pieces);
    let steps = asked.scene.plan.steps.iter().map(|step| Stretch {
        lasts_s: step.lasts_s,
        vented: step.vent,
    });
    Some(told(&body, &loads, &steps.collect::<Vec<_>>()))
}

/// A step, as far as heat asks.
struct Stretch {
    lasts_s: f64,
    vented: bool,
}

/// What of the part the plan and the table say.
struct Body {
    said: Option<String>,
    spread: Spread,
    /// From and to, where known.
    emissivity: Option<[f64; 2]>,
    /// J/(m² K), of the place that decides.
    capacity_j_per_m2_k: Option<f64>,
    wall_said: bool,
    limit_k: Option<f64>,
}

impl Body {
    fn of(planned: &Part, part: &PartOutcome, pieces: &[Piece<'_>]) -> Self {
        let material = planned.material.as_deref().and_then(Material::of);
        let spread = material.map_or(Spread::Stays, |known| known.spread);
        let said = planned.emissivity.map(|e| [e.max(LEAST_EMISSIVITY); 2]);
        let capacity = material.zip(planned.wall_m).map(|(known, wall_m)| {
            let per_volume = known.density_kg_per_m3 * known.specific_heat_j_per_kg_k;
            per_volume * depth_m(wall_m, spread, (part, pieces))
        });
        Self {
            said: planned.material.clone(),
            spread,
            emissivity: said.or(material.map(|known| known.emissivity())),
            capacity_j_per_m2_k: capacity,
            wall_said: planned.wall_m.is_some(),
            limit_k: planned.limit_k.or(material.map(|known| known.limit_k)),
        }
    }

    /// The wall that gets warmest and the one that stays coolest.
    fn walls(&self) -> Option<[Wall; 2]> {
        let capacity_j_per_m2_k = self.capacity_j_per_m2_k?;
        let [low, high] = self.emissivity?;
        Some([low, high].map(|emissivity| Wall {
            capacity_j_per_m2_k,
            emissivity,
        }))
    }
}

/// Depth of wall behind a counted face, m.
///
/// Both sides counted: half the wall each. The mean of a closed part: volume over area where that is less, since a mesh with
/// an inner and an outer skin counts the wall from both.
fn depth_m(wall_m: f64, spread: Spread, (part, pieces): (&PartOutcome, &[Piece<'_>])) -> f64 {
    if part.both_sides {
        return 0.5 * wall_m;
    }
    let area_m2: f64 = pieces.iter().map(|piece| piece.area_m2).sum();
    let closed = part.health.open_sheets == 0 && part.health.closed_shells > 0;
    if spread == Spread::Stays || !closed || area_m2 <= 0.0 {
        return wall_m;
    }
    // divergence theorem: Σ a·(b × c)/6
    let volumes = part.triangles.iter().map(|triangle| {
        let [a, b, c] = triangle.map(|corner| part.vertices_m[corner as usize]);
        a.dot(b.cross(c)) / 6.0
    });
    let volume_m3: f64 = volumes.sum();
    if volume_m3 > 0.0 {
        wall_m.min(volume_m3 / area_m2)
    } else {
        wall_m
    }
}

fn told(body: &Body, loads: &Loads, steps: &[Stretch]) -> PartHeat {
    let by_step = match body.spread {
        Spread::Stays => &loads.most,
        Spread::Spreads => &loads.mean,
    };
    let hottest = loads.hottest;
    let load = by_step[hottest];
    let walls = body.walls();
    let rise = body
        .capacity_j_per_m2_k
        .map(|capacity| load.map(|q| 60.0 * q / capacity));
    let steady = body
        .emissivity
        .map(|[low, high]| [steady_k(load[0], high), steady_k(load[1], low)]);
    let highest = walls.map(|[warm, cool]| {
        [
            highest_k(&cool, by_step, (steps, 0)),
            highest_k(&warm, by_step, (steps, 1)),
        ]
    });
    let after = |wall: Wall, q: f64| wall.time_s((CHAMBER_K, body.limit_k?), q);
    let limit_after_s = walls.map_or([None; 2], |[warm, cool]| {
        [after(warm, load[1]), after(cool, load[0])]
    });
    let too_warm = highest
        .zip(body.limit_k)
        .is_some_and(|(highest, limit_k)| highest[1] >= limit_k);
    let rests = walls
        .zip(body.limit_k)
        .filter(|_| too_warm)
        .and_then(|([warm, _], limit_k)| warm.rests(load[1], limit_k));
    let in_c = |range: [f64; 2]| range.map(|k| k - ZERO_C_K);
    let mut heat = PartHeat {
        sentence: String::new(),
        hottest_step: hottest,
        decides: decides(body.spread).to_owned(),
        mean_w_per_m2: loads.mean[hottest],
        most_w_per_m2: loads.most[hottest],
        rise_k_per_min: rise,
        steady_c: steady.map(in_c),
        highest_c: highest.map(in_c),
        limit_c: body.limit_k.map(|k| k - ZERO_C_K),
        limit_after_min: limit_after_s.map(|time_s| time_s.map(|s| s / 60.0)),
        rests: rests.map(in_minutes),
    };
    let rest = words::Rest {
        missing: &missing(body),
        without_glow: loads.without_glow.as_deref(),
        guessed: loads.guessed.as_deref(),
    };
    heat.sentence = words::sentence(&heat, &rest);
    heat
}

fn in_minutes((rests, highest_k): (Rests, f64)) -> HeatRests {
    HeatRests {
        on_min: rests.on_s / 60.0,
        off_min: rests.off_s / 60.0,
        highest_c: highest_k - ZERO_C_K,
    }
}

fn decides(spread: Spread) -> &'static str {
    match spread {
        Spread::Stays => "the place that gets most",
        Spread::Spreads => "the mean of the part",
    }
}

/// What the plan must say before more can be told, in its own words.
fn missing(body: &Body) -> Vec<String> {
    let mut missing = Vec::new();
    match &body.said {
        None => missing.push("material".to_owned()),
        Some(said) if body.capacity_j_per_m2_k.is_none() && body.wall_said => {
            missing.push(format!("a material that is known here ({said} is not)"));
        }
        Some(said) if body.emissivity.is_none() => {
            missing.push(format!("a material that is known here ({said} is not)"));
        }
        Some(_) => {}
    }
    if !body.wall_said {
        missing.push("wall".to_owned());
    }
    missing
}

/// The warmest that a wall gets in the schedule, K; before a vent it cools to the chamber's temperature.
fn highest_k(wall: &Wall, by_step: &[[f64; 2]], (steps, end): (&[Stretch], usize)) -> f64 {
    let (mut at_k, mut highest_k) = (CHAMBER_K, CHAMBER_K);
    for (step, load) in steps.iter().zip(by_step) {
        if step.vented {
            at_k = CHAMBER_K;
        }
        // under an even load a temperature runs one way: the ends are the extremes
        at_k = wall.after_k(at_k, load[end], step.lasts_s);
        highest_k = highest_k.max(at_k);
    }
    highest_k
}

#[cfg(test)]
mod tests;
