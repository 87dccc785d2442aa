//! The film as areas: how much of what is wanted is thick enough, thin or bare.
//!
//! In: an [`Outcome`]. Out: area-weighted figures over facets for headline, pictures and report.

use super::model::{Facet, Outcome, PartOutcome};
use crate::film::State;
use std::collections::BTreeMap;

/// What the plan wants of a patch of surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// Film of the wanted thickness.
    Coat,
    /// No film.
    Bare,
    /// Nothing: outside the named regions, or the plan has no `[film]`.
    Free,
}

/// How a patch stands against the plan's wish.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Film, and enough of it (or no thickness is wanted here).
    Enough,
    /// Film, but less than wanted.
    Thin,
    /// No sample arrived.
    NoneSeen,
    /// Proved bare.
    Unreached,
    /// Inside another solid, or without area: not counted.
    Uncounted,
}

impl Standing {
    /// True where no film was found at all.
    pub fn is_bare(self) -> bool {
        matches!(self, Self::NoneSeen | Self::Unreached)
    }
}

/// One side of a facet with its area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Patch {
    /// Index of the part.
    pub part: usize,
    /// Area, m².
    pub area_m2: f64,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Standard error, m.
    pub std_error_m: f64,
    /// Smallest ratio of a metal's thickness to the wanted one; infinite where nothing is wanted.
    pub share_of_want: f64,
    /// The plan's wish.
    pub wish: Wish,
    /// Belongs to the area on which the verdict looks: the regions to coat, or whole parts.
    pub judged: bool,
    /// How it stands.
    pub standing: Standing,
    /// Shares: direct, facing, self, fixtures, mask, shutter, gas.
    pub shares: [f32; 7],
}

/// All patches of an outcome: per part the front facets, then the back facets, as in the outcome.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Survey {
    /// The patches.
    pub patches: Vec<Patch>,
    /// Index of each part's first patch.
    pub first_of_part: Vec<usize>,
}

impl Survey {
    /// Goes over all facets of an outcome.
    pub fn of(outcome: &Outcome) -> Self {
        let wishes = Wishes::of(outcome);
        let mut survey = Self::default();
        for (index, part) in outcome.parts.iter().enumerate() {
            survey.first_of_part.push(survey.patches.len());
            let facets = part.facets.iter().chain(&part.back_facets).enumerate();
            survey
                .patches
                .extend(facets.map(|(number, facet)| wishes.patch(index, part, number, facet)));
        }
        survey
    }

    /// Patches on which the verdict looks; all that count where nothing is wanted at all.
    pub fn wanted(&self) -> impl Iterator<Item = &Patch> {
        self.patches
            .iter()
            .filter(|p| p.judged && p.standing != Standing::Uncounted)
    }

    /// Area over the wanted patches that fulfil a condition, m².
    pub fn wanted_area_m2(&self, holds: impl Fn(&Patch) -> bool) -> f64 {
        self.wanted().filter(|p| holds(p)).map(|p| p.area_m2).sum()
    }

    /// How much more metal everywhere would bring the wanted share of area to the wanted thickness.
    ///
    /// factor = 1 / q, q the (1 − on) quantile by area of thickness over wanted thickness.
    ///
    /// - `on`: wanted share of area, 0..=1
    /// - returns the factor, dimensionless; none if bare area is in the way, so that no time is enough
    ///
    /// Source: derived; in straight flight thickness is proportional to the metal that leaves.
    /// Neglects: the standard errors of single facets.
    pub fn factor_to_meet(&self, on: f64) -> Option<f64> {
        let shares: Vec<(f64, f64)> = self
            .wanted()
            .map(|p| {
                let share = if p.standing.is_bare() {
                    0.0
                } else {
                    p.share_of_want
                };
                (share, p.area_m2)
            })
            .collect();
        let share = quantile(shares, 1.0 - on)?;
        (share > 0.0).then(|| 1.0 / share)
    }
}

/// Value below which a share of the weight lies.
///
/// - `pairs`: value and weight; weights at least 0
/// - `at`: share of the weight, 0..=1
/// - returns the smallest value v for which the weight of values ≤ v is more than `at` of all, or the
///   greatest value; none without weight
pub fn quantile(mut pairs: Vec<(f64, f64)>, at: f64) -> Option<f64> {
    pairs.retain(|&(value, weight)| weight > 0.0 && !value.is_nan());
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = pairs.iter().map(|p| p.1).sum();
    let mut below = 0.0;
    for &(value, weight) in &pairs {
        below += weight;
        // Rounding of the sums: a part in 1e12 of the total weight.
        if below > (at + 1e-12) * total {
            return Some(value);
        }
    }
    pairs.last().map(|p| p.0)
}

/// Area of a facet, m².
pub fn area_m2(facet: &Facet) -> f64 {
    let [a, b, c] = facet.corners_m;
    0.5 * (b - a).cross(c - a).length()
}

/// What is wanted, looked up once.
struct Wishes {
    /// Bits of regions to coat; none: whole parts.
    coat: Option<u64>,
    /// Bits of regions to keep bare.
    bare: u64,
    /// Per metal number (none: all metals together) the wanted thickness, m.
    want_m: Vec<(Option<usize>, f64)>,
}

impl Wishes {
    fn of(outcome: &Outcome) -> Self {
        let Some(film) = &outcome.summary.film else {
            return Self {
                coat: None,
                bare: 0,
                want_m: Vec::new(),
            };
        };
        let bits = |wanted: &str| {
            let named = film.regions.iter().filter(|r| r.wanted == wanted);
            named
                .filter_map(|r| outcome.region_names.iter().position(|name| *name == r.name))
                .filter(|&bit| bit < 64)
                .fold(0_u64, |bits, bit| bits | (1 << bit))
        };
        let coat = bits("coat");
        Self {
            coat: (coat != 0).then_some(coat),
            bare: bits("bare"),
            want_m: wants_m(&film.want_nm, &outcome.metal_names),
        }
    }

    fn wish(&self, regions: u64) -> Wish {
        match self.coat {
            _ if regions & self.bare != 0 => Wish::Bare,
            Some(coat) if regions & coat == 0 => Wish::Free,
            _ if self.want_m.is_empty() => Wish::Free,
            _ => Wish::Coat,
        }
    }

    fn patch(&self, index: usize, part: &PartOutcome, number: usize, facet: &Facet) -> Patch {
        let wish = self.wish(facet.regions);
        let share_of_want = if wish == Wish::Coat {
            let share = |&(metal, want_m): &(Option<usize>, f64)| {
                let by_metal = metal.and_then(|m| part.by_metal_m.get(m)?.get(number));
                by_metal.map_or(facet.thickness_m, |&t| f64::from(t)) / want_m
            };
            self.want_m.iter().map(share).fold(f64::INFINITY, f64::min)
        } else {
            f64::INFINITY
        };
        let standing = match facet.state {
            State::Reached if share_of_want < 1.0 => Standing::Thin,
            State::Reached => Standing::Enough,
            State::NoneSeen => Standing::NoneSeen,
            State::Unreached => Standing::Unreached,
            State::Buried | State::Needle => Standing::Uncounted,
        };
        Patch {
            part: index,
            area_m2: area_m2(facet),
            thickness_m: facet.thickness_m,
            std_error_m: facet.std_error_m,
            share_of_want,
            wish,
            judged: self.coat.is_none_or(|coat| facet.regions & coat != 0),
            standing,
            shares: facet.shares,
        }
    }
}

fn wants_m(want_nm: &BTreeMap<String, f64>, metals: &[String]) -> Vec<(Option<usize>, f64)> {
    let wants = want_nm.iter().filter(|(_, nm)| **nm > 0.0);
    wants
        .map(|(name, nm)| (metals.iter().position(|m| m == name), nm * 1e-9))
        .collect()
}
