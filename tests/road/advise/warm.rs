//! A part's temperature is a hard limit, of a part turned by hand too.
//!
//! In: a post beside a head. Out: advice keeps to what the post bears.

use super::{advised, rings};
use evenfall_sim::advise::Advised;

/// A post of printing resin that turns beside a head, with a limit of its own.
fn beside(limit_c: f64, turning: &str) -> Advised {
    let text = format!(
        "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\nat = [\"80 mm\", \"0 mm\", \"0 mm\"]\nfacing = [-1, 0, 0]\n\
         footprint = {{ shape = \"disc\", radius = \"10 mm\" }}\noutput = {{ atoms_per_second = 5.0e17 }}\n\
         [[part]]\nname = \"post\"\nmesh = \"part.stl\"\nunit = \"m\"\nat = [\"0 mm\", \"0 mm\", \"0 mm\"]\n\
         material = \"printing resin\"\nwall = \"2 mm\"\nemissivity = 0.9\nlimit = \"{limit_c} degC\"\n\
         [[rotation]]\naxis = [0, 0, 1]\nspeed = \"6 rpm\"\n[[step]]\nlasts = \"10 min\"\n\
         [film]\nwant = \"300 nm\"\non = \"90 %\"\n\
         [advise]\nminimise = \"time\"\nturning = \"{turning}\"\n\
         [[advise.vary]]\nkey = \"step.1.lasts\"\nfrom = \"1 min\"\nto = \"600 min\"\n"
    );
    advised(&text, &rings(&[(0.01, -0.01), (0.01, 0.01)], 48))
}

#[test]
fn a_part_that_gets_too_warm_in_stops_is_not_turned_by_hand() {
    // a parked side gets all of the beam that a turning one shares
    let free = beside(2000.0, "stops").advice;
    let [stops, steady] = [&free.candidates[0], &free.candidates[1]];
    assert_eq!([&stops.turning, &steady.turning], ["stops", "steady"]);
    let [in_stops, turning] = [stops, steady].map(|one| one.highest_c["post"][0]);
    assert!(in_stops > turning + 1.0, "{in_stops} {turning}");
    let between = 0.5 * (in_stops + turning);
    let none = beside(between, "stops");
    assert!(none.text.is_none() && none.advice.candidates.is_empty());
    let why = |advised: &Advised| {
        let mut warnings = advised.advice.warnings.iter();
        warnings.any(|text| text.starts_with("turned by hand, post would get"))
    };
    assert!(why(&none), "{:?}", none.advice.warnings);
}

#[test]
fn a_part_that_gets_too_warm_as_it_turns_gets_no_advice() {
    let none = beside(28.0, "steady");
    assert!(none.text.is_none());
    let warnings = &none.advice.warnings;
    assert!(
        warnings.iter().any(|text| text.contains("a hard limit")),
        "{warnings:?}"
    );
}
