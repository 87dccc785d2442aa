//! Reads a plan file and what it includes into one tree.
//!
//! In: a path, or a text and the path it would have. Out: the merged tree, the texts, and what is
//! wrong with the files.
//!
//! What merges: tables key by key, `[[...]]` entries that have a name by that name, key by key.
//! What is replaced whole by the including file: values, also lists and inline tables, and the
//! entries that have no name (steps, rotations, masks, `advise.vary`). Of two files included by the
//! same one, the later wins.

use super::error::PlanError;
use super::keys::{By, Kind, ROOT};
use super::model::Place;
use super::problem::{FileProblem, ValueProblem};
use super::text::{MOST_BYTES, Text, load};
use super::tree::{Node, Raw, Table, parse};
use std::path::{Path, PathBuf};

/// Files of one plan.
const MOST_FILES: usize = 64;

/// Texts and what is wrong with them.
#[derive(Debug, Default)]
pub(super) struct Files {
    /// All texts read, the plan first.
    pub texts: Vec<Text>,
    /// What is wrong.
    pub errors: Vec<PlanError>,
    /// Files being read, the plan first: true path and path as shown.
    chain: Vec<(PathBuf, PathBuf)>,
    /// A file that was included could not be read.
    pub incomplete: bool,
    bytes: u64,
}

impl Files {
    /// Reads a plan from a file.
    pub fn read(&mut self, path: &Path) -> Option<Table> {
        match load(path, MOST_BYTES) {
            Ok(content) => self.read_text(path, content),
            Err(problem) => {
                self.errors.push(PlanError::new(None, "", problem));
                None
            }
        }
    }

    /// Reads a plan from a text; what it includes is found relative to `path`.
    pub fn read_text(&mut self, path: &Path, content: String) -> Option<Table> {
        if content.len() as u64 > MOST_BYTES {
            let problem = FileProblem::TooLarge {
                path: path.to_owned(),
                bytes: content.len() as u64,
                most_bytes: MOST_BYTES,
            };
            self.errors.push(PlanError::new(None, "", problem));
            return None;
        }
        self.bytes += content.len() as u64;
        let file = self.texts.len();
        self.texts.push(Text::new(path, content));
        let tree = match parse(file, &self.texts[file].content) {
            Ok(tree) => tree,
            Err(broken) => {
                for place in broken {
                    let at = self.texts[file].place(&place.span);
                    self.errors
                        .push(PlanError::new(Some(&at), "", place.problem));
                }
                return None;
            }
        };
        let true_path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        self.chain.push((true_path, path.to_owned()));
        let whole = self.with_included(tree, path);
        self.chain.pop();
        Some(whole)
    }

    /// The tree laid over what it includes.
    fn with_included(&mut self, mut tree: Table, path: &Path) -> Table {
        let Some(at) = tree.keys.iter().position(|k| k.name == "include") else {
            return tree;
        };
        let include = tree.keys.remove(at).node;
        let folder = path.parent().unwrap_or(Path::new(""));
        let mut whole = Table::default();
        for (i, name, place) in self.names(&include) {
            let read = match self.may_include(&folder.join(&name), &name) {
                Ok(content) => self.read_text(&folder.join(&name), content),
                Err(problem) => {
                    let key = format!("include.{}", i + 1);
                    let error = PlanError::new(Some(&place), key, problem);
                    self.errors.push(error);
                    None
                }
            };
            match read {
                Some(over) => whole = merge(whole, over),
                None => self.incomplete = true,
            }
        }
        merge(whole, tree)
    }

    fn may_include(&self, path: &Path, name: &str) -> Result<String, FileProblem> {
        if self.texts.len() >= MOST_FILES {
            return Err(FileProblem::TooManyFiles {
                name: name.to_owned(),
                most: MOST_FILES,
            });
        }
        let true_path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        if let Some(from) = self.chain.iter().position(|(known, _)| *known == true_path) {
            let circle = self.chain[from..].iter().chain([&self.chain[from]]);
            return Err(FileProblem::Circle {
                name: name.to_owned(),
                circle: circle
                    .map(|(_, shown)| shown.display().to_string())
                    .collect::<Vec<_>>()
                    .join(" → "),
            });
        }
        let content = load(path, MOST_BYTES)?;
        if self.bytes + content.len() as u64 > MOST_BYTES {
            return Err(FileProblem::TooLargeTogether {
                most_bytes: MOST_BYTES,
            });
        }
        Ok(content)
    }

    /// The names in an `include`, with their numbers and places.
    fn names(&mut self, include: &Node) -> Vec<(usize, String, Place)> {
        let text = &self.texts[include.file];
        let wrong = |key: String, found: &str, node: &Node| {
            let problem = ValueProblem::OtherKind {
                found: found.to_owned(),
                wanted: "a list of plan files".to_owned(),
                example: "include = [\"coupons.toml\"]".to_owned(),
            };
            PlanError::new(Some(&text.place(&node.span)), key, problem)
        };
        let Raw::List(list) = &include.raw else {
            let error = wrong("include".to_owned(), "no list", include);
            self.errors.push(error);
            self.incomplete = true;
            return Vec::new();
        };
        let mut names = Vec::new();
        let mut errors = Vec::new();
        for (i, item) in list.iter().enumerate() {
            match &item.raw {
                Raw::Text(name) if !name.contains('\0') && !name.trim().is_empty() => {
                    names.push((i, name.clone(), text.place(&item.span)));
                }
                _ => errors.push(wrong(format!("include.{}", i + 1), "no path", item)),
            }
        }
        self.incomplete |= !errors.is_empty();
        self.errors.extend(errors);
        names
    }
}

/// Lays a tree over another.
fn merge(under: Table, over: Table) -> Table {
    let mut merged = under;
    for written in over.keys {
        let Some(at) = merged.keys.iter().position(|k| k.name == written.name) else {
            merged.keys.push(written);
            continue;
        };
        let by_name = ROOT.iter().any(|k| {
            k.name == written.name && matches!(k.kind, Kind::Entries(e) if e.by == By::Name)
        });
        let below = std::mem::replace(&mut merged.keys[at], written);
        let above = &mut merged.keys[at].node;
        match (below.node.raw, &mut above.raw) {
            (Raw::Table(under), Raw::Table(over)) => *over = lay_over(under, std::mem::take(over)),
            (Raw::List(under), Raw::List(over)) if by_name => {
                *over = merge_entries(under, std::mem::take(over));
            }
            _ => {}
        }
    }
    merged
}

/// Keys of both, those of `over` where both say one.
fn lay_over(under: Table, over: Table) -> Table {
    let mut keys = over.keys;
    let new: Vec<_> = under
        .keys
        .into_iter()
        .filter(|k| !keys.iter().any(|o| o.name == k.name))
        .collect();
    keys.extend(new);
    Table { keys }
}

/// Entries of both, in the order in which their names first occur; those of one name are laid over
/// each other.
fn merge_entries(under: Vec<Node>, over: Vec<Node>) -> Vec<Node> {
    let mut merged = under;
    let mut met = vec![false; merged.len()];
    for entry in over {
        let same = (0..met.len()).find(|&i| !met[i] && same_name(&merged[i], &entry));
        let Some(i) = same else {
            merged.push(entry);
            continue;
        };
        met[i] = true;
        let below = std::mem::replace(&mut merged[i], entry);
        if let (Raw::Table(under), Raw::Table(over)) = (below.raw, &mut merged[i].raw) {
            *over = lay_over(under, std::mem::take(over));
        }
    }
    merged
}

fn same_name(one: &Node, other: &Node) -> bool {
    let name = |node: &Node| match &node.raw {
        Raw::Table(table) => table.get("name").and_then(|n| match &n.raw {
            Raw::Text(text) => Some(text.clone()),
            _ => None,
        }),
        _ => None,
    };
    matches!((name(one), name(other)), (Some(a), Some(b)) if a == b)
}
