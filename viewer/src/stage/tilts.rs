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

/// Places looked at on the region, and on each other one.
const PLACES: usize = 64;
const PLACES_ELSEWHERE: usize = 48;
/// Other regions that are looked at.
const MOST_OTHERS: usize = 3;
/// Other angles that are tried for each of the three of `turn`: so many steps either way.
const STEPS: i32 = 6;
/// Between them, rad.
const STEP_RAD: f64 = std::f64::consts::PI / 18.0;

/// The best tilt for a region.
#[derive(Debug, Clone, PartialEq)]
pub struct Tilts {
    /// The region's name; none: the part's thin area.
    pub region: Option<String>,
    /// The tilt, and how many times as much the region gets in the mean; none where every other one brings less.
    pub best: Option<Tilt>,
    /// Other regions, and how many times as much each gets with that tilt.
    pub others: Vec<(String, f64)>,
}

/// A region of a part, as places to look from.
struct Group {
    name: Option<String>,
    spots: Vec<Spot>,
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
    let film = |group: &Group, pose: &Pose| -> f64 {
        let of = |spot: &Spot| gets(shown, spot, (&angles_rad, &stand), pose);
        group.spots.iter().map(of).sum()
    };
    let now = film(&own, &pose);
    let mut best: Option<(Grip, f64, f64)> = None;
    for grip in [Grip::About(0), Grip::About(1), Grip::About(2)] {
        for number in (-STEPS..=STEPS).filter(|&number| number != 0) {
            let then_rad = pose.value(grip) + STEP_RAD * f64::from(number);
            let then = film(&own, &pose.with(grip, then_rad));
            if best.is_none_or(|(_, _, most)| then > most) {
                best = Some((grip, then_rad, then));
            }
        }
    }
    let (grip, then_rad, most) = best.filter(|(_, _, most)| *most > 0.0)?;
    let (Grip::About(axis) | Grip::Along(axis)) = grip;
    let tilted = pose.with(grip, then_rad);
    let elsewhere = |group: &Group| {
        let name = group.name.clone()?;
        let times = film(group, &tilted) / film(group, &pose);
        times.is_finite().then_some((name, times))
    };
    Some(Tilts {
        best: (most > now).then(|| Tilt {
            axis,
            now_rad: pose.value(grip),
            then_rad,
            times: most / now,
        }),
        others: others.iter().filter_map(elsewhere).collect(),
        region: own.name,
    })
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
    let on = |bit: usize, places: usize| {
        let is_on = |patch: usize| {
            shown
                .facet(patch)
                .is_some_and(|f| f.regions >> bit & 1 != 0)
        };
        spread(shown, spot.part, places, is_on)
    };
    let Some((own_bit, own_name)) = own else {
        let want_m = shown.scale.want_m?;
        let is_thin = |patch: usize| shown.survey.patches[patch].thickness_m < want_m;
        let spots = spread(shown, spot.part, PLACES, is_thin);
        return (is_thin(spot.patch) && !spots.is_empty())
            .then(|| (Group { name: None, spots }, Vec::new()));
    };
    let others = named()
        .filter(|(bit, _)| *bit != own_bit)
        .map(|(bit, name)| Group {
            name: Some(name.clone()),
            spots: on(bit, PLACES_ELSEWHERE),
        });
    let others = others
        .filter(|group| !group.spots.is_empty())
        .take(MOST_OTHERS);
    let own = Group {
        name: Some(own_name.clone()),
        spots: on(own_bit, PLACES),
    };
    Some((own, others.collect()))
}

/// Fraction of the golden ratio: its multiples fall evenly between whole numbers.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// So many places spread evenly over the area of those patches of a part that belong, one somewhere in each equal share of it: meshes come
/// in rings, and places at equal distances would all lie on one side.
fn spread(shown: &Shown, part: usize, places: usize, belongs: impl Fn(usize) -> bool) -> Vec<Spot> {
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
        let due = (number + (0.5 + GOLDEN * number).fract()) / places as f64 * all_m2;
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
