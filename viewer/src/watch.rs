//! Watching a run: the clock, the user's Ctrl-C, and the bar that shows how far it is.
//!
//! The library has no clock and no terminal; this is what `coat` hands it.

use crate::failure::Failure;
use crate::say;
use evenfall_sim::transport::Watch;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::process;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

/// What is shown while a run goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// A bar on a terminal, the names of the stages elsewhere.
    Shown,
    /// Nothing.
    Quiet,
}

/// Clock, stop flag and progress of one run.
pub struct RunWatch {
    began: Instant,
    stop: Arc<AtomicBool>,
    bar: Option<ProgressBar>,
    progress: Progress,
    stage: Mutex<&'static str>,
}

impl RunWatch {
    /// Starts the clock and takes over Ctrl-C: the first one asks the run to end with what it has,
    /// the second one ends the program at once.
    ///
    /// # Errors
    /// When the system does not let Ctrl-C be caught.
    pub fn start(progress: Progress) -> Result<Self, Failure> {
        let stop = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stop);
        ctrlc::set_handler(move || {
            if flag.swap(true, Ordering::SeqCst) {
                process::exit(130);
            }
            say::tell("stopping, what was reached is kept; Ctrl-C again ends at once");
        })
        .map_err(|error| Failure::Unfinished(format!("Ctrl-C cannot be caught ({error})")))?;
        let on_terminal = progress == Progress::Shown && std::io::stderr().is_terminal();
        Ok(Self {
            began: Instant::now(),
            stop,
            bar: on_terminal.then(bar),
            progress,
            stage: Mutex::new(""),
        })
    }

    /// Names what is being done, with a bar that stands still until [`Watch::progress`] moves it.
    pub fn stage(&self, name: &'static str) {
        let mut stage = self.stage.lock().unwrap_or_else(PoisonError::into_inner);
        if *stage == name {
            return;
        }
        *stage = name;
        match &self.bar {
            Some(bar) => {
                bar.set_message(name);
                bar.set_position(0);
            }
            None if self.progress == Progress::Shown => say::tell(name),
            None => {}
        }
    }

    /// Ends with what was reached, if the user asked for it before anything was.
    ///
    /// # Errors
    /// [`Failure::StoppedEarly`] after a Ctrl-C.
    pub fn go_on(&self) -> Result<(), Failure> {
        if self.cancelled() {
            self.finish();
            return Err(Failure::StoppedEarly);
        }
        Ok(())
    }

    /// Takes the bar off the screen.
    pub fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

impl Watch for RunWatch {
    fn elapsed_s(&self) -> f64 {
        self.began.elapsed().as_secs_f64()
    }

    fn cancelled(&self) -> bool {
        self.stop.load(Ordering::SeqCst)
    }

    fn progress(&self, stage: &'static str, done: f64) {
        self.stage(in_words(stage));
        if let Some(bar) = &self.bar {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to 0..=1000"
            )]
            bar.set_position((done.clamp(0.0, 1.0) * 1000.0) as u64);
        }
    }
}

/// A stage of the run as people call it.
fn in_words(stage: &'static str) -> &'static str {
    match stage {
        "pilot" => "trying out how many lines it takes",
        "gather" => "following lines to the sources",
        "audit" => "firing atoms as audit",
        "fire" => "firing atoms",
        "causes" => "finding out what stands in the way",
        "probes" => "probing",
        "edges" => "looking across the edges of stencils",
        "search" => "looking at candidates",
        "poses" => "looking around the turn",
        "stops" => "choosing stops",
        "coupons" => "simulating coupons",
        "done" => "writing",
        other => other,
    }
}

/// A bar of a thousand steps on stderr.
fn bar() -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(1000), ProgressDrawTarget::stderr());
    // The template is a constant of ours; should it ever be wrong, the plain bar serves.
    if let Ok(style) =
        ProgressStyle::with_template("{msg:<36} {wide_bar} {percent:>3} %  {elapsed}")
    {
        bar.set_style(style);
    }
    bar
}
