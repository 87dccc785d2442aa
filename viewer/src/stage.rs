//! The stage without its drawing: what stands on it, from where it is looked at, what the pointer meets.

pub mod grips;
pub mod orbit;
pub mod paint;
pub mod pick;
pub mod ruler;
pub mod sight;
pub mod solids;
pub mod tilts;

use evenfall_sim::emission::{EmissionLaw, Footprint};
use evenfall_sim::outcome::colour::Scale;
use evenfall_sim::outcome::reading::{FilmUnit, LengthUnit, Reading};
use evenfall_sim::outcome::survey::{Patch, Survey};
use evenfall_sim::outcome::worth::map::Verdict;
use evenfall_sim::outcome::{Facet, Outcome, PartOutcome, headline};
use evenfall_sim::scene::motion::Motion;
use glam::{DAffine3, DVec3};
use std::sync::{Arc, OnceLock};

/// An outcome with what follows from it for looking at it.
pub struct Shown {
    /// The outcome.
    pub outcome: Arc<Outcome>,
    /// How its facets stand against what is wanted.
    pub survey: Survey,
    /// Scale of thickness.
    pub scale: Scale,
    /// Sentences that say the most important, in each of the units they are read in.
    headlines: [OnceLock<Vec<String>>; 4],
    /// Share of the judged area in each of [`BARS`] equal steps of thickness from 0 to `bars_to_m`; what is thicker
    /// counts in the last.
    pub bars: Vec<f64>,
    /// Thickness at the end of the last bar, m.
    pub bars_to_m: f64,
    /// Finds what the pointer meets; made when it is first needed, or by [`Shown::prepare`].
    picker: OnceLock<pick::Picker>,
    /// Where metal leaves, if known.
    pub footprints: Vec<(Footprint, EmissionLaw)>,
    /// Everything solid besides the parts.
    pub obstacles: Vec<sight::Obstacle>,
    /// Named regions.
    pub regions: Vec<Region>,
    /// Verdicts on each patch, made when they are first painted.
    worth: [OnceLock<Vec<f64>>; Verdict::ALL.len()],
}

/// Film on a named region.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    pub name: String,
    pub area_m2: f64,
    /// Mean thickness by area.
    pub mean_m: f64,
    /// Least thickness of a facet.
    pub least_m: f64,
    /// Share of it that reaches the wanted thickness, where one is wanted of all metals together.
    pub enough: Option<f64>,
    /// What takes most from where it is thin or bare: number of the share, and how much.
    pub cause: Option<(usize, f64)>,
    /// Spots on it where its name may stand, the best first: part, place and normal in the part's coordinates.
    pub anchors: Vec<(usize, DVec3, DVec3)>,
}

/// Spots that are kept for a region's name.
const ANCHORS: usize = 16;

/// What takes most from thin and bare patches, over their area.
fn cause<'a>(patches: impl Iterator<Item = &'a Patch>, want_m: f64) -> Option<(usize, f64)> {
    let mut sums = [0.0; 7];
    let mut area_m2 = 0.0;
    let poor = |patch: &&Patch| patch.thickness_m < want_m;
    for patch in patches.filter(poor) {
        area_m2 += patch.area_m2;
        for (sum, share) in sums.iter_mut().zip(patch.shares) {
            *sum += patch.area_m2 * f64::from(share);
        }
    }
    let most = (1..7).max_by(|&a, &b| sums[a].total_cmp(&sums[b]))?;
    (area_m2 > 0.0 && sums[most] > 0.05 * area_m2).then(|| (most, sums[most] / area_m2))
}

/// Film on the regions of an outcome, those that have facets.
fn regions(outcome: &Outcome, survey: &Survey) -> Vec<Region> {
    let parts = outcome.parts.iter().enumerate();
    let facets = parts.flat_map(|(number, part)| {
        let both = part.facets.iter().chain(&part.back_facets);
        both.map(move |facet| (number, facet))
    });
    let all: Vec<((usize, &Facet), f64)> = facets
        .zip(&survey.patches)
        .map(|(facet, patch)| (facet, patch.area_m2))
        .collect();
    let middle = |facet: &Facet| facet.corners_m.iter().sum::<DVec3>() / 3.0;
    let film = outcome.summary.film.as_ref();
    let want_m = film
        .and_then(|film| film.want_nm.get("all"))
        .map(|nm| 1e-9 * nm);
    let names = outcome.region_names.iter().take(64).enumerate();
    let found = names.filter_map(|(bit, name)| {
        let own = || all.iter().filter(|((_, f), _)| f.regions >> bit & 1 != 0);
        let area_m2: f64 = own().map(|(_, area_m2)| area_m2).sum();
        let weighted = own().map(|((_, facet), area_m2)| middle(facet) * *area_m2);
        let centre = weighted.sum::<DVec3>() / area_m2;
        let away = |facet: &Facet| middle(facet).distance_squared(centre);
        let mut spots: Vec<(usize, &Facet)> = own().map(|(spot, _)| *spot).collect();
        spots.sort_by(|a, b| away(a.1).total_cmp(&away(b.1)));
        let anchor = |(part, facet): (usize, &Facet)| {
            let [a, b, c] = facet.corners_m;
            (
                part,
                middle(facet),
                (b - a).cross(c - a).normalize_or_zero(),
            )
        };
        let every = spots.len().div_ceil(ANCHORS).max(1);
        let patches = || {
            let both = all.iter().zip(&survey.patches);
            both.filter(|(((_, f), _), _)| f.regions >> bit & 1 != 0)
                .map(|(_, patch)| patch)
        };
        let film = own().map(|((_, facet), area_m2)| area_m2 * facet.thickness_m);
        (area_m2 > 0.0).then(|| Region {
            name: name.clone(),
            area_m2,
            mean_m: film.sum::<f64>() / area_m2,
            least_m: own()
                .map(|((_, facet), _)| facet.thickness_m)
                .fold(f64::INFINITY, f64::min),
            enough: want_m.map(|want_m| {
                let enough = patches().filter(|patch| patch.thickness_m >= want_m);
                enough.map(|patch| patch.area_m2).sum::<f64>() / area_m2
            }),
            cause: want_m.and_then(|want_m| cause(patches(), want_m)),
            anchors: spots.into_iter().step_by(every).map(anchor).collect(),
        })
    });
    found.collect()
}

/// Bars of the distribution.
pub const BARS: usize = 30;

/// Shares of the judged area by thickness.
fn bars(survey: &Survey, to_m: f64) -> Vec<f64> {
    let mut areas_m2 = vec![0.0; BARS];
    for patch in survey.wanted() {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "cut off at the last bar"
        )]
        let bar = ((patch.thickness_m / to_m * BARS as f64) as usize).min(BARS - 1);
        areas_m2[bar] += patch.area_m2;
    }
    let all: f64 = areas_m2.iter().sum();
    let share = |area_m2: f64| area_m2 / all.max(f64::MIN_POSITIVE);
    areas_m2.into_iter().map(share).collect()
}

impl Shown {
    /// Prepares an outcome for looking at it.
    ///
    /// - `footprints`: where metal leaves and how; empty where only the outcome is known
    pub fn new(outcome: Arc<Outcome>, footprints: Vec<(Footprint, EmissionLaw)>) -> Self {
        let survey = Survey::of(&outcome);
        let scale = Scale::of(&outcome, &survey);
        let bars_to_m = scale.high_m.max(scale.want_m.unwrap_or(0.0));
        let shown = Self {
            scale,
            headlines: Default::default(),
            bars: bars(&survey, bars_to_m),
            bars_to_m,
            picker: OnceLock::new(),
            obstacles: outcome.bodies.iter().map(sight::Obstacle::of).collect(),
            footprints,
            regions: regions(&outcome, &survey),
            worth: Default::default(),
            survey,
            outcome,
        };
        shown.headline(Reading::default());
        shown
    }

    /// Sentences that say the most important.
    pub fn headline(&self, reading: Reading) -> &[String] {
        let number = usize::from(reading.film == FilmUnit::Angstrom)
            + 2 * usize::from(reading.length == LengthUnit::Inch);
        self.headlines[number]
            .get_or_init(|| headline::read_in(reading, &self.outcome, &self.survey))
    }

    /// A verdict on each patch; NaN where there is nothing to say, nothing where nothing is known of a whole part.
    pub fn worth(&self, verdict: Verdict) -> &[f64] {
        let number = Verdict::ALL.iter().position(|of| *of == verdict);
        number.map_or(&[], |number| {
            self.worth[number].get_or_init(|| {
                let parts = self.outcome.parts.iter().enumerate();
                let of = |(index, part): (usize, &PartOutcome)| {
                    let count = part.facets.len() + part.back_facets.len();
                    let found = verdict.values(&self.outcome, index);
                    found.unwrap_or_else(|| vec![f64::NAN; count])
                };
                parts.flat_map(of).collect()
            })
        })
    }

    /// Makes what pointing at it needs, which takes longer than the rest.
    pub fn prepare(&self) {
        self.picker();
    }

    /// Finds what the pointer meets.
    pub fn picker(&self) -> &pick::Picker {
        self.picker.get_or_init(|| pick::Picker::new(&self.outcome))
    }

    /// True when nothing has to be waited for any more.
    pub fn is_prepared(&self) -> bool {
        self.picker.get().is_some()
    }

    /// A first look, less accurate than what `coat` gives.
    pub fn is_sketch(&self) -> bool {
        self.outcome.summary.accuracy_asked > crate::app::ACCURACY
    }

    /// Duration of the whole schedule, s.
    pub fn lasts_s(&self) -> f64 {
        self.outcome.steps.iter().map(|step| step.lasts_s).sum()
    }

    /// The step at a time, and the share of it that is over.
    pub fn step_at(&self, time_s: f64) -> (usize, f64) {
        let mut begins_s = 0.0;
        let last = self.outcome.steps.len().saturating_sub(1);
        for (index, step) in self.outcome.steps.iter().enumerate() {
            let share = (time_s - begins_s) / step.lasts_s;
            if share < 1.0 || index == last {
                return (index, share.clamp(0.0, 1.0));
            }
            begins_s += step.lasts_s;
        }
        (0, 0.0)
    }

    /// The facet of a patch.
    pub fn facet(&self, patch: usize) -> Option<&Facet> {
        let part = self.survey.patches.get(patch)?.part;
        let number = patch - self.survey.first_of_part[part];
        let part = &self.outcome.parts[part];
        let back = || part.back_facets.get(number - part.facets.len());
        part.facets.get(number).or_else(back)
    }

    /// Atoms per second of a source during a step.
    fn atoms_per_second(&self, source: usize, step: usize) -> f64 {
        let power = self
            .outcome
            .steps
            .get(step)
            .and_then(|step| step.power.get(source));
        let source = self.outcome.sources.get(source);
        source.map_or(0.0, |source| source.atoms_per_second) * power.copied().unwrap_or(0.0)
    }

    /// True where a stencil is in the way of something.
    pub fn has_stencil(&self) -> bool {
        self.outcome.bodies.iter().any(|body| body.kind == "mask")
    }

    /// True for the name of a shutter.
    pub fn is_shutter(&self, name: &str) -> bool {
        let mut bodies = self.outcome.bodies.iter();
        bodies.any(|body| body.name == name && body.kind == "shutter")
    }

    /// Angles of the rotations at a time, rad.
    pub fn angles_at(&self, time_s: f64) -> Vec<f64> {
        let (index, share) = self.step_at(time_s);
        let step = self.outcome.steps.get(index);
        let mut angles_rad = step.map_or(Vec::new(), |step| step.angles_at(share * step.lasts_s));
        angles_rad.resize(self.outcome.rotations.len(), 0.0);
        angles_rad
    }

    /// chamber_from_riding at given angles.
    pub fn pose(&self, angles_rad: &[f64]) -> DAffine3 {
        Motion {
            axes: self.outcome.rotations.clone(),
        }
        .pose(angles_rad)
    }

    /// chamber_from_riding at a time.
    pub fn pose_at(&self, time_s: f64) -> DAffine3 {
        self.pose(&self.angles_at(time_s))
    }

    /// riding_from_part of each part at a time: as first placed, or as re-posed after a vent.
    pub fn placed_at(&self, time_s: f64) -> Vec<DAffine3> {
        let (index, _) = self.step_at(time_s);
        let step = self.outcome.steps.get(index);
        let again = step.map_or(&[][..], |step| &step.placed);
        let parts = self.outcome.parts.iter().enumerate();
        parts
            .map(|(number, part)| *again.get(number).unwrap_or(&part.chamber_from_part))
            .collect()
    }

    /// Names of the shutters that are shut at a time.
    pub fn shut_at(&self, time_s: f64) -> &[String] {
        let (index, _) = self.step_at(time_s);
        self.outcome.steps.get(index).map_or(&[], |step| &step.shut)
    }
}
