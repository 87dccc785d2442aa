//! Hand-turned schedules: which stops, and how long at each.
//!
//! In: film per second of every pose around the turn. Out: for each number of stops equal stops, equal stops with dwells of
//! their own, and free stops with dwells of their own; and the part's own harmonics for steady turning.

use super::dwell::{Dwells, least_time, most_even};
use super::places::Place;
use super::score::{Grown, Needs, Score, score};
use super::turns::Ripple;
use crate::plan::model::Minimise;

/// Equal poses around the turn that free stops are chosen from.
pub const AROUND: u32 = 72;
/// Numbers of stops that are tried.
pub const COUNTS: std::ops::RangeInclusive<u32> = 3..=16;
/// Steps by which free stops are moved, in poses.
const MOVES: [i32; 4] = [-3, -1, 1, 3];
/// Sweeps of moving.
const SWEEPS: usize = 2;
/// Share of the time below which a stop is none.
const NONE: f64 = 2e-3;

/// Poses around the turn, as fractions of it.
///
/// Equal ones from 0, and those that equal stops of every number need besides.
pub fn poses() -> Vec<[u32; 2]> {
    let mut all: Vec<[u32; 2]> = (0..AROUND).map(|k| [k, AROUND]).collect();
    for count in COUNTS {
        for k in 0..count {
            if place_of(&all, [k, count]).is_none() {
                all.push([k, count]);
            }
        }
    }
    all
}

fn place_of(all: &[[u32; 2]], [k, n]: [u32; 2]) -> Option<usize> {
    all.iter()
        .position(|&[a, b]| u64::from(a) * u64::from(n) == u64::from(k) * u64::from(b))
}

/// Film per second of every pose, m/s: two independent halves.
#[derive(Debug, Clone)]
pub struct PoseRates {
    /// Poses as fractions of a turn, from [`poses`].
    pub poses: Vec<[u32; 2]>,
    /// `[half][pose][metal][place]`.
    pub halves: [Vec<Vec<Vec<f64>>>; 2],
    /// Film that comes while shut, m: `[half][metal][place]`.
    pub fixed_m: [Vec<Vec<f64>>; 2],
}

/// A hand-turned schedule.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Schedule {
    /// Angles of the stops, turns from 0.
    pub turns: Vec<f64>,
    /// Dwell at each, s.
    pub dwell_s: Vec<f64>,
    /// All of them, s.
    #[serde(with = "super::maybe")]
    pub open_time_s: f64,
    /// What the film comes to.
    pub score: Score,
}

/// Schedules of one number of stops.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ByCount {
    /// How many.
    pub stops: u32,
    /// Equal stops, equal dwells.
    pub equal: Schedule,
    /// Equal stops, dwells chosen; none where no dwells do.
    pub weighted: Option<Schedule>,
    /// Stops and dwells chosen; none where no dwells do. May need fewer stops.
    pub free: Option<Schedule>,
}

/// What stops are judged by.
pub struct Asked<'a> {
    /// Where film is looked at.
    pub places: &'a [Place],
    /// What is wanted.
    pub needs: &'a Needs,
    /// What is made small.
    pub minimise: Minimise,
    /// Time of all stops where no thickness is wanted, s.
    pub open_time_s: f64,
    /// Asked whether to stop.
    pub stop: &'a dyn Fn() -> bool,
}

/// Rows of the programme: mean rates of every pose where film is wanted.
struct Rows {
    /// `[pose][row]`.
    rates: Vec<Vec<f64>>,
    /// Film that each row still wants, m; by place and need for time, unused for evenness.
    wants: Vec<f64>,
}

impl PoseRates {
    fn metals(&self) -> usize {
        self.fixed_m[0].len()
    }

    fn mean(&self, pose: usize, metal: usize, place: usize) -> f64 {
        0.5 * (self.halves[0][pose][metal][place] + self.halves[1][pose][metal][place])
    }

    /// The part's own harmonics, where film is wanted.
    pub fn ripple(&self, places: &[Place]) -> Ripple {
        let wanted: Vec<usize> = (0..places.len()).filter(|&i| places[i].wanted).collect();
        let rates: Vec<Vec<f64>> = (0..AROUND as usize)
            .map(|pose| {
                let total =
                    |&place: &usize| (0..self.metals()).map(|m| self.mean(pose, m, place)).sum();
                wanted.iter().map(total).collect()
            })
            .collect();
        Ripple::of(&rates.iter().map(Vec::as_slice).collect::<Vec<_>>())
    }

    /// Film of dwells.
    fn grown(&self, stops: &[usize], dwell_s: &[f64]) -> Grown {
        let scaled_m = [0, 1].map(|half: usize| {
            (0..self.metals())
                .map(|metal| {
                    let places = self.fixed_m[half][metal].len();
                    let mut film = vec![0.0; places];
                    for (&pose, dwell) in stops.iter().zip(dwell_s) {
                        let rates = &self.halves[half][pose][metal];
                        film.iter_mut()
                            .zip(rates)
                            .for_each(|(film, rate)| *film += dwell * rate);
                    }
                    film
                })
                .collect()
        });
        Grown {
            fixed_m: self.fixed_m.clone(),
            scaled_m,
        }
    }

    fn schedule(&self, stops: &[usize], dwell_s: &[f64], asked: &Asked) -> Schedule {
        let all: f64 = dwell_s.iter().sum();
        let mut order: Vec<usize> = (0..stops.len())
            .filter(|&k| dwell_s[k] > NONE * all)
            .collect();
        let turn =
            |k: usize| f64::from(self.poses[stops[k]][0]) / f64::from(self.poses[stops[k]][1]);
        order.sort_by(|&a, &b| turn(a).total_cmp(&turn(b)));
        let kept: Vec<usize> = order.iter().map(|&k| stops[k]).collect();
        let mut dwell: Vec<f64> = order.iter().map(|&k| dwell_s[k]).collect();
        if asked.needs.wants_m.is_empty() {
            let kept: f64 = dwell.iter().sum();
            dwell
                .iter_mut()
                .for_each(|dwell| *dwell *= asked.open_time_s / kept);
        }
        let score = score(&self.grown(&kept, &dwell), asked.places, asked.needs);
        let scale = if score.scale.is_finite() {
            score.scale
        } else {
            1.0
        };
        Schedule {
            turns: order.iter().map(|&k| turn(k)).collect(),
            open_time_s: score.scale * dwell.iter().sum::<f64>(),
            dwell_s: dwell.iter().map(|dwell| dwell * scale).collect(),
            score,
        }
    }
}

impl Schedule {
    /// What is made small.
    pub fn value(&self, minimise: Minimise) -> f64 {
        match minimise {
            Minimise::Unevenness => self.score.unevenness,
            Minimise::Time | Minimise::Metal => self.open_time_s,
        }
    }
}

/// Schedules of every number of stops.
///
/// Free stops start from equal ones and, once, from the best dwells over all poses; each is moved while that helps. Film is
/// linear in dwell, so dwells are a linear programme for any stops; which stops is a search and no proof of the best.
pub fn by_count(rates: &PoseRates, asked: &Asked) -> Vec<ByCount> {
    let all: Vec<usize> = (0..AROUND as usize).collect();
    let rows = Rows::of(rates, asked, &vec![1.0; AROUND as usize]);
    let sparse = rows.dwells(&all, asked.minimise).map(|dwells| {
        let total: f64 = dwells.dwell_s.iter().sum();
        let kept = all
            .iter()
            .filter(|&&pose| dwells.dwell_s[pose] > 10.0 * NONE * total);
        kept.copied().collect::<Vec<usize>>()
    });
    let mut found = Vec::new();
    for count in COUNTS {
        if (asked.stop)() {
            break;
        }
        let equal: Vec<usize> = (0..count)
            .filter_map(|k| place_of(&rates.poses, [k, count]))
            .collect();
        let even = vec![1.0; equal.len()];
        let weighted = rows.dwells(&equal, asked.minimise);
        let mut starts = vec![(0..count).map(|k| (k * AROUND / count) as usize).collect()];
        let fits = |sparse: &&Vec<usize>| (1..=count as usize).contains(&sparse.len());
        starts.extend(sparse.iter().filter(fits).cloned());
        let free = starts
            .into_iter()
            .filter_map(|start| rows.moved(start, asked))
            .chain(weighted.clone().map(|dwells| (equal.clone(), dwells)))
            .min_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let told =
            |(stops, dwells): (&Vec<usize>, &Dwells)| rates.schedule(stops, &dwells.dwell_s, asked);
        found.push(ByCount {
            stops: count,
            equal: rates.schedule(&equal, &even, asked),
            weighted: weighted.as_ref().map(|dwells| told((&equal, dwells))),
            free: free.as_ref().map(|(stops, dwells)| told((stops, dwells))),
        });
    }
    found
}

impl Rows {
    /// Where film is wanted; for time without the share of the area that may go without, taken where these dwells (over the
    /// equal poses) would need most.
    fn of(rates: &PoseRates, asked: &Asked, dwell: &[f64]) -> Self {
        let metals: Vec<usize> = (0..rates.metals()).collect();
        let single = vec![(metals, 1.0)];
        let needs = match asked.minimise {
            Minimise::Unevenness => &single,
            _ if asked.needs.wants_m.is_empty() => &single,
            _ => &asked.needs.wants_m,
        };
        let rate = |pose: usize, need: usize, place: usize| -> f64 {
            needs[need]
                .0
                .iter()
                .map(|&m| rates.mean(pose, m, place))
                .sum()
        };
        let want = |need: usize, place: usize| {
            let fixed =
                |&m: &usize| 0.5 * (rates.fixed_m[0][m][place] + rates.fixed_m[1][m][place]);
            (needs[need].1 - needs[need].0.iter().map(fixed).sum::<f64>()).max(0.0)
        };
        let factor = |place: usize| {
            (0..needs.len())
                .map(|need| {
                    let film: f64 = dwell
                        .iter()
                        .enumerate()
                        .map(|(p, d)| d * rate(p, need, place))
                        .sum();
                    want(need, place) / film
                })
                .fold(0.0, f64::max)
        };
        let mut wanted: Vec<(f64, usize)> = (0..asked.places.len())
            .filter(|&place| asked.places[place].wanted)
            .map(|place| (factor(place), place))
            .collect();
        if asked.minimise == Minimise::Unevenness {
            // what gets nothing anywhere makes every schedule equally uneven
            wanted.retain(|(factor, _)| factor.is_finite());
        } else {
            wanted.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            let area: f64 = wanted.iter().map(|w| asked.places[w.1].area_m2).sum();
            let mut spared = area * (1.0 - asked.needs.on) * (1.0 + 1e-12);
            wanted.retain(|w| {
                spared -= asked.places[w.1].area_m2;
                spared < 0.0
            });
        }
        let rows: Vec<(usize, usize)> = wanted
            .iter()
            .flat_map(|&(_, place)| (0..needs.len()).map(move |need| (need, place)))
            .collect();
        Self {
            rates: (0..rates.poses.len())
                .map(|pose| {
                    rows.iter()
                        .map(|&(need, place)| rate(pose, need, place))
                        .collect()
                })
                .collect(),
            wants: rows
                .iter()
                .map(|&(need, place)| want(need, place))
                .collect(),
        }
    }

    fn dwells(&self, stops: &[usize], minimise: Minimise) -> Option<Dwells> {
        let rates: Vec<&[f64]> = stops
            .iter()
            .map(|&pose| self.rates[pose].as_slice())
            .collect();
        match minimise {
            Minimise::Unevenness => most_even(&rates),
            Minimise::Time | Minimise::Metal => least_time(&rates, &self.wants),
        }
    }

    /// Stops moved around the turn while that helps; none where no dwells do.
    fn moved(&self, mut stops: Vec<usize>, asked: &Asked) -> Option<(Vec<usize>, Dwells)> {
        let mut best = self.dwells(&stops, asked.minimise);
        for _ in 0..SWEEPS {
            let mut helped = false;
            for number in 0..stops.len() {
                for step in MOVES {
                    if (asked.stop)() {
                        break;
                    }
                    let around = i64::from(AROUND);
                    let to = (stops[number] as i64 + i64::from(step)).rem_euclid(around);
                    let Ok(to) = usize::try_from(to) else {
                        continue;
                    };
                    if stops.contains(&to) {
                        continue;
                    }
                    let mut other = stops.clone();
                    other[number] = to;
                    let Some(dwells) = self.dwells(&other, asked.minimise) else {
                        continue;
                    };
                    if best
                        .as_ref()
                        .is_none_or(|best| dwells.value < best.value * (1.0 - 1e-4))
                    {
                        best = Some(dwells);
                        stops = other;
                        helped = true;
                    }
                }
            }
            if !helped {
                break;
            }
        }
        best.map(|best| (stops, best))
    }
}

#[cfg(test)]
mod tests;
