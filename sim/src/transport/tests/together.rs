//! Clusters of receivers against each receiver with lines of its own.

use super::super::gather::{Effort, Job, Keep, SCRAMBLINGS, Sums};
use super::super::lines::Lines;
use super::super::{Tally, tally};
use super::{Method, calibrate, over_grid, settings, source};
use crate::plan::model::Footprint;
use crate::random::Use;
use crate::scene::Scene;
use glam::DVec3;

/// A grid that turns askew over a ring.
fn turning_grid() -> Scene {
    let ring = Footprint::Ring {
        inner_radius_m: 0.012,
        outer_radius_m: 0.021,
    };
    let head = crate::plan::model::Source {
        footprint: ring,
        at_m: DVec3::new(0.05, 0.02, 0.0),
        ..source(1.6)
    };
    let turn = (DVec3::new(0.3, 0.0, 1.0).normalize(), 1.7, None);
    over_grid(head, &[turn], (Vec::new(), 160))
}

/// Mean square of the differences between receivers in clusters and the same with lines of their own, in standard
/// errors, the flux of the latter being `factor` as large; receivers, and those of them in clusters.
fn apart(factor: f64) -> (f64, [usize; 2]) {
    let scene = turning_grid();
    let rates = calibrate(&scene, &settings(Method::Auto, 0.02, 1)).expect("a plain rate");
    let lines = Lines::new(&scene, &rates);
    let count = scene.receivers.len();
    let gathered = |seed: u64, together: bool| {
        let job = Job {
            lines: &lines,
            receivers: &scene.receivers,
            seed,
            purpose: Use::Scramble,
            round: 0,
        };
        let mut effort = Effort::even(count, lines.channels.len(), 4);
        if together {
            effort.together = job.clusters(&vec![false; count]);
        }
        let mut sums = Sums::new(count, lines.channels.len(), Keep::Means);
        while sums.scramblings < SCRAMBLINGS {
            job.scramblings(&effort, &mut sums);
        }
        let in_clusters = effort.together.iter().filter(|&&n| n != 1).count();
        let causes = vec![Default::default(); count];
        let found: Vec<_> = tally::receivers_of(&sums, &causes).collect();
        (found, in_clusters)
    };
    let (mut squares, mut all, mut clustered) = (0.0, 0_u32, 0);
    for seed in 0..4 {
        let (one, in_clusters) = gathered(2 * seed, true);
        let (other, _) = gathered(2 * seed + 1, false);
        clustered += in_clusters;
        for (one, other) in one.iter().zip(&other) {
            let error = one.std_error_m.hypot(factor * other.std_error_m);
            if error > 0.0 {
                squares += ((one.thickness_m - factor * other.thickness_m) / error).powi(2);
                all += 1;
            }
        }
    }
    (squares / f64::from(all), [all as usize, clustered])
}

#[test]
fn receivers_in_clusters_get_what_they_get_alone_and_know_it_as_well() {
    // The difference of two means over 32 has about 62 degrees of freedom: 62/60, (23) of PHYSICS.md. Facets of a
    // cluster err alike, so that about an eighth of them counts: its own error is √(2 · 8/all).
    let (square, [all, clustered]) = apart(1.0);
    let error = (16.0 / all as f64).sqrt();
    let expected = 62.0 / 60.0;
    assert!(
        (square - expected).abs() < 4.0 * error,
        "{square} ± {error}"
    );
    assert!(2 * clustered > all, "{clustered} of {all}");
}

#[test]
fn the_comparison_notices_a_hundredth_more() {
    let (square, [all, _]) = apart(1.01);
    assert!(
        square > 62.0 / 60.0 + 8.0 * (16.0 / all as f64).sqrt(),
        "{square}"
    );
}

/// Mean square of the differences between what the first scramblings find and `factor` times what further ones do, which
/// are done a few at a time, in standard errors.
fn further(factor: f64) -> (f64, usize) {
    const MORE: u32 = 32;
    let scene = turning_grid();
    let rates = calibrate(&scene, &settings(Method::Auto, 0.02, 1)).expect("a plain rate");
    let lines = Lines::new(&scene, &rates);
    let count = scene.receivers.len();
    let job = Job {
        lines: &lines,
        receivers: &scene.receivers,
        seed: 5,
        purpose: Use::Scramble,
        round: 0,
    };
    let mut effort = Effort::even(count, lines.channels.len(), 4);
    effort.together = job.clusters(&vec![false; count]);
    let mut sums = Sums::new(count, lines.channels.len(), Keep::Means);
    let mut rows = tally::Rows::new(&scene);
    let mut drawn = 0;
    let mut until = |end: u32, sums: &mut Sums| {
        while sums.scramblings < end {
            drawn += job.scramblings(&effort, sums);
            rows.add(&scene, sums);
        }
    };
    until(SCRAMBLINGS, &mut sums);
    let first = sums.clone();
    sums.many = 4;
    until(SCRAMBLINGS + MORE, &mut sums);
    assert_eq!(drawn, effort.sum() * u64::from(SCRAMBLINGS + MORE));
    // the part's mean, scrambling by scrambling, is that of its receivers
    let mut told = Tally::default();
    rows.report(&mut told, sums.scramblings);
    let (mean_m, error_m) = told.part_mean_m[0];
    let areas = || scene.receivers.iter().map(|receiver| receiver.area_m2);
    let volumes = sums
        .cells()
        .zip(areas())
        .map(|(cell, area)| cell.sum * area);
    let expected_m = volumes.sum::<f64>() / f64::from(sums.scramblings) / areas().sum::<f64>();
    assert!(
        (mean_m / expected_m - 1.0).abs() < 1e-9,
        "{mean_m} {expected_m}"
    );
    assert!(error_m < 0.01 * mean_m, "{error_m}");
    let mut squares = 0.0;
    for (first, all) in first.cells().zip(sums.cells()) {
        let of = |sum: f64, squares: f64, n: u32| {
            let n = f64::from(n);
            let mean = sum / n;
            (mean, (squares / n - mean * mean) / (n - 1.0))
        };
        let (one, one_2) = of(first.sum, first.squares, SCRAMBLINGS);
        let rest = (all.sum - first.sum, all.squares - first.squares);
        let (other, other_2) = of(rest.0, rest.1, MORE);
        squares += (one - factor * other).powi(2) / (one_2 + other_2);
    }
    (squares / count as f64, count)
}

#[test]
fn further_scramblings_find_what_the_first_found() {
    // expected value and error as above
    let (square, count) = further(1.0);
    let error = (16.0 / count as f64).sqrt();
    assert!(
        (square - 62.0 / 60.0).abs() < 4.0 * error,
        "{square} ± {error}"
    );
}

#[test]
fn further_scramblings_notice_three_hundredths_more() {
    let (square, _) = further(1.03);
    assert!(square > 1.5, "{square}");
}
