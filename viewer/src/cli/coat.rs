//! `evenfall coat`: the whole road, from a plan to an outcome folder.

use super::common::Common;
use crate::diagnose::Problems;
use crate::failure::{Exit, Failure};
use crate::watch::{Progress, RunWatch};
use crate::{folder, say};
use clap::{Args, ValueEnum};
use evenfall_sim::outcome::figures::with_error;
use evenfall_sim::outcome::{self, Outcome, WriteItem, WriteList, headline};
use evenfall_sim::plan;
use evenfall_sim::transport::{self, Method, RunSettings, Stopped, Watch};
use evenfall_sim::units::{self, Dimension};
use evenfall_sim::{film, scene};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// How atoms are brought to the part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum MethodName {
    /// The quickest that does what the plan needs
    Auto,
    /// Lines from triangles to footprints; straight flight only
    Gather,
    /// Atoms fired one by one; does everything
    Fire,
}

/// Arguments of `evenfall coat`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The plan, a TOML file
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// Folder to write; an earlier outcome there is replaced, anything else is left alone
    /// [default: the plan's name and "-coat", in the current folder]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Largest standard error on 95 % of the area, relative to the film
    #[arg(long, value_name = "SHARE", default_value = "2%", value_parser = accuracy)]
    accuracy: f64,
    /// Stop after this time, as in 60s or 5min
    #[arg(long, value_name = "TIME", value_parser = time)]
    time: Option<Duration>,
    /// How atoms are brought to the part
    #[arg(long, value_enum, default_value = "auto", hide_possible_values = false)]
    method: MethodName,
    /// Stop after firing this many atoms
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    atoms: Option<u64>,
    /// What to write, separated by commas: report, summary, triangles, probes, mesh, views, outcome
    /// [default: all]
    #[arg(long, value_name = "LIST")]
    write: Option<WriteList>,
    #[command(flatten)]
    common: Common,
}

/// What one run is asked for.
pub struct Job<'a> {
    /// The plan.
    pub plan: &'a Path,
    /// The outcome folder.
    pub out: &'a Path,
    /// How the run is done.
    pub settings: RunSettings,
    /// What is written.
    pub write: WriteList,
    /// What is shown meanwhile.
    pub progress: Progress,
}

/// Coats a plan's parts and writes the outcome.
///
/// # Errors
/// See [`Failure`].
pub fn run(arguments: &Arguments) -> Result<Exit, Failure> {
    let out = match &arguments.out {
        Some(folder) => folder.clone(),
        None => folder::default_for(&arguments.plan)?,
    };
    let job = Job {
        plan: &arguments.plan,
        out: &out,
        settings: RunSettings {
            method: match arguments.method {
                MethodName::Auto => Method::Auto,
                MethodName::Gather => Method::Gather,
                MethodName::Fire => Method::Fire,
            },
            accuracy: arguments.accuracy,
            time: arguments.time,
            atoms: arguments.atoms,
            seed: arguments.common.seed,
            threads: arguments.common.threads(),
        },
        write: arguments.write.clone().unwrap_or_default(),
        progress: arguments.common.progress(),
    };
    let outcome = coat(&job)?;
    if arguments.common.json {
        say::answer(&in_json(&outcome)?)?;
    } else {
        say::answer(&in_words(&outcome, &out, &job.write))?;
    }
    Ok(ending(&outcome))
}

/// The road: read, refuse what is not computed, lower, run, grow, assemble, write.
///
/// # Errors
/// See [`Failure`]; nothing is written then.
pub fn coat(job: &Job) -> Result<Outcome, Failure> {
    let plan = plan::read(job.plan).map_err(|found| Failure::Plan(found.into()))?;
    let not_gathered = plan::not_gathered(&plan);
    if job.settings.method == Method::Gather && !not_gathered.is_empty() {
        return Err(Failure::Plan(Problems::of_plan(&not_gathered, &plan.files)));
    }
    // Before the long run, so that nobody waits for nothing.
    folder::check(job.out)?;
    let watch = RunWatch::start(job.progress)?;
    let plan = Arc::new(plan);

    watch.stage("reading meshes");
    let in_plan = |issues| Failure::Plan(Problems::of_scene(&issues, &plan));
    let meshes = scene::load_meshes(&plan).map_err(in_plan)?;
    watch.go_on()?;
    watch.stage("building the scene");
    let scene = scene::lower(Arc::clone(&plan), &meshes).map_err(in_plan)?;
    watch.go_on()?;
    let lowered_s = watch.elapsed_s();

    watch.stage("finding the rates");
    let rates = transport::calibrate_within(&scene, &job.settings, &watch);
    watch.go_on()?;
    let rates = rates.map_err(in_plan)?;
    let tally = transport::run(&scene, &rates, &job.settings, &watch);
    let ran_s = watch.elapsed_s();

    watch.stage("writing");
    let film = film::grow(&scene, &tally);
    let mut outcome = outcome::assemble(&scene, &rates, &tally, film, &job.settings);
    let timing = &mut outcome.summary.timing;
    timing.insert("prepare_s".to_owned(), lowered_s);
    timing.insert("run_s".to_owned(), ran_s - lowered_s);
    timing.insert("total_s".to_owned(), watch.elapsed_s());
    let written = outcome::write(&outcome, job.out, &job.write);
    watch.finish();
    written.map_err(folder::failure)?;
    Ok(outcome)
}

/// The summary as its file has it.
fn in_json(outcome: &Outcome) -> Result<String, Failure> {
    serde_json::to_string_pretty(&outcome.summary)
        .map_err(|error| Failure::Unfinished(format!("the summary cannot be printed ({error})")))
}

/// The summary in words, with where the rest is.
pub fn in_words(outcome: &Outcome, folder: &Path, write: &WriteList) -> String {
    let mut lines = headline::sentences(outcome);
    let summary = &outcome.summary;
    for coupon in &summary.coupons {
        lines.push(format!(
            "coupon {}: {} nm",
            coupon.name,
            with_error(coupon.thickness_nm, coupon.stderr_nm)
        ));
    }
    lines.push(format!(
        "accuracy: {} asked, {} reached{}",
        say::percent(summary.accuracy_asked),
        say::percent(summary.accuracy_reached),
        match summary.stopped {
            Stopped::Reached => "",
            Stopped::Time => "; ended by --time",
            Stopped::Atoms => "; ended by --atoms",
            Stopped::User => "; stopped by Ctrl-C, what was reached is kept",
        }
    ));
    lines.extend(
        summary
            .warnings
            .iter()
            .map(|text| format!("warning: {text}")),
    );
    lines.push(if write.has(WriteItem::Report) {
        format!("report: {}", folder.join("report.html").display())
    } else {
        format!("outcome: {}", folder.display())
    });
    lines.join("\n")
}

/// How a finished run ends.
pub fn ending(outcome: &Outcome) -> Exit {
    let missed = outcome
        .summary
        .film
        .as_ref()
        .is_some_and(|film| film.verdict == "missed");
    match (outcome.summary.stopped, missed) {
        (Stopped::User, _) => Exit::Stopped,
        (_, true) => Exit::FilmMissed,
        (_, false) => Exit::Done,
    }
}

/// A share above 0 and up to 1, as in "2%".
pub fn accuracy(text: &str) -> Result<f64, String> {
    let share = units::parse_quantity(text, Dimension::Share).map_err(|error| error.to_string())?;
    if share > 0.0 && share <= 1.0 {
        return Ok(share);
    }
    Err(format!(
        "accuracy {} (must be above 0 % and at most 100 %); 2 % is usual",
        say::percent(share)
    ))
}

/// A time above 0, as in "60s".
fn time(text: &str) -> Result<Duration, String> {
    let seconds =
        units::parse_quantity(text, Dimension::Time).map_err(|error| error.to_string())?;
    // A year is more than any run needs; beyond u64 seconds a Duration cannot be.
    const LONGEST_S: f64 = 366.0 * 86_400.0;
    if seconds > 0.0 && seconds <= LONGEST_S {
        return Ok(Duration::from_secs_f64(seconds));
    }
    Err(format!(
        "{} s (must be above 0 s and at most {LONGEST_S} s, a year); 60s is a minute",
        units::significant(seconds, 3)
    ))
}
