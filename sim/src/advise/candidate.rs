//! A candidate: values of the free keys, and what they come to.
//!
//! In: values. Out: [`Candidate`], by way of the plan's text, the scene, a trial and a score.

use super::free::Free;
use super::places::{Place, places};
use super::score::{Grown, Needs, Score, score};
use crate::plan::model::{Minimise, Output, Step as PlanStep};
use crate::plan::{self, Plan};
use crate::scene::{self, Draft, Meshes, Scene};
use crate::transport::{Rates, TrialSettings, Watch, trial};
use std::sync::Arc;

/// How much is spent on looking at a candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub struct Effort {
    /// How closely: 0, 1 or 2.
    pub closeness: u8,
    /// Places looked at, at most.
    pub places: usize,
    /// Lines per scrambling, place, source and step.
    pub lines: u16,
    /// Atoms where not all fly straight, as [`TrialSettings`] counts them.
    pub atoms: u64,
}

/// Three efforts: to tell good from bad, the best from the good, and to settle what is told.
pub type Efforts = [Effort; 3];

/// Efforts that suit what is made small.
///
/// A quantile of the film is a mean over many places, each of which may be known badly. Extremes are single places: fewer,
/// each known well, since lines from one place cancel each other's errors better than lines from several.
pub fn efforts(minimise: Minimise) -> Efforts {
    let effort = |(closeness, places, lines): (u8, usize, u16)| Effort {
        closeness,
        places,
        lines,
        atoms: 1 << (17 + 2 * u32::from(closeness)),
    };
    match minimise {
        Minimise::Time | Minimise::Metal => [(0, 2_000, 1), (1, 4_000, 2), (2, 12_000, 8)],
        Minimise::Unevenness => [(0, 256, 32), (1, 512, 128), (2, 1_024, 512)],
    }
    .map(effort)
}

/// What some values of the free keys come to.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Candidate {
    /// SI, in the order of the free keys.
    pub values: Vec<f64>,
    /// How closely it was looked at.
    pub effort: Effort,
    /// None where there is no such scene.
    pub score: Option<Score>,
    /// Open time with which the film is as wanted, s.
    #[serde(with = "super::maybe")]
    pub open_time_s: f64,
    /// Metal that leaves then, shutters open or shut, kg.
    #[serde(with = "super::maybe")]
    pub metal_kg: f64,
    /// Why it does not do; none where it does.
    pub why_not: Option<WhyNot>,
    /// Numbers of the places that get nothing.
    pub bare: Vec<u32>,
    /// Places looked at.
    pub places: u32,
    /// Lines drawn and atoms fired.
    pub rays: u64,
}

/// Why a candidate does not do.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub enum WhyNot {
    /// There is no such scene, or bodies cut each other on the way.
    Scene(String),
    /// Too little of the wanted area gets the wanted film, however long it is open.
    Film {
        /// Share that does.
        reached: f64,
    },
    /// Too much of what should stay bare gets film.
    Bare {
        /// Least share of such a region that stays bare.
        kept: f64,
    },
}

/// What candidates are made from and held against.
pub struct Trials<'a> {
    /// The plan as given.
    pub plan: &'a Plan,
    /// Its meshes.
    pub meshes: &'a Meshes,
    /// Its free keys.
    pub free: Free,
    /// Atoms per second at power 1, per source: of the plan as given for sources whose rate a coupon tells, since what was
    /// measured was measured there; none where it follows from the candidate's own values.
    pub coupon_rates_per_s: Vec<Option<f64>>,
    /// Steps whose duration is scaled.
    pub scaled: Vec<bool>,
    /// Factors on their duration that are allowed.
    pub scale: [f64; 2],
    /// Seed and threads.
    pub seed: u64,
    /// 0: all cores.
    pub threads: usize,
    /// Asked whether to stop.
    pub watch: &'a dyn Watch,
}

/// A scene with its rates.
pub struct Posed {
    /// The scene.
    pub scene: Scene,
    /// Real atoms per source and step.
    pub rates: Rates,
}

impl Trials<'_> {
    /// Looks at values of the free keys.
    ///
    /// - returns none if it was stopped
    pub fn look(&self, values: &[f64], effort: Effort) -> Option<Candidate> {
        let text = self.free.text(self.plan, values);
        let draft = match self.draft(&text) {
            Ok(draft) => draft,
            Err(why) => return Some(Candidate::of_no_scene(values, effort, why)),
        };
        let rates = match self.rates(draft.scene()) {
            Ok(rates) => rates,
            Err(why) => return Some(Candidate::of_no_scene(values, effort, why)),
        };
        let places = places(draft.scene(), effort.places);
        let (grown, rays) = self.grown((draft.scene(), &rates), &places, effort);
        if self.watch.cancelled() {
            return None;
        }
        let mut candidate =
            self.judged((values, effort), (draft.scene(), &rates), (&grown, &places));
        candidate.rays = rays;
        if candidate.why_not.is_none()
            && let Err(issues) = draft.stands()
        {
            candidate.why_not = Some(WhyNot::Scene(first_of(&issues)));
        }
        Some(candidate)
    }

    fn draft(&self, text: &str) -> Result<Draft, String> {
        let plan = plan::read_text(&self.plan.path, text).map_err(|errors| {
            let first = errors.errors.first();
            first.map_or_else(String::new, |error| error.message())
        })?;
        scene::draft(Arc::new(plan), self.meshes).map_err(|issues| first_of(&issues))
    }

    /// A scene of the plan with these values, proven, with its rates.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn posed(&self, text: &str) -> Result<Posed, String> {
        let draft = self.draft(text)?;
        let scene = draft.prove().map_err(|issues| first_of(&issues))?;
        let rates = self.rates(&scene)?;
        Ok(Posed { scene, rates })
    }

    /// A scene of the plan with these values and other steps, its clearances not proven, with its rates.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn with_steps(&self, text: &str, steps: Vec<PlanStep>) -> Result<Posed, String> {
        let mut plan = plan::read_text(&self.plan.path, text)
            .map_err(|errors| errors.errors.first().map_or(String::new(), |e| e.message()))?;
        let rates = {
            let draft = scene::draft(Arc::new(plan.clone()), self.meshes)
                .map_err(|issues| first_of(&issues))?;
            self.per_dose(draft.scene())?
        };
        plan.steps = steps;
        let draft =
            scene::draft(Arc::new(plan), self.meshes).map_err(|issues| first_of(&issues))?;
        let scene = draft.scene().clone();
        let rates = of_doses(&scene, &rates);
        Ok(Posed { scene, rates })
    }

    /// Atoms per source and step: as calibrated, but for sources whose rate a coupon of the plan as given tells.
    fn rates(&self, scene: &Scene) -> Result<Rates, String> {
        Ok(of_doses(scene, &self.per_dose(scene)?))
    }

    /// Atoms per second at power 1 of every source.
    fn per_dose(&self, scene: &Scene) -> Result<Vec<f64>, String> {
        let told = self.coupon_rates_per_s.iter().all(Option::is_some);
        let own = if told {
            None
        } else {
            Some(own_rates_per_s(scene, &self.coupon_rates_per_s)?)
        };
        let rates = self.coupon_rates_per_s.iter().enumerate();
        Ok(rates
            .map(|(source, told)| {
                told.unwrap_or_else(|| own.as_ref().map_or(0.0, |own| own[source]))
            })
            .collect())
    }

    /// Film at places: fixed, and growing with the open time.
    pub fn grown(
        &self,
        (scene, rates): (&Scene, &Rates),
        places: &[Place],
        effort: Effort,
    ) -> (Grown, u64) {
        let chosen: Vec<usize> = places.iter().map(|place| place.receiver).collect();
        let metals = scene.metals.len();
        let group_of = |step: usize, source: usize| {
            2 * scene.sources[source].metal + usize::from(self.scaled[step])
        };
        let settings = TrialSettings {
            lines: effort.lines,
            atoms: effort.atoms,
            seed: self.seed,
            threads: self.threads,
        };
        let tried = trial(
            scene,
            rates,
            &chosen,
            (2 * metals, &group_of),
            (settings, self.watch),
        );
        let rays = tried.rays;
        let [fixed_m, scaled_m] = [0, 1].map(|which| {
            [0, 1].map(|half: usize| {
                (0..metals)
                    .map(|metal| tried.halves_m[half][2 * metal + which].clone())
                    .collect()
            })
        });
        (Grown { fixed_m, scaled_m }, rays)
    }

    /// The film's needs, with what open times are allowed.
    pub fn needs(&self, scene: &Scene) -> Needs {
        let metals: Vec<String> = scene.metals.iter().map(|m| m.name.clone()).collect();
        Needs {
            scale: self.scale,
            ..Needs::of(scene.plan.film.as_ref(), &metals)
        }
    }

    fn judged(
        &self,
        (values, effort): (&[f64], Effort),
        (scene, rates): (&Scene, &Rates),
        (grown, places): (&Grown, &[Place]),
    ) -> Candidate {
        let needs = self.needs(scene);
        let score = score(grown, places, &needs);
        let why_not = if score.scale.is_infinite() || score.reached < needs.on * (1.0 - 1e-9) {
            Some(WhyNot::Film {
                reached: score.reached,
            })
        } else if score.bare < needs.on * (1.0 - 1e-9) {
            Some(WhyNot::Bare { kept: score.bare })
        } else {
            None
        };
        let nothing = |index: usize| {
            let both = [&grown.fixed_m, &grown.scaled_m];
            let mut films = both.into_iter().flatten().flatten();
            films.all(|film| film[index] <= 0.0)
        };
        let bare = (0..places.len()).filter(|&index| nothing(index));
        Candidate {
            values: values.to_vec(),
            effort,
            open_time_s: self.open_time_s(scene, score.scale),
            metal_kg: self.metal_kg(scene, rates, score.scale),
            score: Some(score),
            why_not,
            bare: bare.filter_map(|index| u32::try_from(index).ok()).collect(),
            places: u32::try_from(places.len()).unwrap_or(u32::MAX),
            rays: 0,
        }
    }

    /// Time in which some source coats, with this factor on the scaled steps, s.
    pub fn open_time_s(&self, scene: &Scene, scale: f64) -> f64 {
        let steps = scene.steps.iter().zip(&self.scaled);
        let open = steps.filter(|(step, _)| step.open.contains(&true));
        open.map(|(step, &scaled)| step.lasts_s * if scaled { scale } else { 1.0 })
            .sum()
    }

    /// Metal that leaves, with this factor on the scaled steps, kg.
    pub fn metal_kg(&self, scene: &Scene, rates: &Rates, scale: f64) -> f64 {
        let sources = scene.sources.iter().zip(&rates.atoms);
        let of_source = |(source, atoms): (&scene::Source, &Vec<f64>)| {
            let steps = atoms.iter().zip(&self.scaled);
            let all: f64 = steps
                .map(|(atoms, &scaled)| atoms * if scaled { scale } else { 1.0 })
                .sum();
            all * scene.metals[source.metal].atom_mass_kg()
        };
        sources.map(of_source).sum()
    }
}

impl Candidate {
    fn of_no_scene(values: &[f64], effort: Effort, why: String) -> Self {
        Self {
            values: values.to_vec(),
            effort,
            score: None,
            open_time_s: f64::INFINITY,
            metal_kg: f64::INFINITY,
            why_not: Some(WhyNot::Scene(why)),
            bare: Vec::new(),
            places: 0,
            rays: 0,
        }
    }

    /// What a search makes small: the logarithm of time or metal, or the unevenness; far more where it does not do.
    pub fn objective(&self, minimise: Minimise) -> f64 {
        let plain = match minimise {
            Minimise::Time => self.open_time_s.max(f64::MIN_POSITIVE).ln(),
            Minimise::Metal => self.metal_kg.max(f64::MIN_POSITIVE).ln(),
            Minimise::Unevenness => self.score.map_or(1.0, |score| score.unevenness),
        };
        let base = match minimise {
            Minimise::Unevenness => 0.0,
            _ => 30.0, // e^30 s are longer than anything lasts
        };
        match (&self.why_not, self.score) {
            (None, _) => plain,
            (Some(WhyNot::Film { reached }), Some(_)) => base + 20.0 + 10.0 * (1.0 - reached),
            (Some(WhyNot::Bare { kept }), Some(_)) => base + 5.0 + 10.0 * (1.0 - kept),
            // it would do but for what is in the way: the nearer to where it fits, the better is not known
            (Some(WhyNot::Scene(_)), Some(_)) => base + 2.0 + plain,
            (Some(_), None) => base + 40.0,
        }
    }
}

/// Real atoms from rates per second at power 1.
fn of_doses(scene: &Scene, per_dose: &[f64]) -> Rates {
    let of_source = |(source, rate): (usize, &f64)| {
        let steps = scene.steps.iter();
        steps
            .map(|step| rate * step.power[source] * step.lasts_s)
            .collect()
    };
    Rates {
        atoms: per_dose.iter().enumerate().map(of_source).collect(),
        relative_error: vec![0.0; per_dose.len()],
    }
}

/// Atoms per second at power 1 that a scene itself tells, for sources that need it.
fn own_rates_per_s(scene: &Scene, told: &[Option<f64>]) -> Result<Vec<f64>, String> {
    let rate = |(index, source): (usize, &scene::Source)| {
        if told[index].is_some() {
            return Ok(0.0);
        }
        let plain = match &source.output {
            Output::Charge { mass_kg } => {
                let steps = scene.steps.iter();
                let dose: f64 = steps.map(|step| step.power[index] * step.lasts_s).sum();
                let atoms = mass_kg / scene.metals[source.metal].atom_mass_kg();
                if dose > 0.0 { atoms / dose } else { 0.0 }
            }
            Output::AtomsPerSecond { rate_per_s } => *rate_per_s,
            output => {
                let metal = &scene.metals[source.metal].name;
                crate::supply::rate_per_s(output, metal, crate::supply::ion_of(&scene.plan))?
            }
        };
        Ok(plain * source.correction)
    };
    scene.sources.iter().enumerate().map(rate).collect()
}

fn first_of(issues: &scene::SceneIssues) -> String {
    let first = issues.issues.first();
    first.map_or_else(String::new, |issue| format!("{}: {issue}", issue.key()))
}
