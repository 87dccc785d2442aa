//! Verdicts that vary over a part, as values per facet with their scales: for the window's paint.
//!
//! In: an [`Outcome`]. Out: numbers, where they lie on a scale from 0 to 1, and its ticks.

use super::super::figures::{significant, trimmed};
use super::super::model::{Facet, Outcome, PartOutcome};
use super::conducts::{Meter, sheet};
use super::layers::Layers;
use super::looks::Glass;
use super::pieces;
use crate::film::State;
use crate::worth::conduction::REAL_FILMS;
use crate::worth::growth::tilt_range_rad;
use crate::worth::resistance;
use std::collections::BTreeMap;

/// A verdict that varies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Share of green light that goes through the film.
    Light,
    /// Resistance of a square, Ω: a real film's, in the middle of its range.
    Square,
    /// Pieces of film that conduct, by size: 0 is the largest.
    Piece,
    /// How far columns lean, deg, between the two rules.
    Lean,
    /// Heat that arrives in the hottest step, mW/cm², in the middle of its range.
    Heat,
}

/// Places of the pieces on the scale, the largest first; the last one is for all others.
const PIECES: [(f64, &str); 5] = [
    (1.0, "largest"),
    (0.7, "second"),
    (0.45, "third"),
    (0.22, "fourth"),
    (0.0, "smaller"),
];

/// Milliwatts per cm² in a W/m².
const MW_PER_CM2: f64 = 0.1;

impl Verdict {
    /// All verdicts.
    pub const ALL: [Self; 5] = [
        Self::Light,
        Self::Square,
        Self::Piece,
        Self::Lean,
        Self::Heat,
    ];

    /// Name for a list.
    pub fn name(self) -> &'static str {
        match self {
            Self::Light => "Light through the film",
            Self::Square => "Resistance of a square",
            Self::Piece => "Pieces that conduct",
            Self::Lean => "Lean of columns",
            Self::Heat => "Heat while coating",
        }
    }

    /// What the numbers are, with their unit and their doubt.
    pub fn title(self) -> &'static str {
        match self {
            Self::Light => "green light that goes through, %",
            Self::Square => "resistance of a square, Ω (good to a factor of 1.5)",
            Self::Piece => "pieces of film that conduct, by size",
            Self::Lean => "lean of columns, ° (two rules, their middle)",
            Self::Heat => "heat in the hottest step, mW/cm² (good to a factor of 2)",
        }
    }

    /// A value for people; none where there is nothing to say.
    pub fn in_words(self, value: f64) -> Option<String> {
        if value.is_nan() {
            let conducts = matches!(self, Self::Square | Self::Piece);
            return conducts.then(|| "does not conduct for certain".to_owned());
        }
        let said = significant(value, 2);
        Some(match self {
            Self::Light => format!("{said} % of green light goes through"),
            Self::Square => format!("a square has about {said} Ω"),
            Self::Piece => match PIECES
                .iter()
                .zip(0_u32..)
                .find(|(_, rank)| f64::from(*rank) >= value)
            {
                Some(((_, size), _)) if value < 4.0 => format!("in the {size} piece that conducts"),
                _ => "in one of the smaller pieces that conduct".to_owned(),
            },
            Self::Lean => format!("columns lean by about {said}°"),
            Self::Heat => format!("about {said} mW/cm² in the hottest step"),
        })
    }

    /// True where some part of an outcome has something to show.
    pub fn is_told(self, outcome: &Outcome) -> bool {
        let summary = &outcome.summary;
        match self {
            Self::Light => !summary.looks.is_empty(),
            Self::Square => summary
                .conducts
                .values()
                .any(|told| told.square_ohm.is_some()),
            Self::Piece => summary.conducts.values().any(|told| told.pieces > 1),
            Self::Lean => !summary.grows.is_empty(),
            Self::Heat => !summary.heat.is_empty(),
        }
    }

    /// Least and greatest value on the scale, in even ratios; none where it is in even steps of [`Self::even`].
    fn ratios(self) -> Option<[f64; 2]> {
        match self {
            Self::Light => Some([0.1, 100.0]),
            Self::Square => Some([0.01, 1000.0]),
            Self::Heat => Some([0.1, 1000.0]),
            Self::Piece | Self::Lean => None,
        }
    }

    /// Greatest value of a scale in even steps from 0.
    const LEAN_TO_DEG: f64 = 60.0;

    /// Whether values below and above the ends may exist.
    pub fn clamps(self) -> [bool; 2] {
        match self {
            Self::Light => [true, false],
            Self::Square | Self::Heat => [true, true],
            Self::Lean => [false, true],
            Self::Piece => [false, false],
        }
    }

    /// Where a value lies on the scale, from 0 to 1, beyond the ends at the ends.
    pub fn place(self, value: f64) -> f64 {
        if self == Self::Piece {
            let ranks = PIECES.iter().zip(0_u32..);
            let own = ranks.clone().find(|(_, rank)| f64::from(*rank) >= value);
            return own.map_or(PIECES[PIECES.len() - 1].0, |((place, _), _)| *place);
        }
        let place = match self.ratios() {
            Some([low, high]) => (value / low).ln() / (high / low).ln(),
            None => value / Self::LEAN_TO_DEG,
        };
        place.clamp(0.0, 1.0)
    }

    /// Places with what stands at them.
    pub fn ticks(self) -> Vec<(f64, String)> {
        if self == Self::Piece {
            return PIECES
                .iter()
                .map(|(place, name)| (*place, (*name).to_owned()))
                .collect();
        }
        let values: Vec<f64> = match self.ratios() {
            Some([low, high]) => {
                let decades = (high / low).log10().round();
                (0..=8)
                    .map(f64::from)
                    .take_while(|k| *k <= decades)
                    .map(|k| low * 10_f64.powf(k))
                    .collect()
            }
            None => [0.0, 15.0, 30.0, 45.0, 60.0].to_vec(),
        };
        let tick = |value: f64| (self.place(value), trimmed(value));
        values.into_iter().map(tick).collect()
    }

    /// Values on a part's facets, front then back; NaN where there is nothing to say.
    ///
    /// - returns none where nothing is known of the whole part
    pub fn values(self, outcome: &Outcome, part: usize) -> Option<Vec<f64>> {
        let part = outcome.parts.get(part)?;
        let counts = |facet: &Facet| !matches!(facet.state, State::Buried | State::Needle);
        let facets = || part.facets.iter().chain(&part.back_facets).enumerate();
        let on_film = |value: &dyn Fn(usize, &Facet) -> f64| -> Vec<f64> {
            let of = |(number, facet): (usize, &Facet)| {
                if counts(facet) && facet.thickness_m > 0.0 {
                    value(number, facet)
                } else {
                    f64::NAN
                }
            };
            facets().map(of).collect()
        };
        match self {
            Self::Light => {
                let layers = Layers::of_outcome(outcome).ok()?;
                let glass = Glass::of(&layers)?;
                Some(on_film(&|number, _| {
                    100.0 * glass.through(&layers.films_m(part, number))
                }))
            }
            Self::Square => {
                let layers = Layers::of_outcome(outcome).ok()?;
                let meter = Meter::of(&layers)?;
                let middle = (REAL_FILMS[0] * REAL_FILMS[1]).sqrt();
                Some(on_film(&|number, _| {
                    let square_s = meter.square_s(&layers.films_m(part, number));
                    if square_s > 0.0 {
                        middle / square_s
                    } else {
                        f64::NAN
                    }
                }))
            }
            Self::Piece => {
                let layers = Layers::of_outcome(outcome).ok()?;
                let mut ranks = ranks(part, &resistance::pieces(&sheet(part, &layers)?));
                ranks.resize(facets().count(), f64::NAN);
                Some(ranks)
            }
            Self::Lean => Some(on_film(&|_, facet| {
                let [low, high] = tilt_range_rad(facet.incidence_rad);
                (0.5 * (low + high)).to_degrees()
            })),
            Self::Heat => heat(outcome, part),
        }
    }
}

/// Per front facet the number of its piece by size, the largest 0.
fn ranks(part: &PartOutcome, found: &[Option<usize>]) -> Vec<f64> {
    let mut areas_m2: BTreeMap<usize, f64> = BTreeMap::new();
    for piece in pieces(part)
        .iter()
        .filter(|piece| piece.number < found.len())
    {
        if let Some(of) = found[piece.number] {
            *areas_m2.entry(of).or_insert(0.0) += piece.area_m2;
        }
    }
    let mut by_size: Vec<(usize, f64)> = areas_m2.into_iter().collect();
    by_size.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let rank: BTreeMap<usize, f64> = by_size
        .iter()
        .zip(0_u32..)
        .map(|((piece, _), rank)| (*piece, f64::from(rank)))
        .collect();
    let of = |piece: &Option<usize>| piece.and_then(|p| rank.get(&p).copied());
    found
        .iter()
        .map(|piece| of(piece).unwrap_or(f64::NAN))
        .collect()
}

/// Heat on each facet in the hottest step: its film of that step over the mean film, times the mean heat.
fn heat(outcome: &Outcome, part: &PartOutcome) -> Option<Vec<f64>> {
    let told = outcome.summary.heat.get(&part.name)?;
    let film = part.by_step_m.get(told.hottest_step)?;
    let counted = pieces(part);
    let area_m2: f64 = counted.iter().map(|piece| piece.area_m2).sum();
    let of = |number: usize| film.get(number).map_or(0.0, |&m| f64::from(m));
    let volume_m3: f64 = counted.iter().map(|p| p.area_m2 * of(p.number)).sum();
    let [least, most] = told.mean_w_per_m2;
    let per_film = MW_PER_CM2 * (least * most).sqrt() * area_m2 / volume_m3;
    let mut values = vec![f64::NAN; part.facets.len() + part.back_facets.len()];
    for piece in counted.iter().filter(|piece| of(piece.number) > 0.0) {
        values[piece.number] = per_film * of(piece.number);
    }
    (volume_m3 > 0.0).then_some(values)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_run_from_end_to_end() {
        for verdict in Verdict::ALL {
            let ticks = verdict.ticks();
            let places: Vec<f64> = ticks.iter().map(|(place, _)| *place).collect();
            let [low, high] =
                [f64::min, f64::max].map(|f| places.iter().copied().reduce(f).unwrap());
            assert!(
                low.abs() < 1e-12 && (high - 1.0).abs() < 1e-12,
                "{verdict:?}"
            );
        }
        assert!((Verdict::Square.place(1.0) - 0.4).abs() < 1e-12);
        assert!((Verdict::Light.place(1e-9)).abs() < 1e-12);
        assert!((Verdict::Piece.place(0.0) - 1.0).abs() < 1e-12);
        assert!(Verdict::Piece.place(40.0).abs() < 1e-12);
    }
}
