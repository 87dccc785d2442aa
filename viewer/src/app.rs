//! What the window holds, on the CPU alone: a lost graphics device takes nothing of it along.
//!
//! Panels read a [`State`] and return [`Action`]s; [`State::apply`] carries them out. The run happens on a thread
//! ([`job`]) and hands back whole outcomes.

mod action;
mod advice;
mod around;
mod asked;
pub mod document;
mod errand;
pub mod job;
mod meter;
mod open;
pub mod settings;
mod teller;
mod view;

use crate::stage::Shown;
use crate::stage::orbit::Orbit;
use crate::stage::paint::Paint;
use crate::stage::pick::Spot;
use crate::stage::ruler::Spread;
use crate::stage::sight::{Sight, sight};
pub use action::{Action, Taken};
pub use advice::Advising;
pub use around::Around;
pub use asked::{Asked, UNITS};
use document::{Change, Document};
use errand::{Ended, Errands};
use evenfall_sim::outcome::colour::Scale;
use glam::DAffine3;
use job::{Job, Message};
pub use meter::Meter;
use settings::Settings;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Accuracy of the finished map, as `coat` has it by default.
pub const ACCURACY: f64 = 0.02;

/// How often files are looked at for changes from outside.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// Wakes the window when there is something new.
pub type Wake = Arc<dyn Fn() + Send + Sync>;

/// What is wrong with the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Trouble {
    /// Key in full; empty for the whole.
    pub key: String,
    /// What is wrong and what to do.
    pub message: String,
}

/// How far the run is.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Running {
    /// Nothing runs.
    #[default]
    Idle,
    /// What it does, and the share of it that is done.
    Busy(&'static str, f64),
    /// Stopped by the user.
    Cancelled,
}

/// Everything that is shown.
pub struct State {
    /// The plan that is worked on; none when an outcome alone is looked at.
    pub document: Option<Document>,
    /// What stands on the stage.
    pub shown: Option<Arc<Shown>>,
    /// The outcome kept as A: its scale holds, and what is shown can be painted against it.
    pub pinned: Option<Arc<Shown>>,
    /// What is wrong with the plan.
    pub trouble: Vec<Trouble>,
    /// A scale that is kept for all maps.
    pub held: Option<Scale>,
    pub spread: Spread,
    pub running: Running,
    pub orbit: Orbit,
    pub paint: Paint,
    /// The playhead, s since the beginning; beyond the end: the finished film.
    pub time_s: f64,
    /// Height of the cut along the line of sight over the parts' extent; none: nothing is cut.
    pub cut: Option<f64>,
    pub hover: Option<Spot>,
    pub spot: Option<Spot>,
    /// A meter with one needle on the part.
    pub meter: Option<Meter>,
    /// What the pinned spot sees at the playhead.
    pub sight: Option<Sight>,
    /// Which tilt would bring its region more.
    pub around: Option<Around>,
    /// A mesh that waits for its unit.
    pub asked: Option<Asked>,
    /// Edits of an earlier session that were not saved.
    pub left: Option<String>,
    /// What is remembered from day to day.
    pub settings: Settings,
    /// Where; none in pictures and tests.
    pub settings_place: Option<PathBuf>,
    /// Where outcomes and figures are written; empty: in the current folder.
    pub here: PathBuf,
    /// A sentence about the last thing done.
    pub note: Option<String>,
    /// Width over height of the stage.
    pub aspect: f64,
    /// Rises when corners, colours or anything else on the stage changes.
    pub stage_version: u64,
    /// Advice on the plan.
    pub advising: Advising,
    search: Option<advice::Search>,
    job: Option<Job>,
    errands: Errands,
    meshes: job::Store,
    /// Names of regions and probes are written on the stage.
    pub names: bool,
    /// Stencils are drawn over what they lie on.
    pub sheets: bool,
    /// The playhead runs by itself.
    pub plays: bool,
    /// What rides with a part is moved along with it by the grips.
    pub carries: bool,
    /// Grips to move the part are shown, and the parts as they hang at angle 0.
    pub grips: bool,
    /// A part that is being dragged, and where it would be put: riding_from_part.
    pub nudge: Option<(usize, DAffine3)>,
    fit_next: bool,
    /// What the pinned spot sees is worked out once what is shown is prepared for it.
    sees_later: bool,
    looked: Instant,
    wake: Wake,
}

impl State {
    /// An empty window.
    pub fn new(wake: Wake) -> Self {
        Self {
            document: None,
            shown: None,
            pinned: None,
            trouble: Vec::new(),
            held: None,
            spread: Spread::default(),
            running: Running::Idle,
            orbit: Orbit::default(),
            paint: Paint::default(),
            time_s: f64::INFINITY,
            cut: None,
            hover: None,
            spot: None,
            meter: None,
            sight: None,
            around: None,
            asked: None,
            left: None,
            settings: Settings::default(),
            settings_place: None,
            here: PathBuf::new(),
            note: None,
            aspect: 1.5,
            stage_version: 0,
            advising: Advising::Idle,
            search: None,
            job: None,
            errands: Errands::default(),
            meshes: job::Store::default(),
            names: true,
            sheets: true,
            plays: false,
            carries: true,
            grips: false,
            nudge: None,
            fit_next: true,
            sees_later: false,
            looked: Instant::now(),
            wake,
        }
    }

    /// Carries an action out.
    pub fn apply(&mut self, action: Action) {
        match action {
            Action::Open(path) => self.open(path),
            Action::Edit(change) => self.edit(&change),
            Action::Undo => self.go_back(Document::undo),
            Action::Redo => self.go_back(Document::redo),
            Action::Save => self.save(),
            Action::Run => self.start(),
            Action::Advise => self.advise(),
            Action::AdviseNoMore => self.advise_no_more(),
            Action::TakePlan(text) => self.take_plan(text),
            Action::Cancel => self.stop(),
            Action::Write => self.write(),
            Action::SaveCopy => self.save_copy(),
            Action::Play(plays) => {
                self.plays = plays;
                if plays && self.time_s.is_infinite() {
                    self.time_s = 0.0;
                }
            }
            Action::Carry(carries) => self.carries = carries,
            Action::Browse => self.errands.ask_for_file(Arc::clone(&self.wake)),
            Action::Figure => {
                let still = self.still();
                self.errands.draw_figure(Arc::clone(&self.wake), still);
            }
            Action::Paint(paint) => self.paint = paint,
            Action::Time(time_s) => {
                self.time_s = time_s;
                self.see();
            }
            Action::Spread(spread) => self.spread = spread,
            Action::Hold(held) => self.held = held,
            Action::Cut(cut) => self.cut = cut,
            Action::Turn(drag) => self.orbit.turn(drag),
            Action::Slide(drag) => self.orbit.slide(drag),
            Action::Near(factor, spot) => self.orbit.near(factor, spot, self.aspect),
            Action::LookFrom(side) => self.orbit.look_from(side),
            Action::Fit => self.fit(),
            Action::Names(names) => self.names = names,
            Action::Sheets(sheets) => self.sheets = sheets,
            Action::Grips(grips) => {
                self.grips = grips;
                self.nudge = None;
            }
            Action::Nudge(nudge) => self.nudge = nudge,
            Action::Hover(spot) => self.hover = spot,
            Action::Pin(spot) => {
                self.spot = spot;
                self.see();
                self.measure();
            }
            Action::Needle(spot) => self.put_needle(spot),
            Action::Set(settings) => self.set(settings),
            Action::Unit(unit) => self.answer(unit),
            Action::TakeLeft(taken) => self.take_left(taken),
            Action::Keep => self.pinned.clone_from(&self.shown),
            Action::Release => self.release(),
            Action::Aspect(aspect) => {
                self.aspect = aspect;
                if self.fit_next && self.shown.is_some() {
                    self.fit_next = false;
                    self.fit();
                }
                return;
            }
        }
        self.stage_version += 1;
    }

    /// Takes what the run has sent, and notices files that were changed from outside; true when something is new.
    pub fn refresh(&mut self) -> bool {
        let mut new = self.hear_meter() | self.hear_around() | self.hear_advice();
        while let Some(message) = self.job.as_ref().and_then(Job::next) {
            new = true;
            match message {
                Message::Stage(stage, done) => self.running = Running::Busy(stage, done),
                Message::Shown(shown) => {
                    self.trouble.clear();
                    self.show(shown);
                }
                Message::Trouble(trouble) => {
                    self.trouble = trouble;
                    self.nudge = None;
                    self.running = Running::Idle;
                    self.job = None;
                }
                Message::Done => {
                    self.running = Running::Idle;
                    self.job = None;
                }
            }
        }
        while let Some(ended) = self.errands.next() {
            new = true;
            match ended {
                Ended::Chosen(path) => self.open(path),
                Ended::Opened(path, opened) => self.opened(&path, opened),
                Ended::Note(note) => self.note = Some(note),
                Ended::Nothing => {}
            }
        }
        if self.sees_later && self.shown.as_ref().is_some_and(|shown| shown.is_prepared()) {
            self.sees_later = false;
            self.see();
            new = true;
        }
        if self.looked.elapsed() >= LOOK_EVERY {
            self.looked = Instant::now();
            if self.document.as_mut().is_some_and(Document::reread) {
                self.note = Some("the plan was changed in its file".to_owned());
                self.start();
                new = true;
            }
        }
        new
    }

    /// True while a run is under way.
    pub fn is_running(&self) -> bool {
        self.job.is_some()
    }

    /// What the pinned spot sees.
    fn see(&mut self) {
        let shown = self.shown.as_ref();
        self.sight = shown
            .zip(self.spot.as_ref())
            .and_then(|(shown, spot)| sight(shown, spot, self.time_s));
        self.ask_around();
    }

    fn show(&mut self, shown: Arc<Shown>) {
        self.hover = None;
        let alike = self
            .shown
            .as_ref()
            .is_some_and(|before| before.survey.patches.len() == shown.survey.patches.len());
        if !alike {
            self.spot = None;
            self.meter = None;
        }
        self.nudge = None;
        self.sees_later = !shown.is_prepared();
        self.shown = Some(shown);
        self.measure_again();
        if self.fit_next {
            // once more when the stage has a size
            self.fit();
        }
        if self.sees_later {
            self.sight = None;
        } else {
            self.see();
        }
        self.stage_version += 1;
    }

    fn edit(&mut self, change: &Change) {
        if let Some(document) = &mut self.document {
            match document.change(change) {
                Ok(()) => {
                    document.keep();
                    self.start();
                }
                Err(sentence) => self.note = Some(sentence),
            }
        }
    }

    fn go_back(&mut self, how: fn(&mut Document) -> bool) {
        if let Some(document) = &mut self.document
            && how(document)
        {
            document.keep();
            self.start();
        }
    }

    fn take_left(&mut self, taken: Taken) {
        if let (Some(text), Some(document)) = (self.left.take(), &mut self.document) {
            if taken == Taken::Over {
                document.take_over(text);
                self.note = Some("unsaved edits of an earlier session are back".to_owned());
            }
            document.keep();
            self.start();
        }
    }

    fn save(&mut self) {
        if let Some(document) = &mut self.document {
            self.note = Some(match document.save() {
                Ok(()) => {
                    document.keep();
                    format!("saved {}", document.path.display())
                }
                Err(sentence) => sentence,
            });
        }
    }

    /// Saves the plan under a name that is free, beside the one it has, and goes on with that.
    fn save_copy(&mut self) {
        if let Some(document) = &mut self.document {
            self.note = Some(match document.save_copy() {
                Ok(()) => format!(
                    "saved {}, which is edited from now on",
                    document.path.display()
                ),
                Err(sentence) => sentence,
            });
        }
    }

    /// Starts a run of the plan as it stands; one that is under way ends.
    fn start(&mut self) {
        self.job = None;
        if let Some(document) = &self.document {
            self.running = Running::Busy("reading", 0.0);
            self.job = Some(Job::start(
                document,
                ACCURACY,
                Arc::clone(&self.meshes),
                Arc::clone(&self.wake),
            ));
        }
    }

    /// Stops the run and what is being opened.
    fn stop(&mut self) {
        if let Some(path) = self.errands.open_no_more() {
            self.note = Some(format!("stopped opening {}", path.display()));
        }
        self.cancel();
    }

    fn cancel(&mut self) {
        if self.job.take().is_some() {
            self.running = Running::Cancelled;
        }
    }

    /// Writes the outcome folder beside the plan's name, in the current folder, as `coat` does.
    fn write(&mut self) {
        let (Some(shown), Some(document)) = (&self.shown, &self.document) else {
            return;
        };
        if self.is_writing() {
            return;
        }
        if shown.is_sketch() {
            self.note = Some("a sketch is not written; let the run end first".to_owned());
            return;
        }
        let Ok(folder) = crate::folder::default_for(&document.path) else {
            return;
        };
        let outcome = Arc::clone(&shown.outcome);
        self.note = None;
        self.errands
            .write(Arc::clone(&self.wake), outcome, self.here.join(folder));
    }
}
