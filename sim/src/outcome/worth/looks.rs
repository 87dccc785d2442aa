//! How a part looks: what light goes through its film.

use super::super::figures::{percent, significant, three, trimmed};
use super::super::model::{PartLooks, PartOutcome};
use super::layers::Layers;
use super::{pieces, quantiles_of, share_of};
use crate::worth::conduction::Conductor;
use crate::worth::optics::{film, green_index_of, stack};

/// Light in which an eye sees best, m.
const GREEN_M: f64 = 550e-9;
/// Refractive index of what the film lies on: glass and clear plastics, 1.46 to 1.59 (common practice, no source).
const BODY: f64 = 1.5;
/// A film that lets less than this through looks solid.
pub(super) const SOLID: f64 = 1e-3;
/// Thicknesses between which a film turns solid are searched, m.
const SEARCHED_M: [f64; 2] = [1e-9, 2e-6];

/// Thickness from which a metal looks solid, m.
pub(super) fn solid_from_m(index: [f64; 2]) -> f64 {
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

/// The layers' optics.
pub(super) struct Glass {
    indices: Vec<[f64; 2]>,
}

impl Glass {
    /// - returns none without a layer and where the n and k of one are not known
    pub fn of(layers: &Layers) -> Option<Self> {
        let indices = layers.metals.iter().map(|metal| green_index_of(metal));
        let indices: Vec<[f64; 2]> = indices.collect::<Option<_>>()?;
        (!indices.is_empty()).then_some(Self { indices })
    }

    /// Share of green light that goes through layers of these thicknesses.
    pub fn through(&self, films_m: &[f64]) -> f64 {
        let both = self.indices.iter().copied().zip(films_m.iter().copied());
        stack(&both.collect::<Vec<_>>(), GREEN_M, BODY).through
    }
}

/// How a part looks; none without film or where a metal's n and k are not known.
pub(super) fn looks(part: &PartOutcome, layers: &Layers) -> Option<PartLooks> {
    let glass = Glass::of(layers)?;
    let pieces = pieces(part);
    let films: Vec<Vec<f64>> = pieces
        .iter()
        .map(|piece| layers.films_m(part, piece.number))
        .collect();
    let through: Vec<f64> = films.iter().map(|films_m| glass.through(films_m)).collect();
    let filmed: Vec<usize> = (0..pieces.len())
        .filter(|&k| pieces[k].facet.thickness_m > 0.0)
        .collect();
    let of_film = filmed.iter().map(|&k| (through[k], pieces[k].area_m2));
    let [least, _, most] = quantiles_of(of_film)?;
    let top = layers.metals.last()?;
    let solid_from_m = solid_from_m(*glass.indices.last()?);
    let solid = share_of(&pieces, |k| through[k] <= SOLID);
    let mut sentence = match layers.metals.as_slice() {
        [metal] => format!(
            "{} of the area looks like solid {metal} (from about {} nm on); elsewhere what is below shows through",
            percent(solid),
            three(1e9 * solid_from_m)
        ),
        _ => format!(
            "{} of the area lets no light through and looks like {top}, where that is thicker than a few tens of nm; \
             elsewhere what is below {} shows through",
            percent(solid),
            layers.in_words()
        ),
    };
    if most > SOLID {
        let [from, to] = [least, most].map(|share| significant(100.0 * share, 2));
        sentence += &if least > SOLID {
            format!(", and nine tenths of the film let {from} to {to} % of green light into it")
        } else {
            format!(", where up to {to} % of green light goes into it")
        };
    }
    let thin_m =
        |layer: usize| quantiles_of(filmed.iter().map(|&k| (films[k][layer], pieces[k].area_m2)));
    for (layer, metal) in layers.metals.iter().enumerate() {
        let islands_m = Conductor::of(metal).map(|conductor| conductor.closes_m);
        let maybe = islands_m.zip(thin_m(layer));
        if let Some(([from_m, to_m], _)) = maybe.filter(|([_, to_m], thin_m)| thin_m[0] < *to_m) {
            sentence += &format!(
                "; below about {} to {} nm {metal} is islands, often tinted, and these numbers do not hold",
                trimmed(1e9 * from_m),
                trimmed(1e9 * to_m)
            );
        }
    }
    sentence.push('.');
    Some(PartLooks {
        sentence,
        solid_from_nm: 1e9 * solid_from_m,
        solid_fraction: solid,
        light_through: [least, most],
    })
}
