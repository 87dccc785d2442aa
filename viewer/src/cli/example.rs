//! `evenfall` alone: coats the built-in example, so that a newcomer sees an outcome within seconds.
//!
//! Plan and mesh are part of the program; no file of the source tree is needed.

use super::coat::{self, Job};
use crate::failure::{Exit, Failure};
use crate::say;
use crate::watch::Progress;
use evenfall_sim::outcome::WriteList;
use evenfall_sim::transport::{Method, RunSettings};
use std::fs;
use std::path::Path;

const PLAN: &str = include_str!("../../../models/horn.toml");
const MESH: &[u8] = include_bytes!("../../../models/horn.stl");

/// Coats the example into `horn-coat` in the current folder.
///
/// # Errors
/// See [`Failure`].
pub fn run() -> Result<Exit, Failure> {
    say::tell(
        "coating the built-in example, a resin-printed feed horn; --help says what else there is",
    );
    let cannot = |error: std::io::Error| {
        Failure::Unfinished(format!(
            "the example cannot be put into the temporary folder ({error}); set TMPDIR to a folder \
             that can be written"
        ))
    };
    let folder = tempfile::tempdir().map_err(cannot)?;
    let plan = folder.path().join("horn.toml");
    fs::write(&plan, PLAN).map_err(cannot)?;
    fs::write(folder.path().join("horn.stl"), MESH).map_err(cannot)?;

    let out = Path::new("horn-coat");
    let job = Job {
        plan: &plan,
        out,
        settings: RunSettings {
            method: Method::Auto,
            accuracy: 0.02,
            time: None,
            atoms: None,
            seed: 1,
            threads: 0,
        },
        write: WriteList::default(),
        progress: Progress::Shown,
    };
    let outcome = coat::coat(&job)?;
    say::answer(&format!(
        "{}\n\ntry next:\n  open {} in a browser\n  evenfall new my-part.toml    writes a commented \
         plan for your own mesh\n  evenfall check my-part.toml  says what was understood\n  evenfall \
         coat my-part.toml   coats it",
        coat::in_words(&outcome, out, &job.write),
        out.join("report.html").display()
    ))?;
    Ok(coat::ending(&outcome))
}
