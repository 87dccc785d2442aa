//! Learning from coupons: what the machine's rate, emission law and free path really are.
//!
//! In: a plan and what its coupons measured after a run of it. Out: [`Tuned`], with a small TOML to include. Inside, in
//! order: `model` (film on coupons for other laws and free paths), `fit` (which causes can be told, with intervals),
//! `drift` (a log of runs).

pub mod drift;
mod fit;
mod model;

use crate::outcome::figures::{three, with_error};
use crate::plan::Plan;
use crate::scene::{Meshes, SceneIssues};
use crate::transport::{RunSettings, Watch};
use crate::units::significant;
pub use fit::{CONFIDENCE, Told};
use fit::{Found, Measured, tell};
use model::{Bench, EXPONENT, PATH, RATE};

/// A measured coupon.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Name of the coupon in the plan.
    pub coupon: String,
    /// m.
    pub thickness_m: f64,
    /// Relative standard error of it.
    pub error: f64,
}

/// A coupon beside its prediction.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Compared {
    /// Name.
    pub coupon: String,
    /// As the plan stands, nm.
    pub predicted_nm: f64,
    /// nm.
    pub measured_nm: f64,
    /// Standard error of what was measured, nm.
    pub stderr_nm: f64,
    /// As tuned, nm.
    pub tuned_nm: f64,
}

/// A number with its 90 % interval.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Range {
    /// The number.
    pub value: f64,
    /// Its 90 % interval.
    pub from_to: [f64; 2],
}

/// What coupons taught.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Tuned {
    /// Coupons.
    pub coupons: Vec<Compared>,
    /// Factor on the rate that the plan had, with the law and free path below.
    pub rate: Range,
    /// Exponent of the emission law, where it could be told.
    pub exponent: Option<Range>,
    /// Free path, mm, where it could be told.
    pub free_path_mm: Option<Range>,
    /// What could not be told, and why.
    pub untold: Vec<String>,
    /// Chance of a scatter as large or larger if all this is right; none with as many coupons as causes.
    pub chance: Option<f64>,
    /// What else must be said.
    pub warnings: Vec<String>,
    /// A small TOML to include.
    pub toml: String,
}

/// Why nothing was learned.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Refusal {
    /// The plan as it stands is no scene.
    #[error("{0}")]
    Scene(SceneIssues),
    /// A coupon that the plan does not have.
    #[error(
        "coupon \"{name}\" is not in the plan (there are: {known}); correct the name or add the coupon"
    )]
    NoCoupon {
        /// Asked.
        name: String,
        /// There are.
        known: String,
    },
    /// A coupon that is named twice.
    #[error("coupon \"{name}\" is given twice (one run leaves one film on it); keep one")]
    Twice {
        /// Name.
        name: String,
    },
    /// Nothing can be told.
    #[error("{0}")]
    Nothing(String),
    /// Stopped by the user.
    #[error("stopped before anything was found")]
    Stopped,
}

/// Fits the rate, and with enough coupons the exponent and the free path, to measured coupons.
///
/// # Errors
/// [`Refusal`].
pub fn tune(
    plan: &Plan,
    meshes: &Meshes,
    readings: &[Reading],
    (settings, watch): (&RunSettings, &dyn Watch),
) -> Result<Tuned, Refusal> {
    named(plan, readings)?;
    let names: Vec<&str> = readings.iter().map(|r| r.coupon.as_str()).collect();
    let bench = Bench::of((plan, meshes), &names, (settings, watch))?;
    let measured: Vec<Measured> = readings
        .iter()
        .zip(&bench.error)
        .map(|(reading, own)| Measured {
            log: reading.thickness_m.ln(),
            error: reading.error.hypot(*own),
        })
        .collect();
    let model = |values: &[f64]| bench.film(values);
    let (fit, untold) = match tell(&bench.causes, &measured, &model) {
        Found::Fit { fit, untold } => (fit, untold),
        Found::Nothing { why } => return Err(Refusal::Nothing(why)),
    };
    let now = bench.film(&bench.now());
    let tuned = bench.film(&fit.values);
    let coupons = readings.iter().enumerate().map(|(i, reading)| Compared {
        coupon: reading.coupon.clone(),
        predicted_nm: 1e9 * now[i].exp(),
        measured_nm: 1e9 * reading.thickness_m,
        stderr_nm: 1e9 * reading.thickness_m * reading.error,
        tuned_nm: 1e9 * tuned[i].exp(),
    });
    let told = |cause: usize| fit.told.iter().find(|told| told.cause == cause);
    let exponential = |told: &Told, unit: f64| Range {
        value: unit * told.value.exp(),
        from_to: [-1.0, 1.0].map(|side| unit * (told.value + side * told.half_width).exp()),
    };
    let rate = told(RATE).map(|told| exponential(told, 1.0));
    let rate = rate.ok_or_else(|| Refusal::Nothing("the rate cannot be told".to_owned()))?;
    let exponent = told(EXPONENT).map(|told| Range {
        value: told.value,
        from_to: [-1.0, 1.0].map(|side| told.value + side * told.half_width),
    });
    let free_path_mm = told(PATH).map(|told| exponential(told, 1e3 * bench.free_path_m));
    let mut result = Tuned {
        coupons: coupons.collect(),
        rate,
        exponent,
        free_path_mm,
        untold,
        chance: (fit.degrees > 0).then_some(fit.chance),
        warnings: Vec::new(),
        toml: String::new(),
    };
    let corrections = bench.corrections(
        &fit.values,
        (result.exponent.is_some(), result.free_path_mm.is_some()),
    )?;
    result.warnings = warnings(plan, &result);
    result.toml = toml(plan, &result, &corrections);
    Ok(result)
}

fn named(plan: &Plan, readings: &[Reading]) -> Result<(), Refusal> {
    for (number, reading) in readings.iter().enumerate() {
        if !plan
            .coupons
            .iter()
            .any(|coupon| coupon.name == reading.coupon)
        {
            let known: Vec<&str> = plan.coupons.iter().map(|c| c.name.as_str()).collect();
            return Err(Refusal::NoCoupon {
                name: crate::units::shortened(&reading.coupon),
                known: if known.is_empty() {
                    "none".to_owned()
                } else {
                    known.join(", ")
                },
            });
        }
        if readings[..number]
            .iter()
            .any(|other| other.coupon == reading.coupon)
        {
            return Err(Refusal::Twice {
                name: reading.coupon.clone(),
            });
        }
    }
    Ok(())
}

/// Keys that the plan itself says, and that would win over an included file; scatter that nothing explains.
fn warnings(plan: &Plan, tuned: &Tuned) -> Vec<String> {
    let mut keys: Vec<String> = Vec::new();
    for source in &plan.sources {
        keys.push(format!("source.{}.correction", source.name));
        if tuned.exponent.is_some() {
            keys.push(format!("source.{}.law", source.name));
        }
    }
    if tuned.free_path_mm.is_some() {
        keys.push("gas.free_path".to_owned());
    }
    let own = |key: &String| {
        plan.places
            .get(key)
            .is_some_and(|place| place.file == plan.path)
    };
    let mut all: Vec<String> = keys
        .into_iter()
        .filter(own)
        .map(|key| {
            format!(
                "{key} stands in the plan itself and wins over what is included; take it out there"
            )
        })
        .collect();
    if let Some(chance) = tuned.chance.filter(|chance| *chance < 0.01) {
        all.push(format!(
            "the coupons scatter more than their errors say (chance {}); intervals are widened to match, look for a coupon that \
             was shaded, misplaced or misread",
            three(chance)
        ));
    }
    all
}

fn toml(plan: &Plan, tuned: &Tuned, corrections: &[f64]) -> String {
    let mut text = format!("{MARK} for {}\n", plan.title.replace(['\n', '\r'], " "));
    for coupon in &tuned.coupons {
        text += &format!(
            "# {}: {} nm measured, {} nm predicted before\n",
            coupon.coupon,
            with_error(coupon.measured_nm, coupon.stderr_nm),
            three(coupon.predicted_nm)
        );
    }
    let [low, high] = tuned.rate.from_to;
    for (source, correction) in plan.sources.iter().zip(corrections) {
        let share = correction / tuned.rate.value;
        text += &format!(
            "[[source]]\nname = {}\ncorrection = {}   # {} to {} at 90 %\n",
            toml_edit::Value::from(source.name.as_str()),
            number(*correction),
            significant(low * share, 3),
            significant(high * share, 3)
        );
        if let Some(exponent) = &tuned.exponent {
            text += &format!(
                "law = {{ cosine = {} }}   # {} to {} at 90 %\n",
                number(exponent.value),
                significant(exponent.from_to[0], 3),
                significant(exponent.from_to[1], 3)
            );
        }
    }
    if let Some(path) = &tuned.free_path_mm {
        text += &format!(
            "[gas]\nfree_path = \"{} mm\"   # {} to {} at 90 %\n",
            significant(path.value, 4),
            significant(path.from_to[0], 3),
            significant(path.from_to[1], 3)
        );
    }
    text
}

/// First words of a file that `tune` wrote.
pub const MARK: &str = "# written by evenfall tune";

/// A number that TOML reads as one with a point.
fn number(value: f64) -> String {
    let text = significant(value, 5);
    if text.contains(['.', 'e']) {
        text
    } else {
        text + ".0"
    }
}
