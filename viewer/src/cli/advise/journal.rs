//! The journal of a search: what was looked at, kept on disk, so that a search that was killed goes on where it was.
//!
//! In: candidates as they come. Out: those of an earlier search of the very same plan, meshes, seed and program.

use crate::failure::Failure;
use evenfall_sim::advise::{Asked, Candidate, Journal};
use evenfall_sim::plan::Plan;
use evenfall_sim::plan::model::BodyShape;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;

/// A journal in a file: one line of JSON says what it is of, each further one holds a candidate.
pub struct FileJournal {
    known: Vec<Candidate>,
    file: BufWriter<File>,
}

#[derive(serde::Serialize, serde::Deserialize, PartialEq)]
struct Head {
    format: String,
    inputs: String,
}

impl FileJournal {
    /// Opens a journal; one of other inputs is begun anew.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn open(path: &Path, plan: &Plan, asked: &Asked) -> Result<Self, Failure> {
        let head = Head {
            format: "evenfall-advice-journal".to_owned(),
            inputs: format!("{:016x}", inputs(plan, asked)),
        };
        let before = fs::read_to_string(path).unwrap_or_default();
        let mut lines = before.lines();
        let same = lines
            .next()
            .and_then(|line| serde_json::from_str::<Head>(line).ok())
            .is_some_and(|old| old == head);
        // a line that a kill cut in two is no candidate, and all before it are
        let known: Vec<Candidate> = if same {
            lines
                .map_while(|line| serde_json::from_str(line).ok())
                .collect()
        } else {
            Vec::new()
        };
        let unwritable = |error: std::io::Error| {
            Failure::Unfinished(format!(
                "{} cannot be written ({error}); make room or name another folder with --out",
                path.display()
            ))
        };
        let mut journal = Self {
            known: Vec::new(),
            file: BufWriter::new(File::create(path).map_err(unwritable)?),
        };
        journal.line(&head);
        for candidate in &known {
            journal.line(candidate);
        }
        journal.flush();
        journal.known = known;
        Ok(journal)
    }

    fn line(&mut self, what: &impl serde::Serialize) {
        // a journal that cannot be kept costs time after a kill, and nothing else
        if let Ok(line) = serde_json::to_string(what) {
            let _ = writeln!(self.file, "{line}");
        }
    }

    /// Writes what is still held back.
    pub fn flush(&mut self) {
        let _ = self.file.flush();
    }
}

impl Journal for FileJournal {
    fn known(&self) -> Vec<Candidate> {
        self.known.clone()
    }

    fn note(&mut self, candidate: &Candidate) {
        self.line(candidate);
        self.flush();
    }
}

/// A number that other inputs do not have (FNV-1a over all that counts, constants from memory).
fn inputs(plan: &Plan, asked: &Asked) -> u64 {
    let mut sum = 0xcbf2_9ce4_8422_2325_u64;
    let mut take = |bytes: &[u8]| {
        for &byte in bytes {
            sum = (sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
        sum = (sum ^ 0xff).wrapping_mul(0x0000_0100_0000_01b3);
    };
    take(env!("CARGO_PKG_VERSION").as_bytes());
    take(env!("EVENFALL_COMMIT").as_bytes());
    take(&asked.settings.seed.to_le_bytes());
    for (_, text) in &plan.files {
        take(text.as_bytes());
    }
    let others = plan.fixtures.iter().map(|fixture| &fixture.body);
    let others = others.chain(plan.shutters.iter().map(|shutter| &shutter.body));
    let others = others.filter_map(|shape| match shape {
        BodyShape::Mesh(file) => Some(&file.path),
        _ => None,
    });
    for path in plan.parts.iter().map(|part| &part.mesh.path).chain(others) {
        take(&fs::read(path).unwrap_or_default());
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenfall_sim::advise::Effort;
    use evenfall_sim::transport::{Method, RunSettings};

    fn asked(seed: u64) -> Asked {
        Asked {
            settings: RunSettings {
                method: Method::Auto,
                accuracy: 0.02,
                time: None,
                atoms: None,
                seed,
                threads: 0,
            },
            ripple: 0.01,
            timing_s: 1.0,
        }
    }

    fn candidate(value: f64) -> Candidate {
        Candidate {
            values: vec![value],
            effort: Effort {
                closeness: 0,
                places: 9,
                lines: 1,
                atoms: 1,
            },
            score: None,
            open_time_s: f64::INFINITY,
            metal_kg: 0.1 + 0.2,
            why_not: None,
            bare: vec![3, 5],
            places: 9,
            rays: 77,
        }
    }

    #[test]
    fn what_was_noted_is_known_again_up_to_a_torn_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("advice.journal");
        let plan = Plan::default();
        let mut journal = FileJournal::open(&path, &plan, &asked(1)).unwrap();
        assert!(journal.known().is_empty());
        let both = [candidate(0.1), candidate(1.0 / 3.0)];
        both.iter().for_each(|one| journal.note(one));
        drop(journal);
        let text = fs::read_to_string(&path).unwrap();
        fs::write(&path, format!("{text}{{\"values\":[0.")).unwrap();
        let again = FileJournal::open(&path, &plan, &asked(1)).unwrap();
        assert_eq!(again.known(), both);
        drop(again);
        assert!(
            FileJournal::open(&path, &plan, &asked(2))
                .unwrap()
                .known()
                .is_empty()
        );
    }
}
