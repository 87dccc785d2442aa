//! The smoothing on films whose truth is known: a sphere's facets with made-up noise.

#![allow(clippy::cast_possible_truncation, reason = "regressors are f32")]

use super::bands::{Bands, Known};
use super::features::{Features, LOW};
use super::guide::{Guide, Order};
use super::smooth::Smoother;
use crate::random::{Stream, Use};
use glam::DVec3;
use std::f64::consts::{GOLDEN_RATIO, TAU};

const FACETS: u32 = 4000;

/// Facets of a ball of 20 mm, spread by the golden angle: where they lie and look; areas from 1 to 2.
fn ball() -> (Vec<Features>, Vec<f64>) {
    let one = |number: u32| {
        let z = 1.0 - (2.0 * f64::from(number) + 1.0) / f64::from(FACETS);
        let (sine, cosine) = (TAU * f64::from(number) / GOLDEN_RATIO).sin_cos();
        let radius = (1.0 - z * z).sqrt();
        let normal = DVec3::new(radius * cosine, radius * sine, z);
        let features = Features::open(0.02 * normal, normal);
        (features, 1.0 + f64::from(number % 7) / 6.0)
    };
    (0..FACETS).map(one).unzip()
}

/// A film with noise of its own.
fn noisy(truth: &[f64], noise: f64, seed: u64) -> Vec<f64> {
    let mut stream = Stream::new(seed, Use::Pilot, 0);
    let even = truth.iter().map(|film| {
        let sum: f64 = (0..12).map(|_| stream.uniform()).sum();
        film + noise * (sum - 6.0)
    });
    even.collect()
}

/// Chooses by two halves; returns the operator, the mean of the halves, and its smoothing.
fn smoothed(truth: &[f64], noise: f64) -> (Smoother, Vec<f64>, Vec<f64>) {
    let (features, areas) = ball();
    let mut smoother = Smoother::new(features, areas);
    let halves = [1, 2].map(|seed| noisy(truth, noise, seed));
    smoother.choose(1_000_000, [&halves[0], &halves[1]]);
    let mean: Vec<f64> = halves[0]
        .iter()
        .zip(&halves[1])
        .map(|(a, b)| 0.5 * (a + b))
        .collect();
    let smooth = smoother.smooth(&[&mean]).remove(0);
    (smoother, mean, smooth)
}

fn rms(film: &[f64], truth: &[f64]) -> f64 {
    let squares = film.iter().zip(truth).map(|(a, b)| (a - b).powi(2));
    (squares.sum::<f64>() / truth.len() as f64).sqrt()
}

/// A film that changes gently all over the ball.
fn gentle() -> Vec<f64> {
    let film = |f: &Features| 2.0 + f64::from(f.0[3]) + 0.5 * f64::from(f.0[4] * f.0[5]);
    ball().0.iter().map(film).collect()
}

#[test]
fn a_gentle_film_loses_nearly_all_its_noise_and_nothing_of_its_total() {
    let truth = gentle();
    let (smoother, mean, smooth) = smoothed(&truth, 0.5);
    let (before, after) = (rms(&mean, &truth), rms(&smooth, &truth));
    // 0.5/√2 before; a linear fit to 64 facets of 8 numbers takes a third, three of them more
    assert!((before - 0.354).abs() < 0.02, "{before}");
    assert!(after < 0.3 * before, "{after}");
    assert!(smoother.levels().iter().all(|&level| level >= 2));
    let (_, areas) = ball();
    let total = |film: &[f64]| -> f64 { film.iter().zip(&areas).map(|(x, a)| x * a).sum() };
    assert!((total(&smooth) / total(&mean) - 1.0).abs() < 1e-9);
}

#[test]
fn a_film_that_place_and_sky_give_is_told_by_all_facets_at_once() {
    let sky = |f: &Features| {
        let [x, y, z, a, b, c] = std::array::from_fn(|i| f64::from(f.0[i]));
        3.0 + (1.0 + 40.0 * x - 2000.0 * y * z) * c + a * b + 1e4 * x * y * y
    };
    let truth: Vec<f64> = ball().0.iter().map(sky).collect();
    let (smoother, mean, smooth) = smoothed(&truth, 0.5);
    // 132 numbers from 4000 facets at most: √(132/4000) of the noise
    let (before, after) = (rms(&mean, &truth), rms(&smooth, &truth));
    assert!(after < 0.2 * before, "{after} of {before}");
    let levels = || smoother.levels().iter();
    let guided = levels().filter(|&&level| level == 10).count();
    assert!(guided * 2 > levels().count(), "{guided}");
}

/// Whether the larger function is taken for a film of which so much comes by the sky's higher orders.
fn takes_the_larger(share: f64) -> bool {
    let (mut features, areas) = ball();
    let mut stream = Stream::new(5, Use::Pilot, 0);
    for feature in &mut features {
        // as shadows of their own would leave them
        for number in &mut feature.0[LOW..] {
            *number = (0.2 * stream.uniform()) as f32;
        }
    }
    let film =
        |f: &Features| 2.0 + f64::from(f.0[3]) + share * f64::from(f.0[LOW + 2] + f.0[LOW + 9]);
    let truth: Vec<f64> = features.iter().map(film).collect();
    let halves = [1, 2].map(|seed| noisy(&truth, 0.3, seed));
    let [low, high] =
        [Order::Low, Order::High].map(|order| Guide::new(order, &features, &areas, &truth));
    let halves = [&halves[0][..], &halves[1][..]];
    match (low, high) {
        (Some(low), Some(high)) => high.foretells_better(&low, &features, &halves),
        _ => panic!("no function"),
    }
}

#[test]
fn the_larger_function_is_taken_where_it_foretells_more_and_only_there() {
    assert!(takes_the_larger(2.0));
    assert!(!takes_the_larger(0.0));
}

#[test]
fn an_edge_is_left_sharp_once_the_noise_allows_it() {
    let edge = |f: &Features| if f.0[3] > 0.2 { 3.0 } else { 1.0 };
    let truth: Vec<f64> = ball().0.iter().map(edge).collect();
    let (smoother, _, smooth) = smoothed(&truth, 0.02);
    assert!(rms(&smooth, &truth) < 0.1, "{}", rms(&smooth, &truth));
    let near: Vec<u8> = ball()
        .0
        .iter()
        .zip(smoother.levels())
        .filter(|(f, _)| (f.0[3] - 0.2).abs() < 0.1)
        .map(|(_, &level)| level)
        .collect();
    assert!(near.iter().any(|&level| level <= 1), "{near:?}");
}

#[test]
fn the_stated_bias_is_what_smoothing_really_gets_wrong() {
    // waves of a few facets' length, smoothed although they are there: noise hides them
    let wave = |f: &Features| 2.0 + 0.3 * f64::from(f.0[3] * 12.0).sin();
    let truth: Vec<f64> = ball().0.iter().map(wave).collect();
    let (smoother, _, _) = smoothed(&truth, 0.6);
    let clean = smoother.smooth(&[&truth]).remove(0);
    let relative = |(a, b): (&f64, &f64)| ((a - b) / b).powi(2);
    let really = (clean.iter().zip(&truth).map(relative).sum::<f64>() / f64::from(FACETS)).sqrt();
    let stated = (smoother.bias.iter().map(|b| b * b).sum::<f64>() / f64::from(FACETS)).sqrt();
    assert!(really > 0.01, "nothing to tell: {really}");
    assert!(
        stated > 0.5 * really && stated < 2.5 * really,
        "{stated} for {really}"
    );
}

/// A film that falls by a factor of a hundred within a fifth of the ball's radius, as under a lifted edge.
fn falling() -> Vec<f64> {
    let film = |f: &Features| 0.01 + 1.0 / (1.0 + (f64::from(f.0[3]) * 40.0).exp());
    ball().0.iter().map(film).collect()
}

/// Batches of a film with the noise of counted flights: its variance is the film's own.
fn batches(truth: &[f64], noise: f64) -> Vec<Vec<f64>> {
    let one = |seed: u64| {
        let mut stream = Stream::new(seed, Use::Pilot, 0);
        let even = truth.iter().map(|film| {
            let sum: f64 = (0..12).map(|_| stream.uniform()).sum();
            film + noise * film.sqrt() * (sum - 6.0)
        });
        even.collect()
    };
    (1..=32).map(one).collect()
}

/// Sums of film over the dark and the bright half: of the scores, of a smoothing that is too high in the dark, and of
/// that set right.
fn halves_set_right(too_high: f64) -> [[f64; 2]; 3] {
    let truth = falling();
    let films = batches(&truth, 0.4);
    let (_, areas) = ball();
    let dark = |film: f64| film < 0.05;
    let high = |&film: &f64| if dark(film) { too_high * film } else { film };
    let smooth: Vec<f64> = truth.iter().map(high).collect();
    let known = Known {
        region: &vec![0; truth.len()],
        areas: &areas,
        scores: &vec![100; truth.len()],
    };
    let views: Vec<&[f64]> = films.iter().map(Vec::as_slice).collect();
    let each = vec![smooth.clone(); films.len()];
    let bands = Bands::new(&known, smooth.clone(), &views, &each);
    let mean = super::mean_of(films.iter());
    let mut right = smooth.clone();
    bands.set_right(&areas, &mean, &mut right);
    [mean, smooth, right].map(|film| {
        [true, false].map(|half| {
            let inside = (0..truth.len()).filter(|&i| dark(truth[i]) == half);
            inside.map(|i| areas[i] * film[i]).sum::<f64>()
        })
    })
}

#[test]
fn the_foot_of_a_steep_fall_is_set_right_by_what_was_scored_there() {
    let [scored, smooth, right] = halves_set_right(1.3);
    assert!(smooth[0] > 1.25 * scored[0], "{smooth:?}, {scored:?}");
    // the band at the seam holds some of either
    let off = [0, 1].map(|half| (right[half] / scored[half] - 1.0).abs());
    assert!(off[0] < 0.05 && off[1] < 0.005, "{right:?}, {scored:?}");
}

#[test]
fn what_the_scores_do_not_contradict_is_left_as_it_is() {
    let [_, smooth, right] = halves_set_right(1.0);
    let bits = |sums: [f64; 2]| sums.map(f64::to_bits);
    assert_eq!(bits(right), bits(smooth));
}
