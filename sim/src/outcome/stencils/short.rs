//! Which openings of a stencil reach what is wanted in their middle, and where they fall short.
//!
//! In: film half way across openings. Out: the fields of [`StencilSummary`] that speak of what is wanted.

use super::{Finest, Short, StencilSummary, TOLD, largest};
use crate::stencil::Outlines;
use crate::transport::corrected::StencilFilm;
use crate::transport::edges::{EdgeProfile, Middle};

/// An opening of less area than this times its width squared is a dot: a square has 1, a round dot π/4.
const DOT: f64 = 2.0;

pub(super) fn tell(
    film: &StencilFilm,
    shapes: &Outlines,
    want_m: f64,
    summary: &mut StencilSummary,
) {
    let dots = dots(film, shapes);
    // beside corners there are as many as it takes to see the film there, and openings end: they would outweigh the rest
    let along = film
        .edges
        .profiles
        .iter()
        .filter(|profile| !profile.station.is_at_corner);
    let looked: Vec<Looked> = along.filter_map(Looked::at).collect();
    let openings = openings(&looked);
    let finest = |dot: bool, reaches: bool| {
        let fitting = openings
            .iter()
            .filter(|(opening, l)| dots[*opening] == dot && l.reaches(want_m) == reaches)
            .map(|(_, l)| *l);
        let by_width = |a: &&Looked, b: &&Looked| a.width_m.total_cmp(&b.width_m);
        let chosen = if reaches {
            fitting.min_by(by_width)
        } else {
            fitting.max_by(by_width)
        };
        chosen.map(|l| Finest {
            width_m: l.width_m,
            thickness_m: l.middle.thickness_m,
            at_m: l.middle.position_m.to_array(),
        })
    };
    summary.narrowest_line = finest(false, true);
    summary.widest_short_line = finest(false, false);
    summary.smallest_dot = finest(true, true);
    summary.largest_short_dot = finest(true, false);
    let mut places = runs(&looked, want_m);
    places.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
    summary.more_short = places.len().saturating_sub(TOLD);
    places.truncate(TOLD);
    summary.short = places;
}

/// An opening seen from one side.
struct Looked<'a> {
    profile: &'a EdgeProfile,
    middle: Middle,
    width_m: f64,
}

impl<'a> Looked<'a> {
    fn at(profile: &'a EdgeProfile) -> Option<Self> {
        Some(Self {
            profile,
            middle: profile.middle?,
            width_m: profile.station.width_m?,
        })
    }

    fn reaches(&self, want_m: f64) -> bool {
        self.middle.thickness_m >= want_m
    }

    /// Area of opening on this side of its middle, m².
    fn area_m2(&self) -> f64 {
        let across_m = self.profile.station.across_m.unwrap_or(self.width_m);
        0.5 * self.profile.station.step_m * across_m.min(2.0 * self.width_m)
    }
}

/// The place of every opening where it is as wide as it mostly is: the median of what its stations find. A pointed tip
/// is no line.
fn openings<'l, 'a>(looked: &'l [Looked<'a>]) -> Vec<(usize, &'l Looked<'a>)> {
    let mut of: std::collections::BTreeMap<usize, Vec<&Looked<'a>>> = Default::default();
    for one in looked {
        if let Some(opening) = one.profile.station.opening {
            of.entry(opening).or_default().push(one);
        }
    }
    of.into_iter()
        .map(|(opening, mut places)| {
            places.sort_by(|a, b| a.width_m.total_cmp(&b.width_m));
            (opening, places[places.len() / 2])
        })
        .collect()
}

/// Per shape: whether it is a dot.
fn dots(film: &StencilFilm, shapes: &Outlines) -> Vec<bool> {
    let mut widest = vec![0.0_f64; shapes.shapes.len()];
    for profile in &film.edges.profiles {
        let station = &profile.station;
        if let (Some(opening), Some(width_m)) = (station.opening, station.width_m) {
            widest[opening] = widest[opening].max(width_m);
        }
    }
    let areas = shapes.shapes.iter().map(|shape| {
        let one = Outlines {
            shapes: vec![shape.clone()],
        };
        one.area_m2()
    });
    areas
        .zip(&widest)
        .map(|(area_m2, width_m)| area_m2 < DOT * width_m * width_m)
        .collect()
}

/// Runs of neighbouring stations whose middles fall short, each with its worst.
fn runs(looked: &[Looked], want_m: f64) -> Vec<Short> {
    let mut places: Vec<Short> = Vec::new();
    let mut last: Option<usize> = None;
    for (number, one) in looked.iter().enumerate() {
        if one.reaches(want_m) {
            continue;
        }
        let goes_on = last.is_some_and(|before| {
            let known = &looked[before].profile.station;
            before + 1 == number && known.contour == one.profile.station.contour
        });
        last = Some(number);
        let cause = if one.profile.open_m < want_m {
            "open"
        } else {
            largest(&one.middle.shares)
        };
        let here = Short {
            area_m2: one.area_m2(),
            thickness_m: one.middle.thickness_m,
            std_error_m: one.middle.std_error_m,
            at_m: one.middle.position_m.to_array(),
            width_m: one.width_m,
            cause: cause.to_owned(),
        };
        match places.last_mut().filter(|_| goes_on) {
            Some(place) => {
                let area_m2 = place.area_m2 + here.area_m2;
                if here.thickness_m < place.thickness_m {
                    *place = here;
                }
                place.area_m2 = area_m2;
            }
            None => places.push(here),
        }
    }
    places
}
