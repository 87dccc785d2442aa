//! Is there enough film where it is wanted, and none where it is not?
//!
//! In: the facets of all parts and `[film]` of the plan. Out: shares of area with standard errors, and a verdict.

use super::model::{FilmVerdict, PartOutcome, RegionVerdict};
use super::statistics::{Patch, chance_at_least, distribution};
use crate::film::State;
use crate::plan::model::{FilmWanted, Region, Want};
use std::collections::BTreeMap;

/// The wanted share is there with two standard errors to spare.
pub const MET: &str = "met";
/// The wanted share is missed by more than two standard errors.
pub const MISSED: &str = "missed";
/// The wanted share is within two standard errors.
pub const CLOSE: &str = "too close to call";

/// Standard errors by which a verdict must be clear.
const CLEAR_BY: f64 = 2.0; // the project's contract

/// A part's facets, front then back, with what assembling knows about them.
pub struct Facets<'a> {
    /// The part.
    pub part: &'a PartOutcome,
    /// Area of each facet, m².
    pub areas_m2: Vec<f64>,
    /// Upper bound at 95 % of each facet on which nothing was seen, m; 0 elsewhere.
    pub bounds_m: Vec<f64>,
}

/// The thicknesses that are wanted, m, by metal (`None`: all together).
#[derive(Debug, Clone, PartialEq)]
pub struct Threshold {
    /// Metal as an index into the run's metals, and the wanted thickness; all must be reached.
    pub wants_m: Vec<(Metal, f64)>,
}

/// Whose thickness is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metal {
    /// All metals together.
    All,
    /// The metal of this index.
    One(usize),
    /// A metal that no source emits.
    Absent,
}

/// A share of an area with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Share {
    /// m².
    pub area_m2: f64,
    /// 0..=1; 0 without area.
    pub share: f64,
    /// Standard error of it.
    pub std_error: f64,
}

impl Threshold {
    /// The threshold that `[film] want` means, for the run's metals in order.
    pub fn of(want: &Want, metals: &[String]) -> Self {
        let wants_m = match want {
            Want::Total(want_m) => vec![(Metal::All, *want_m)],
            Want::PerMetal(by_name) => by_name
                .iter()
                .map(|(name, &want_m)| {
                    let index = metals.iter().position(|metal| metal == name);
                    (index.map_or(Metal::Absent, Metal::One), want_m)
                })
                .collect(),
        };
        Self { wants_m }
    }
}

impl Facets<'_> {
    /// Number of facets, both sides.
    pub fn count(&self) -> usize {
        self.areas_m2.len()
    }

    /// Facet by number, front side first.
    pub fn get(&self, index: usize) -> &super::model::Facet {
        let front = self.part.facets.len();
        if index < front {
            &self.part.facets[index]
        } else {
            &self.part.back_facets[index - front]
        }
    }

    /// Facets that are surface: all but the buried ones.
    pub fn surface(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.count()).filter(|&index| self.get(index).state != State::Buried)
    }

    /// Area, thickness and error of a facet.
    pub fn patch(&self, index: usize) -> Patch {
        let facet = self.get(index);
        Patch {
            area_m2: self.areas_m2[index],
            thickness_m: facet.thickness_m,
            std_error_m: facet.std_error_m,
        }
    }

    /// Thickness and standard error of one metal on a facet, m.
    ///
    /// The error of the sum is split as for counted atoms, s_m² = s² · t_m / t: exact where every atom weighs the
    /// same, an estimate elsewhere (our own choice, no source).
    fn of_metal(&self, index: usize, metal: Metal) -> (f64, f64) {
        let facet = self.get(index);
        let total = (facet.thickness_m, facet.std_error_m);
        match metal {
            Metal::All => total,
            Metal::Absent => (0.0, 0.0),
            Metal::One(_) if self.part.by_metal_m.is_empty() => total,
            Metal::One(metal) => {
                let thickness_m = f64::from(self.part.by_metal_m[metal][index]);
                let portion = if facet.thickness_m > 0.0 {
                    (thickness_m / facet.thickness_m).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                (thickness_m, facet.std_error_m * portion.sqrt())
            }
        }
    }

    /// Chance that a facet reaches every wanted thickness.
    ///
    /// Errors of different metals are taken as independent (each source is sampled on its own).
    pub fn chance(&self, index: usize, threshold: &Threshold) -> f64 {
        if self.get(index).state != State::Reached {
            return 0.0;
        }
        let chance_of = |&(metal, want_m): &(Metal, f64)| {
            let (thickness_m, std_error_m) = self.of_metal(index, metal);
            chance_at_least(thickness_m, std_error_m, want_m)
        };
        threshold.wants_m.iter().map(chance_of).product()
    }

    /// Spread of the yes-or-no of one facet.
    ///
    /// √(p(1 − p)); where nothing was seen, 5 % of chance are left for a thickness above the 95 % bound, so if the
    /// bound leaves room for the wanted thickness the spread is the largest one, 1/2.
    fn spread(&self, index: usize, threshold: &Threshold, chance: f64) -> f64 {
        let room = |&(_, want_m): &(Metal, f64)| self.bounds_m[index] >= want_m;
        match self.get(index).state {
            State::Reached => (chance * (1.0 - chance)).max(0.0).sqrt(),
            State::NoneSeen if threshold.wants_m.iter().all(room) => 0.5,
            _ => 0.0,
        }
    }
}

/// Share of the area of the named facets that reaches a threshold, with its standard error.
///
/// F = Σ aᵢ pᵢ / A with pᵢ the chance of facet i; its error is Σ aᵢ √(pᵢ(1 − pᵢ)) / A.
///
/// Source: variance of a sum of yes-or-no variates. The error adds spreads, not variances: it is the largest spread that
/// any correlation between facets allows. Facets all near the threshold are then undecided together, which is right:
/// what their estimates have in common (the rate, the scatter about the threshold that pulls F to the middle) does
/// not average out.
/// Neglects: the shape of the distribution beyond its spread.
pub fn share_reaching(chosen: &[(&Facets<'_>, Vec<usize>)], threshold: &Threshold) -> Share {
    let (mut area_m2, mut reached_m2, mut spread_m2) = (0.0, 0.0, 0.0);
    for (facets, indices) in chosen {
        for &index in indices {
            let facet_m2 = facets.areas_m2[index];
            let chance = facets.chance(index, threshold);
            area_m2 += facet_m2;
            reached_m2 += facet_m2 * chance;
            spread_m2 += facet_m2 * facets.spread(index, threshold, chance);
        }
    }
    if area_m2 <= 0.0 {
        return Share::default();
    }
    Share {
        area_m2,
        share: (reached_m2 / area_m2).min(1.0),
        std_error: spread_m2 / area_m2,
    }
}

/// Verdict on a share against the wanted one.
pub fn verdict(share: f64, std_error: f64, on: f64) -> &'static str {
    if share + CLEAR_BY * std_error < on {
        MISSED
    } else if share - CLEAR_BY * std_error >= on {
        MET
    } else {
        CLOSE
    }
}

/// What judging needs besides the facets.
pub struct Wanted<'a> {
    /// `[film]` of the plan.
    pub film: &'a FilmWanted,
    /// Regions of the plan, in the order of the facets' bits.
    pub regions: &'a [Region],
    /// The run's metals.
    pub metals: &'a [String],
}

/// Judges the film of a run against `[film]`.
///
/// Coated: the area of all regions in `in` together, each facet once; without `in`, of all parts but for what
/// is to stay bare. Bare: the same share `on` of
/// each region must stay under `bare_under`. Buried facets are no surface and count nowhere.
pub fn judge(parts: &[Facets<'_>], wanted: &Wanted<'_>) -> FilmVerdict {
    let film = wanted.film;
    let threshold = Threshold::of(&film.want, wanted.metals);
    let mut regions = Vec::new();
    let together = match &film.regions {
        None => {
            let kept = film.bare.iter().map(|name| bit_of(wanted.regions, name));
            let kept = kept.fold(0, |bits, bit| bits | bit);
            for facets in parts {
                let chosen = choose(std::slice::from_ref(facets), |regions| regions & kept == 0);
                let share = share_reaching(&chosen, &threshold);
                regions.push(row((&facets.part.name, "coat"), &chosen, share, film.on));
            }
            choose(parts, |regions| regions & kept == 0)
        }
        Some(names) => {
            let mut any = 0;
            for name in names {
                let bit = bit_of(wanted.regions, name);
                any |= bit;
                let chosen = choose(parts, |regions| regions & bit != 0);
                let share = share_reaching(&chosen, &threshold);
                regions.push(row((name, "coat"), &chosen, share, film.on));
            }
            choose(parts, |regions| regions & any != 0)
        }
    };
    let whole = share_reaching(&together, &threshold);
    let mut verdicts = vec![verdict(whole.share, whole.std_error, film.on)];
    let bare = Threshold {
        wants_m: vec![(Metal::All, film.bare_under_m)],
    };
    for name in &film.bare {
        let bit = bit_of(wanted.regions, name);
        let chosen = choose(parts, |regions| regions & bit != 0);
        let coated = share_reaching(&chosen, &bare);
        let share = Share {
            share: if coated.area_m2 > 0.0 {
                1.0 - coated.share
            } else {
                0.0
            },
            ..coated
        };
        let region = row((name, "bare"), &chosen, share, film.on);
        verdicts.push(verdict(share.share, share.std_error, film.on));
        regions.push(region);
    }
    FilmVerdict {
        want_nm: want_nm(&film.want),
        on: film.on,
        reached_fraction: whole.share,
        reached_stderr: whole.std_error,
        area_mm2: whole.area_m2 * 1e6,
        regions,
        verdict: worst(&verdicts).to_owned(),
    }
}

/// The wanted thicknesses in nm, "all" for all metals together.
fn want_nm(want: &Want) -> BTreeMap<String, f64> {
    match want {
        Want::Total(want_m) => BTreeMap::from([("all".to_owned(), want_m * 1e9)]),
        Want::PerMetal(by_name) => {
            let in_nm = by_name
                .iter()
                .map(|(name, want_m)| (name.clone(), want_m * 1e9));
            in_nm.collect()
        }
    }
}

fn worst(verdicts: &[&'static str]) -> &'static str {
    if verdicts.contains(&MISSED) {
        MISSED
    } else if verdicts.contains(&CLOSE) {
        CLOSE
    } else {
        MET
    }
}

fn bit_of(regions: &[Region], name: &str) -> u64 {
    let index = regions.iter().position(|region| region.name == name);
    index.map_or(0, |index| {
        1_u64
            .checked_shl(u32::try_from(index).unwrap_or(u32::MAX))
            .unwrap_or(0)
    })
}

/// Surface facets of all parts for which `belongs(bits of regions)` holds.
fn choose<'a>(
    parts: &'a [Facets<'a>],
    belongs: impl Fn(u64) -> bool,
) -> Vec<(&'a Facets<'a>, Vec<usize>)> {
    let of_part = |facets: &'a Facets<'a>| {
        let chosen = facets
            .surface()
            .filter(|&index| belongs(facets.get(index).regions));
        (facets, chosen.collect())
    };
    parts.iter().map(of_part).collect()
}

fn row(
    (name, wanted): (&str, &str),
    chosen: &[(&Facets<'_>, Vec<usize>)],
    share: Share,
    on: f64,
) -> RegionVerdict {
    let patches = chosen
        .iter()
        .flat_map(|(facets, indices)| indices.iter().map(|&index| facets.patch(index)));
    RegionVerdict {
        name: name.to_owned(),
        wanted: wanted.to_owned(),
        area_mm2: share.area_m2 * 1e6,
        fraction: share.share,
        stderr: share.std_error,
        mean_nm: distribution(patches).mean_m * 1e9,
        verdict: verdict(share.share, share.std_error, on).to_owned(),
    }
}

#[cfg(test)]
mod tests;
