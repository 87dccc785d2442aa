//! How a command can end, and what the shell is told.

use evenfall_sim::plan::{PlanError, PlanErrors};
use evenfall_sim::plan::Plan;
use evenfall_sim::plan::model::Place;
use evenfall_sim::scene::SceneIssues;
use std::path::PathBuf;

/// How a command ended that did what it was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done, perhaps with warnings.
    Done,
    /// `check`: explained, and `coat` would refuse.
    WouldRefuse,
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
            Self::WouldRefuse => 2,
            Self::FilmMissed => 3,
            Self::Stopped => 130,
        }
    }
}

/// Why a command could not do what it was asked for.
#[derive(Debug)]
pub enum Failure {
    /// Problems of a plan and of what it names, each with its place.
    Plan(PlanErrors),
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

    /// Problems found after the plan was read, with the plan's texts to underline.
    pub fn of_plan(errors: Vec<PlanError>, files: &[(PathBuf, String)]) -> Self {
        Self::Plan(PlanErrors {
            errors,
            files: files.to_vec(),
        })
    }

    /// Problems found when the plan was made solid, each at the place of the key it belongs to.
    pub fn of_scene(found: &SceneIssues, plan: &Plan) -> Self {
        let errors = found
            .issues
            .iter()
            .map(|issue| PlanError {
                place: place_of(issue.key(), plan),
                key: issue.key().to_owned(),
                message: issue.to_string(),
            })
            .collect();
        Self::of_plan(errors, &plan.files)
    }
}

/// Where a key stands, or else the entry or table that it would stand in, or else the plan's head.
fn place_of(key: &str, plan: &Plan) -> Option<Place> {
    let mut key = key;
    loop {
        if let Some(place) = plan.places.get(key) {
            return Some(place.clone());
        }
        match key.rsplit_once('.') {
            Some((outer, _)) => key = outer,
            None => break,
        }
    }
    Some(Place {
        file: plan.path.clone(),
        start: 0,
        end: 0,
        line: 1,
        column: 1,
    })
}
