//! What the film is worth: looks, conducts, grows, and what it takes, as sentences with ranges.
//!
//! In: parts with their film, the metal, what the plan says of the part. Out: what the summary says of each part. The
//! physics is [`crate::worth`]'s.

mod conducts;
mod grows;
mod heat;
mod layers;
mod looks;
pub mod map;
mod purity;
mod target;

use super::figures::trimmed;
use super::model::{Facet, Outcome, PartOutcome, Summary};
use super::survey::area_m2;
use crate::constants::ELEMENTARY_CHARGE_C;
use crate::film::State;
use crate::scene::{Scene, Step};
use crate::stats::weighted_quantiles;
use crate::transport::Rates;
use crate::worth::resistance::NoPath;
use glam::DVec3;
use layers::{Layers, Mixed};
use std::collections::BTreeMap;

/// Resistance between two needles pressed on a part, in words with its range.
///
/// - `part`: its number; `at_m`: places on it, part's coordinates, m
///
/// # Errors
/// Why none is told, in words.
pub fn resistance_in_words(
    outcome: &Outcome,
    part: usize,
    at_m: [DVec3; 2],
) -> Result<String, String> {
    let part = outcome.parts.get(part).ok_or("no such part")?;
    let layers = Layers::of_outcome(outcome).map_err(|mixed| not_known(&mixed))?;
    let sheet = conducts::sheet(part, &layers)
        .ok_or_else(|| format!("how films of {} conduct is not known", layers.in_words()))?;
    let needle_m = conducts::needle_m(part);
    let found = conducts::between(&sheet, at_m, needle_m);
    let ohm = found.map_err(|why: NoPath| why.to_string())?;
    Ok(format!(
        "about {} between needles of {} mm",
        conducts::ohm_in_words(ohm),
        trimmed((2e5 * needle_m).round() / 100.0)
    ))
}

/// Why looks and conduction of a scene's film are not told: two metals grow at the same time.
pub(super) fn mixed(scene: &Scene) -> Option<String> {
    Layers::of_scene(scene).err().map(|mixed| not_known(&mixed))
}

/// Why a mixture is not told of.
fn not_known(Mixed([one, other]): &Mixed) -> String {
    format!(
        "{one} and {other} grow at the same time: how their mixture looks and conducts is not known"
    )
}

/// Tells what the films of the parts are worth, and what the run takes from its sources.
pub fn tell(summary: &mut Summary, parts: &[PartOutcome], (scene, rates): (&Scene, &Rates)) {
    let layers = Layers::of_scene(scene);
    let doubts = summary.doubt.iter();
    let rate_factors: BTreeMap<String, f64> = doubts
        .map(|(source, doubt)| (source.clone(), doubt.factor))
        .collect();
    for (part, planned) in parts.iter().zip(&scene.plan.parts) {
        let name = || part.name.clone();
        let layers = layers.as_ref().ok();
        let (conducts, (looks, grows)) = rayon::join(
            || layers.and_then(|layers| conducts::conducts(part, layers)),
            || {
                let looks = layers.and_then(|layers| looks::looks(part, layers));
                (looks, grows::grows(part))
            },
        );
        summary.looks.extend(looks.map(|told| (name(), told)));
        summary.conducts.extend(conducts.map(|told| (name(), told)));
        summary.grows.extend(grows.map(|told| (name(), told)));
        let asked = heat::Asked {
            part,
            planned,
            scene,
            rates,
            arriving_j: arriving_j(summary, &part.name),
            rate_factors: rate_factors.clone(),
        };
        summary
            .heat
            .extend(heat::heat(&asked).map(|told| (name(), told)));
        let purity = purity::purity(part, scene);
        summary.purity.extend(purity.map(|told| (name(), told)));
    }
    summary.target.extend(target::wear(scene, rates));
}

/// Mean energy with which fired atoms arrived on a part, J, where gas made it worth looking at.
fn arriving_j(summary: &Summary, part: &str) -> Option<f64> {
    let arrivals = &summary.flight.as_ref()?.parts;
    let of_part = arrivals.iter().find(|arrival| arrival.part == part)?;
    let mean_ev = of_part.energy_ev?.mean;
    (mean_ev > 0.0).then_some(mean_ev * ELEMENTARY_CHARGE_C)
}

/// A facet with its area.
struct Piece<'a> {
    /// Its place in the part's films by step and by metal.
    number: usize,
    facet: &'a Facet,
    area_m2: f64,
}

/// The facets of a part that count, front and back.
fn pieces(part: &PartOutcome) -> Vec<Piece<'_>> {
    let both = part.facets.iter().chain(&part.back_facets).enumerate();
    let counted = both.filter(|(_, facet)| !matches!(facet.state, State::Buried | State::Needle));
    let pieces = counted.map(|(number, facet)| Piece {
        number,
        facet,
        area_m2: area_m2(facet),
    });
    pieces.collect()
}

/// Time during which some source that is meant is open, s.
fn open_s(scene: &Scene, meant: impl Fn(usize) -> bool) -> f64 {
    let open = |step: &&Step| (0..step.open.len()).any(|source| step.open[source] && meant(source));
    scene
        .steps
        .iter()
        .filter(open)
        .map(|step| step.lasts_s)
        .sum()
}

/// Share of the area for which something holds.
fn share(pieces: &[Piece<'_>], holds: impl Fn(&Facet) -> bool) -> f64 {
    let all: f64 = pieces.iter().map(|piece| piece.area_m2).sum();
    let some = pieces.iter().filter(|piece| holds(piece.facet));
    // the sum of nothing is −0
    (some.map(|piece| piece.area_m2).sum::<f64>() + 0.0) / all.max(f64::MIN_POSITIVE)
}

/// Share of the area of the pieces whose number among them fulfils a condition.
fn share_of(pieces: &[Piece<'_>], holds: impl Fn(usize) -> bool) -> f64 {
    let all: f64 = pieces.iter().map(|piece| piece.area_m2).sum();
    let some = (0..pieces.len()).filter(|&k| holds(k));
    // the sum of nothing is −0
    (some.map(|k| pieces[k].area_m2).sum::<f64>() + 0.0) / all.max(f64::MIN_POSITIVE)
}

/// Values below which 5, 50 and 95 % of the area lie; none without area.
///
/// - `of`: value and area, m²
fn quantiles_of(of: impl Iterator<Item = (f64, f64)>) -> Option<[f64; 3]> {
    let (values, weights): (Vec<f64>, Vec<f64>) = of.unzip();
    let found = weighted_quantiles(&values, &weights, &[0.05, 0.5, 0.95])?;
    found.try_into().ok()
}

#[cfg(test)]
mod tests;
