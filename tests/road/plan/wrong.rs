//! Wrong plans: each with the exact diagnostics and their places.

use super::{BASE, EXAMPLE, read, reads, said};
use evenfall_sim::plan::{Plan, not_gathered};
use toml_edit::Document;

#[test]
fn the_plan_that_wrong_ones_are_made_from_reads() {
    reads(BASE);
}

#[test]
fn every_wrong_plan_gets_its_diagnostic_at_its_place() {
    let table = Document::parse(include_str!("wrong.toml")).unwrap();
    let cases = table["wrong"].as_array_of_tables().unwrap();
    assert!(cases.len() >= 60);
    let mut different = Vec::new();
    for case in cases {
        let [replace, with] = ["replace", "with"].map(|key| case[key].as_str().unwrap());
        assert!(BASE.contains(replace), "{replace}");
        let expected: Vec<&str> = case["says"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| line.as_str().unwrap())
            .collect();
        let found = match read(&BASE.replacen(replace, with, 1)) {
            Ok(_) => vec!["reads".to_owned()],
            Err(errors) => errors.errors.iter().map(ToString::to_string).collect(),
        };
        if found != expected {
            different.push(format!("{with}\n  {}", found.join("\n  ")));
        }
    }
    assert!(different.is_empty(), "{}", different.join("\n\n"));
}

#[test]
fn all_problems_are_told_at_once_and_in_file_order() {
    let text = BASE
        .replace(
            "height = \"350 mm\"",
            "height = \"-350 mm\"\ncolour = \"red\"",
        )
        .replace("metal = \"silver\"", "metal = \"sliver\"")
        .replace("hole_diameter = \"46 mm\"", "hole_diameter = \"460 mm\"")
        .replace("lasts = \"12 min\"", "lasts = 12")
        .replace(
            "to = [\"1 mm\", \"0 mm\", \"0 mm\"]",
            "to = [\"1 mm\", \"0 mm\"]",
        );
    assert_eq!(
        said(&text),
        [
            "plan.toml:6:10: chamber.height \"-350 mm\" (must be above 0 mm, as it is the size of a real thing); write its true size",
            "plan.toml:7:1: chamber.colour is not known (nothing would read it); known are diameter, height, sticking",
            "plan.toml:12:9: source.head.metal \"sliver\" is no metal of this plan (there are: gold, silver, copper, aluminium, titanium, chromium, nickel, carbon); did you mean \"silver\"?",
            "plan.toml:21:78: fixture.shield.body.hole_diameter \"460 mm\" must be below size y \"70 mm\" (a hole lies inside its plate); write a smaller hole or a larger plate",
            "plan.toml:55:9: step.2.lasts 12 has no unit (a time is a text with its unit); write for example \"12 min\"",
            "plan.toml:65:6: probe.edge.to has 2 entries (x, y and z are three); write for example [\"60 mm\", \"60 mm\", \"60 mm\"]",
        ]
    );
}

#[test]
fn every_place_points_at_what_it_names() {
    let plan = reads(EXAMPLE);
    let at = |key: &str| {
        let place = plan.place_of(key).unwrap();
        &plan.text[place.start..place.end]
    };
    assert_eq!(at("chamber.diameter"), "\"300 mm\"");
    assert_eq!(at("source.head"), "[[source]]");
    assert_eq!(at("source.head.at.z"), "\"60 mm\"");
    assert_eq!(at("source.head.footprint.outer_radius"), "\"21 mm\"");
    assert_eq!(at("shutter.flag.over.1"), "\"head\"");
    assert_eq!(at("step.2.lasts"), "\"12 min\"");
    assert_eq!(at("mask.1.sheet"), "\"80 um\"");
    assert_eq!(at("advise.vary.1.key"), "\"part.horn.turn.y\"");
    // What is not written is where the nearest thing around it is.
    assert_eq!(at("shutter.flag.sticking"), "[[shutter]]");
    assert_eq!(at("step.2.power"), "[[step]]");
    assert_eq!(at("film.bare_under"), "[film]");
    assert_eq!(plan.place_of("nothing.of.the.kind"), None);
    for (key, place) in &plan.places {
        assert!(plan.text.is_char_boundary(place.start), "{key}");
        assert!(place.start < place.end, "{key}");
        let line = plan.text[..place.start].matches('\n').count() + 1;
        assert_eq!(place.line, line, "{key}");
    }
}

#[test]
fn what_cannot_be_gathered_is_named_with_its_place() {
    let found = |plan: &Plan| -> Vec<String> {
        let named = not_gathered(plan);
        named.iter().map(ToString::to_string).collect()
    };
    assert_eq!(found(&reads(BASE)), Vec::<String>::new());
    assert!(reads(BASE).is_straight());
    let half = |table: &str| format!("{table}\nsticking = 0.5");
    let gas = "[gas]\npressure = \"1 Pa\"\n[chamber]".to_owned();
    for (table, written, key) in [
        ("[chamber]", half("[chamber]"), "chamber.sticking"),
        (
            "[[fixture]]",
            half("[[fixture]]"),
            "fixture.shield.sticking",
        ),
        ("[[shutter]]", half("[[shutter]]"), "shutter.flag.sticking"),
        ("[[part]]", half("[[part]]"), "part.horn.sticking"),
        ("[[coupon]]", half("[[coupon]]"), "coupon.witness.sticking"),
        ("[chamber]", gas, "gas"),
    ] {
        let plan = reads(&BASE.replace(table, &written));
        assert!(!plan.is_straight(), "{key}");
        let found = found(&plan);
        assert_eq!(found.len(), 1, "{found:?}");
        let says = format!("{key} is not computed by method gather");
        assert!(
            found[0].contains(&says) && found[0].ends_with("use auto or fire"),
            "{found:?}"
        );
    }
}
