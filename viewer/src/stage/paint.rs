//! What the colours on the parts mean, and the colours themselves.

use super::Shown;
use super::ruler::{Ruler, Spread};
use evenfall_sim::outcome::colour::{self, Scale};
use evenfall_sim::outcome::figures::{percent, whole};
use evenfall_sim::outcome::reading::Reading;
use evenfall_sim::outcome::survey::{Patch, Standing, Wish};
use evenfall_sim::outcome::worth::map::Verdict;
use evenfall_sim::outcome::{Facet, PartOutcome};

/// Signs of the shader.
const PLAIN: u32 = 0;
const BARE: u32 = 1;
const THIN: u32 = 2;
/// What does not count.
const UNCOUNTED: [u8; 3] = [190, 186, 182];
/// Largest relative standard error on the scale.
const LARGEST_ERROR: f64 = 0.1;

/// Names of the shares, in their order.
pub const SHARES: [&str; 7] = [
    "arrives directly",
    "facing aslant or away",
    "blocked by the part itself",
    "blocked by fixtures",
    "blocked by the stencil",
    "blocked by a shutter",
    "scattered by the gas",
];

/// Number of the share that a stencil takes.
const STENCIL: usize = 4;

/// What is painted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paint {
    /// Thickness of all metals.
    #[default]
    Thickness,
    /// Standard error over thickness.
    Error,
    /// Mean angle of incidence.
    Incidence,
    /// Share of the open flux, by number.
    Share(usize),
    /// Thickness of one metal, by number.
    Metal(usize),
    /// Thickness that one step brings, by number.
    Step(usize),
    /// Thickness over that of A.
    Ratio,
    /// A verdict on the film's worth that varies over the part.
    Worth(Verdict),
}

/// An outcome as it is painted.
#[derive(Clone, Copy)]
pub struct Look<'a> {
    /// The outcome.
    pub shown: &'a Shown,
    /// What is kept as A.
    pub kept: Option<&'a Shown>,
    /// A scale that was kept for all maps.
    pub held: Option<Scale>,
    /// How thickness is spread over the colours.
    pub spread: Spread,
    /// The units in which figures are read.
    pub reading: Reading,
    /// The playhead, s.
    pub time_s: f64,
}

impl Look<'_> {
    /// The scale of thickness: the one that was kept, or A's, so that both are seen on one.
    pub fn ruler(&self) -> Ruler {
        let kept = self.kept.map_or(&self.shown.scale, |kept| &kept.scale);
        Ruler {
            scale: self.held.unwrap_or(*kept),
            spread: self.spread,
            seen_m: [self.shown.scale.least_m, self.shown.scale.greatest_m],
        }
    }

    /// Thickness of a patch over that of A; none where either has none.
    pub fn ratio(&self, patch: usize) -> Option<f64> {
        let of = |shown: &Shown| Some(shown.survey.patches.get(patch)?.thickness_m);
        let ratio = of(self.shown)? / of(self.kept.filter(|kept| alike(self.shown, kept))?)?;
        (ratio > 0.0 && ratio.is_finite()).then_some(ratio)
    }
}

/// The scale beside the stage.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Legend {
    /// What and in which unit.
    pub title: String,
    /// Places from 0 to 1 with their values.
    pub ticks: Vec<(f64, String)>,
    /// Values below and above the ends exist and are drawn in the colours of the ends.
    pub clamps: [bool; 2],
    /// Place of the wanted thickness, and what is said of it.
    pub want: Option<(f64, String)>,
    /// The scale has a middle that says "the same".
    pub about_middle: bool,
}

impl Legend {
    /// Colour of a place, sRGB.
    pub fn colour(&self, place: f64) -> [u8; 3] {
        if self.about_middle {
            colour::about_middle(place)
        } else {
            colour::at(place)
        }
    }

    /// As a table to be pasted: value and colour, a row per tick.
    pub fn as_text(&self) -> String {
        let mut text = format!("{}\tcolour\n", self.title);
        for (place, value) in self.ticks.iter().rev() {
            let [r, g, b] = self.colour(*place);
            text.push_str(&format!("{value}\t#{r:02x}{g:02x}{b:02x}\n"));
        }
        if let Some((_, want)) = &self.want {
            text.push_str(want);
            text.push('\n');
        }
        text
    }
}

impl Paint {
    /// All that there is to paint of an outcome.
    pub fn all(shown: &Shown, kept: Option<&Shown>) -> Vec<Self> {
        let mut all = vec![Self::Thickness, Self::Error, Self::Incidence];
        if kept.is_some_and(|kept| alike(shown, kept)) {
            all.push(Self::Ratio);
        }
        let metals = shown.outcome.metal_names.len();
        if metals > 1 {
            all.extend((0..metals).map(Self::Metal));
        }
        if shown.outcome.steps.len() > 1 {
            let steps = shown.outcome.steps.iter().enumerate();
            all.extend(steps.filter(|(_, s)| s.coats()).map(|(k, _)| Self::Step(k)));
        }
        let told = Verdict::ALL.into_iter();
        let told = told.filter(|verdict| verdict.is_told(&shown.outcome));
        all.extend(told.map(Self::Worth));
        let has_stencil = shown.has_stencil();
        let may_be = |share: &usize| *share != STENCIL || has_stencil;
        all.extend((0..SHARES.len()).filter(may_be).map(Self::Share));
        all
    }

    /// True where thickness is painted, on a scale that can be chosen.
    pub fn is_thickness(self) -> bool {
        matches!(self, Self::Thickness | Self::Metal(_) | Self::Step(_))
    }

    /// Name for a list.
    pub fn name(self, shown: &Shown) -> String {
        match self {
            Self::Thickness => "Thickness".to_owned(),
            Self::Error => "Standard error".to_owned(),
            Self::Incidence => "Angle of incidence".to_owned(),
            Self::Share(share) => format!("Share that {}", share_verb(share)),
            Self::Metal(metal) => format!("Thickness of {}", shown.outcome.metal_names[metal]),
            Self::Step(step) => format!("Thickness from step {}", step + 1),
            Self::Ratio => "Ratio to A".to_owned(),
            Self::Worth(verdict) => verdict.name().to_owned(),
        }
    }
}

/// True when patches of both are the same places.
fn alike(shown: &Shown, kept: &Shown) -> bool {
    let corners = |shown: &Shown| {
        let parts = shown.outcome.parts.iter();
        parts.map(|part| part.facets.len()).collect::<Vec<_>>()
    };
    corners(shown) == corners(kept)
}

fn share_verb(share: usize) -> String {
    match share {
        0 => SHARES[0].to_owned(),
        1 => "is lost to facing aslant or away".to_owned(),
        _ => format!("is {}", SHARES[share]),
    }
}

/// A facet with where it belongs.
struct Place<'a> {
    part: &'a PartOutcome,
    facet: &'a Facet,
    /// Number among the part's facets, front then back.
    number: usize,
    /// Number of the patch.
    index: usize,
    patch: &'a Patch,
}

/// What is painted of a patch in words; nothing where its thickness and shares, told anyway, say it.
pub fn told(look: &Look, paint: Paint, patch: usize) -> Option<String> {
    let (shown, reading) = (look.shown, look.reading);
    let film = shown.survey.patches.get(patch)?;
    let part = &shown.outcome.parts[film.part];
    let number = patch - shown.survey.first_of_part[film.part];
    match paint {
        Paint::Worth(verdict) => verdict.in_words(*shown.worth(verdict).get(patch)?),
        Paint::Error => {
            let share = film.std_error_m / film.thickness_m;
            (share.is_finite()).then(|| format!("standard error {}", percent(share)))
        }
        Paint::Metal(metal) => {
            let film_m = f64::from(*part.by_metal_m.get(metal)?.get(number)?);
            let name = &shown.outcome.metal_names[metal];
            Some(format!("{name} {}", reading.film_in_words(film_m)))
        }
        Paint::Step(step) => {
            let film_m = grown_m(part, number, (step, 1.0)) - grown_m(part, number, (step, 0.0));
            let film = reading.film_in_words(film_m);
            Some(format!("step {} brings {film}", step + 1))
        }
        Paint::Thickness | Paint::Incidence | Paint::Share(_) | Paint::Ratio => None,
    }
}

/// Colours and signs of all patches at the playhead.
pub fn paint(look: &Look, paint: Paint) -> Vec<u32> {
    let shown = look.shown;
    let ruler = look.ruler();
    let at_end = look.time_s >= shown.lasts_s();
    let moment = shown.step_at(look.time_s);
    let mut bits = Vec::with_capacity(shown.survey.patches.len());
    for (index, part) in shown.outcome.parts.iter().enumerate() {
        let first = shown.survey.first_of_part[index];
        let facets = part.facets.iter().chain(&part.back_facets).enumerate();
        for (number, facet) in facets {
            let place = Place {
                part,
                facet,
                number,
                index: first + number,
                patch: &shown.survey.patches[first + number],
            };
            bits.push(match paint {
                Paint::Thickness if !at_end => place.at_moment(&ruler, moment),
                _ => place.painted((look, &ruler), paint),
            });
        }
    }
    bits
}

/// Thickness of a patch at a time, m.
pub fn thickness_at(shown: &Shown, patch: usize, time_s: f64) -> f64 {
    let Some(whole) = shown.survey.patches.get(patch) else {
        return 0.0;
    };
    if time_s >= shown.lasts_s() {
        return whole.thickness_m;
    }
    let number = patch - shown.survey.first_of_part[whole.part];
    grown_m(
        &shown.outcome.parts[whole.part],
        number,
        shown.step_at(time_s),
    )
}

/// Film so far: all of the steps that are over, and of the present one the share that is over.
fn grown_m(part: &PartOutcome, number: usize, (step, share): (usize, f64)) -> f64 {
    let of = |step: usize| {
        let film = part.by_step_m.get(step).and_then(|film| film.get(number));
        film.map_or(0.0, |&m| f64::from(m))
    };
    (0..step).map(of).sum::<f64>() + share * of(step)
}

impl Place<'_> {
    fn painted(&self, (look, ruler): (&Look, &Ruler), paint: Paint) -> u32 {
        let bare = self.patch.standing.is_bare();
        if self.patch.standing == Standing::Uncounted {
            return packed(UNCOUNTED, PLAIN);
        }
        match paint {
            Paint::Thickness => {
                let sign = match self.patch.standing {
                    _ if bare => BARE,
                    Standing::Thin => THIN,
                    _ => PLAIN,
                };
                packed(ruler.colour(self.facet.thickness_m), sign)
            }
            Paint::Error => share_of(
                self.facet.std_error_m / self.facet.thickness_m / LARGEST_ERROR,
                bare,
            ),
            Paint::Incidence => share_of(self.facet.incidence_rad.to_degrees() / 90.0, bare),
            Paint::Ratio => match look.ratio(self.index) {
                // from a quarter to four times, as powers of two
                Some(ratio) => packed(colour::about_middle(0.5 + 0.25 * ratio.log2()), PLAIN),
                None => share_of(0.0, true),
            },
            Paint::Worth(verdict) => {
                let value = look.shown.worth(verdict).get(self.index);
                value.map_or(share_of(0.0, true), |&value| {
                    share_of(verdict.place(value), value.is_nan())
                })
            }
            Paint::Share(share) => share_of(f64::from(self.facet.shares[share]), false),
            Paint::Metal(metal) => {
                let film = self.part.by_metal_m.get(metal);
                let film_m = film.and_then(|film| film.get(self.number));
                share_of(ruler.fraction(film_m.map_or(0.0, |&m| f64::from(m))), bare)
            }
            Paint::Step(step) => {
                let film_m = grown_m(self.part, self.number, (step, 1.0))
                    - grown_m(self.part, self.number, (step, 0.0));
                share_of(ruler.fraction(film_m), film_m <= 0.0)
            }
        }
    }

    fn at_moment(&self, ruler: &Ruler, moment: (usize, f64)) -> u32 {
        if self.patch.standing == Standing::Uncounted {
            return packed(UNCOUNTED, PLAIN);
        }
        let film_m = grown_m(self.part, self.number, moment);
        let share_of_want = self.patch.share_of_want * film_m / self.patch.thickness_m;
        let sign = if film_m <= 0.0 {
            BARE
        } else if self.patch.wish == Wish::Coat && share_of_want < 1.0 {
            THIN
        } else {
            PLAIN
        };
        packed(ruler.colour(film_m), sign)
    }
}

/// The colour of a share of the scale, bare where it says nothing.
fn share_of(share: f64, bare: bool) -> u32 {
    if bare || share.is_nan() {
        packed(UNCOUNTED, BARE)
    } else {
        packed(colour::at(share), PLAIN)
    }
}

fn packed([r, g, b]: [u8; 3], sign: u32) -> u32 {
    u32::from_le_bytes([r, g, b, 0]) | sign << 24
}

/// The scale of a paint.
pub fn paint_legend(look: &Look, paint: Paint) -> Legend {
    let even = |title: &str, top: f64, unit: &str| Legend {
        title: title.to_owned(),
        ticks: (0..=5)
            .map(|k| {
                let share = f64::from(k) / 5.0;
                (share, format!("{}{unit}", whole(share * top)))
            })
            .collect(),
        ..Legend::default()
    };
    match paint {
        Paint::Error => Legend {
            clamps: [false, true],
            ..even("standard error / thickness", 100.0 * LARGEST_ERROR, " %")
        },
        Paint::Incidence => Legend {
            ticks: [0, 15, 30, 45, 60, 75, 90]
                .map(|angle| (f64::from(angle) / 90.0, format!("{angle}°")))
                .to_vec(),
            ..even("angle of incidence", 90.0, "°")
        },
        Paint::Ratio => Legend {
            ticks: ["1/4", "1/2", "1", "2", "4"]
                .into_iter()
                .zip(0..5)
                .map(|(text, k)| (f64::from(k) / 4.0, text.to_owned()))
                .collect(),
            clamps: [true, true],
            about_middle: true,
            ..even("thickness / that of A", 0.0, "")
        },
        Paint::Share(which) => even(&format!("{}, of the open flux", SHARES[which]), 100.0, " %"),
        Paint::Worth(verdict) => Legend {
            title: verdict.title().to_owned(),
            ticks: verdict.ticks(),
            clamps: verdict.clamps(),
            ..Legend::default()
        },
        Paint::Thickness | Paint::Metal(_) | Paint::Step(_) => {
            let (ruler, reading) = (look.ruler(), look.reading);
            Legend {
                title: format!("thickness, {}", reading.film_unit()),
                ticks: ruler.ticks(reading),
                clamps: ruler.clamps(),
                // a mark at an end would say that the end is wanted
                want: look
                    .shown
                    .scale
                    .want_m
                    .filter(|want_m| (ruler.low_m()..=ruler.scale.high_m).contains(want_m))
                    .map(|want_m| {
                        let want = reading.asked_in_words(want_m);
                        (ruler.fraction(want_m), format!("wanted {want}"))
                    }),
                about_middle: false,
            }
        }
    }
}
