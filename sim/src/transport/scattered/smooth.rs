//! How far scattered film is smoothed, and what that costs in truth.
//!
//! In: features of a part's facets and two independent halves of its scores. Out: a linear operator, chosen region by
//! region, and the error that it brings with it.
//!
//! One function of place and outlook is fitted to the whole part ([`Guide`]). What it lacks is smoothed by groups: three
//! trees with different weights of place and outlook group the facets; in every group what is lacking is fitted linearly
//! ([`Fit`]) and the three fits are averaged. The size of groups, or that nothing is added, is chosen per region: that
//! which for one half of the atoms foretells the other half best, which is right for any number of atoms and any shape.

use super::bands::{Bands, Known};
use super::choice::{Halved, Squares};
use super::features::{FEW, Features};
use super::fit::Fit;
use super::guide::{Guide, Order};
use super::mean_of;
use super::tree::Tree;
use rayon::prelude::*;
use std::ops::Range;

/// What a change of direction is worth as a change of place, in sizes of the part, tree by tree.
const LENGTHS: [f64; 3] = [0.075, 0.15, 0.3];
/// Facets in the smallest groups, on average; each further level has twice as many.
const SMALLEST: usize = 16;
/// Levels, the first of which is no smoothing.
const LEVELS: usize = 10;
/// The level at which nothing is added to the guide.
const GUIDED: usize = LEVELS;
/// Level whose film stands in for the truth in weights.
const PLAIN_LEVEL: usize = 5;
/// Facets to a region, at least, and most regions.
const REGION: usize = 1000;
const MOST_REGIONS: usize = 16;
/// Film below this share of the mean counts as this much in weights.
const LEAST: f64 = 0.002;
/// Film over the mean at which a region is divided into bright and dark: what suits one is wrong for the other.
const DIVIDES: [f64; 3] = [0.2, 0.05, 0.0125];
/// Facets of a divided region, at least.
const DIVIDED: usize = 100;
/// Scores without which the larger function of the whole part is not tried: a hundred for each of its numbers.
const SCORES_FOR_HIGH: u64 = 20_000;
/// Films smoothed in one go.
const TOGETHER: usize = 16;

/// A linear smoothing of films over the facets of a part.
pub(super) struct Smoother {
    features: Vec<Features>,
    areas: Vec<f64>,
    /// Sum of the areas.
    whole: f64,
    trees: Vec<Tree>,
    /// The function of the whole part that the last choice was made with.
    guide: Option<Guide>,
    /// What that is made of.
    order: Order,
    /// Film as it roughly is.
    shape: Vec<f64>,
    /// Level of each facet; 0 is none.
    level: Vec<u8>,
    /// Region of each facet.
    region: Vec<u8>,
    /// What sets bands of like film right, one after the other.
    bands: Vec<Bands>,
    /// Standard deviation of the smoothed film from the truth that no number of atoms mends, per facet, relative.
    pub bias: Vec<f64>,
}

impl Smoother {
    /// Builds the trees; nothing is smoothed until [`Smoother::choose`].
    pub fn new(features: Vec<Features>, areas: Vec<f64>) -> Self {
        let count = features.len();
        let whole: f64 = areas.iter().sum();
        let smallest = whole * SMALLEST as f64 / count.max(1) as f64;
        let size_m = size_of(&features);
        let trees = if count < 2 * SMALLEST {
            Vec::new()
        } else {
            LENGTHS
                .par_iter()
                .map(|length| {
                    #[expect(clippy::cast_possible_truncation, reason = "a length for sorting")]
                    let length_m = (length * size_m) as f32;
                    Tree::new(&features, &areas, length_m, smallest)
                })
                .collect()
        };
        Self {
            level: vec![0; count],
            region: vec![0; count],
            guide: None,
            order: Order::Low,
            shape: Vec::new(),
            bands: Vec::new(),
            bias: vec![0.0; count],
            features,
            areas,
            whole,
            trees,
        }
    }

    /// Chooses the levels by two independent halves of the scores, as densities.
    ///
    /// - `scores`: flights that scored
    pub fn choose(&mut self, scores: u64, halves: [&[f64]; 2]) {
        self.bands.clear();
        let Some(tree) = self.trees.get(1) else {
            return;
        };
        let count = self.areas.len();
        let regions = (count / REGION).clamp(1, MOST_REGIONS);
        let groups = tree.groups(self.whole / regions as f64);
        (self.order, self.guide) = self.guide_for(scores, &halves);
        let parted = self.parted(&halves);
        let last = if self.guide.is_some() {
            GUIDED
        } else {
            LEVELS - 1
        };
        let films: Vec<[Vec<f64>; 2]> = (0..=last)
            .map(|level| {
                let mut two = self.at_level(level, &parted, None).into_iter();
                [two.next(), two.next()].map(Option::unwrap_or_default)
            })
            .collect();
        let Some(plain) = self.plain(&films[PLAIN_LEVEL]) else {
            return;
        };
        let regions: Vec<Vec<u32>> = groups
            .into_iter()
            .flat_map(|run| self.divided(&tree.order[run], &plain))
            .collect();
        let halved = Halved {
            areas: &self.areas,
            films: &films,
            plain: &plain,
        };
        let chosen: Vec<(usize, Squares)> = regions.par_iter().map(|r| halved.best(r)).collect();
        let sum = chosen
            .iter()
            .fold(Squares::default(), |sum, (_, own)| sum.plus(own));
        let everywhere = sum.coarse / sum.film;
        let beneath = sum.beneath() / sum.film;
        for ((facets, (level, own)), number) in regions.iter().zip(&chosen).zip(0..) {
            let here = own.coarse / own.film;
            let bias = 0.5 * (here.max(0.0) + everywhere.max(0.0)) + beneath;
            for &facet in facets {
                self.region[facet as usize] = number;
                self.level[facet as usize] = u8::try_from(*level).unwrap_or(u8::MAX);
                self.bias[facet as usize] = bias.sqrt();
            }
        }
        self.shape = plain;
    }

    /// The function of the whole part: the larger one if for one half of the atoms it foretells the other better beyond
    /// chance; then for good, as more atoms tell more.
    fn guide_for(&self, scores: u64, halves: &[&[f64]; 2]) -> (Order, Option<Guide>) {
        let both = mean_of(halves.map(<[f64]>::to_vec).iter());
        let Some(rough) = Guide::rough(&self.features, &self.areas, &both) else {
            return (self.order, None);
        };
        let of = |order| Guide::new(order, &self.features, &self.areas, &rough);
        let known = self.order == Order::High;
        let high = (known || scores >= SCORES_FOR_HIGH).then(|| of(Order::High));
        if known && let Some(Some(high)) = high {
            return (Order::High, Some(high));
        }
        let low = of(Order::Low);
        match (high.flatten(), &low) {
            (Some(more), Some(less)) if more.foretells_better(less, &self.features, halves) => {
                (Order::High, Some(more))
            }
            _ => (Order::Low, low),
        }
    }

    /// Smooths the films of batches at the chosen levels, and finds and sets right bands of like film whose mean that
    /// has moved.
    ///
    /// - `films`: of batches, as densities
    /// - `scores`: flights that scored, per facet
    pub fn settle(&mut self, films: &[&[f64]], scores: &[u32]) -> Vec<Vec<f64>> {
        let mut smooth = self.smooth(films);
        let everywhere = vec![0; self.areas.len()];
        let mut found = Vec::new();
        // first all over the part, where little is needed to be sure, then what is left of it region by region
        for region in [&everywhere, &self.region] {
            let known = Known {
                region,
                areas: &self.areas,
                scores,
            };
            let bands = Bands::new(&known, mean_of(smooth.iter()), films, &smooth);
            for (film, smooth) in films.iter().zip(&mut smooth) {
                bands.set_right(&self.areas, film, smooth);
            }
            found.push(bands);
        }
        self.bands = found;
        smooth
    }

    /// Facets of a region by how much film they get, most first.
    fn divided(&self, region: &[u32], plain: &[f64]) -> Vec<Vec<u32>> {
        let film: f64 = plain.iter().zip(&self.areas).map(|(x, a)| x * a).sum();
        let mean = film / self.whole;
        let mut classes = vec![Vec::new(); DIVIDES.len() + 1];
        for &facet in region {
            let film = plain[facet as usize];
            let class = DIVIDES.iter().filter(|&&share| film < share * mean).count();
            classes[class].push(facet);
        }
        let mut divided: Vec<Vec<u32>> = Vec::new();
        for class in classes.into_iter().filter(|class| !class.is_empty()) {
            match divided.last_mut() {
                Some(last) if last.len().min(class.len()) < DIVIDED => last.extend(class),
                _ => divided.push(class),
            }
        }
        divided
    }

    /// The film that stands in for the truth in weights; none where nothing scored.
    fn plain(&self, [one, other]: &[Vec<f64>; 2]) -> Option<Vec<f64>> {
        let both = || one.iter().zip(other).map(|(a, b)| 0.5 * (a + b));
        let mean = both().zip(&self.areas).map(|(x, a)| x * a).sum::<f64>() / self.whole;
        (mean > 0.0).then(|| both().map(|x| x.max(LEAST * mean)).collect())
    }

    /// Smooths films, each at the levels chosen.
    pub fn smooth(&self, films: &[&[f64]]) -> Vec<Vec<f64>> {
        let mut smoothed: Vec<Vec<f64>> = Vec::with_capacity(films.len());
        for films in films.chunks(TOGETHER) {
            let parted = self.parted(films);
            let mut some = vec![vec![0.0; self.areas.len()]; films.len()];
            for level in 0..=GUIDED {
                if !self.level.iter().any(|&own| usize::from(own) == level) {
                    continue;
                }
                let at_level = self.at_level(level, &parted, Some(&self.level));
                for (to, from) in some.iter_mut().zip(at_level) {
                    let facets = to.iter_mut().zip(from).zip(&self.level);
                    for ((to, from), _) in facets.filter(|(_, own)| usize::from(**own) == level) {
                        *to = from;
                    }
                }
            }
            smoothed.extend(some);
        }
        for (film, smoothed) in films.iter().zip(&mut smoothed) {
            self.keep_total(film, smoothed);
            for bands in &self.bands {
                bands.set_right(&self.areas, film, smoothed);
            }
        }
        smoothed
    }

    /// Sets a smoothed film right so that the part as a whole gets what was scored.
    fn keep_total(&self, film: &[f64], smoothed: &mut [f64]) {
        let over = |film: &[f64]| self.areas.iter().zip(film).map(|(a, x)| a * x).sum::<f64>();
        let whole = over(&self.shape);
        if whole > 0.0 {
            let missing = (over(film) - over(smoothed)) / whole;
            let facets = smoothed.iter_mut().zip(&self.shape);
            facets.for_each(|(x, shape)| *x += missing * shape);
        }
    }

    /// Films as the guide has them, and what it lacks.
    fn parted(&self, films: &[&[f64]]) -> Parted {
        let guided = match &self.guide {
            Some(guide) => guide.films(&self.features, films),
            None => vec![vec![0.0; self.areas.len()]; films.len()],
        };
        let lacking = |(film, guided): (&&[f64], &Vec<f64>)| -> Vec<f64> {
            film.iter().zip(guided).map(|(x, g)| x - g).collect()
        };
        Parted {
            rest: films.iter().zip(&guided).map(lacking).collect(),
            guided,
        }
    }

    /// Films smoothed at one level: the mean of the trees' fits added to the guide; right where it is wanted.
    ///
    /// - `levels`: level wanted of each facet; none: this one everywhere
    fn at_level(&self, level: usize, films: &Parted, levels: Option<&[u8]>) -> Vec<Vec<f64>> {
        let mut smoothed = films.guided.clone();
        if level == GUIDED {
            return smoothed;
        }
        if level == 0 || self.trees.is_empty() {
            for (film, rest) in smoothed.iter_mut().zip(&films.rest) {
                film.iter_mut().zip(rest).for_each(|(x, rest)| *x += rest);
            }
            return smoothed;
        }
        let rest: Vec<&[f64]> = films.rest.iter().map(Vec::as_slice).collect();
        let share = 1.0 / self.trees.len() as f64;
        for tree in &self.trees {
            let mut groups = tree.groups(self.area_of(level));
            let here = |facet: &u32, levels: &[u8]| usize::from(levels[*facet as usize]) == level;
            if let Some(levels) = levels {
                let wanted = |run: &Range<usize>| {
                    let facets = tree.order[run.clone()].iter();
                    facets.clone().any(|facet| here(facet, levels))
                };
                groups.retain(wanted);
            }
            let found: Vec<Vec<f64>> = groups
                .par_iter()
                .map(|run| self.group(&tree.order[run.clone()], &rest))
                .collect();
            for (run, found) in groups.into_iter().zip(found) {
                let facets = &tree.order[run];
                for (film, found) in smoothed.iter_mut().zip(found.chunks(facets.len())) {
                    for (&facet, value) in facets.iter().zip(found) {
                        film[facet as usize] += share * value;
                    }
                }
            }
        }
        smoothed
    }

    /// Films of one group, one after the other.
    fn group(&self, facets: &[u32], films: &[&[f64]]) -> Vec<f64> {
        let fit = Fit::new(facets, &self.features, &self.areas);
        let mut found = Vec::with_capacity(facets.len() * films.len());
        for film in films {
            let value = |facet: u32| film[facet as usize];
            let before = found.len();
            fit.smooth(value, |_, value| found.push(value));
            found.resize(before + facets.len(), 0.0);
        }
        found
    }

    /// Area of groups at a level, m².
    fn area_of(&self, level: usize) -> f64 {
        let facets = (SMALLEST << (level - 1)) as f64;
        self.whole * facets / self.areas.len() as f64
    }

    /// Area over which a facet's film is smoothed, m².
    pub fn area_around(&self, facet: usize) -> f64 {
        match self.level[facet] {
            0 => self.areas[facet],
            level if usize::from(level) == GUIDED => {
                self.whole * self.guide.as_ref().map_or(1.0, Guide::share)
            }
            level => self.area_of(usize::from(level)).max(self.areas[facet]) / FEW as f64,
        }
    }

    /// Mean number of facets smoothed over, for whoever looks.
    #[cfg(test)]
    pub fn levels(&self) -> &[u8] {
        &self.level
    }
}

/// Films in two parts that add up to them.
struct Parted {
    guided: Vec<Vec<f64>>,
    rest: Vec<Vec<f64>>,
}

/// Largest extent of the facets' places, m.
fn size_of(features: &[Features]) -> f64 {
    let extent = |axis: usize| {
        let values = features.iter().map(|f| f.0[axis]);
        let (least, most) = values.fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), x| {
            (a.min(x), b.max(x))
        });
        f64::from(most - least)
    };
    (0..3).map(extent).fold(0.0, f64::max)
}
