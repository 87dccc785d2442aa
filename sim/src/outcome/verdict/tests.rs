use super::*;
use crate::film::RowFilm;
use crate::mesh::MeshHealth;
use crate::outcome::model::Facet;
use crate::plan::model::Region;
use glam::{DAffine3, DVec3};

const WANT_M: f64 = 1e-7;

fn facet(thickness_m: f64, std_error_m: f64) -> Facet {
    Facet {
        row: 0,
        corners_m: [DVec3::ZERO, DVec3::X, DVec3::Y],
        thickness_m,
        std_error_m,
        incidence_rad: 0.0,
        state: State::Reached,
        shares: [0.0; 7],
        regions: 0,
    }
}

/// A part of these facets, made up.
fn part(facets: Vec<Facet>) -> PartOutcome {
    PartOutcome {
        name: "plate".to_owned(),
        vertices_m: Vec::new(),
        triangles: Vec::new(),
        rows: Vec::<RowFilm>::new(),
        facets,
        back_facets: Vec::new(),
        by_step_m: Vec::new(),
        by_metal_m: Vec::new(),
        chamber_from_part: DAffine3::IDENTITY,
        both_sides: false,
        health: MeshHealth::default(),
        material: None,
    }
}

fn wanted(want: Want, on: f64) -> FilmWanted {
    FilmWanted {
        want,
        on,
        regions: None,
        bare: Vec::new(),
        bare_under_m: 5e-9,
    }
}

/// Judges a part whose facets all have the same area.
fn judged(part: &PartOutcome, film: &FilmWanted, bounds_m: Vec<f64>) -> FilmVerdict {
    let regions = ["rim", "threads"].map(|name| Region {
        name: name.to_owned(),
        part: "plate".to_owned(),
        inside: None,
        object: None,
        facing: None,
    });
    let facets = [Facets {
        part,
        areas_m2: vec![1e-6; bounds_m.len()],
        bounds_m,
    }];
    let metals = ["chromium", "gold"].map(str::to_owned);
    let wanted = Wanted {
        film,
        regions: &regions,
        metals: &metals,
    };
    judge(&facets, &wanted)
}

fn judged_on(facets: Vec<Facet>, on: f64) -> FilmVerdict {
    let bounds_m = vec![0.0; facets.len()];
    judged(&part(facets), &wanted(Want::Total(WANT_M), on), bounds_m)
}

/// A variate of the standard normal distribution by its quantiles in scrambled order.
fn normal(index: usize, count: usize) -> f64 {
    let shuffled = (index * 7919) % count; // 7919 is prime and no divisor of the counts used here
    crate::stats::normal_quantile((shuffled as f64 + 0.5) / count as f64)
}

#[test]
fn film_far_from_the_threshold_is_judged_without_doubt() {
    let met = judged_on(vec![facet(2.0 * WANT_M, 0.01 * WANT_M); 10], 1.0);
    assert_eq!(met.verdict, MET);
    assert!((met.reached_fraction - 1.0).abs() < 1e-12 && met.reached_stderr < 1e-12);
    let mut half = vec![facet(2.0 * WANT_M, 0.01 * WANT_M); 10];
    half.extend(vec![facet(0.5 * WANT_M, 0.01 * WANT_M); 10]);
    let missed = judged_on(half, 0.98);
    assert_eq!(missed.verdict, MISSED);
    assert!((missed.reached_fraction - 0.5).abs() < 1e-12);
    assert!((missed.area_mm2 - 20.0).abs() < 1e-9);
}

/// Facets whose true film is `above` standard errors above the threshold everywhere, as a run estimates them.
fn uniform(above: f64, stated_error_m: f64) -> FilmVerdict {
    let error_m = 0.02 * WANT_M;
    let count = 1000;
    let estimate = |index| WANT_M + error_m * (above + normal(index, count));
    judged_on(
        (0..count)
            .map(|index| facet(estimate(index), stated_error_m))
            .collect(),
        0.98,
    )
}

#[test]
fn an_even_film_just_above_the_threshold_is_never_called_missed() {
    for above in [0.1, 0.5, 1.0, 2.0, 3.0] {
        let found = uniform(above, 0.02 * WANT_M);
        assert_ne!(found.verdict, MISSED, "{above}: {found:?}");
    }
}

#[test]
fn judging_notices_error_bars_that_are_ten_times_too_small() {
    assert_eq!(uniform(1.0, 0.002 * WANT_M).verdict, MISSED);
}

#[test]
fn an_even_film_just_below_the_threshold_is_never_called_met() {
    for below in [0.1, 0.5, 1.0, 2.0, 3.0] {
        let error_m = 0.02 * WANT_M;
        let estimate = |index| WANT_M + error_m * (normal(index, 1000) - below);
        let facets = (0..1000)
            .map(|index| facet(estimate(index), error_m))
            .collect();
        let found = judged_on(facets, 0.02);
        assert_ne!(found.verdict, MET, "{below}: {found:?}");
    }
}

#[test]
fn an_uneven_film_is_shared_as_its_true_thickness_is() {
    // True thickness even from 0.5 to 1.5 of the wanted one: half of the area reaches it.
    let error_m = 0.02 * WANT_M;
    let count = 5000;
    let truth = |index: usize| WANT_M * (0.5 + (index as f64 + 0.5) / count as f64);
    let estimate = |index| truth(index) + error_m * normal(index, count);
    let found = judged_on(
        (0..count)
            .map(|index| facet(estimate(index), error_m))
            .collect(),
        0.6,
    );
    assert!(
        (found.reached_fraction - 0.5).abs() < found.reached_stderr,
        "{found:?}"
    );
    assert!(found.reached_stderr < 0.05, "{found:?}");
    assert_eq!(found.verdict, MISSED);
}

#[test]
fn a_patch_on_which_nothing_was_seen_leaves_doubt_only_as_far_as_its_bound_does() {
    let mut unseen = facet(0.0, 0.0);
    unseen.state = State::NoneSeen;
    let film = wanted(Want::Total(WANT_M), 0.9);
    let facets = || part(vec![unseen, facet(2.0 * WANT_M, 0.0)]);
    let sure = judged(&facets(), &film, vec![0.5 * WANT_M, 0.0]);
    assert_eq!((sure.verdict.as_str(), sure.reached_stderr), (MISSED, 0.0));
    let unsure = judged(&facets(), &film, vec![2.0 * WANT_M, 0.0]);
    assert_eq!(unsure.verdict, CLOSE);
}

#[test]
fn every_metal_must_reach_its_own_thickness() {
    let mut thin_chromium = part(vec![facet(1.1e-7, 0.0); 4]);
    thin_chromium.by_metal_m = vec![vec![4e-9, 6e-9, 6e-9, 6e-9], vec![1.06e-7; 4]];
    let want = Want::PerMetal([("chromium".to_owned(), 5e-9), ("gold".to_owned(), 1e-7)].into());
    let found = judged(&thin_chromium, &wanted(want, 0.9), vec![0.0; 4]);
    assert!((found.reached_fraction - 0.75).abs() < 1e-12);
    let nobody_emits = Want::PerMetal([("silver".to_owned(), 1e-9)].into());
    let found = judged(&thin_chromium, &wanted(nobody_emits, 0.9), vec![0.0; 4]);
    assert_eq!(
        (found.verdict.as_str(), found.reached_fraction),
        (MISSED, 0.0)
    );
}

#[test]
fn the_error_of_a_sum_is_split_as_counts_are() {
    let mut two = part(vec![facet(1e-7, 1e-8)]);
    two.by_metal_m = vec![vec![0.25e-7], vec![0.75e-7]];
    let facets = Facets {
        part: &two,
        areas_m2: vec![1.0],
        bounds_m: vec![0.0],
    };
    let (first, second) = (
        facets.of_metal(0, Metal::One(0)),
        facets.of_metal(0, Metal::One(1)),
    );
    assert!((first.1 - 0.5e-8).abs() < 1e-14);
    assert!((first.1.hypot(second.1) - 1e-8).abs() < 1e-14);
}

#[test]
fn buried_facets_are_no_surface() {
    let mut buried = facet(0.0, 0.0);
    buried.state = State::Buried;
    let found = judged_on(vec![facet(2.0 * WANT_M, 0.0), buried, buried], 1.0);
    assert_eq!(found.verdict, MET);
    assert!((found.area_mm2 - 1.0).abs() < 1e-9);
}

#[test]
fn regions_are_judged_alone_and_counted_once_together() {
    let with = |mut facet: Facet, regions: u64| {
        facet.regions = regions;
        facet
    };
    let (thick, bare) = (facet(2.0 * WANT_M, 0.0), facet(1e-9, 0.0));
    let facets = vec![
        with(thick, 0b01),
        with(thick, 0b11),
        with(bare, 0b10),
        with(thick, 0b00),
    ];
    let mut film = wanted(Want::Total(WANT_M), 0.9);
    film.regions = Some(vec!["rim".to_owned(), "threads".to_owned()]);
    let found = judged(&part(facets.clone()), &film, vec![0.0; 4]);
    assert!((found.area_mm2 - 3.0).abs() < 1e-9);
    assert!((found.reached_fraction - 2.0 / 3.0).abs() < 1e-12);
    let rows: Vec<(&str, &str)> = found
        .regions
        .iter()
        .map(|region| (region.name.as_str(), region.verdict.as_str()))
        .collect();
    assert_eq!(rows, [("rim", MET), ("threads", MISSED)]);
    // The same film, but the threads are to stay bare.
    film.regions = Some(vec!["rim".to_owned()]);
    film.bare = vec!["threads".to_owned()];
    let found = judged(&part(facets.clone()), &film, vec![0.0; 4]);
    assert!((found.reached_fraction - 1.0).abs() < 1e-12);
    let threads = &found.regions[1];
    assert_eq!(
        (threads.wanted.as_str(), threads.verdict.as_str()),
        ("bare", MISSED)
    );
    assert!((threads.fraction - 0.5).abs() < 1e-12);
    assert_eq!(found.verdict, MISSED, "a coated thread is a missed wish");
    // Without regions to coat, all is to be coated but what is to stay bare.
    film.regions = None;
    let found = judged(&part(facets), &film, vec![0.0; 4]);
    assert!((found.area_mm2 - 2.0).abs() < 1e-9);
    assert!((found.reached_fraction - 1.0).abs() < 1e-12);
}
