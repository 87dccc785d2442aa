//! `triangles.csv`, `probe-NAME.csv`, `summary.json`, against the project's contract.

use evenfall_sim::outcome::{Outcome, WriteList, probe_files, write};
use evenfall_tests::made_up;
use std::fs;

/// Writes an outcome without pictures and hands back one of its files.
pub fn file_of(outcome: &Outcome, name: &str) -> Vec<u8> {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("coat");
    let list: WriteList = "summary,triangles,probes,mesh,outcome".parse().unwrap();
    write(outcome, &folder, &list).unwrap();
    fs::read(folder.join(name)).unwrap()
}

fn text_of(outcome: &Outcome, name: &str) -> String {
    String::from_utf8(file_of(outcome, name)).unwrap()
}

/// The columns as the contract lists them.
const COLUMNS: &str = "part,triangle,x_mm,y_mm,z_mm,area_mm2,thickness_nm,stderr_nm,back_nm,incidence_deg,\
scattered_fraction,visible_fraction,state,share_direct,share_facing,share_self,share_fixtures,share_mask,\
share_shutter,share_gas";

#[test]
fn triangles_have_the_columns_of_the_contract_and_one_row_per_triangle_as_given() {
    let text = text_of(&made_up::outcome(), "triangles.csv");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines[0], format!("{COLUMNS},nm_chromium,nm_gold"));
    assert_eq!(lines.len(), 1 + 6 + 1);
    assert!(text.ends_with('\n') && !text.contains('\r'));
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let keys: Vec<(&str, &str)> = rows.iter().map(|row| (&row[0], &row[1])).collect();
    let dial = "dial, large";
    assert_eq!(
        keys,
        [
            (dial, "0"),
            (dial, "1"),
            (dial, "2"),
            (dial, "3"),
            (dial, "4"),
            (dial, "5"),
            ("cover", "0")
        ]
    );
    let states: Vec<&str> = rows.iter().map(|row| &row[12]).collect();
    assert_eq!(
        states,
        [
            "reached",
            "reached",
            "needle",
            "buried",
            "unreached",
            "none seen",
            "reached"
        ]
    );
}

#[test]
fn columns_per_metal_are_left_out_when_there_is_one_metal() {
    let mut outcome = made_up::outcome();
    outcome.metal_names.truncate(1);
    for part in &mut outcome.parts {
        part.by_metal_m.clear();
        part.rows.iter_mut().for_each(|row| row.by_metal_m.clear());
    }
    assert_eq!(
        text_of(&outcome, "triangles.csv").lines().next(),
        Some(COLUMNS)
    );
}

#[test]
fn numbers_come_back_to_six_significant_digits_in_mm_nm_and_degrees() {
    let outcome = made_up::outcome();
    let text = text_of(&outcome, "triangles.csv");
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let film = outcome.parts.iter().flat_map(|part| &part.rows);
    for (row, film) in rows.records().map(Result::unwrap).zip(film) {
        let expected = [
            (2, film.centroid_m.x * 1e3),
            (3, film.centroid_m.y * 1e3),
            (4, film.centroid_m.z * 1e3),
            (5, film.area_m2 * 1e6),
            (6, film.thickness_m * 1e9),
            (7, film.std_error_m * 1e9),
            (10, film.scattered),
            (20, film.by_metal_m[0] * 1e9),
            (21, film.by_metal_m[1] * 1e9),
        ];
        for (column, expected) in expected {
            let found: f64 = row[column].parse().unwrap();
            assert!(
                (found - expected).abs() <= 5e-7 * expected.abs(),
                "{column}: {found} for {expected}"
            );
        }
        let angle = (!row[9].is_empty()).then(|| row[9].parse::<f64>().unwrap());
        let same = |a: f64, b: f64| (a - b.to_degrees()).abs() < 1e-4;
        assert!(match (angle, film.incidence_rad) {
            (Some(found), Some(expected)) => same(found, expected),
            (found, expected) => found.is_none() && expected.is_none(),
        });
    }
}

#[test]
fn cells_without_a_number_are_empty_and_needles_have_a_thickness_of_zero() {
    let text = text_of(&made_up::outcome(), "triangles.csv");
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let needle = &rows[2];
    assert_eq!(
        (&needle[5], &needle[6], &needle[7], &needle[9]),
        ("0", "0", "0", "")
    );
    let both_sides = &rows[0];
    assert_ne!(&both_sides[8], "");
    let one_side = &rows[6];
    assert_eq!(&one_side[8], "");
    // Where the method does not look, there is no share and no visibility to state.
    assert_eq!(&one_side[11], "");
    assert!((13..20).all(|column| one_side[column].is_empty()));
}

#[test]
fn probes_have_the_columns_of_the_contract_and_names_that_files_can_have() {
    let outcome = made_up::outcome();
    assert_eq!(
        probe_files(&outcome),
        ["probe-across the edge.csv", "probe-a_b.csv"]
    );
    let text = text_of(&outcome, "probe-across the edge.csv");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(
        lines[0],
        "s_mm,x_mm,y_mm,z_mm,thickness_nm,stderr_nm,incidence_deg"
    );
    assert_eq!(lines.len(), 4);
    assert!(lines[1].starts_with("0,0,0,0,61.8034,"), "{}", lines[1]);
    assert!(
        lines[2].starts_with("1,") && lines[2].contains(",0,0.85410"),
        "{}",
        lines[2]
    );
    assert!(lines[2].ends_with(','), "no film, no angle: {}", lines[2]);
    let empty = text_of(&outcome, "probe-a_b.csv");
    assert_eq!(empty.lines().count(), 1);
}

#[test]
fn probes_whose_names_fall_together_get_files_of_their_own() {
    let mut outcome = made_up::outcome();
    outcome.probes = ["Edge", "edge", "e?ge", "e/ge", "../x"]
        .map(|name| (name.to_owned(), Vec::new()))
        .to_vec();
    let files = probe_files(&outcome);
    assert_eq!(
        files,
        [
            "probe-Edge.csv",
            "probe-edge-2.csv",
            "probe-e_ge.csv",
            "probe-e_ge-2.csv",
            "probe-.._x.csv"
        ]
    );
}

#[test]
fn the_summary_has_the_keys_of_the_contract() {
    let bytes = file_of(&made_up::outcome(), "summary.json");
    let summary: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    // Looks and conducts are of films that are there; heat is not computed and therefore absent.
    for key in [
        "format",
        "version",
        "title",
        "seed",
        "method",
        "stopped",
        "accuracy_reached",
        "parts",
        "film",
        "coupons",
        "tooling",
        "balance",
        "emitted_real",
        "metal_used_mg",
        "warnings",
        "timing",
    ] {
        assert!(summary.get(key).is_some(), "{key} is missing");
    }
    for key in [
        "name",
        "triangles",
        "area_mm2",
        "size_mm",
        "thickness_nm",
        "reached_want_fraction",
        "thin_fraction",
        "none_seen_fraction",
        "unreached_fraction",
        "buried_fraction",
        "causes",
    ] {
        assert!(summary["parts"][0].get(key).is_some(), "{key} is missing");
    }
    for key in ["min", "p05", "median", "mean", "p95", "max"] {
        assert!(
            summary["parts"][0]["thickness_nm"][key].is_number(),
            "{key} is missing"
        );
    }
    assert_eq!(summary["format"], "evenfall-outcome");
    assert_eq!(summary["version"], 1);
    assert_eq!(summary["stopped"], "time");
    assert_eq!(summary["method"], "auto");
    assert_eq!(summary["seed"], u64::MAX);
    let fates = [
        "part",
        "part_back",
        "fixtures",
        "mask",
        "shutter",
        "coupons",
        "walls",
        "source",
        "escaped",
    ];
    let total: u64 = fates
        .iter()
        .map(|fate| summary["balance"][fate].as_u64().unwrap())
        .sum();
    assert_eq!(Some(total), summary["balance"]["emitted"].as_u64());
}
