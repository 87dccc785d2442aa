//! What limits advice, in words.
//!
//! In: all candidates and the best one. Out: sentences.

use super::advice::Adviser;
use super::candidate::{Candidate, WhyNot};
use super::checked::Checked;
use super::places::{Place, bit_of, places};
use crate::outcome::figures::{millimetres, percent, percent_asked};
use crate::scene::Scene;
use glam::DVec3;

/// Share of the way between its bounds within which a key lies at one of them.
const AT_BOUND: f64 = 0.005;

/// What can be said whether anything does or not.
pub(super) fn without_best(adviser: &Adviser) -> Vec<String> {
    let mut all = Vec::new();
    let tried = adviser.seen.len();
    if let (misfits, Some(first)) = adviser.misfits() {
        all.push(format!(
            "{misfits} of {tried} candidates do not fit, the first because: {first}"
        ));
    }
    if adviser.ranked().is_empty() {
        all.push(most_that_is_had(adviser));
    }
    all.extend(never_reached(adviser));
    all
}

/// The most of the wanted area that gets film anywhere in range.
fn most_that_is_had(adviser: &Adviser) -> String {
    let on = adviser
        .trials
        .plan
        .film
        .as_ref()
        .map_or(0.0, |film| film.on);
    let mut most: Option<f64> = None;
    let mut kept: Option<f64> = None;
    for candidate in &adviser.seen {
        match candidate.why_not {
            Some(WhyNot::Film { reached }) => most = Some(most.unwrap_or(0.0).max(reached)),
            Some(WhyNot::Bare { kept: share }) => kept = Some(kept.unwrap_or(0.0).max(share)),
            _ => {}
        }
    }
    let open = if adviser.trials.scale[1].is_finite() {
        "within the bounds of the open time"
    } else {
        "however long it is open"
    };
    match (most, kept) {
        (_, Some(kept)) => format!(
            "where enough film lands, at most {} of what should stay bare does, {} is wanted; shield it, or want less of it bare",
            percent(kept),
            percent_asked(on)
        ),
        (Some(most), None) => format!(
            "at most {} of the wanted area gets the wanted film {open}, {} is wanted; free more keys, widen their bounds, or want it on less",
            percent(most),
            percent_asked(on)
        ),
        (None, None) => "no candidate fits; widen the bounds".to_owned(),
    }
}

/// Area that no candidate reaches, and where it lies.
fn never_reached(adviser: &Adviser) -> Vec<String> {
    let looked: Vec<&Candidate> = adviser
        .seen
        .iter()
        .filter(|c| c.effort.closeness == 0 && c.places > 0)
        .collect();
    let Some(first) = looked.first() else {
        return Vec::new();
    };
    let same: Vec<&&Candidate> = looked.iter().filter(|c| c.places == first.places).collect();
    let mut never: Vec<u32> = first.bare.clone();
    for candidate in &same {
        never.retain(|place| candidate.bare.binary_search(place).is_ok());
    }
    if never.is_empty() {
        return Vec::new();
    }
    let text = adviser.trials.free.text(adviser.trials.plan, &first.values);
    let Ok(posed) = adviser
        .trials
        .with_steps(&text, adviser.trials.plan.steps.clone())
    else {
        return Vec::new();
    };
    let places = places(&posed.scene, adviser.efforts()[0].places);
    if places.len() != first.places as usize {
        return Vec::new();
    }
    named(&posed.scene, &places, (&never, same.len()))
}

/// What a sentence is said of.
enum Whose {
    /// The region of this bit.
    Region(u64),
    /// The wanted area of the part of this number.
    Part(usize),
}

impl Whose {
    fn holds(&self, place: &Place) -> bool {
        match *self {
            Self::Region(bit) => place.regions & bit != 0,
            Self::Part(number) => place.part == number && place.wanted,
        }
    }
}

/// A sentence for every region, or part without one, that film is wanted on.
fn named(scene: &Scene, places: &[Place], (never, tried): (&[u32], usize)) -> Vec<String> {
    let film = scene.plan.film.as_ref();
    let wanted = film.and_then(|film| film.regions.clone());
    let plan = &scene.plan;
    let of: Vec<(&String, Whose)> = match &wanted {
        Some(names) => names
            .iter()
            .map(|name| (name, Whose::Region(bit_of(&plan.regions, name))))
            .collect(),
        None => {
            let parts = plan.parts.iter().enumerate();
            parts
                .map(|(number, part)| (&part.name, Whose::Part(number)))
                .collect()
        }
    };
    let mut all = Vec::new();
    for (name, whose) in of {
        let holds = |place: &Place| whose.holds(place);
        let area: f64 = places.iter().filter(|p| holds(p)).map(|p| p.area_m2).sum();
        let bare: Vec<&Place> = never
            .iter()
            .filter_map(|&index| places.get(index as usize))
            .filter(|place| holds(place))
            .collect();
        let bare_area: f64 = bare.iter().map(|place| place.area_m2).sum();
        if bare_area <= 0.0 {
            continue;
        }
        let at = typical(scene, &bare);
        all.push(format!(
            "{} of {name} is reached from none of {tried} poses tried in range; it lies around x {}, y {}, z {} mm of the part",
            percent(bare_area / area),
            millimetres(at.x),
            millimetres(at.y),
            millimetres(at.z)
        ));
    }
    all
}

/// The middle of the place that lies nearest to the middle of all of them, part's coordinates, m.
fn typical(scene: &Scene, bare: &[&Place]) -> DVec3 {
    let middle = |place: &Place| {
        let receiver = &scene.receivers[place.receiver];
        let corners = scene.bodies[receiver.body.0 as usize].corners(receiver.triangle);
        corners.iter().sum::<DVec3>() / 3.0
    };
    let area: f64 = bare.iter().map(|place| place.area_m2).sum();
    let mean = bare
        .iter()
        .map(|place| middle(place) * place.area_m2)
        .sum::<DVec3>()
        / area;
    bare.iter()
        .map(|place| middle(place))
        .min_by(|a, b| a.distance(mean).total_cmp(&b.distance(mean)))
        .unwrap_or(mean)
}

/// What limits the best one.
pub(super) fn of_best(adviser: &Adviser, best: &Candidate, checked: &Checked) -> Vec<String> {
    let mut all = Vec::new();
    for (key, &value) in adviser.trials.free.keys.iter().zip(&best.values) {
        let share = key.share(value);
        if !(AT_BOUND..=1.0 - AT_BOUND).contains(&share) {
            all.push(format!(
                "{} lies at its bound {}; a wider one may do better",
                key.key,
                key.written(value)
            ));
        }
    }
    let scale = best.score.map_or(1.0, |score| score.scale);
    if adviser.trials.scale[0] > 0.0 && scale <= adviser.trials.scale[0] * (1.0 + 1e-9) {
        all.push("the open time lies at its lower bound; less would do".to_owned());
    }
    // causes are known per part: where film is wanted on some regions only they would speak of the rest
    let film = adviser.trials.plan.film.as_ref();
    let whole = film.is_some_and(|film| film.regions.is_none() && film.bare.is_empty());
    for part in checked.summary.parts.iter().filter(|_| whole) {
        let thin = part.thin_fraction + part.none_seen_fraction + part.unreached_fraction;
        let most = part.causes.iter().max_by(|a, b| a.1.total_cmp(b.1));
        if let Some((cause, share)) = most.filter(|_| thin > 0.005) {
            all.push(format!(
                "what stays thin or bare of {} ({}) is so mostly for {} ({} of what it lacks)",
                part.name,
                percent(thin),
                in_words(cause),
                percent(*share)
            ));
        }
    }
    all
}

fn in_words(cause: &str) -> &str {
    match cause {
        "facing" => "the angle at which it faces the source",
        "self" => "the part's own shadow",
        "fixtures" => "fixtures in the way",
        "mask" => "the stencil",
        "shutter" => "the shutter",
        "gas" => "the gas",
        other => other,
    }
}
