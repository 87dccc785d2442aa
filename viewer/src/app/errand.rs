//! What is done beside the window on a thread of its own: asking for a file, drawing a figure.

use super::{State, Wake};
use crate::shot;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// How an errand ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Ended {
    /// A file was chosen.
    Chosen(PathBuf),
    /// A sentence about it.
    Note(String),
    /// Nothing came of it.
    Nothing,
}

/// Errands under way.
pub struct Errands {
    tell: Sender<Ended>,
    told: Receiver<Ended>,
}

impl Default for Errands {
    fn default() -> Self {
        let (tell, told) = channel();
        Self { tell, told }
    }
}

impl Errands {
    /// The next one that has ended.
    pub fn next(&self) -> Option<Ended> {
        self.told.try_recv().ok()
    }

    fn run(&self, wake: Wake, errand: impl FnOnce() -> Ended + Send + 'static) {
        let tell = self.tell.clone();
        std::thread::spawn(move || {
            // A window that was closed meanwhile needs no news.
            if tell.send(errand()).is_ok() {
                wake();
            }
        });
    }

    /// Asks for a file by the system's own dialog.
    pub fn ask_for_file(&self, wake: Wake) {
        self.run(wake, || {
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

    /// Draws a figure of what is shown, in the current folder.
    ///
    /// - `still`: a copy of the state ([`State::still`])
    pub fn draw_figure(&self, wake: Wake, mut still: State) {
        self.run(wake, move || {
            let place = free_place(&still.name());
            let drawn = shot::figure(&mut still).and_then(|picture| picture.write(&place));
            Ended::Note(match drawn {
                Ok(()) => format!("wrote {}", full(&place)),
                Err(sentence) => format!("no figure was written: {sentence}"),
            })
        });
    }
}

/// A dialog that is gone sooner was never there.
const QUICK: Duration = Duration::from_millis(300);

/// Endings of what can be opened.
const FILES: [&str; 8] = [
    "toml", "evenfall", "stl", "obj", "ply", "3mf", "gltf", "glb",
];

/// A path in full, as far as that can be told.
pub fn full(path: &Path) -> String {
    let full = std::path::absolute(path);
    full.as_deref().unwrap_or(path).display().to_string()
}

/// A file name that nothing has yet.
fn free_place(name: &str) -> PathBuf {
    let first = PathBuf::from(format!("{name}-figure.png"));
    let others = (2..1000).map(|number| PathBuf::from(format!("{name}-figure-{number}.png")));
    let free = |place: &PathBuf| !Path::new(place).exists();
    std::iter::once(first.clone())
        .chain(others)
        .find(free)
        .unwrap_or(first)
}
