//! Places on parts that stand for the area: where a candidate's film is looked at.
//!
//! In: a scene and how many places may be looked at. Out: [`Place`]s with the area each stands for, the same ones for
//! scenes that differ by a pose alone.

use crate::plan::model::{FilmWanted, Region};
use crate::scene::Scene;
use crate::transport::side_by_side;

/// Share of the places that are spent on area where film is wanted, where some is not.
const ON_WANTED: f64 = 0.75;

/// A receiver that stands for some area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Its number in the scene.
    pub receiver: usize,
    /// The area it stands for, m².
    pub area_m2: f64,
    /// Film is wanted there.
    pub wanted: bool,
    /// Bits of the regions that should stay bare and hold it.
    pub bare: u64,
    /// Part.
    pub part: usize,
    /// Bits of all regions that hold it.
    pub regions: u64,
}

/// Places that stand for all parts: all receivers, or of many some, each for as much area as the others.
///
/// Systematic sampling of the area along the receivers' order on the surface. Buried receivers are no surface.
pub fn places(scene: &Scene, most: usize) -> Vec<Place> {
    let film = scene.plan.film.as_ref();
    let all = all_places(scene, film);
    if all.len() <= most {
        return all;
    }
    let (wanted, other): (Vec<Place>, Vec<Place>) = all.into_iter().partition(|p| p.wanted);
    let share = if other.is_empty() { 1.0 } else { ON_WANTED };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a count"
    )]
    let first = (most as f64 * share) as usize;
    let mut chosen = sampled(&wanted, first);
    chosen.extend(sampled(&other, most - first));
    chosen
}

fn all_places(scene: &Scene, film: Option<&FilmWanted>) -> Vec<Place> {
    let bit = |name: &String| bit_of(&scene.plan.regions, name);
    let bare = film.map_or(0, |film| film.bare.iter().map(bit).fold(0, |a, b| a | b));
    let wanted = film.and_then(|film| film.regions.as_ref());
    let wanted = wanted.map(|names| names.iter().map(bit).fold(0, |a, b| a | b));
    let mut part_of = vec![usize::MAX; scene.receivers.len()];
    for (number, part) in scene.parts.iter().enumerate() {
        for receiver in part.front.clone().chain(part.back.clone()) {
            part_of[receiver] = number;
        }
    }
    let order = side_by_side(scene).into_iter();
    let on_parts = order.filter(|&receiver| part_of[receiver] != usize::MAX);
    let surface = on_parts.filter(|&receiver| {
        let row = scene.receivers[receiver].triangle as usize;
        !scene.parts[part_of[receiver]].buried[row]
    });
    let place = |receiver: usize| {
        let part = part_of[receiver];
        let regions = scene.parts[part].regions[scene.receivers[receiver].triangle as usize];
        Place {
            receiver,
            area_m2: scene.receivers[receiver].area_m2,
            wanted: wanted.map_or(regions & bare == 0, |wanted| regions & wanted != 0),
            bare: regions & bare,
            part,
            regions,
        }
    };
    surface
        .map(place)
        .filter(|place| place.area_m2 > 0.0)
        .collect()
}

/// The bit of a region of the plan; 0 for one that is not there.
pub(super) fn bit_of(regions: &[Region], name: &str) -> u64 {
    let index = regions.iter().position(|region| region.name == name);
    let index = index.and_then(|index| u32::try_from(index).ok());
    index
        .and_then(|index| 1_u64.checked_shl(index))
        .unwrap_or(0)
}

/// About so many of them, each standing for an equal share of their area.
fn sampled(all: &[Place], most: usize) -> Vec<Place> {
    if all.len() <= most {
        return all.to_vec();
    }
    let area_m2: f64 = all.iter().map(|place| place.area_m2).sum();
    let each = area_m2 / most.max(1) as f64;
    let mut chosen: Vec<Place> = Vec::with_capacity(most);
    let (mut passed, mut next) = (0.0, 0.5 * each);
    for place in all {
        passed += place.area_m2;
        let mut stands_for = 0.0;
        while next < passed {
            stands_for += each;
            next += each;
        }
        if stands_for > 0.0 {
            chosen.push(Place {
                area_m2: stands_for,
                ..*place
            });
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(receiver: usize, area_m2: f64) -> Place {
        Place {
            receiver,
            area_m2,
            wanted: true,
            bare: 0,
            part: 0,
            regions: 0,
        }
    }

    #[test]
    fn chosen_places_stand_for_the_whole_area() {
        let all: Vec<Place> = (0..1000).map(|i| place(i, 1.0 + (i % 7) as f64)).collect();
        let area = |places: &[Place]| places.iter().map(|p| p.area_m2).sum::<f64>();
        let chosen = sampled(&all, 90);
        assert!(chosen.len() <= 90 && chosen.len() > 80, "{}", chosen.len());
        assert!((area(&chosen) / area(&all) - 1.0).abs() < 1e-9);
        assert_eq!(sampled(&all, 1000), all);
    }

    #[test]
    fn a_large_place_stands_for_no_less_than_itself_by_more_than_one_share() {
        let mut all: Vec<Place> = (0..100).map(|i| place(i, 1.0)).collect();
        all[40].area_m2 = 50.0;
        let chosen = sampled(&all, 30);
        let large = chosen.iter().find(|p| p.receiver == 40).expect("chosen");
        assert!((large.area_m2 - 50.0).abs() <= 5.0, "{}", large.area_m2);
    }
}
