//! Cautions: what in this very plan can hurt somebody.
//!
//! In: an [`Outcome`]. Out: the cautions that it triggers, for card and report. They are reminders for
//! people who know the work; local codes and licensed practice come first, and the page says so.
//!
//! All texts: common practice, no source.

use super::model::Outcome;

/// A caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// Name for tests and machines.
    pub key: &'static str,
    /// Two or three words.
    pub title: &'static str,
    /// One or two sentences.
    pub text: &'static str,
}

/// What stands above every list of cautions.
pub const DEFERENCE: &str = "Reminders, not instructions: local codes, the maker's manual and licensed practice come first.";

/// The cautions that a plan triggers, the most dangerous first.
pub fn triggered(outcome: &Outcome) -> Vec<Caution> {
    ALL.iter()
        .filter(|(_, applies)| applies(outcome))
        .map(|(caution, _)| *caution)
        .collect()
}

type Applies = fn(&Outcome) -> bool;

// Common practice, no source: holds for every entry of the list.
const ALL: [(Caution, Applies); 15] = [
    (
        Caution {
            key: "high-voltage",
            title: "High voltage",
            text: "The sputter supply holds hundreds of volts that can kill. Earth the chamber, keep \
                   interlocks working, and touch nothing before the supply is off, locked and discharged.",
        },
        |o| emits_by(o, "sputter"),
    ),
    (
        Caution {
            key: "hot-boat",
            title: "Hot boat, molten metal",
            text: "Boat and melt stay hot enough to burn and to crack cold glass long after the current \
                   is off, and a melt can spit. Let it cool under vacuum.",
        },
        |o| emits_by(o, "boat"),
    ),
    (
        Caution {
            key: "bright-melt",
            title: "Eyes",
            text: "A boat at evaporation glows too bright to watch bare-eyed. Look through a filter made \
                   for it, never straight through a viewport.",
        },
        |o| emits_by(o, "boat"),
    ),
    (
        Caution {
            key: "implosion",
            title: "Glass under vacuum",
            text: "A bell jar or viewport can implode. Inspect it for scratches, keep its guard on, wear \
                   eye protection.",
        },
        |_| true,
    ),
    (
        Caution {
            key: "suffocation",
            title: "Venting",
            text: "Nitrogen and noble gases smother without warning, argon and heavier ones gather low. Vent and run \
                   only where air is exchanged, never in a small closed room; chain the cylinder up.",
        },
        |o| uses_gas(o),
    ),
    (
        Caution {
            key: "magnets",
            title: "Strong magnets",
            text: "A magnetron's magnets snatch tools and pinch fingers, and can upset a pacemaker: keep both away from the head.",
        },
        |o| {
            o.sources
                .iter()
                .any(|s| s.kind == "sputter" && is_racetrack(&s.footprint))
        },
    ),
    (
        Caution {
            key: "metal-fire",
            title: "Fine metal burns",
            text: "Flakes and dust of aluminium or titanium can catch fire. No grinding or dry vacuum \
                   cleaner on shields, no water on a metal fire, keep a class D means at hand.",
        },
        |o| emits_any(o, &["aluminium", "titanium"]),
    ),
    (
        Caution {
            key: "toxic-dust",
            title: "Harmful dust",
            text: "Dust of chromium or nickel is harmful and sensitises skin and lungs. Gloves, fitted mask, \
                   wet wiping when cleaning shields.",
        },
        |o| emits_any(o, &["chromium", "nickel"]),
    ),
    (
        Caution {
            key: "turning",
            title: "Turning parts",
            text: "Never reach into anything that turns, and keep hair, sleeves and cables out. Switch the \
                   drive off before opening.",
        },
        |o| {
            o.steps
                .iter()
                .any(|s| s.turns.iter().any(|t| t.abs() > 0.0))
        },
    ),
    (
        Caution {
            key: "hand-turning",
            title: "Turning by hand",
            text: "Shut the shutter and take the power down before you turn the part, from outside through \
                   the feedthrough alone; if the chamber must be opened, cool down and vent first.",
        },
        |o| {
            o.steps
                .windows(2)
                .any(|pair| turned_by_hand(&pair[0], &pair[1]))
        },
    ),
    (
        Caution {
            key: "opened-between",
            title: "Opened between steps",
            text: "Film, shields and source are hot and flaky after the first coat: let them cool before \
                   venting, handle with clean gloves.",
        },
        |o| o.steps.iter().any(|s| s.vent.is_some()),
    ),
    (
        Caution {
            key: "plastic",
            title: "Plastic in vacuum",
            text: "Resins and plastics give off gas, soften and warp under the heat of a coating run. Bake \
                   out below their limit, coat in short stretches, and watch the pressure.",
        },
        |o| {
            o.parts
                .iter()
                .any(|p| p.material.as_deref().is_some_and(is_plastic))
        },
    ),
    (
        Caution {
            key: "stencil",
            title: "Stencil sheet",
            text: "Cut vinyl (PVC) with a blade, never with a laser: it sets free hydrogen chloride. Vinyl, its glue and paper give \
                   off vapours in vacuum: pump long enough, keep the sheet cool, and try a piece alone before the part.",
        },
        |o| o.bodies.iter().any(|b| b.kind == "mask") || o.summary.balance.mask > 0,
    ),
    (
        Caution {
            key: "hot-surfaces",
            title: "Hot surfaces",
            text: "Part, shields and chamber wall near the source may be too hot to touch when you open.",
        },
        |o| !emits_by(o, "boat"),
    ),
    (
        Caution {
            key: "oil-pump",
            title: "Oil pumps",
            text: "With a diffusion pump: its oil is hot and burns, so cool it down before air gets in. With any \
                   oil pump: lead the exhaust outside.",
        },
        |_| true,
    ),
];

fn emits_by(outcome: &Outcome, kind: &str) -> bool {
    outcome.sources.iter().any(|s| s.kind == kind)
}

fn emits_any(outcome: &Outcome, metals: &[&str]) -> bool {
    outcome
        .sources
        .iter()
        .any(|s| metals.contains(&s.metal.as_str()))
}

/// Sputtering needs a working gas even where the plan says none, and an opened chamber was vented with some.
fn uses_gas(outcome: &Outcome) -> bool {
    let flight = outcome.summary.flight.as_ref();
    flight.is_some_and(|flight| flight.gas.is_some())
        || emits_by(outcome, "sputter")
        || outcome.steps.iter().any(|s| s.vent.is_some())
}

/// True for footprints that magnets make.
fn is_racetrack(footprint: &str) -> bool {
    footprint.starts_with("ring") || footprint.starts_with("groove")
}

/// Two steps without turning that stand at different angles.
fn turned_by_hand(before: &super::model::StepOutcome, after: &super::model::StepOutcome) -> bool {
    let still = |s: &super::model::StepOutcome| s.turns.iter().all(|t| t.abs() < 1e-9);
    let moved = before
        .start_rad
        .iter()
        .zip(&after.start_rad)
        .any(|(a, b)| (a - b).abs() > 1e-9);
    still(before) && still(after) && moved
}

/// True for names of plastics and printing materials.
fn is_plastic(material: &str) -> bool {
    // Names from the trade, from memory.
    const WORDS: [&str; 20] = [
        "resin",
        "plastic",
        "polymer",
        "nylon",
        "polyamide",
        "acryl",
        "pmma",
        "polycarbonate",
        "abs",
        "asa",
        "pla",
        "petg",
        "pet",
        "peek",
        "pvc",
        "vinyl",
        "epoxy",
        "rubber",
        "silicone",
        "ptfe",
    ];
    let material = material.to_lowercase();
    material.split(|c: char| !c.is_alphanumeric()).any(|word| {
        WORDS
            .iter()
            .any(|w| word == *w || (w.len() > 4 && word.starts_with(w)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plastics_are_known_by_their_names_and_metals_are_not() {
        for plastic in [
            "printing resin",
            "PETG",
            "ABS-like",
            "acrylic sheet",
            "PA12 polyamide",
        ] {
            assert!(is_plastic(plastic), "{plastic}");
        }
        for other in ["brass", "plaster", "aluminium plate", "glass", "alabaster"] {
            assert!(!is_plastic(other), "{other}");
        }
    }
}
