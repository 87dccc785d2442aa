//! What `coat`, `advise` and `tune` are all asked: seed, threads, what goes to which stream.
//!
//! In: options. Out: [`Common`], flattened into the arguments of those commands.

use crate::watch::Progress;
use clap::Args;

/// Options of every command that computes.
#[derive(Debug, Args)]
pub struct Common {
    /// Seed of the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Threads [default: one per core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Print JSON on stdout instead of words
    #[arg(long)]
    pub json: bool,
    /// No progress on stderr
    #[arg(long)]
    quiet: bool,
}

impl Common {
    /// Threads; 0 for one per core.
    pub fn threads(&self) -> usize {
        self.threads.map_or(0, usize::from)
    }

    /// Whether progress is shown.
    pub fn progress(&self) -> Progress {
        if self.quiet {
            Progress::Quiet
        } else {
            Progress::Shown
        }
    }
}
