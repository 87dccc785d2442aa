//! What the film is worth: looks, conducts, grows, and what it takes, as sentences with ranges.
//!
//! In: parts with their film, the metal, what the plan says of the part. Out: what the summary says of each part. The
//! physics is [`crate::worth`]'s.

mod heat;
mod purity;
mod target;

use super::figures::{percent, significant, three, trimmed};
use super::model::{Facet, PartConducts, PartGrowth, PartLooks, PartOutcome, Summary};
use crate::constants::ELEMENTARY_CHARGE_C;
use crate::film::State;
use crate::geometry::edge_key;
use crate::scene::{Scene, Step};
use crate::stats::weighted_quantiles;
use crate::transport::Rates;
use crate::worth::conduction::Conductor;
use crate::worth::growth::{DULL_BEYOND_RAD, DULL_FROM_M, tilt_range_rad};
use crate::worth::optics::{film, green_index_of};
use std::collections::HashMap;

/// Light in which an eye sees best, m.
const GREEN_M: f64 = 550e-9;
/// Refractive index of what the film lies on: glass and clear plastics, 1.46 to 1.59 (common practice, no source).
const BODY: f64 = 1.5;
/// A film that lets less than this through looks solid.
const SOLID: f64 = 1e-3;
/// Thicknesses between which a film turns solid are searched, m.
const SEARCHED_M: [f64; 2] = [1e-9, 2e-6];

/// Tells what the films of the parts are worth, and what the run takes from its sources.
pub fn tell(summary: &mut Summary, parts: &[PartOutcome], (scene, rates): (&Scene, &Rates)) {
    for (part, planned) in parts.iter().zip(&scene.plan.parts) {
        let name = || part.name.clone();
        if let [metal] = scene.metals.as_slice() {
            let looks = looks(part, &metal.name);
            summary.looks.extend(looks.map(|told| (name(), told)));
            let conducts = conducts(part, &metal.name);
            summary.conducts.extend(conducts.map(|told| (name(), told)));
        }
        summary.grows.extend(grows(part).map(|told| (name(), told)));
        let asked = heat::Asked {
            part,
            planned,
            scene,
            rates,
            arriving_j: arriving_j(summary, &part.name),
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
    let pieces = counted.map(|(number, facet)| {
        let [a, b, c] = facet.corners_m;
        let area_m2 = 0.5 * (b - a).cross(c - a).length();
        Piece {
            number,
            facet,
            area_m2,
        }
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

/// Thicknesses below which 5, 50 and 95 % of the area with film lie, m; none without film.
fn quantiles(pieces: &[Piece<'_>], holds: impl Fn(&Facet) -> bool) -> Option<[f64; 3]> {
    let kept = || {
        pieces
            .iter()
            .filter(|p| p.facet.thickness_m > 0.0 && holds(p.facet))
    };
    let values: Vec<f64> = kept().map(|piece| piece.facet.thickness_m).collect();
    let weights: Vec<f64> = kept().map(|piece| piece.area_m2).collect();
    let found = weighted_quantiles(&values, &weights, &[0.05, 0.5, 0.95])?;
    found.try_into().ok()
}

/// Thickness from which a metal looks solid, m.
fn solid_from_m(index: [f64; 2]) -> f64 {
    let [mut low, mut high] = SEARCHED_M;
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if film(index, middle, GREEN_M, BODY).through > SOLID {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// How a part looks; none without film or where the metal's n and k are not known.
pub fn looks(part: &PartOutcome, metal: &str) -> Option<PartLooks> {
    let index = green_index_of(metal)?;
    let pieces = pieces(part);
    let [thin_m, _, thick_m] = quantiles(&pieces, |_| true)?;
    let through = [thick_m, thin_m].map(|t| film(index, t, GREEN_M, BODY).through);
    let solid_from_m = solid_from_m(index);
    let solid = share(&pieces, |facet| facet.thickness_m >= solid_from_m);
    let islands_m = Conductor::of(metal).map(|conductor| conductor.closes_m);
    let maybe_islands = islands_m.is_some_and(|[_, closed_m]| thin_m < closed_m);
    let mut sentence = format!(
        "{} of the area looks like solid {metal} (from about {} nm on); elsewhere what is below shows through",
        percent(solid),
        three(1e9 * solid_from_m)
    );
    if through[1] > SOLID {
        let [least, most] = through.map(|share| significant(100.0 * share, 2));
        sentence += &if through[0] > SOLID {
            format!(", and nine tenths of the film let {least} to {most} % of green light into it")
        } else {
            format!(", where up to {most} % of green light goes into it")
        };
    }
    sentence.push('.');
    if let Some([from_m, to_m]) = islands_m.filter(|_| maybe_islands) {
        sentence += &format!(
            " Below about {} to {} nm {metal} is islands, often tinted; these numbers do not hold there.",
            trimmed(1e9 * from_m),
            trimmed(1e9 * to_m)
        );
    }
    Some(PartLooks {
        sentence,
        solid_from_nm: 1e9 * solid_from_m,
        solid_fraction: solid,
        light_through: through,
    })
}

/// How a part conducts; none where the metal's resistivity is not known or films of it conduct as they were made.
pub fn conducts(part: &PartOutcome, metal: &str) -> Option<PartConducts> {
    let conductor = Conductor::of(metal)?;
    let [_, closed_m] = conductor.closes_m;
    let pieces = pieces(part);
    let conducting = share(&pieces, |facet| facet.thickness_m >= closed_m);
    let connected = connected(part, closed_m);
    let middle_m = quantiles(&pieces, |facet| facet.thickness_m >= closed_m).map(|q| q[1]);
    let square_ohm = middle_m.and_then(|t| conductor.square_ohm(t));
    let [from, to] = conductor.closes_m.map(|m| trimmed(1e9 * m));
    let sentence = match (square_ohm, middle_m) {
        (Some([low, high]), Some(middle_m)) => format!(
            "A square of the film has about {} to {} Ω at its middle thickness of {} nm; {} of the area conducts, {}. \
             Below about {from} to {to} nm {metal} is islands that may not touch.",
            significant(low, 2),
            significant(high, 2),
            three(1e9 * middle_m),
            percent(conducting),
            in_pieces(&connected)
        ),
        _ => format!(
            "Nothing conducts for certain: all film is below about {to} nm, where {metal} may be islands."
        ),
    };
    Some(PartConducts {
        sentence,
        square_ohm,
        conducting_fraction: conducting,
        pieces: connected.len(),
        largest_fraction: connected.first().copied().unwrap_or(0.0),
    })
}

fn in_pieces(shares: &[f64]) -> String {
    match shares {
        [] => "on no whole facet".to_owned(),
        [_] => "in one piece".to_owned(),
        [largest, ..] => format!(
            "in {} pieces that do not touch, the largest {} of it",
            shares.len(),
            percent(*largest)
        ),
    }
}

/// Shares of the conducting area of the pieces that hang together by edges of rows, largest first.
///
/// Rows, not facets: facets of neighbouring rows need not share corners. A row conducts where its mean film does.
fn connected(part: &PartOutcome, closed_m: f64) -> Vec<f64> {
    let rows = part.triangles.len();
    let mut sums = vec![(0.0, 0.0); rows];
    for facet in &part.facets {
        let [a, b, c] = facet.corners_m;
        let area_m2 = 0.5 * (b - a).cross(c - a).length();
        if let Some((area, volume)) = sums.get_mut(facet.row as usize) {
            *area += area_m2;
            *volume += area_m2 * facet.thickness_m;
        }
    }
    let conducts = |row: usize| sums[row].0 > 0.0 && sums[row].1 >= closed_m * sums[row].0;
    let mut parent: Vec<usize> = (0..rows).collect();
    let mut first: HashMap<[[u64; 3]; 2], usize> = HashMap::new();
    for row in (0..rows).filter(|&row| conducts(row)) {
        let [a, b, c] = part.triangles[row].map(|corner| part.vertices_m[corner as usize]);
        for ends in [[a, b], [b, c], [c, a]] {
            match first.get(&edge_key(ends)) {
                Some(&other) => join(&mut parent, row, other),
                None => {
                    first.insert(edge_key(ends), row);
                }
            }
        }
    }
    let mut areas_m2 = vec![0.0; rows];
    for row in (0..rows).filter(|&row| conducts(row)) {
        areas_m2[root(&mut parent, row)] += sums[row].0;
    }
    areas_m2.retain(|area| *area > 0.0);
    areas_m2.sort_by(|a, b| b.total_cmp(a));
    let all: f64 = areas_m2.iter().sum();
    areas_m2.into_iter().map(|area| area / all).collect()
}

fn root(parent: &mut [usize], mut number: usize) -> usize {
    while parent[number] != number {
        parent[number] = parent[parent[number]];
        number = parent[number];
    }
    number
}

fn join(parent: &mut [usize], one: usize, other: usize) {
    let (one, other) = (root(parent, one), root(parent, other));
    // the lesser number leads, so that nothing depends on the order of joining
    let (low, high) = (one.min(other), one.max(other));
    parent[high] = low;
}

/// How a part's film grows; none where no film arrives.
pub fn grows(part: &PartOutcome) -> Option<PartGrowth> {
    let pieces = pieces(part);
    let grazing = share(&pieces, |facet| {
        facet.incidence_rad > DULL_BEYOND_RAD && facet.thickness_m > DULL_FROM_M
    });
    let film = || pieces.iter().filter(|p| p.facet.incidence_rad.is_finite());
    let volume: f64 = film().map(|p| p.area_m2 * p.facet.thickness_m).sum();
    if volume <= 0.0 {
        return None;
    }
    let weighted = film().map(|p| p.area_m2 * p.facet.thickness_m * p.facet.incidence_rad);
    let mean_rad = weighted.sum::<f64>() / volume;
    let tilt = tilt_range_rad(mean_rad).map(f64::to_degrees);
    let [from, to] = tilt.map(|deg| format!("{deg:.0}"));
    let lean = if from == to {
        from
    } else {
        format!("{from} to {to}")
    };
    let mut sentence = format!(
        "Metal arrives {:.0}° from straight on in the mean, so that columns lean by about {lean}°",
        mean_rad.to_degrees()
    );
    sentence += &if grazing > 0.0 {
        format!(
            "; on {} of the area it comes at more than 60° and builds more than 300 nm, which tends to grow dull and porous.",
            percent(grazing)
        )
    } else {
        "; nowhere does it build more than 300 nm at more than 60°, where films tend to grow dull and porous.".to_owned()
    };
    Some(PartGrowth {
        sentence,
        mean_incidence_deg: mean_rad.to_degrees(),
        tilt_deg: tilt,
        grazing_fraction: grazing,
    })
}

#[cfg(test)]
mod tests;
