//! What is done beside the window on a thread of its own: asking for a file, opening, writing an outcome, drawing a
//! figure.
//!
//! Nothing of it holds a frame up. [`Errands::next`] hands back how each ended; the answer of one that was given up is
//! dropped there.

use super::open::{self, Opened};
use super::{State, Wake};
use crate::shot;
use evenfall_sim::outcome::{self, Outcome, WriteList};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
#[cfg(test)]
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How an errand ended.
pub enum Ended {
    /// A file was chosen.
    Chosen(PathBuf),
    /// What was asked for was read, or why it cannot be.
    Opened(PathBuf, Result<Opened, String>),
    /// A sentence about it.
    Note(String),
    /// Nothing came of it.
    Nothing,
}

/// What an errand does.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Doing {
    Asking,
    Opening(PathBuf),
    Writing(PathBuf),
    Drawing,
}

impl Doing {
    /// What is said of it while it is under way.
    fn in_words(&self) -> Option<String> {
        let name = |path: &Path| {
            let name = path.file_name().unwrap_or(path.as_os_str());
            name.to_string_lossy().into_owned()
        };
        match self {
            // the dialog speaks for itself
            Self::Asking => None,
            Self::Opening(path) => Some(format!("opening {}", name(path))),
            Self::Writing(folder) => Some(format!("writing {}", name(folder))),
            Self::Drawing => Some("drawing a figure".to_owned()),
        }
    }

    /// True for what must not be left half done when the window closes.
    fn leaves_files(&self) -> bool {
        matches!(self, Self::Writing(_) | Self::Drawing)
    }
}

/// Errands under way.
pub struct Errands {
    tell: Sender<(u64, Ended)>,
    told: Receiver<(u64, Ended)>,
    under_way: Vec<(u64, Doing)>,
    begun: u64,
    /// Threads that the window waits for when it closes.
    awaited: Vec<JoinHandle<()>>,
    /// Errands begun while this is there wait until they can lock it.
    #[cfg(test)]
    pub gate: Option<Arc<Mutex<()>>>,
}

impl Default for Errands {
    fn default() -> Self {
        let (tell, told) = channel();
        Self {
            tell,
            told,
            under_way: Vec::new(),
            begun: 0,
            awaited: Vec::new(),
            #[cfg(test)]
            gate: None,
        }
    }
}

impl Errands {
    /// The next one that has ended.
    pub fn next(&mut self) -> Option<Ended> {
        loop {
            let (number, ended) = self.told.try_recv().ok()?;
            let place = self.under_way.iter().position(|(n, _)| *n == number);
            if let Some(place) = place {
                self.under_way.remove(place);
                return Some(ended);
            }
        }
    }

    /// What is under way, for people.
    pub fn in_words(&self) -> Vec<String> {
        let doing = self.under_way.iter();
        doing.filter_map(|(_, doing)| doing.in_words()).collect()
    }

    pub fn is_opening(&self) -> bool {
        let mut doing = self.under_way.iter();
        doing.any(|(_, doing)| matches!(doing, Doing::Opening(_)))
    }

    pub fn is_writing(&self) -> bool {
        let mut doing = self.under_way.iter();
        doing.any(|(_, doing)| matches!(doing, Doing::Writing(_)))
    }

    /// Gives up what is being opened; returns what that was. Its answer will be dropped.
    pub fn open_no_more(&mut self) -> Option<PathBuf> {
        let mut given_up = None;
        self.under_way.retain(|(_, doing)| match doing {
            Doing::Opening(path) => {
                given_up = Some(path.clone());
                false
            }
            _ => true,
        });
        given_up
    }

    /// Waits for what must not be left half done.
    pub fn finish(&mut self) {
        for thread in self.awaited.drain(..) {
            // a thread that broke has said so
            let _ = thread.join();
        }
    }

    fn run(&mut self, wake: Wake, doing: Doing, errand: impl FnOnce() -> Ended + Send + 'static) {
        self.begun += 1;
        let (number, tell) = (self.begun, self.tell.clone());
        let words = doing.in_words().unwrap_or_default();
        let is_awaited = doing.leaves_files();
        self.under_way.push((number, doing));
        #[cfg(test)]
        let gate = self.gate.clone();
        let thread = std::thread::spawn(move || {
            #[cfg(test)]
            let _passed = gate.as_ref().map(|gate| gate.lock());
            // without an answer the window would wait for ever
            let ended = catch_unwind(AssertUnwindSafe(errand)).unwrap_or_else(|_| {
                Ended::Note(format!("{words} failed by a fault of the program"))
            });
            // A window that was closed meanwhile needs no news.
            if tell.send((number, ended)).is_ok() {
                wake();
            }
        });
        self.awaited.retain(|thread| !thread.is_finished());
        if is_awaited {
            self.awaited.push(thread);
        }
    }

    /// Asks for a file by the system's own dialog.
    pub fn ask_for_file(&mut self, wake: Wake) {
        self.run(wake, Doing::Asking, || {
            let dialog = rfd::FileDialog::new()
                .set_title("Open a plan, an outcome or a mesh")
                .add_filter("plans, outcomes, meshes", &FILES)
                .add_filter("all files", &["*"]);
            let begun = Instant::now();
            match dialog.pick_file() {
                Some(path) => Ended::Chosen(path),
                // nobody is as quick as that
                None if begun.elapsed() < QUICK => Ended::Note(
                    "this system shows no file dialog; type the path, or drop the file here"
                        .to_owned(),
                ),
                None => Ended::Nothing,
            }
        });
    }

    /// Reads a plan, an outcome or a mesh; what was being opened before is given up.
    pub fn open(&mut self, wake: Wake, path: PathBuf) {
        self.open_no_more();
        self.run(wake, Doing::Opening(path.clone()), move || {
            let opened = open::read(&path);
            Ended::Opened(path, opened)
        });
    }

    /// Writes an outcome folder, swapped in whole.
    pub fn write(&mut self, wake: Wake, outcome: Arc<Outcome>, folder: PathBuf) {
        self.run(wake, Doing::Writing(folder.clone()), move || {
            let written = outcome::check_target(&folder)
                .and_then(|()| outcome::write(&outcome, &folder, &WriteList::default()));
            Ended::Note(match written {
                Ok(()) => format!("wrote {}", full(&folder)),
                Err(error) => error.to_string(),
            })
        });
    }

    /// Draws a figure of what is shown.
    ///
    /// - `still`: a copy of the state ([`State::still`])
    pub fn draw_figure(&mut self, wake: Wake, mut still: State) {
        self.run(wake, Doing::Drawing, move || {
            let place = free_place(&still.here.join(still.name()));
            let drawn = shot::figure(&mut still).and_then(|picture| picture.write(&place));
            Ended::Note(match drawn {
                Ok(()) => format!("wrote {}", full(&place)),
                Err(sentence) => format!("no figure was written: {sentence}"),
            })
        });
    }
}

impl State {
    /// True while something is being opened.
    pub fn is_opening(&self) -> bool {
        self.errands.is_opening()
    }

    /// True while an outcome is being written.
    pub fn is_writing(&self) -> bool {
        self.errands.is_writing()
    }

    /// True while there is news to wait for: a run, an opening, a writing.
    pub fn is_busy(&self) -> bool {
        self.is_running() || self.is_opening() || self.is_writing()
    }

    /// What is done beside the run, for people.
    pub fn doing(&self) -> Vec<String> {
        self.errands.in_words()
    }

    /// Errands begun from now on wait until what is returned can be locked by them; see [`State::let_errands_go`].
    #[cfg(test)]
    pub fn hold_errands(&mut self) -> Arc<Mutex<()>> {
        let gate = Arc::new(Mutex::new(()));
        self.errands.gate = Some(Arc::clone(&gate));
        gate
    }

    /// Errands begun from now on wait for nothing.
    #[cfg(test)]
    pub fn let_errands_go(&mut self) {
        self.errands.gate = None;
    }

    /// Waits for files that are being written; for when the window closes.
    pub fn finish(&mut self) {
        self.errands.finish();
    }
}

/// A dialog that is gone sooner was never there.
const QUICK: Duration = Duration::from_millis(300);

/// Endings of what can be opened.
const FILES: [&str; 8] = [
    "toml", "evenfall", "stl", "obj", "ply", "3mf", "gltf", "glb",
];

/// A path in full, as far as that can be told.
fn full(path: &Path) -> String {
    let full = std::path::absolute(path);
    full.as_deref().unwrap_or(path).display().to_string()
}

/// A file that is not there yet, called after a name.
fn free_place(name: &Path) -> PathBuf {
    let called = |ending: &str| {
        let mut place = name.as_os_str().to_owned();
        place.push(ending);
        PathBuf::from(place)
    };
    let first = called("-figure.png");
    let others = (2..1000).map(|number| called(&format!("-figure-{number}.png")));
    std::iter::once(first.clone())
        .chain(others)
        .find(|place| !place.exists())
        .unwrap_or(first)
}
