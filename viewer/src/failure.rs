//! How a command can end, and what the shell is told.

use crate::diagnose::Problems;

/// How a command ended that did what it was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done, perhaps with warnings.
    Done,
    /// Done, but the film that the plan wants is missed.
    FilmMissed,
    /// Stopped by the user; what was reached is kept.
    Stopped,
}

impl Exit {
    /// The exit status.
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::FilmMissed => 3,
            Self::Stopped => 130,
        }
    }
}

/// Why a command could not do what it was asked for.
#[derive(Debug)]
pub enum Failure {
    /// Problems of a plan and of what it names, each with its place.
    Plan(Problems),
    /// The command line asks for something that cannot be used; a sentence.
    Unusable(String),
    /// The input is usable, but the work could not be finished; a sentence.
    Unfinished(String),
    /// The user stopped it before anything was reached.
    StoppedEarly,
}

impl Failure {
    /// The exit status.
    pub fn code(&self) -> u8 {
        match self {
            Self::Plan(_) | Self::Unusable(_) => 2,
            Self::Unfinished(_) => 1,
            Self::StoppedEarly => 130,
        }
    }
}
