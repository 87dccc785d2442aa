//! Film on coupons for other rates, emission laws and free paths.
//!
//! In: a plan and the coupons that were measured. Out: [`Bench`]: a few simulations of the coupons alone, and a smooth
//! interpolation between them for `fit`.

use super::Refusal;
use super::fit::Cause;
use crate::plan::Plan;
use crate::plan::model::{EmissionLaw, Output};
use crate::scene::{self, Meshes, Scene};
use crate::transport::{self, Rates, RunSettings, TrialSettings, Watch, trial};
use std::sync::Arc;

/// Numbers of the causes.
pub(super) const RATE: usize = 0;
/// Exponent of the emission law.
pub(super) const EXPONENT: usize = 1;
/// Logarithm of the free path over what it is taken to be.
pub(super) const PATH: usize = 2;

/// Exponents on either side of the plan's that are looked at.
const EXPONENTS: [f64; 2] = [-1.0, 2.0];
/// Least exponent.
const LEAST_EXPONENT: f64 = 0.0;
/// Simulations along the exponent, and along the free path.
const NODES: usize = 5;
/// Logarithm of the factor by which the free path may be off: four, either way.
const LOG_PATH: f64 = std::f64::consts::LN_2 * 2.0;
/// Half widths of 90 % intervals of what is known beforehand: the rate to a factor of 1.5 must be told; emission exponents lie
/// within half of each other; free paths are known to a factor of 2 (common practice, no source).
const KNOWN: [f64; 3] = [0.405, 0.5, std::f64::consts::LN_2];
/// Lines per scrambling from a coupon's facet to a source.
const LINES: u16 = 64;
/// Atoms of a simulation where not all fly straight, as [`TrialSettings`] counts them.
const ATOMS: u64 = 1 << 18;

/// Coupons, looked at for some exponents and free paths.
pub(super) struct Bench<'a> {
    plan: &'a Plan,
    meshes: &'a Meshes,
    settings: &'a RunSettings,
    /// Rate, exponent, free path; those that the plan does not have have no range.
    pub causes: Vec<Cause>,
    /// Relative error of the simulation per coupon.
    pub error: Vec<f64>,
    /// Free path that `PATH` counts from, m; 0 without gas.
    pub free_path_m: f64,
    /// Rates at power 1 as the plan stands, 1/s.
    rates_per_s: Vec<f64>,
    exponents: Vec<f64>,
    paths: Vec<f64>,
    /// ln film, m: `[exponent][path][coupon]`.
    logs: Vec<Vec<Vec<f64>>>,
}

impl<'a> Bench<'a> {
    /// Simulates the coupons.
    pub fn of(
        (plan, meshes): (&'a Plan, &'a Meshes),
        coupons: &[&str],
        (settings, watch): (&'a RunSettings, &dyn Watch),
    ) -> Result<Self, Refusal> {
        let draft = scene::draft(Arc::new(plan.clone()), meshes).map_err(Refusal::Scene)?;
        let scene = draft.scene();
        let rates = transport::calibrate_within(scene, settings, watch).map_err(Refusal::Scene)?;
        let free_path_m = scene.gas.as_ref().map_or(0.0, |gas| {
            gas.pairs.first().map_or(0.0, |pair| pair.free_path_m)
        });
        let several = coupons.len() > 1;
        let exponent = exponent_of(plan).filter(|_| several);
        let has_path = free_path_m > 0.0 && several;
        let exponents = exponent.map_or_else(
            || vec![exponent_of(plan).unwrap_or(1.0)],
            |now| {
                let low = (now + EXPONENTS[0]).max(LEAST_EXPONENT.min(now));
                nodes([low, now + EXPONENTS[1]])
            },
        );
        let paths = if has_path {
            nodes([-LOG_PATH, LOG_PATH])
        } else {
            vec![0.0]
        };
        let mut bench = Self {
            plan,
            meshes,
            settings,
            causes: causes(&exponents, exponent, &paths),
            error: vec![0.0; coupons.len()],
            free_path_m,
            rates_per_s: per_dose(scene, &rates),
            exponents,
            paths,
            logs: Vec::new(),
        };
        let mut doubts = Doubts::default();
        let all = (bench.exponents.len() * bench.paths.len()) as f64;
        let mut done = 0.0;
        for &exponent in &bench.exponents {
            let mut row = Vec::new();
            for &path in &bench.paths {
                watch.progress("coupons", done / all);
                done += 1.0;
                let films = bench.simulated((exponent, path), coupons, watch)?;
                if watch.cancelled() {
                    return Err(Refusal::Stopped);
                }
                doubts.take(films.iter().map(|(_, own)| *own));
                row.push(films.iter().map(|(film, _)| film.ln()).collect());
            }
            bench.logs.push(row);
        }
        bench.error = doubts.errors();
        Ok(bench)
    }

    /// All causes as the plan has them.
    pub fn now(&self) -> Vec<f64> {
        self.causes.iter().map(|cause| cause.now).collect()
    }

    /// The plan with another exponent and free path.
    fn changed(&self, (exponent, path): (f64, f64)) -> Plan {
        let mut plan = self.plan.clone();
        if self.exponents.len() > 1 {
            for source in &mut plan.sources {
                source.law = EmissionLaw::CosinePower { exponent };
            }
        }
        if let Some(gas) = plan.gas.as_mut().filter(|_| self.paths.len() > 1) {
            gas.free_path_m = Some(self.free_path_m * path.exp());
        }
        plan
    }

    /// Film on the coupons with the plan's rates, m, and its relative error.
    fn simulated(
        &self,
        node: (f64, f64),
        coupons: &[&str],
        watch: &dyn Watch,
    ) -> Result<Vec<(f64, f64)>, Refusal> {
        let plan = Arc::new(self.changed(node));
        let draft = scene::draft(plan, self.meshes).map_err(Refusal::Scene)?;
        let scene = draft.scene();
        let mut chosen = Vec::new();
        let mut ranges = Vec::new();
        for name in coupons {
            let coupon = scene.coupons.iter().find(|coupon| coupon.name == *name);
            let receivers = coupon.map_or(0..0, |coupon| coupon.receivers.clone());
            ranges.push(chosen.len()..chosen.len() + receivers.len());
            chosen.extend(receivers);
        }
        let rates = of_doses(scene, &self.rates_per_s);
        let settings = TrialSettings {
            lines: LINES,
            atoms: ATOMS,
            seed: self.settings.seed,
            threads: self.settings.threads,
        };
        let tried = trial(scene, &rates, &chosen, (1, &|_, _| 0), (settings, watch));
        let film = |range: &std::ops::Range<usize>, half: usize| {
            let area: f64 = range
                .clone()
                .map(|i| scene.receivers[chosen[i]].area_m2)
                .sum();
            let volume: f64 = range
                .clone()
                .map(|i| tried.halves_m[half][0][i] * scene.receivers[chosen[i]].area_m2)
                .sum();
            volume / area.max(f64::MIN_POSITIVE)
        };
        Ok(ranges
            .iter()
            .map(|range| {
                let [a, b] = [film(range, 0), film(range, 1)];
                let mean = 0.5 * (a + b);
                (
                    mean,
                    if mean > 0.0 {
                        0.5 * (a - b).abs() / mean
                    } else {
                        1.0
                    },
                )
            })
            .collect())
    }

    /// ln film on the coupons, m.
    pub fn film(&self, values: &[f64]) -> Vec<f64> {
        let along = weights(&self.exponents, values[EXPONENT]);
        let across = weights(&self.paths, values[PATH]);
        let coupons = self.logs[0][0].len();
        (0..coupons)
            .map(|coupon| {
                let mut log = values[RATE];
                for (row, a) in self.logs.iter().zip(&along) {
                    for (logs, b) in row.iter().zip(&across) {
                        log += a * b * logs[coupon];
                    }
                }
                log
            })
            .collect()
    }

    /// Corrections of the sources with which a plan of the fitted exponent and free path has the fitted rate.
    pub fn corrections(
        &self,
        values: &[f64],
        (exponent, path): (bool, bool),
    ) -> Result<Vec<f64>, Refusal> {
        let factor = values[RATE].exp();
        let moves = exponent || path;
        let by_coupon = |output: &Output| matches!(output, Output::Coupon { .. });
        let now = if moves && self.plan.sources.iter().any(|s| by_coupon(&s.output)) {
            // a coupon of the plan tells another rate if atoms leave or fly otherwise
            let plan = self.changed((values[EXPONENT], values[PATH]));
            let draft = scene::draft(Arc::new(plan), self.meshes).map_err(Refusal::Scene)?;
            let rates =
                transport::calibrate(draft.scene(), self.settings).map_err(Refusal::Scene)?;
            per_dose(draft.scene(), &rates)
        } else {
            self.rates_per_s.clone()
        };
        let both = self.rates_per_s.iter().zip(&now).zip(&self.plan.sources);
        Ok(both
            .map(|((before, now), source)| {
                source.correction
                    * if *now > 0.0 {
                        factor * before / now
                    } else {
                        factor
                    }
            })
            .collect())
    }
}

/// Relative errors of coupons over all simulations, each the half difference of two halves.
#[derive(Default)]
struct Doubts {
    /// Mean square per coupon.
    squares: Vec<crate::stats::Running>,
}

impl Doubts {
    fn take(&mut self, errors: impl Iterator<Item = f64>) {
        for (coupon, error) in errors.enumerate() {
            if self.squares.len() == coupon {
                self.squares.push(crate::stats::Running::default());
            }
            self.squares[coupon].push(error * error);
        }
    }

    /// Root mean square per coupon, but no less than that of all: simulations share their random numbers, so that one
    /// coupon's halves may agree by chance in all of them.
    fn errors(&self) -> Vec<f64> {
        let mut all = crate::stats::Running::default();
        self.squares.iter().for_each(|own| all.merge(own));
        let of = |own: &crate::stats::Running| own.mean().max(all.mean()).sqrt();
        self.squares.iter().map(of).collect()
    }
}

/// The exponent that can be fitted: that of a single source with a cosine law.
fn exponent_of(plan: &Plan) -> Option<f64> {
    match plan.sources.as_slice() {
        [source] => match source.law {
            EmissionLaw::CosinePower { exponent } => Some(exponent),
            _ => None,
        },
        _ => None,
    }
}

fn causes(exponents: &[f64], exponent: Option<f64>, paths: &[f64]) -> Vec<Cause> {
    let cause = |index: usize, name: &str, now: f64, range: [f64; 2]| Cause {
        name: name.to_owned(),
        now,
        range,
        told_within: KNOWN[index],
    };
    let ends = |nodes: &[f64]| [nodes[0], nodes[nodes.len() - 1]];
    vec![
        cause(RATE, "the rate", 0.0, [-12.0, 12.0]),
        cause(
            EXPONENT,
            "the emission exponent",
            exponent.unwrap_or(exponents[0]),
            ends(exponents),
        ),
        cause(PATH, "the free path", 0.0, ends(paths)),
    ]
}

/// Atoms per second at power 1.
fn per_dose(scene: &Scene, rates: &Rates) -> Vec<f64> {
    let of_source = |(index, atoms): (usize, &Vec<f64>)| {
        let dose = |step: &scene::Step| step.power[index] * step.lasts_s;
        let all: f64 = scene.steps.iter().map(dose).sum();
        if all > 0.0 {
            atoms.iter().sum::<f64>() / all
        } else {
            0.0
        }
    };
    rates.atoms.iter().enumerate().map(of_source).collect()
}

fn of_doses(scene: &Scene, per_dose: &[f64]) -> Rates {
    let of_source = |(index, rate): (usize, &f64)| {
        let dose = |step: &scene::Step| rate * step.power[index] * step.lasts_s;
        scene.steps.iter().map(dose).collect()
    };
    Rates {
        atoms: per_dose.iter().enumerate().map(of_source).collect(),
        relative_error: vec![0.0; per_dose.len()],
    }
}

/// Chebyshev points of a range, its ends among them.
fn nodes([low, high]: [f64; 2]) -> Vec<f64> {
    (0..NODES)
        .map(|i| {
            let cosine = (std::f64::consts::PI * i as f64 / (NODES - 1) as f64).cos();
            0.5 * (low + high) - 0.5 * (high - low) * cosine
        })
        .collect()
}

/// Weights of the nodes at a point (Lagrange's polynomials).
fn weights(nodes: &[f64], at: f64) -> Vec<f64> {
    let of = |i: usize| {
        let others = (0..nodes.len()).filter(|&j| j != i);
        others
            .map(|j| (at - nodes[j]) / (nodes[i] - nodes[j]))
            .product()
    };
    (0..nodes.len()).map(of).collect()
}
