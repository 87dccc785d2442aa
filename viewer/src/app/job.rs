//! The run on a thread of its own: from a plan's text to outcomes, coarse ones first.

use super::document::Document;
use super::teller::{Listener, Teller, both_sides};
use super::{Trouble, Wake};
use crate::stage::Shown;
use evenfall_sim::plan::{self, PlanError};
use evenfall_sim::scene::{self, Meshes, Scene, SceneIssues};
use evenfall_sim::transport::{self, Method, Rates, RunSettings, Tally, Watch};
use evenfall_sim::{film, outcome};
use std::path::Path;
use std::sync::{Arc, Mutex};

/// Meshes read so far, kept from run to run.
pub type Store = Arc<Mutex<Meshes>>;

/// What a run tells.
pub enum Message {
    /// What it does, and the share of it that is done.
    Stage(&'static str, f64),
    /// An outcome.
    Shown(Arc<Shown>),
    /// Why it cannot be done.
    Trouble(Vec<Trouble>),
    /// It has ended.
    Done,
}

/// A run under way; dropping it ends it.
pub struct Job(Listener<Message>);

impl Job {
    /// Starts a run of a plan as it stands: a sketch, then what `coat` would give at an accuracy.
    pub fn start(document: &Document, accuracy: f64, meshes: Store, wake: Wake) -> Self {
        let (teller, listener) = both_sides(wake, Message::Stage);
        let (path, text) = (document.path.clone(), document.text().to_owned());
        std::thread::spawn(move || {
            let message = match work(&teller, &path, &text, (accuracy, &meshes)) {
                Ok(()) => Message::Done,
                Err(trouble) => Message::Trouble(trouble),
            };
            teller.say(message);
        });
        Self(listener)
    }

    /// The next message, if there is one.
    pub fn next(&self) -> Option<Message> {
        self.0.next()
    }
}

impl Teller<Message> {
    /// Hands an outcome back, and what is only needed for pointing at it a little later.
    fn show(&self, scene: &Scene, rates: &Rates, tally: &Tally, asked: &RunSettings) {
        let film = film::grow(scene, tally);
        let outcome = outcome::assemble(scene, rates, tally, film, asked);
        let sources = scene.sources.iter();
        let footprints = sources.map(|source| (source.footprint.clone(), source.law.clone()));
        let shown = Arc::new(Shown::new(Arc::new(outcome), footprints.collect()));
        self.say(Message::Shown(Arc::clone(&shown)));
        shown.prepare();
        self.wake();
    }
}

fn of_plan(errors: &[PlanError]) -> Vec<Trouble> {
    let told = errors.iter().map(|error| Trouble {
        key: error.key().to_owned(),
        message: error.message(),
    });
    told.collect()
}

fn of_scene(issues: &SceneIssues) -> Vec<Trouble> {
    let told = issues.issues.iter().map(|issue| Trouble {
        key: issue.key.clone(),
        message: issue.to_string(),
    });
    told.collect()
}

fn work(
    teller: &Teller<Message>,
    path: &Path,
    text: &str,
    (accuracy, meshes): (f64, &Store),
) -> Result<(), Vec<Trouble>> {
    let plan = plan::read_text(path, text).map_err(|found| of_plan(&found.errors))?;
    let plan = Arc::new(plan);
    let draft = {
        let mut meshes = meshes.lock().unwrap_or_else(|broken| broken.into_inner());
        scene::load_missing(&plan, &mut meshes).map_err(|issues| of_scene(&issues))?;
        scene::draft(plan, &meshes).map_err(|issues| of_scene(&issues))?
    };
    let settings = RunSettings {
        method: Method::Auto,
        accuracy,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
    };
    let rates = transport::calibrate_within(draft.scene(), &settings, teller);
    if teller.cancelled() {
        return Ok(());
    }
    let rates = rates.map_err(|found| of_scene(&found))?;
    let tally = transport::sketch(draft.scene(), &rates, &settings, teller);
    if teller.cancelled() {
        return Ok(());
    }
    // of a sketch nothing was asked
    let asked = RunSettings {
        accuracy: accuracy.max(tally.accuracy),
        ..settings
    };
    teller.show(draft.scene(), &rates, &tally, &asked);
    let scene = draft.prove().map_err(|issues| of_scene(&issues))?;
    if teller.cancelled() {
        return Ok(());
    }
    let tally = transport::run(&scene, &rates, &settings, teller);
    if !teller.cancelled() {
        teller.show(&scene, &rates, &tally, &settings);
    }
    Ok(())
}
