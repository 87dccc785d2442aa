//! Opening: a plan, an outcome, or a mesh that begins a plan.

use super::State;
use super::asked::Asked;
use super::document::Document;
use crate::stage::Shown;
use evenfall_sim::mesh::is_named_as_mesh;
use evenfall_sim::outcome;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What was read from a path.
pub enum Opened {
    /// An outcome, prepared for looking at it.
    Outcome(Arc<Shown>),
    Mesh(Asked),
    /// A plan, and edits of it that an earlier session left.
    Plan(Box<Document>, Option<String>),
}

/// Reads a plan, an outcome or a mesh; takes its time with large ones.
///
/// # Errors
/// A sentence, if it cannot be used.
pub fn read(path: &Path) -> Result<Opened, String> {
    let is_outcome = path.is_dir()
        || path
            .extension()
            .is_some_and(|ending| ending.eq_ignore_ascii_case("evenfall"));
    if is_outcome {
        let outcome = outcome::read(path).map_err(|error| error.to_string())?;
        let shown = Shown::new(Arc::new(outcome), Vec::new());
        shown.prepare();
        Ok(Opened::Outcome(Arc::new(shown)))
    } else if is_named_as_mesh(path) {
        Asked::of(path).map(Opened::Mesh)
    } else {
        let document = Document::open(path)?;
        let left = document.left();
        Ok(Opened::Plan(Box::new(document), left))
    }
}

impl State {
    /// Begins to open a plan, an outcome or a mesh; what was being opened is given up.
    pub(super) fn open(&mut self, path: PathBuf) {
        self.note = None;
        self.errands.open(Arc::clone(&self.wake), path);
    }

    /// Shows what was opened; what cannot be read leaves everything as it is.
    pub(super) fn opened(&mut self, path: &Path, opened: Result<Opened, String>) {
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
            Opened::Outcome(shown) => self.show(shown),
            Opened::Mesh(asked) if asked.says_unit => self.begin(&asked, None),
            Opened::Mesh(asked) => self.asked = Some(asked),
            Opened::Plan(document, left) => {
                self.left = left;
                self.document = Some(*document);
                self.start();
            }
        }
    }

    /// Forgets what belongs to the plan that was open.
    fn clear(&mut self) {
        self.document = None;
        self.forget_advice();
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
