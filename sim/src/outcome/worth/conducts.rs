//! How a part conducts: a square of its film, the pieces that hang together, from end to end.

use super::super::figures::{percent, significant, three, trimmed};
use super::super::model::{Facet, FarOhm, PartConducts, PartOutcome};
use super::layers::Layers;
use super::{area_m2, pieces, quantiles_of, share_of};
use crate::film::State;
use crate::worth::conduction::{Conductor, REAL_FILMS, Squares};
use crate::worth::resistance::{self, Contact, NoPath, Sheet, resistance_ohm};
use glam::DVec3;
use std::collections::BTreeMap;

/// Radius of the needle of a meter that is pressed on the film, m (common practice, no source: blunt tips of 1 mm).
pub const NEEDLE_M: f64 = 0.5e-3;
/// Largest radius of a needle against the extent of the part.
const NEEDLE_OF_EXTENT: f64 = 0.02;
/// Pieces of less than this share of what conducts are specks, which noise makes.
const SPECK: f64 = 1e-3;
/// Facets beyond which nobody waits for the resistance from end to end.
const MOST_FACETS: usize = 400_000;

/// The layers' squares.
pub(super) struct Meter {
    squares: Vec<Squares>,
}

impl Meter {
    /// - returns none without a layer and where one is of a metal whose films conduct as they were made
    pub fn of(layers: &Layers) -> Option<Self> {
        let squares = layers
            .metals
            .iter()
            .map(|metal| Some(Squares::of(Conductor::of(metal)?)));
        let squares: Vec<Squares> = squares.collect::<Option<_>>()?;
        (!squares.is_empty()).then_some(Self { squares })
    }

    /// Conductance of a square of smooth layers side by side, S; 0 where all of them may be islands.
    pub fn square_s(&self, films_m: &[f64]) -> f64 {
        let both = self.squares.iter().zip(films_m);
        both.map(|(squares, &film_m)| squares.square_s(film_m))
            .sum()
    }
}

/// Conductance of squares on a part's front facets, in their places.
///
/// - returns none where the conduction of a layer is not known
pub(super) fn sheet(part: &PartOutcome, layers: &Layers) -> Option<Sheet> {
    let meter = Meter::of(layers)?;
    let square_s = |(number, facet): (usize, &Facet)| match facet.state {
        State::Buried | State::Needle => 0.0,
        _ => meter.square_s(&layers.films_m(part, number)),
    };
    Some(Sheet {
        corners_m: part.facets.iter().map(|facet| facet.corners_m).collect(),
        square_s: part.facets.iter().enumerate().map(square_s).collect(),
    })
}

/// How a part conducts; none where a metal's resistivity is not known or films of it conduct as they were made.
pub(super) fn conducts(part: &PartOutcome, layers: &Layers) -> Option<PartConducts> {
    let meter = Meter::of(layers)?;
    let counted = pieces(part);
    let squares_s: Vec<f64> = counted
        .iter()
        .map(|piece| meter.square_s(&layers.films_m(part, piece.number)))
        .collect();
    let conducting = share_of(&counted, |k| squares_s[k] > 0.0);
    let good: Vec<usize> = (0..counted.len()).filter(|&k| squares_s[k] > 0.0).collect();
    let over = |value: &dyn Fn(usize) -> f64| {
        quantiles_of(good.iter().map(|&k| (value(k), counted[k].area_m2)))
    };
    let square_ohm =
        over(&|k| squares_s[k]).map(|[_, middle_s, _]| REAL_FILMS.map(|f| f / middle_s));
    let middle_m = over(&|k| counted[k].facet.thickness_m).map(|[_, middle_m, _]| middle_m);
    let sheet = sheet(part, layers)?;
    let found = resistance::pieces(&sheet);
    let shares = shares(part, &found);
    let far = square_ohm.and_then(|_| far_ohm(part, (&sheet, &found)));
    let sentence = match (square_ohm, middle_m) {
        (Some(square_ohm), Some(middle_m)) => {
            let film = match layers.metals.as_slice() {
                [_] => format!(
                    "A square of the film has about {} Ω at its middle thickness",
                    range(square_ohm)
                ),
                _ => format!(
                    "A square of the film ({}; currents share the layers) has about {} Ω at its middle thickness",
                    layers.in_words(),
                    range(square_ohm)
                ),
            };
            let text = format!(
                "{film} of {} nm; {} of the area conducts, {}",
                three(1e9 * middle_m),
                percent(conducting),
                in_pieces(&shares)
            );
            format!("{text}; {}", islands(layers))
        }
        _ => format!(
            "Nothing conducts for certain, as all film is thin: {}",
            islands(layers)
        ),
    };
    Some(PartConducts {
        sentence,
        square_ohm,
        conducting_fraction: conducting,
        pieces: shares.len(),
        largest_fraction: shares.first().copied().unwrap_or(0.0),
        far,
    })
}

/// Below what thickness each metal is islands.
fn islands(layers: &Layers) -> String {
    let mut said: Vec<&String> = Vec::new();
    let mut sentences = Vec::new();
    for metal in &layers.metals {
        if let Some(conductor) = Conductor::of(metal).filter(|_| !said.contains(&metal)) {
            let [from, to] = conductor.closes_m.map(|m| trimmed(1e9 * m));
            sentences.push(format!(
                "below about {from} to {to} nm {metal} is islands that may not touch"
            ));
            said.push(metal);
        }
    }
    let wets = if layers.metals.len() > 1 {
        ", sooner a sheet where a layer below wets it"
    } else {
        ""
    };
    sentences.join("; ") + wets + "."
}

/// Two digits each; one number where both read the same.
fn range(ohm: [f64; 2]) -> String {
    let [from, to] = ohm.map(|value| significant(value, 2));
    if from == to {
        from
    } else {
        format!("{from} to {to}")
    }
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

/// Shares of the conducting area of the pieces, the largest first, without specks.
fn shares(part: &PartOutcome, found: &[Option<usize>]) -> Vec<f64> {
    let areas_m2 = areas_m2(part, found);
    let all: f64 = areas_m2.values().sum();
    let mut shares: Vec<f64> = areas_m2.into_values().map(|area| area / all).collect();
    shares.retain(|share| *share >= SPECK);
    shares.sort_by(|a, b| b.total_cmp(a));
    shares
}

fn areas_m2(part: &PartOutcome, found: &[Option<usize>]) -> BTreeMap<usize, f64> {
    let mut areas_m2 = BTreeMap::new();
    for (facet, piece) in part.facets.iter().zip(found) {
        if let Some(piece) = piece {
            *areas_m2.entry(*piece).or_insert(0.0) += area_m2(facet);
        }
    }
    areas_m2
}

/// Radius of the needles for a part, m: [`NEEDLE_M`], less on a tiny one.
pub(super) fn needle_m(part: &PartOutcome) -> f64 {
    let around = crate::geometry::bounds(part.vertices_m.iter().copied());
    let extent_m = around.map_or(0.0, |[low, high]| (high - low).max_element());
    NEEDLE_M.min(NEEDLE_OF_EXTENT * extent_m)
}

/// Resistance between the ends of the largest piece: two facets that are farthest from each other.
///
/// Farthest from any, farthest from that, and again: the ends of a long piece, near enough for any.
fn far_ohm(part: &PartOutcome, (sheet, found): (&Sheet, &[Option<usize>])) -> Option<FarOhm> {
    let areas_m2 = areas_m2(part, found);
    let largest = areas_m2
        .iter()
        .max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(a.0)));
    let (&largest, _) = largest?;
    let members: Vec<DVec3> = (0..found.len())
        .filter(|&k| found[k] == Some(largest))
        .map(|k| sheet.corners_m[k].iter().sum::<DVec3>() / 3.0)
        .collect();
    if members.len() > MOST_FACETS {
        return None;
    }
    let farthest = |from: DVec3| {
        let squared = |at: &&DVec3| at.distance_squared(from);
        members
            .iter()
            .max_by(|a, b| squared(a).total_cmp(&squared(b)))
            .copied()
    };
    let one = farthest(*members.first()?)?;
    let other = farthest(one)?;
    let ends = [farthest(other)?, other];
    let ohm = between(sheet, ends, needle_m(part)).ok()?;
    let mut far = FarOhm {
        sentence: String::new(),
        ohm,
        ends_mm: ends.map(|at| (1e3 * at).to_array()),
        needle_mm: 2e3 * needle_m(part),
    };
    far.sentence = far_in_words(&far);
    Some(far)
}

/// Resistance between two needles as a real film is likely to have, from and to, Ω.
///
/// # Errors
/// Why no current flows.
pub(super) fn between(sheet: &Sheet, at_m: [DVec3; 2], radius_m: f64) -> Result<[f64; 2], NoPath> {
    let contacts = at_m.map(|at_m| Contact { at_m, radius_m });
    let smooth_ohm = resistance_ohm(sheet, contacts)?;
    Ok(REAL_FILMS.map(|factor| factor * smooth_ohm))
}

/// A resistance in words: `3.1 to 6.2 Ω`.
pub(super) fn ohm_in_words(ohm: [f64; 2]) -> String {
    format!("{} Ω", range(ohm))
}

fn far_in_words(far: &FarOhm) -> String {
    let place = |mm: [f64; 3]| mm.map(|x| trimmed((10.0 * x).round() / 10.0)).join(", ");
    format!(
        "Between the ends of the largest piece, at {} and {} mm in the part's own coordinates, a meter with blunt needles of {} mm \
         reads about {}.",
        place(far.ends_mm[0]),
        place(far.ends_mm[1]),
        trimmed((100.0 * far.needle_mm).round() / 100.0),
        ohm_in_words(far.ohm)
    )
}
