//! Opening: a plan, an outcome, or a mesh that begins a plan.

use super::State;
use super::asked::{self, Asked};
use super::document::Document;
use crate::stage::Shown;
use evenfall_sim::outcome::{self, Outcome};
use std::path::Path;
use std::sync::Arc;

/// What was read from a path.
enum Opened {
    Outcome(Box<Outcome>),
    Mesh(Asked),
    Plan(Document),
}

impl State {
    /// Opens a plan, an outcome or a mesh; what cannot be read leaves everything as it is.
    pub(super) fn open(&mut self, path: &Path) {
        let is_outcome = path.is_dir()
            || path
                .extension()
                .is_some_and(|ending| ending.eq_ignore_ascii_case("evenfall"));
        let opened = if is_outcome {
            outcome::read(path)
                .map(|outcome| Opened::Outcome(Box::new(outcome)))
                .map_err(|error| error.to_string())
        } else if asked::is_mesh(path) {
            Asked::of(path).map(Opened::Mesh)
        } else {
            Document::open(path).map(Opened::Plan)
        };
        let opened = match opened {
            Ok(opened) => opened,
            Err(sentence) => {
                self.note = Some(sentence);
                return;
            }
        };
        let kept = self
            .document
            .as_ref()
            .filter(|document| document.is_unsaved());
        let kept = kept.map(|d| {
            format!(
                "; unsaved edits of {} are kept for the next time",
                d.path.display()
            )
        });
        self.note = Some(format!(
            "opened {}{}",
            path.display(),
            kept.unwrap_or_default()
        ));
        self.cancel();
        self.clear();
        match opened {
            Opened::Outcome(outcome) => {
                let shown = Shown::new(Arc::new(*outcome), Vec::new());
                shown.prepare();
                self.show(Arc::new(shown));
            }
            Opened::Mesh(asked) if asked.says_unit => self.begin(&asked, None),
            Opened::Mesh(asked) => self.asked = Some(asked),
            Opened::Plan(document) => {
                self.left = document.left();
                self.document = Some(document);
                self.start();
            }
        }
    }

    /// Forgets what belongs to the plan that was open.
    fn clear(&mut self) {
        self.document = None;
        self.trouble.clear();
        self.release();
        self.held = None;
        self.cut = None;
        self.grips = false;
        self.fit_next = true;
        self.spot = None;
        self.sight = None;
        self.asked = None;
        self.left = None;
        self.time_s = f64::INFINITY;
    }

    pub(super) fn answer(&mut self, unit: Option<&'static str>) {
        if let Some(asked) = self.asked.take()
            && unit.is_some()
        {
            self.begin(&asked, unit);
        }
    }

    fn begin(&mut self, asked: &Asked, unit: Option<&str>) {
        let document = asked.plan(unit);
        self.note = Some(format!("begun: {}, not saved yet", document.path.display()));
        self.left = document.left();
        self.document = Some(document);
        self.start();
    }
}
