//! `evenfall advise`: which pose, height, speed and dwell; searched, simulated again, written as a plan.
//!
//! In: a plan with `[advise]`. Out: a folder with `report.html`, `advice.json` and `advised.toml`, and a page of words.

mod journal;
mod words;

use super::coat;
use super::common::Common;
use crate::diagnose::Problems;
use crate::failure::{Exit, Failure};
use crate::watch::RunWatch;
use crate::{folder, say};
use clap::Args;
use evenfall_sim::advise::{self, Advice, Asked, Refusal};
use evenfall_sim::plan::error::PlanError;
use evenfall_sim::plan::{self, Plan};
use evenfall_sim::scene;
use evenfall_sim::transport::{Method, RunSettings};
use evenfall_sim::units::{self, Dimension};
use journal::FileJournal;
use std::fs;
use std::path::{Path, PathBuf};

/// Files of an advice folder.
const ADVICE: &str = "advice.json";
const ADVISED: &str = "advised.toml";
const REPORT: &str = "report.html";
const JOURNAL: &str = "advice.journal";

/// Arguments of `evenfall advise`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The plan, a TOML file with [advise]
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// Folder to write; earlier advice there is replaced, anything else is left alone
    /// [default: the plan's name and "-advice", in the current folder]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Accuracy of the runs that simulate the best again
    #[arg(long, value_name = "SHARE", default_value = "2%", value_parser = coat::accuracy)]
    accuracy: f64,
    /// Unevenness that the last part of a turn and the shutter's timing may bring
    #[arg(long, value_name = "SHARE", default_value = "1%", value_parser = coat::accuracy)]
    ripple: f64,
    /// How much the open time may be off at the machine, as in 1s
    #[arg(long, value_name = "TIME", default_value = "1s", value_parser = timing)]
    timing: f64,
    #[command(flatten)]
    common: Common,
}

/// Advises on a plan and writes what it found.
///
/// # Errors
/// See [`Failure`].
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let out = match &arguments.out {
        Some(out) => out.clone(),
        None => default_for(&arguments.plan)?,
    };
    let plan = plan::read(&arguments.plan).map_err(|found| Failure::Plan(found.into()))?;
    check(&out)?;
    let watch = RunWatch::start(arguments.common.progress())?;
    watch.stage("reading meshes");
    let meshes = scene::load_meshes(&plan)
        .map_err(|issues| Failure::Plan(Problems::of_scene(&issues, &plan)))?;
    let asked = Asked {
        settings: RunSettings {
            method: Method::Auto,
            accuracy: arguments.accuracy,
            time: None,
            atoms: None,
            seed: arguments.common.seed,
            threads: arguments.common.threads(),
        },
        ripple: arguments.ripple,
        timing_s: arguments.timing,
    };
    make(&out)?;
    let journal_at = out.join(JOURNAL);
    let mut journal = FileJournal::open(&journal_at, &plan, &asked)?;
    let found = advise::advise(&plan, &meshes, &asked, (&mut journal, &watch));
    journal.flush();
    watch.finish();
    let found = found.map_err(|refusal| {
        clear(&out, &journal_at);
        refused(refusal, &plan)
    })?;
    if found.advice.stopped && found.text.is_none() {
        say::tell(&format!(
            "what was tried is kept in {}; the same command goes on from there",
            journal_at.display()
        ));
        return Err(Failure::StoppedEarly);
    }
    write(&out, &plan, &found)?;
    if !found.advice.stopped {
        // it has served; should it stay, the next search finds it of other inputs or of the same
        let _ = fs::remove_file(&journal_at);
    }
    if arguments.common.json {
        say::answer(&in_json(&found.advice)?)?;
    } else {
        let advised = found.text.as_ref().map(|_| out.join(ADVISED));
        let report = out.join(REPORT);
        say::answer(&words::in_words(
            &found.advice,
            (advised.as_deref(), &report),
        ))?;
    }
    Ok(match (&found.text, found.advice.stopped) {
        (_, true) => Exit::Stopped,
        (None, false) => Exit::FilmMissed,
        (Some(_), false) => Exit::Done,
    })
}

fn in_json(advice: &Advice) -> Result<String, Failure> {
    serde_json::to_string_pretty(advice)
        .map_err(|error| Failure::Unfinished(format!("the advice cannot be printed ({error})")))
}

/// `<plan's stem>-advice` in the current folder.
fn default_for(plan: &Path) -> Result<PathBuf, Failure> {
    let stem = plan.file_stem().ok_or_else(|| {
        Failure::Unusable(format!(
            "{} has no file name (the folder is called after it); name a plan, or say --out FOLDER",
            plan.display()
        ))
    })?;
    let mut name = stem.to_os_string();
    name.push("-advice");
    Ok(PathBuf::from(name))
}

/// The folder must be absent, empty, or hold advice and nothing else.
fn check(out: &Path) -> Result<(), Failure> {
    let Ok(entries) = fs::read_dir(out) else {
        return if out.exists() {
            Err(Failure::Unusable(format!(
                "{} is no folder that can be read (advice is written there); name another with --out",
                out.display()
            )))
        } else {
            Ok(())
        };
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        if ![ADVICE, ADVISED, REPORT, JOURNAL]
            .iter()
            .any(|known| name == *known)
        {
            return Err(Failure::Unusable(format!(
                "{} holds {} (advice is written into a folder of its own); name another folder with --out",
                out.display(),
                crate::diagnose::printable_line(&name.to_string_lossy())
            )));
        }
    }
    Ok(())
}

fn make(out: &Path) -> Result<(), Failure> {
    fs::create_dir_all(out).map_err(|error| cannot_write(out, &error))
}

fn cannot_write(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Unfinished(format!(
        "{} cannot be written ({error}); make room or name another folder with --out",
        path.display()
    ))
}

/// Takes away what a refused command left: its own empty journal, and the folder if nothing else is in it.
fn clear(out: &Path, journal: &Path) {
    let _ = fs::remove_file(journal);
    let _ = fs::remove_dir(out);
}

fn write(out: &Path, plan: &Plan, found: &advise::Advised) -> Result<(), Failure> {
    let put = |name: &str, bytes: &[u8]| {
        let path = out.join(name);
        folder::replace(&path, bytes).map_err(|error| cannot_write(&path, &error))
    };
    match &found.text {
        Some(text) => {
            let from = plan.path.parent().unwrap_or(Path::new(""));
            let text = advise::rebased(text, from, out).map_err(Failure::Unfinished)?;
            put(ADVISED, text.as_bytes())?;
        }
        None => {
            // a plan of earlier advice would be taken for this one's
            let _ = fs::remove_file(out.join(ADVISED));
        }
    }
    put(REPORT, advise::report::html(&found.advice).as_bytes())?;
    put(ADVICE, in_json(&found.advice)?.as_bytes())
}

fn refused(refusal: Refusal, plan: &Plan) -> Failure {
    let at = |key: &str, message: String| {
        let error = PlanError::new(
            plan.place_of(key),
            key,
            plan::Problem::Told { text: message },
        );
        Failure::Plan(Problems::of_plan(&[error], &plan.files))
    };
    match refusal {
        Refusal::Scene(issues) => Failure::Plan(Problems::of_scene(&issues, plan)),
        Refusal::Stopped => Failure::StoppedEarly,
        Refusal::Text(sentence) => Failure::Unfinished(sentence),
        Refusal::CannotVary(_) | Refusal::NoCommonFactor(_) => {
            at("advise.vary", format!("cannot be searched: {refusal}"))
        }
        Refusal::Stops(sentence) => at("advise.turning", format!("cannot be in stops: {sentence}")),
        Refusal::NotAsked | Refusal::NothingWanted => {
            Failure::Unusable(format!("{}: {refusal}", plan.path.display()))
        }
    }
}

/// A time of 0 or more, as in "1s".
fn timing(text: &str) -> Result<f64, String> {
    let seconds =
        units::parse_quantity(text, Dimension::Time).map_err(|error| error.to_string())?;
    if (0.0..=3600.0).contains(&seconds) {
        return Ok(seconds);
    }
    Err(format!(
        "{} s (must be at least 0 s and at most an hour); 1s is usual by hand",
        units::significant(seconds, 3)
    ))
}
