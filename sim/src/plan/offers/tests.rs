//! What is offered can be read, and says what it must.

use super::*;
use crate::plan::read_text;
use std::path::Path;

fn names() -> Names {
    let name = |table: &str, name: &str| (table.to_owned(), vec![name.to_owned()]);
    [
        name("part", "dish"),
        name("source", "head"),
        name("coupon", "slide"),
    ]
    .into()
}

/// The least that a plan may be.
const PLAN: &str = "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\n\
    at = [\"0 mm\", \"0 mm\", \"60 mm\"]\nfacing = [0, 0, 1]\n\
    footprint = { shape = \"disc\", radius = \"20 mm\" }\noutput = { charge = \"50 mg\" }\n\
    [[coupon]]\nname = \"slide\"\nat = [\"0 mm\", \"0 mm\", \"90 mm\"]\nfacing = [0, 0, -1]\n\
    [[part]]\nname = \"dish\"\nmesh = \"dish.stl\"\nunit = \"mm\"\nat = [\"0 mm\", \"0 mm\", \"99 mm\"]\n\
    [[step]]\nlasts = \"10 min\"\n";

fn unknown_or_unreadable(text: &str) -> Vec<String> {
    let errors = read_text(Path::new("plan.toml"), text).err();
    let errors = errors.iter().flat_map(|errors| &errors.errors);
    errors
        .map(|error| format!("{}: {}", error.key(), error.message()))
        .collect()
}

#[test]
fn every_table_that_is_offered_can_be_read() {
    for offer in tables(&[], &names()) {
        let text = format!("{PLAN}{}", offer.toml);
        let said = unknown_or_unreadable(&text);
        // what the plan's other values and files decide is not the offer's business
        let meant = said.iter().filter(|said| {
            ["unknown", "must be", "TOML"]
                .iter()
                .any(|w| said.contains(w))
        });
        assert_eq!(meant.count(), 0, "{}: {said:?}", offer.toml);
    }
}

#[test]
fn advice_that_is_added_can_be_searched_for_and_gets_further_keys() {
    let offer = |has: &[&str], name: &str| {
        let offers = tables(has, &names());
        offers.into_iter().find(|offer| offer.name == name)
    };
    let plan = PLAN.replace(
        "unit = \"mm\"",
        "unit = \"mm\"\nturn = [\"0 deg\", \"0 deg\", \"0 deg\"]",
    );
    let first = offer(&[], "advise").expect("advise");
    let plan = format!("{plan}{}", first.toml);
    assert!(plan.contains("key = \"part.dish.turn.y\""), "{plan}");
    let said = unknown_or_unreadable(&plan);
    assert!(!said.iter().any(|said| said.contains("advise")), "{said:?}");
    assert_eq!(offer(&["advise"], "advise.vary"), None);
    let second = offer(&["advise", "advise.vary"], "advise.vary").expect("one more");
    let said = unknown_or_unreadable(&format!("{plan}{}", second.toml));
    assert!(!said.iter().any(|said| said.contains("TOML")), "{said:?}");
    let keys = keys("advise.vary", None, &names());
    assert_eq!(keys.len(), 3);
}

#[test]
fn every_form_of_a_footprint_is_offered_and_can_be_read() {
    let forms = forms("source", "footprint", &names());
    let words: Vec<&str> = forms.iter().map(|form| form.name.as_str()).collect();
    assert!(
        words.contains(&"ring") && words.contains(&"rectangle"),
        "{words:?}"
    );
    for form in &forms {
        let footprint = "{ shape = \"disc\", radius = \"20 mm\" }";
        let said = unknown_or_unreadable(&PLAN.replace(footprint, &form.toml));
        assert!(
            said.iter().all(|said| !said.contains("unknown")),
            "{said:?}"
        );
    }
    assert!(forms_of_nothing().is_empty());
}

fn forms_of_nothing() -> Vec<Offer> {
    forms("source", "metal", &names())
}

#[test]
fn names_that_are_taken_are_not_offered_again() {
    let tables = tables(&["chamber"], &names());
    let toml = |name: &str| {
        let mut all = tables.iter();
        all.find(|offer| offer.name == name)
            .map(|offer| offer.toml.clone())
    };
    assert!(toml("chamber").is_none());
    let part = toml("part").expect("parts may be several");
    assert!(part.contains("name = \"new\""), "{part}");
    assert!(toml("advise").is_some() && toml("mask").is_some());
    let probe = toml("probe").expect("probes");
    assert!(probe.contains("part = \"dish\""), "{probe}");
}

#[test]
fn help_is_found_inside_of_tables() {
    assert!(help("source", &["footprint", "inner_radius"]).is_some());
    assert!(help("chamber", &["shape"]).is_some());
    assert!(help("", &["title"]).is_some());
    assert!(help("source", &["nonsense"]).is_none());
    let keys = keys("chamber", Some("box"), &names());
    let words: Vec<&str> = keys.iter().map(|key| key.name.as_str()).collect();
    assert!(
        words.contains(&"size") && !words.contains(&"diameter"),
        "{words:?}"
    );
}
