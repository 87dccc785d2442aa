//! The page says what the records hold, and nothing that a plan could smuggle in.

use super::*;
use crate::advise::score::Score;
use crate::advise::stops::{ByCount, Schedule};
use crate::advise::sure::Sure;
use crate::advise::told::{CardRow, FrontPoint, KeyTold, Known, StopsTold};
use std::collections::BTreeMap;

fn known(value: f64) -> Known {
    Known {
        value,
        stderr: 0.002,
    }
}

fn values(z: &str) -> BTreeMap<String, String> {
    BTreeMap::from([("part.horn.at.z".to_owned(), z.to_owned())])
}

fn ranked() -> Ranked {
    Ranked {
        values: values("131.5 mm"),
        turning: "stops".to_owned(),
        open_time_s: 754.0,
        open_time_range_s: [377.0, 1508.0],
        metal_mg: 87.3,
        metal_range_mg: [43.7, 175.0],
        reached: Some(known(0.951)),
        verdict: Some("met".to_owned()),
        unevenness: known(0.123),
        not_reached: 0.021,
        highest_c: BTreeMap::from([("horn".to_owned(), [31.0, 38.0])]),
        heat_w_per_m2: BTreeMap::new(),
    }
}

fn schedule() -> Schedule {
    Schedule {
        turns: vec![0.0, 0.25, 0.625],
        dwell_s: vec![120.0, 61.0, 90.0],
        open_time_s: 271.0,
        score: Score {
            scale: 1.0,
            reached: 0.95,
            unevenness: 0.08,
            unevenness_error: 0.001,
            not_reached: 0.0,
            bare: 1.0,
            mean_m: 1e-7,
        },
    }
}

fn point(open_time_s: f64, unevenness: f64) -> FrontPoint {
    FrontPoint {
        values: values("140 mm"),
        open_time_s,
        unevenness: known(unevenness),
        metal_mg: 90.0,
        not_reached: 0.021,
        heat: 1.2,
    }
}

fn advice() -> Advice {
    Advice {
        format: "evenfall-advice".to_owned(),
        version: 1,
        program: "0.1.0".to_owned(),
        title: "Horn <inside>".to_owned(),
        seed: 1,
        minimise: "time".to_owned(),
        stopped: false,
        keys: vec![KeyTold {
            key: "part.horn.at.z".to_owned(),
            from: "120 mm".to_owned(),
            to: "200 mm".to_owned(),
            now: "150 mm".to_owned(),
        }],
        candidates: vec![ranked()],
        front: vec![point(754.0, 0.123), point(900.0, 0.09)],
        stops: Some(StopsTold {
            steady_open_time_s: 800.0,
            steady_unevenness: known(0.1),
            by_count: vec![ByCount {
                stops: 3,
                equal: schedule(),
                weighted: None,
                free: Some(schedule()),
            }],
            chosen: Some((3, "free".to_owned())),
            advised: true,
        }),
        turning: None,
        sure: vec![Sure {
            confidence: 0.95,
            open_time_s: 1349.2,
        }],
        rate_factor: 2.0,
        card: vec![CardRow {
            start_s: 0.0,
            lasts_s: 120.0,
            what: "held at 0°".to_owned(),
        }],
        limits: vec!["2.1 % of the bore is reached from none of 30 poses".to_owned()],
        warnings: vec!["the rate is not calibrated".to_owned()],
        tried: 96,
        feasible: 80,
        rays: 24_000_000,
    }
}

fn plain(page: &str) -> String {
    page.replace('\u{a0}', " ")
}

#[test]
fn the_page_says_what_was_found() {
    let page = plain(&html(&advice()));
    let told = [
        "Horn &lt;inside&gt;",
        "The least open time within the bounds: part.horn.at.z = 131.5 mm, open 12 min 34 s.",
        "Met when simulated again",
        "96 candidates were looked at, 80 of them fit",
        "2.1 % of the bore is reached from none of 30 poses",
        "the rate is not calibrated",
        "horn 31 to 38 °C",
        "Advised: 3 stops, free.",
        "<td>225°</td><td>90 s</td>",
        "<td>22 min 30 s</td>",
        "held at 0°",
        "95.1 ± 0.2 %",
    ];
    for words in told {
        assert!(page.contains(words), "{words} is missing from {page}");
    }
    assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
    for outside in ["http", "<script", "src=", "url("] {
        assert!(!page.contains(outside), "{outside} in the page");
    }
}

#[test]
fn a_front_is_drawn_where_its_points_lie() {
    let page = html(&advice());
    let centres: Vec<(f64, f64)> = page
        .split("<circle")
        .skip(1)
        .map(|circle| {
            let number = |name: &str| {
                let rest = circle.split(name).nth(1).expect("there");
                rest.split('"')
                    .next()
                    .expect("quoted")
                    .parse::<f64>()
                    .expect("a number")
            };
            (number("cx=\""), number("cy=\""))
        })
        .collect();
    let [first, second] = centres.as_slice() else {
        panic!("{centres:?}");
    };
    // longer is further right, more even further down
    assert!(
        second.0 > first.0 + 50.0 && second.1 > first.1 + 50.0,
        "{centres:?}"
    );
}

#[test]
fn without_a_candidate_it_says_so() {
    let mut none = advice();
    none.candidates.clear();
    none.card.clear();
    let page = plain(&html(&none));
    assert!(page.contains("Nothing in range does"), "{page}");
    assert!(page.contains("Nothing within the bounds brings the wanted film."));
    assert!(!page.contains("Card for the machine"));
}
