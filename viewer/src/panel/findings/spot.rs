//! Findings about the pinned spot: what it gets and why, and what would bring it and its region more.

use super::super::stage::turned;
use super::film_with_error;
use crate::app::{Action, State};
use crate::stage::Shown;
use crate::stage::paint::{SHARES, thickness_at, told};
use crate::stage::sight::Tilt;
use crate::stage::tilts::Tilts;
use egui::{Grid, RichText, Ui};
use evenfall_sim::outcome::figures::{percent, significant, three};
use evenfall_sim::outcome::survey::Standing;

/// What is known of the pinned spot.
pub fn show(ui: &mut Ui, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    let Some(spot) = &state.spot else {
        ui.label("Click on a part to pin a spot: why it gets what it gets.");
        // a needle without its partner can be taken off too
        if state.meter.is_some() {
            meter(ui, state, wanted);
        }
        return;
    };
    let Some(patch) = shown.survey.patches.get(spot.patch) else {
        return;
    };
    let reading = state.settings.reading;
    let facet = shown.facet(spot.patch);
    let within = state
        .around
        .as_ref()
        .and_then(|around| around.told.as_ref());
    let title = match within.and_then(|told| told.region.as_ref()) {
        Some(region) => format!("Pinned spot, in {region}"),
        None => "Pinned spot".to_owned(),
    };
    ui.label(RichText::new(title).strong());
    ui.label(match patch.standing {
        Standing::Unreached => "no film: proved unreached".to_owned(),
        Standing::Uncounted => "not counted: inside another solid".to_owned(),
        Standing::NoneSeen => format!(
            "no film was seen; likely below {}",
            reading.film_in_words(2.0 * patch.std_error_m)
        ),
        _ => {
            let film_m = thickness_at(shown, spot.patch, state.time_s);
            film_with_error(reading, film_m, patch.std_error_m)
        }
    });
    if let Some(ratio) = state.look(shown).ratio(spot.patch) {
        ui.label(format!("{} times as much as in A", three(ratio)));
    }
    if let Some(facet) = facet
        && facet.incidence_rad.is_finite()
    {
        ui.label(format!(
            "mean incidence {:.0}°",
            facet.incidence_rad.to_degrees()
        ));
    }
    if let Some(painted) = told(&state.look(shown), state.paint, spot.patch) {
        ui.label(painted);
    }
    Grid::new("shares of the spot")
        .num_columns(2)
        .show(ui, |ui| {
            for (name, &share) in SHARES.iter().zip(&patch.shares) {
                if share >= 0.005 {
                    ui.label(*name);
                    ui.label(format!("{:.0} %", 100.0 * share));
                    ui.end_row();
                }
            }
        });
    seen(ui, state, shown, wanted);
    meter(ui, state, wanted);
    if ui.button("Unpin").clicked() {
        wanted.push(Action::Pin(None));
    }
}

/// A meter with one needle on the part and the other on the pinned spot.
fn meter(ui: &mut Ui, state: &State, wanted: &mut Vec<Action>) {
    let Some(meter) = &state.meter else {
        let tip = "One needle of a meter stays here; then pin another spot to read the resistance between the two";
        if ui.button("Put a needle here").on_hover_text(tip).clicked() {
            wanted.push(Action::Needle(state.spot));
        }
        return;
    };
    ui.label(match (&meter.told, state.spot) {
        (_, None) => {
            "One needle is on the part, at the cross. Pin a spot to read the resistance.".to_owned()
        }
        (_, Some(spot)) if spot == meter.from => {
            "One needle is here. Pin another spot of this part to read the resistance.".to_owned()
        }
        (Some(told), _) => format!("Resistance: {told}"),
        (None, _) => "Resistance: being worked out".to_owned(),
    });
    if ui.button("Take the needles off").clicked() {
        wanted.push(Action::Needle(None));
    }
}

/// What the pinned spot sees of the sources, and what would bring it more.
fn seen(ui: &mut Ui, state: &State, shown: &Shown, wanted: &mut Vec<Action>) {
    let Some(sight) = &state.sight else { return };
    ui.label(format!(
        "At this moment {} of the open flux arrives",
        percent(sight.share)
    ));
    if shown.outcome.rotations.is_empty() {
        ui.label("Nothing turns in this plan.");
    } else if sight.better.is_none() {
        ui.label("No other angle of the first rotation would bring much more.");
    }
    if let Some((angle_rad, share)) = sight.better {
        ui.label(format!(
            "With the first rotation at {:.0}° it would be {}",
            angle_rad.to_degrees(),
            percent(share)
        ));
    }
    let told = state
        .around
        .as_ref()
        .and_then(|around| around.told.as_ref());
    if let Some(told) = told {
        region_tilt(ui, state, told, wanted);
    }
    if let Some(tilt) = &sight.tilt {
        let whole = told.is_some();
        let alone = if whole { " alone" } else { "" };
        let more = if tilt.times.is_finite() {
            format!(
                "would get about {} times as much with {}",
                significant(tilt.times, 2),
                in_words(tilt)
            )
        } else {
            format!("gets none now; it would get metal with {}", in_words(tilt))
        };
        ui.label(format!(
            "This spot{alone} {more}; that says nothing of the rest of the part."
        ));
        try_it(ui, state, tilt, wanted);
    }
    ui.label(
        "Lines to the source: blue, solid: metal comes; red, long dashes: a part is in the way; orange, short dashes: \
         a fixture is; grey dots: the spot looks the other way.",
    );
}

/// A tilt that brings a region less more than this is not worth trying.
const WORTH: f64 = 1.25;
/// Unless so much more of it reaches what is wanted.
const WORTH_REACHING: f64 = 0.04;

/// "turn y at −20° instead of 12°".
fn in_words(tilt: &Tilt) -> String {
    let letter = ["x", "y", "z"][tilt.axis];
    let [now, then] =
        [tilt.now_rad, tilt.then_rad].map(|rad| format!("{:.0}°", rad.to_degrees() + 0.0));
    format!("turn {letter} at {then} instead of {now}")
}

/// What a tilt would do for the whole region, and to the others.
fn region_tilt(ui: &mut Ui, state: &State, told: &Tilts, wanted: &mut Vec<Action>) {
    let name = told
        .region
        .as_deref()
        .unwrap_or("the thin area of this part");
    let worth = |tilt: &&Tilt| tilt.times >= WORTH || gain(told.reaches) >= WORTH_REACHING;
    let Some(tilt) = told.best.as_ref().filter(worth) else {
        ui.label(format!(
            "No other angle of turn, up to 60° away, would bring {name} as a whole much more in straight flight."
        ));
        return;
    };
    let mut more = if tilt.times.is_finite() {
        format!(
            "about {} times as much in the mean",
            significant(tilt.times, 2)
        )
    } else {
        "metal (it has none now)".to_owned()
    };
    more += &reaching(state, told.reaches);
    let mut text = format!("With {}, all of {name} would get {more}", in_words(tilt));
    for other in &told.others {
        text += &format!("; {} {} times", other.name, significant(other.times, 2));
        text += &reaching(state, other.reaches);
    }
    text += ". In straight flight, from places on it.";
    ui.label(text);
    try_it(ui, state, tilt, wanted);
}

/// How much more of a region reaches what is wanted.
fn gain(reaches: Option<[f64; 2]>) -> f64 {
    reaches.map_or(0.0, |[now, then]| then - now)
}

/// ", and about 99 % of it reaches 100 nm (now 91 %)", where that changes.
fn reaching(state: &State, reaches: Option<[f64; 2]>) -> String {
    let want_m = state.shown.as_ref().and_then(|shown| shown.scale.want_m);
    match (reaches, want_m) {
        (Some([now, then]), Some(want_m)) if (then - now).abs() >= 0.01 => {
            let want = state.settings.reading.asked_in_words(want_m);
            format!(
                ", and about {:.0} % of it reaches {want} (now {:.0} %)",
                100.0 * then,
                100.0 * now
            )
        }
        _ => String::new(),
    }
}

/// A button that tries a tilt: what is shown is kept as A, the plan is edited.
fn try_it(ui: &mut Ui, state: &State, tilt: &Tilt, wanted: &mut Vec<Action>) {
    let Some(change) = turned(state, tilt.axis, tilt.then_rad) else {
        return;
    };
    let tip = "Edits the plan (Undo takes it back), keeps this map as A to compare with, and carries along what rides on the part";
    let name = format!(
        "Try turn {} at {:.0}°",
        ["x", "y", "z"][tilt.axis],
        tilt.then_rad.to_degrees() + 0.0
    );
    if ui.button(name).on_hover_text(tip).clicked() {
        wanted.push(Action::Keep);
        wanted.push(Action::Edit(change));
    }
}
