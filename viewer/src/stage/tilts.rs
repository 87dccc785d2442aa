//! Which tilt would bring a whole region more, and what it would do to the others.
//!
//! In: a pinned spot. Out: [`Tilts`], for the region that the spot is on (without regions, for all thin area of its part): the mean of
//! what its places see of the footprints, over all angles of a turning rotation, with each of `turn` changed by up to
//! 60°. Straight flight; takes a second or so, so it is worked out beside the frames.

use super::Shown;
use super::grips::{Grip, Pose};
use super::pick::Spot;
use super::sight::{Stand, Tilt, gets};
use glam::DVec3;

/// Places on a region by which a tilt is looked for.
const PLACES: usize = 64;
/// Places by which the one that was found is judged, others than those that found it: the best of many guesses is
/// guessed too high.
const JUDGED: usize = 192;
/// Other regions that are looked at.
const MOST_OTHERS: usize = 3;
/// Other angles that are tried for each of the three of `turn`: so many steps either way.
const STEPS: i32 = 6;
/// Between them, rad.
const STEP_RAD: f64 = std::f64::consts::PI / 18.0;
/// A tilt with which so much more of a region reaches what is wanted comes before one that brings more in the mean.
const MORE_REACHES: f64 = 0.04;

/// The best tilt for a region.
#[derive(Debug, Clone, PartialEq)]
pub struct Tilts {
    /// The region's name; none: the part's thin area.
    pub region: Option<String>,
    /// The tilt, and how many times as much the region gets in the mean; none where every other one brings less.
    pub best: Option<Tilt>,
    /// Share of the region that reaches the wanted film, now and with the tilt, where one is wanted.
    pub reaches: Option<[f64; 2]>,
    /// What other regions get.
    pub others: Vec<Other>,
}

/// Another region, with the tilt.
#[derive(Debug, Clone, PartialEq)]
pub struct Other {
    pub name: String,
    /// How many times as much it gets in the mean.
    pub times: f64,
    /// Share of it that reaches the wanted film, now and with the tilt, where one is wanted.
    pub reaches: Option<[f64; 2]>,
}

/// A region of a part, as places to look from.
struct Group {
    name: Option<String>,
    /// Those by which a tilt is found.
    spots: Vec<Spot>,
    /// Those by which it is judged.
    judged: Vec<Spot>,
}

impl Group {
    fn new(
        shown: &Shown,
        part: usize,
        name: Option<String>,
        belongs: impl Fn(usize) -> bool,
    ) -> Self {
        let places = |count, first| spread(shown, part, (count, first), &belongs);
        Self {
            name,
            spots: places(PLACES, 0.5),
            judged: places(JUDGED, 0.25),
        }
    }
}

/// The best tilt for the region that a spot is on; none when the footprints are not known or the spot is on no region and
/// no thin area.
pub fn tilts(shown: &Shown, spot: &Spot, time_s: f64) -> Option<Tilts> {
    if shown.footprints.is_empty() {
        return None;
    }
    let (own, others) = groups(shown, spot)?;
    let stand = Stand::now(shown, time_s);
    let angles_rad = shown.angles_at(time_s);
    let pose = Pose::of(&stand.placed[spot.part]);
    let films = |spots: &[Spot], pose: &Pose| -> Vec<f64> {
        let of = |spot: &Spot| gets(shown, spot, (&angles_rad, &stand), pose);
        spots.iter().map(of).collect()
    };
    let search = Judge::new(shown, &own.spots, films(&own.spots, &pose));
    let mut best: Option<(Grip, f64, (f64, f64))> = None;
    for grip in [Grip::About(0), Grip::About(1), Grip::About(2)] {
        for number in (-STEPS..=STEPS).filter(|&number| number != 0) {
            let then_rad = pose.value(grip) + STEP_RAD * f64::from(number);
            let worth = search.worth(&films(&own.spots, &pose.with(grip, then_rad)));
            if best.is_none_or(|(_, _, most)| worth > most) {
                best = Some((grip, then_rad, worth));
            }
        }
    }
    let (grip, then_rad, worth) = best?;
    if worth.1 <= 0.0 {
        return None;
    }
    let (Grip::About(axis) | Grip::Along(axis)) = grip;
    let tilted = pose.with(grip, then_rad);
    let compared = |spots: &[Spot]| {
        let judge = Judge::new(shown, spots, films(spots, &pose));
        let then = films(spots, &tilted);
        let reaches = judge.reach(&judge.now).zip(judge.reach(&then));
        let [before, after] = [&judge.now, &then].map(|films| films.iter().sum::<f64>());
        (after / before, reaches.map(|(now, then)| [now, then]))
    };
    let (times, reaches) = compared(&own.judged);
    let elsewhere = |group: &Group| {
        let (times, reaches) = compared(&group.judged);
        let name = group.name.clone()?;
        times.is_finite().then_some(Other {
            name,
            times,
            reaches,
        })
    };
    let brings = times > 1.0 || reaches.is_some_and(|[now, then]| then > now);
    Some(Tilts {
        best: brings.then(|| Tilt {
            axis,
            now_rad: pose.value(grip),
            then_rad,
            times,
        }),
        reaches,
        others: others.iter().filter_map(elsewhere).collect(),
        region: own.name,
    })
}

/// Judges what places get, by what they have now.
struct Judge {
    /// What each place gets as the part is held now.
    now: Vec<f64>,
    /// Film of one unit of that, m; none where nothing arrives now.
    unit_m: Option<f64>,
    want_m: Option<f64>,
}

impl Judge {
    fn new(shown: &Shown, spots: &[Spot], now: Vec<f64>) -> Self {
        let film_m = |spot: &Spot| shown.survey.patches[spot.patch].thickness_m;
        let all_m: f64 = spots.iter().map(film_m).sum();
        let all: f64 = now.iter().sum();
        Self {
            now,
            unit_m: (all > 0.0 && all_m > 0.0).then(|| all_m / all),
            want_m: shown.scale.want_m,
        }
    }

    /// Share of the places that reach the wanted film.
    fn reach(&self, films: &[f64]) -> Option<f64> {
        let least = self.want_m? / self.unit_m?;
        let reach = films.iter().filter(|&&film| film >= least).count();
        (!films.is_empty()).then(|| reach as f64 / films.len() as f64)
    }

    /// What a tilt is worth, to be compared: how much more reaches, in steps that are worth it, then the sum.
    fn worth(&self, films: &[f64]) -> (f64, f64) {
        let more = self.reach(films).zip(self.reach(&self.now));
        let steps = more.map_or(0.0, |(then, now)| ((then - now) / MORE_REACHES).floor());
        (steps, films.iter().sum())
    }
}

/// The region of a spot, the smallest where it is on several, and the other ones of its part.
fn groups(shown: &Shown, spot: &Spot) -> Option<(Group, Vec<Group>)> {
    let facet = shown.facet(spot.patch)?;
    let named = || shown.outcome.region_names.iter().take(64).enumerate();
    let area_m2 = |name: &str| {
        let mut regions = shown.regions.iter();
        regions
            .find(|r| r.name == name)
            .map_or(f64::INFINITY, |r| r.area_m2)
    };
    let own = named()
        .filter(|(bit, _)| facet.regions >> bit & 1 != 0)
        .min_by(|a, b| area_m2(a.1).total_cmp(&area_m2(b.1)));
    let on = |bit: usize, name: &String| {
        let is_on = |patch: usize| {
            shown
                .facet(patch)
                .is_some_and(|f| f.regions >> bit & 1 != 0)
        };
        Group::new(shown, spot.part, Some(name.clone()), is_on)
    };
    let Some((own_bit, own_name)) = own else {
        // where regions say what is wanted, the rest of the part is not
        let want_m = shown
            .scale
            .want_m
            .filter(|_| shown.outcome.region_names.is_empty())?;
        let is_thin = |patch: usize| shown.survey.patches[patch].thickness_m < want_m;
        let group = Group::new(shown, spot.part, None, is_thin);
        return (is_thin(spot.patch) && !group.judged.is_empty()).then(|| (group, Vec::new()));
    };
    let others = named()
        .filter(|(bit, _)| *bit != own_bit)
        .map(|(bit, name)| on(bit, name));
    let others = others
        .filter(|group| !group.judged.is_empty())
        .take(MOST_OTHERS);
    Some((on(own_bit, own_name), others.collect()))
}

/// Fraction of the golden ratio: its multiples fall evenly between whole numbers.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// So many places spread evenly over the area of those patches of a part that belong, one somewhere in each equal share of it: meshes come
/// in rings, and places at equal distances would all lie on one side.
///
/// - `first`: where in its share the first place lies, 0..1
fn spread(
    shown: &Shown,
    part: usize,
    (places, first_at): (usize, f64),
    belongs: impl Fn(usize) -> bool,
) -> Vec<Spot> {
    let first = shown.survey.first_of_part[part];
    let front = shown.outcome.parts[part].facets.len();
    let patches: Vec<usize> = (first..shown.survey.patches.len())
        .take_while(|&patch| shown.survey.patches[patch].part == part)
        .filter(|&patch| belongs(patch))
        .collect();
    let area_m2 = |patch: usize| shown.survey.patches[patch].area_m2;
    let all_m2: f64 = patches.iter().map(|&patch| area_m2(patch)).sum();
    let mut spots = Vec::with_capacity(places);
    let mut passed_m2 = 0.0;
    for patch in patches {
        passed_m2 += area_m2(patch);
        let number = spots.len() as f64;
        let due = (number + (first_at + GOLDEN * number).fract()) / places as f64 * all_m2;
        if let Some(facet) = shown
            .facet(patch)
            .filter(|_| passed_m2 >= due && spots.len() < places)
        {
            let [a, b, c] = facet.corners_m;
            let out = (b - a).cross(c - a).normalize_or_zero();
            let is_back = patch - first >= front;
            spots.push(Spot {
                part,
                patch,
                at_m: [a, b, c].into_iter().sum::<DVec3>() / 3.0,
                normal: if is_back { -out } else { out },
            });
        }
    }
    spots
}
