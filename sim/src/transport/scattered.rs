//! Film that comes after a collision or a bounce, per receiver, far sooner than plain firing would have it.
//!
//! In: lines, and what is to be reached. Out: [`Scattered`], thickness with its error. What comes straight is not in it.
//!
//! Walks with many flights towards the parts ([`walk`]) give noisy but true scores per facet; per part these are
//! smoothed over place and outlook ([`smooth`]), as far as the scores themselves say it is right. Batches of atoms that
//! know nothing of each other give the error.

mod bands;
mod book;
mod choice;
mod features;
mod fit;
mod guide;
mod smooth;
mod targets;
#[cfg(test)]
mod tests;
mod tree;
mod walk;

use super::Tally;
use super::lines::Lines;
use super::tally::{by_row, split};
use crate::random::Use;
use crate::scene::{BodyId, Part, Scene};
use crate::stats::Running;
use book::{Book, MOST_BATCHES};
use smooth::Smoother;
use std::ops::Range;
use targets::Targets;
use walk::Walker;

/// Atoms of the first batches.
const FIRST: u64 = 64;

/// Asked between atoms: true ends the walk.
type Stop<'a> = &'a (dyn Fn() -> bool + Sync);

/// Film of scattered atoms.
#[derive(Debug, Clone, Default)]
pub(super) struct Scattered {
    /// Per receiver, thickness, m.
    pub thickness_m: Vec<f64>,
    /// Per receiver, its standard error, m.
    pub std_error_m: Vec<f64>,
    /// Per receiver, flights that scored; at least 1 where there is film.
    pub scores: Vec<u32>,
    /// Per receiver, film times mean incidence angle, m rad.
    pub angle_m: Vec<f64>,
    /// `[channel][receiver]`, thickness, m.
    pub by_channel_m: Vec<Vec<f64>>,
    /// `[part][side][row]`, standard error of the row's mean, m.
    pub row_std_error_m: Vec<[Vec<f64>; 2]>,
    /// Per part, mean over its counted area and standard error, m.
    pub part_mean_m: Vec<(f64, f64)>,
    /// Per coupon.
    pub coupons_m: Vec<(f64, f64)>,
    /// Per half of the batches and receiver, thickness, m: of atoms that know nothing of each other; how far they are
    /// smoothed was chosen by both.
    pub halves_m: [Vec<f64>; 2],
}

/// Scattered atoms under way.
pub(super) struct Cloud<'a> {
    walker: Walker<'a>,
    book: Book,
    smoothers: Vec<Smoother>,
    /// Film volume of a score of 1, m³, over the atoms fired: `volume/atoms`.
    volume_m3: f64,
    /// Atoms in a batch.
    each: u64,
    next: u64,
}

impl<'a> Cloud<'a> {
    /// Makes ready for all parts and coupons; nothing flies yet.
    pub fn new(lines: &'a Lines<'a>, seed: u64) -> Self {
        Self {
            smoothers: smoothers(lines),
            ..Self::with(lines, seed, (Targets::new(lines.scene), Use::Scatter))
        }
        .starting_from_nets()
    }

    /// Makes ready for one body, with atoms that no run fires: [`Cloud::mean_over`] says what it gets.
    pub fn towards(lines: &'a Lines<'a>, seed: u64, body: BodyId) -> Self {
        let targets = Targets::of(lines.scene, &[body]);
        Self::with(lines, seed, (targets, Use::CalibrateAtom))
    }

    /// Makes ready for some coupons alone; parts then read as bare.
    pub fn towards_coupons(lines: &'a Lines<'a>, seed: u64, bodies: &[BodyId]) -> Self {
        let targets = Targets::of(lines.scene, bodies);
        Self::with(lines, seed, (targets, Use::Scatter))
    }

    fn with(lines: &'a Lines<'a>, seed: u64, (targets, purpose): (Targets, Use)) -> Self {
        let mut sum = 0.0;
        let cumulative: Vec<f64> = lines
            .channels
            .iter()
            .map(|channel| {
                sum += channel.atoms;
                sum
            })
            .collect();
        let volumes = || lines.channels.iter().map(|channel| channel.atom_volume_m3);
        let largest = volumes().fold(f64::MIN_POSITIVE, f64::max);
        Self {
            book: Book::new(lines.scene, volumes().map(|v| v / largest).collect()),
            smoothers: Vec::new(),
            volume_m3: largest * sum,
            walker: Walker {
                targets,
                lines,
                cumulative,
                seed,
                purpose,
                from_nets: false,
            },
            each: FIRST,
            next: 0,
        }
    }

    /// Lets atoms that are followed together start from nets.
    fn starting_from_nets(mut self) -> Self {
        self.walker.from_nets = true;
        self
    }

    fn scene(&self) -> &'a Scene {
        self.walker.lines.scene
    }

    /// Atoms of so many batches as they now are.
    pub fn atoms_of(&self, batches: u64) -> u64 {
        self.each * batches
    }

    /// Atoms that left so far.
    pub fn atoms(&self) -> u64 {
        self.each * self.book.batches.len() as u64
    }

    /// Flies one more batch; false if it was stopped, which leaves the finished ones as they are.
    pub fn batch(&mut self, stop: Stop) -> bool {
        if self.book.batches.len() == MOST_BATCHES {
            self.book.join();
            self.each *= 2;
        }
        let numbers = self.next..self.next + self.each;
        if !self.walker.walk(numbers, &self.book, stop) {
            return false;
        }
        self.next += self.each;
        self.book.end_batch();
        true
    }

    /// Flights that scored so far.
    pub fn scores(&self) -> u64 {
        self.book.all_scores()
    }

    /// Batches done.
    pub fn batches(&self) -> usize {
        self.book.batches.len()
    }

    /// What the batches say; at least two of them.
    pub fn read(&mut self) -> Scattered {
        let scene = self.scene();
        let receivers = scene.receivers.len();
        let mut found = Scattered {
            thickness_m: vec![0.0; receivers],
            std_error_m: vec![0.0; receivers],
            angle_m: vec![0.0; receivers],
            by_channel_m: vec![vec![0.0; receivers]; self.walker.lines.channels.len()],
            scores: (0..receivers).map(|r| self.book.scores(r)).collect(),
            halves_m: [vec![0.0; receivers], vec![0.0; receivers]],
            ..Scattered::default()
        };
        for number in 0..self.smoothers.len() {
            self.read_part(number, &mut found);
        }
        for coupon in &scene.coupons {
            self.read_coupon(&coupon.receivers, &mut found);
        }
        for (scores, &thickness_m) in found.scores.iter_mut().zip(&found.thickness_m) {
            *scores = (*scores).max(u32::from(thickness_m > 0.0));
        }
        found
    }

    /// A batch's film on a receiver, m.
    fn film_m(&self, batch: usize, receiver: usize) -> f64 {
        let area_m2 = self.scene().receivers[receiver].area_m2;
        let score = f64::from(self.book.batches[batch][receiver]);
        if area_m2 > 0.0 {
            score * self.volume_m3 / (self.each as f64 * area_m2)
        } else {
            0.0
        }
    }

    fn read_part(&mut self, number: usize, found: &mut Scattered) {
        let part = &self.scene().parts[number];
        let facets: Vec<usize> = part.front.clone().chain(part.back.clone()).collect();
        let batches = self.book.batches.len();
        let films: Vec<Vec<f64>> = (0..batches)
            .map(|batch| facets.iter().map(|&r| self.film_m(batch, r)).collect())
            .collect();
        let halves = [0, 1].map(|first| mean_of(films.iter().skip(first).step_by(2)));
        let views: Vec<&[f64]> = films.iter().map(Vec::as_slice).collect();
        let scores: Vec<u32> = facets.iter().map(|&r| self.book.scores(r)).collect();
        let flights = scores.iter().map(|&scores| u64::from(scores)).sum();
        self.smoothers[number].choose(flights, [&halves[0], &halves[1]]);
        let smooth_films = self.smoothers[number].settle(&views, &scores);
        let smoother = &self.smoothers[number];
        let mean = mean_of(films.iter());
        let all: f64 = found.scores.iter().map(|&n| f64::from(n)).sum();
        let scale = self.volume_m3 / self.atoms().max(1) as f64;
        let per_m2 = |sums: Vec<f64>| -> Vec<f64> {
            let area = |r: usize| self.scene().receivers[r].area_m2.max(f64::MIN_POSITIVE);
            facets.iter().map(|&r| sums[r] * scale / area(r)).collect()
        };
        let mut others = vec![mean.clone(), per_m2(self.book.angles())];
        let channels = self.walker.lines.channels.len();
        if channels > 1 {
            others.extend((0..channels).map(|c| per_m2(self.book.channel_sums(c))));
        }
        let others: Vec<&[f64]> = others.iter().map(Vec::as_slice).collect();
        let smooth = smoother.smooth(&others);
        let volume: f64 = facets
            .iter()
            .zip(&mean)
            .map(|(&r, film)| film * self.scene().receivers[r].area_m2)
            .sum();
        let per_score = volume / all.max(1.0);
        for (first, half) in found.halves_m.iter_mut().enumerate() {
            let mean = mean_of(smooth_films.iter().skip(first).step_by(2));
            for (&receiver, film) in facets.iter().zip(mean) {
                half[receiver] = film.max(0.0);
            }
        }
        for (place, &receiver) in facets.iter().enumerate() {
            let value = smooth[0][place].max(0.0);
            let spread: Running = smooth_films.iter().map(|film| film[place]).collect();
            let least = per_score / smoother.area_around(place).max(f64::MIN_POSITIVE);
            let error = spread.std_error().unwrap_or(f64::INFINITY);
            let error = if value > 0.0 { error } else { error.max(least) };
            found.thickness_m[receiver] = value;
            found.std_error_m[receiver] = error.hypot(smoother.bias[place] * value);
            found.angle_m[receiver] =
                smooth[1][place].clamp(0.0, value * std::f64::consts::FRAC_PI_2);
            if channels == 1 {
                found.by_channel_m[0][receiver] = value;
            } else {
                let own: Vec<f64> = smooth[2..]
                    .iter()
                    .map(|film| film[place].max(0.0))
                    .collect();
                let sum: f64 = own.iter().sum();
                for (channel, own) in own.into_iter().enumerate() {
                    let share = if sum > 0.0 { own / sum } else { 0.0 };
                    found.by_channel_m[channel][receiver] = value * share;
                }
            }
        }
        let bias = &self.smoothers[number].bias;
        let rows = self.rows(part, (&smooth_films, &smooth[0], bias));
        found.row_std_error_m.push(rows);
        found.part_mean_m.push(self.mean_of_films(&facets, &films));
    }

    /// Standard errors of the rows of a part.
    fn rows(
        &self,
        part: &Part,
        (films, mean, bias): (&[Vec<f64>], &[f64], &[f64]),
    ) -> [Vec<f64>; 2] {
        let receivers = &self.scene().receivers;
        let rows = part.mesh.triangles.len();
        let front = part.front.len();
        [(&part.front, 0), (&part.back, front)].map(|(range, offset)| {
            let mut errors = vec![0.0; if range.is_empty() { 0 } else { rows }];
            for (row, facets) in by_row(receivers, range.clone()) {
                let places = facets.clone().map(|r| r - range.start + offset);
                let area: f64 = facets.clone().map(|r| receivers[r].area_m2).sum();
                let over = |film: &dyn Fn(usize) -> f64| -> f64 {
                    let both = facets.clone().zip(places.clone());
                    both.map(|(r, place)| receivers[r].area_m2 * film(place))
                        .sum::<f64>()
                        / area.max(f64::MIN_POSITIVE)
                };
                let spread: Running = films
                    .iter()
                    .map(|film| over(&|place| film[place]))
                    .collect();
                let bias = over(&|place| mean[place] * bias[place]);
                errors[row] = spread.std_error().unwrap_or(f64::INFINITY).hypot(bias);
            }
            errors
        })
    }

    /// Mean over receivers and its standard error, m; the error is infinite before the second batch.
    pub fn mean_over(&self, range: Range<usize>) -> (f64, f64) {
        let facets: Vec<usize> = range.collect();
        let films: Vec<Vec<f64>> = (0..self.book.batches.len())
            .map(|batch| facets.iter().map(|&r| self.film_m(batch, r)).collect())
            .collect();
        self.mean_of_films(&facets, &films)
    }

    fn read_coupon(&self, range: &Range<usize>, found: &mut Scattered) {
        let facets: Vec<usize> = range.clone().collect();
        let films: Vec<Vec<f64>> = (0..self.book.batches.len())
            .map(|batch| facets.iter().map(|&r| self.film_m(batch, r)).collect())
            .collect();
        let angles = self.book.angles();
        let scale = self.volume_m3 / self.atoms().max(1) as f64;
        for (place, &receiver) in facets.iter().enumerate() {
            let spread: Running = films.iter().map(|film| film[place]).collect();
            for (first, half) in found.halves_m.iter_mut().enumerate() {
                let own: Running = films
                    .iter()
                    .skip(first)
                    .step_by(2)
                    .map(|film| film[place])
                    .collect();
                half[receiver] = own.mean();
            }
            let area_m2 = self.scene().receivers[receiver].area_m2;
            found.thickness_m[receiver] = spread.mean();
            found.std_error_m[receiver] = spread.std_error().unwrap_or(f64::INFINITY);
            found.angle_m[receiver] = angles[receiver] * scale / area_m2.max(f64::MIN_POSITIVE);
            for (channel, films) in found.by_channel_m.iter_mut().enumerate() {
                films[receiver] = spread.mean() * self.book.share(receiver, channel);
            }
        }
        found.coupons_m.push(self.mean_of_films(&facets, &films));
    }

    /// Mean over receivers and its standard error from batches.
    fn mean_of_films(&self, facets: &[usize], films: &[Vec<f64>]) -> (f64, f64) {
        let areas = || facets.iter().map(|&r| self.scene().receivers[r].area_m2);
        let area_m2 = areas().sum::<f64>().max(f64::MIN_POSITIVE);
        let over = |film: &Vec<f64>| areas().zip(film).map(|(a, x)| a * x).sum::<f64>() / area_m2;
        let spread: Running = films.iter().map(over).collect();
        (spread.mean(), spread.std_error().unwrap_or(f64::INFINITY))
    }
}

/// Mean of some films.
fn mean_of<'f>(films: impl Iterator<Item = &'f Vec<f64>>) -> Vec<f64> {
    let mut sum: Vec<f64> = Vec::new();
    let mut count = 0.0_f64;
    for film in films {
        sum.resize(film.len(), 0.0);
        sum.iter_mut().zip(film).for_each(|(sum, x)| *sum += x);
        count += 1.0;
    }
    sum.iter_mut().for_each(|sum| *sum /= count.max(1.0));
    sum
}

/// One for each part.
fn smoothers(lines: &Lines) -> Vec<Smoother> {
    let scene = lines.scene;
    let configuration = lines
        .channels
        .first()
        .map_or(scene.open_configuration, |channel| channel.configuration);
    let paths = scene.gas.iter().flat_map(|gas| &gas.pairs);
    let free_path_m = paths
        .map(|pair| pair.free_path_m)
        .fold(f64::INFINITY, f64::min);
    let of = |part: &Part| {
        let ranges = [part.front.clone(), part.back.clone()];
        let features = ranges
            .iter()
            .flat_map(|range| features::features(lines, range.clone(), configuration, free_path_m))
            .collect();
        let receivers = ranges.into_iter().flatten();
        let areas = receivers.map(|r| scene.receivers[r].area_m2).collect();
        Smoother::new(features, areas)
    };
    scene.parts.iter().map(of).collect()
}

impl Scattered {
    /// Adds the film to a tally of what comes straight.
    pub fn join(&self, scene: &Scene, lines: &Lines, tally: &mut Tally) {
        tally.scattered = vec![0.0; tally.receivers.len()];
        for (index, sums) in tally.receivers.iter_mut().enumerate() {
            let scattered_m = self.thickness_m[index];
            let whole_m = sums.thickness_m + scattered_m;
            let angle = if sums.thickness_m > 0.0 {
                sums.thickness_m * sums.incidence_rad
            } else {
                0.0
            };
            if whole_m > 0.0 {
                sums.incidence_rad = (angle + self.angle_m[index]) / whole_m;
                #[expect(clippy::cast_possible_truncation, reason = "a share of seven digits")]
                let share = (scattered_m / whole_m) as f32;
                tally.scattered[index] = share;
            }
            sums.thickness_m = whole_m;
            sums.std_error_m = sums.std_error_m.hypot(self.std_error_m[index]);
            sums.arrived = sums.arrived.saturating_add(self.scores[index]);
        }
        // of none seen: as if one had arrived
        tally.per_atom_m = tally
            .receivers
            .iter()
            .map(|sums| sums.std_error_m)
            .collect();
        let straight_by = std::mem::take(&mut tally.by_metal);
        let steps = std::mem::take(&mut tally.by_step);
        split(scene, lines, tally, |receiver, channel| {
            self.by_channel_m[channel][receiver]
        });
        add_films(&mut tally.by_metal, &straight_by);
        add_films(&mut tally.by_step, &steps);
        let rows = tally.row_std_error_m.iter_mut().zip(&self.row_std_error_m);
        for (own, other) in rows.flat_map(|(a, b)| a.iter_mut().zip(b)) {
            own.iter_mut()
                .zip(other)
                .for_each(|(a, b)| *a = a.hypot(*b));
        }
        let means = tally.part_mean_m.iter_mut().zip(&self.part_mean_m);
        let coupons = tally.coupons_m.iter_mut().zip(&self.coupons_m);
        for (own, other) in means.chain(coupons) {
            *own = (own.0 + other.0, own.1.hypot(other.1));
        }
    }
}

/// Adds films to films, receiver by receiver.
fn add_films(to: &mut [Vec<f32>], from: &[Vec<f32>]) {
    for (to, from) in to.iter_mut().zip(from) {
        to.iter_mut().zip(from).for_each(|(a, b)| *a += b);
    }
}
