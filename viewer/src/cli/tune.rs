//! `evenfall tune`: measured coupons against a plan's prediction, and what that says of rate, law and free path.
//!
//! In: a plan and coupons with their thicknesses. Out: a small TOML to include, words, and a line in a log of runs.

use super::common::Common;
use crate::diagnose::{self, Problems};
use crate::failure::{Exit, Failure};
use crate::watch::RunWatch;
use crate::{folder, say};
use clap::Args;
use evenfall_sim::outcome::figures::{percent, three, with_error};
use evenfall_sim::plan;
use evenfall_sim::scene;
use evenfall_sim::transport::{Method, RunSettings};
use evenfall_sim::tune::{self, MARK, Reading, Refusal, Tuned, drift};
use evenfall_sim::units::{self, Dimension};
use std::fs;
use std::path::{Path, PathBuf};

/// Arguments of `evenfall tune`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The plan that was run, a TOML file
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// A coupon of it and the thickness measured after the run, as in witness=85nm or witness=85nm+-3nm
    #[arg(long, value_name = "NAME=THICKNESS", required = true)]
    coupon: Vec<String>,
    /// Standard error of a thickness that is given without one; 5 % is common practice
    #[arg(long, value_name = "SHARE", default_value = "5%", value_parser = super::coat::accuracy)]
    error: f64,
    /// File to write, for the plan to include
    /// [default: the plan's name and "-tuned.toml", in the current folder]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// A log of runs (CSV): this run is added, and drift is told
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
    /// What this run is called in the log [default: its number]
    #[arg(long, value_name = "NAME", requires = "log")]
    run: Option<String>,
    #[command(flatten)]
    common: Common,
}

/// Tunes a plan.
///
/// # Errors
/// See [`Failure`].
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let readings = arguments
        .coupon
        .iter()
        .map(|text| reading(text, arguments.error).map_err(Failure::Unusable))
        .collect::<Result<Vec<Reading>, Failure>>()?;
    let plan = plan::read(&arguments.plan).map_err(|found| Failure::Plan(found.into()))?;
    let out = match &arguments.out {
        Some(out) => out.clone(),
        None => default_for(&arguments.plan)?,
    };
    may_be_written(&out)?;
    let mut log = arguments.log.as_deref().map(read_log).transpose()?;
    let watch = RunWatch::start(arguments.common.progress())?;
    watch.stage("reading meshes");
    let in_plan = |issues| Failure::Plan(Problems::of_scene(&issues, &plan));
    let meshes = scene::load_meshes(&plan).map_err(in_plan)?;
    watch.go_on()?;
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.01,
        time: None,
        atoms: None,
        seed: arguments.common.seed,
        threads: arguments.common.threads(),
    };
    let tuned = tune::tune(&plan, &meshes, &readings, (&settings, &watch));
    watch.finish();
    let tuned = tuned.map_err(|refusal| match refusal {
        Refusal::Scene(issues) => Failure::Plan(Problems::of_scene(&issues, &plan)),
        Refusal::Stopped => Failure::StoppedEarly,
        other => Failure::Unusable(other.to_string()),
    })?;
    put(&out, &tuned.toml)?;
    let drifts = match (&arguments.log, &mut log) {
        (Some(path), Some(entries)) => {
            add(entries, (&plan.title, arguments.run.as_deref()), &tuned);
            put(path, &drift::written(entries))?;
            Some(drift::drift(entries))
        }
        _ => None,
    };
    if arguments.common.json {
        let text = serde_json::to_string_pretty(&tuned).map_err(|error| {
            Failure::Unfinished(format!("the result cannot be printed ({error})"))
        })?;
        say::answer(&text)?;
    } else {
        say::answer(&in_words(&tuned, &out, drifts))?;
    }
    Ok(Exit::Done)
}

/// `witness=85nm`, or `witness=85nm+-3nm`.
fn reading(text: &str, error: f64) -> Result<Reading, String> {
    let shown = diagnose::printable_line(text);
    let (name, measured) = text.split_once('=').ok_or_else(|| {
        format!("--coupon {shown} (a coupon and its thickness belong there); write for example witness=85nm")
    })?;
    let (thickness, own) = match measured
        .split_once("+-")
        .or_else(|| measured.split_once('±'))
    {
        Some((thickness, own)) => (thickness, Some(own)),
        None => (measured, None),
    };
    let length = |text: &str| {
        let value = units::parse_quantity(text.trim(), Dimension::Length)
            .map_err(|problem| format!("--coupon {shown}: {problem}"))?;
        if value > 0.0 {
            return Ok(value);
        }
        Err(format!(
            "--coupon {shown} is not above 0 nm (a film that was measured is); leave it out"
        ))
    };
    let thickness_m = length(thickness)?;
    Ok(Reading {
        coupon: name.trim().to_owned(),
        thickness_m,
        error: match own {
            Some(own) => length(own)? / thickness_m,
            None => error,
        },
    })
}

fn default_for(plan: &Path) -> Result<PathBuf, Failure> {
    let stem = plan.file_stem().ok_or_else(|| {
        Failure::Unusable(format!(
            "{} has no file name (what is written is called after it); name a plan, or say --out FILE",
            plan.display()
        ))
    })?;
    let mut name = stem.to_os_string();
    name.push("-tuned.toml");
    Ok(PathBuf::from(name))
}

/// What is there must be of ours.
fn may_be_written(out: &Path) -> Result<(), Failure> {
    match fs::read_to_string(out) {
        Ok(text) if text.starts_with(MARK) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        _ => Err(Failure::Unusable(format!(
            "{} is there and was not written by `evenfall tune` (it would be lost); name another file with --out",
            out.display()
        ))),
    }
}

fn read_log(path: &Path) -> Result<Vec<drift::Entry>, Failure> {
    match fs::read_to_string(path) {
        Ok(text) => drift::read(&text)
            .map_err(|why| Failure::Unusable(format!("{}: {why}", path.display()))),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(Failure::Unusable(format!(
            "{} cannot be read ({error}); name another file with --log",
            path.display()
        ))),
    }
}

fn add(entries: &mut Vec<drift::Entry>, (plan, run): (&str, Option<&str>), tuned: &Tuned) {
    let mut runs: Vec<&str> = entries.iter().map(|entry| entry.run.as_str()).collect();
    runs.dedup();
    let run = run.map_or_else(|| (runs.len() + 1).to_string(), str::to_owned);
    for coupon in &tuned.coupons {
        entries.push(drift::Entry {
            run: run.clone(),
            plan: plan.to_owned(),
            coupon: coupon.coupon.clone(),
            predicted_nm: coupon.predicted_nm,
            measured_nm: coupon.measured_nm,
        });
    }
}

fn put(path: &Path, text: &str) -> Result<(), Failure> {
    folder::replace(path, text.as_bytes()).map_err(|error| {
        Failure::Unfinished(format!(
            "{} cannot be written ({error}); make room or name another file",
            path.display()
        ))
    })
}

fn in_words(tuned: &Tuned, out: &Path, drifts: Option<Option<drift::Drift>>) -> String {
    let mut lines = Vec::new();
    for coupon in &tuned.coupons {
        lines.push(format!(
            "coupon {}: {} nm measured, {} nm predicted, {} nm as tuned",
            coupon.coupon,
            with_error(coupon.measured_nm, coupon.stderr_nm),
            three(coupon.predicted_nm),
            three(coupon.tuned_nm)
        ));
    }
    let range = |value: f64, [low, high]: [f64; 2]| {
        format!(
            "{} ({} to {} at 90 %)",
            three(value),
            three(low),
            three(high)
        )
    };
    lines.push(format!(
        "rate: {} times what the plan had",
        range(tuned.rate.value, tuned.rate.from_to)
    ));
    if let Some(exponent) = &tuned.exponent {
        lines.push(format!(
            "emission exponent: {}",
            range(exponent.value, exponent.from_to)
        ));
    }
    if let Some(path) = &tuned.free_path_mm {
        lines.push(format!("free path: {} mm", range(path.value, path.from_to)));
    }
    if tuned.coupons.len() == 1 {
        lines.push("not told: one coupon says nothing of emission law or free path".to_owned());
    }
    lines.extend(tuned.untold.iter().map(|text| format!("not told: {text}")));
    match drifts {
        Some(Some(drift)) if drift.is_clear() => lines.push(format!(
            "drift: over {} runs measured over predicted {} by {} a run (± {} at 90 %)",
            drift.runs,
            if drift.per_run > 0.0 {
                "rises"
            } else {
                "falls"
            },
            percent(drift.per_run.abs()),
            percent(drift.half_width)
        )),
        Some(Some(drift)) => lines.push(format!(
            "drift: none to be seen over {} runs ({} a run or less)",
            drift.runs,
            percent(drift.per_run.abs() + drift.half_width)
        )),
        Some(None) => lines.push("drift: the log holds fewer than four runs".to_owned()),
        None => {}
    }
    lines.extend(tuned.warnings.iter().map(|text| format!("warning: {text}")));
    lines.push(format!(
        "written: {0}; put include = [\"{0}\"] at the top of the plan",
        out.display()
    ));
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_names_with_thicknesses() {
        let plain = reading("witness=85nm", 0.05).unwrap();
        assert_eq!(plain.coupon, "witness");
        assert!((plain.thickness_m - 85e-9).abs() < 1e-18 && (plain.error - 0.05).abs() < 1e-12);
        let own = reading("witness = 85 nm +- 3.4 nm", 0.05).unwrap();
        assert!((own.error - 0.04).abs() < 1e-12);
        for (text, says) in [
            ("witness", "a coupon and its thickness belong there"),
            ("witness=85", "85"),
            ("witness=-85nm", "not above 0 nm"),
            ("witness=85 s", "a length belongs here"),
        ] {
            let why = reading(text, 0.05).unwrap_err();
            assert!(why.contains(says), "{text}: {why}");
        }
    }
}
