//! Reads a tree of TOML values by the table of keys, one value after the other.
//!
//! In: the tree, includes merged. Out: checked values, their places, and every problem that a key or
//! a value has by itself. What values mean together is judged later, see `meant` and `cross`.

mod limits;
mod names;
mod value;

pub(super) use limits::out_of_range;
pub(super) use names::{MOST_CHARACTERS, nearest};

use super::entry::{Entry, Value, below};
use super::error::PlanError;
use super::keys::{By, Entries, Key, Kind, Need, Of, ROOT, Tagged, Variant};
use super::model::Place;
use super::problem::{MeantProblem, Problem, ValueProblem};
use super::text::Text;
use super::tree::{Node, Raw, Table, WrittenKey};
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;
use value::other_kind;

/// Entries and list values that no plan exceeds.
const MOST_ENTRIES: usize = 10_000;

/// A name that refers to something of the plan.
#[derive(Debug, Clone)]
pub(super) struct Reference {
    pub of: Of,
    pub name: String,
    /// Key in full of where it stands.
    pub key: String,
}

/// What reading by the table has gathered.
#[derive(Debug)]
pub(super) struct Checker<'a> {
    pub texts: &'a [Text],
    pub errors: Vec<PlanError>,
    pub places: BTreeMap<String, Place>,
    pub references: Vec<Reference>,
}

impl<'a> Checker<'a> {
    pub fn new(texts: &'a [Text]) -> Self {
        Self {
            texts,
            errors: Vec::new(),
            places: BTreeMap::new(),
            references: Vec::new(),
        }
    }

    /// Reads the top of a plan.
    pub fn root(&mut self, tree: &Table) -> Entry {
        let known: Vec<&'static Key> = ROOT.iter().collect();
        let whole = self.texts.first().map(|text| text.place(&(0..0)));
        self.keys_of(&known, tree, "", whole.as_ref())
    }

    /// A problem of a key, at the place of that key or of what encloses it.
    pub fn report(&mut self, key: &str, problem: impl Into<Problem>) {
        let mut at = key;
        let place = loop {
            if let Some(place) = self.places.get(at) {
                break Some(place.clone());
            }
            match at.rsplit_once('.') {
                Some((outer, _)) => at = outer,
                None => break self.texts.first().map(|text| text.place(&(0..0))),
            }
        };
        self.errors.push(PlanError {
            place,
            key: key.to_owned(),
            problem: problem.into(),
        });
    }

    /// The text that stands behind a key, as it is written.
    pub fn written(&self, key: &str) -> Option<String> {
        let place = self.places.get(key)?;
        let text = self.texts.iter().find(|text| text.path == place.file)?;
        Some(crate::units::shortened(text.slice(place)))
    }

    /// Whether a key of this table was probably written, misspelt: that was said already.
    pub fn misspelt(&self, table: &str, name: &str) -> bool {
        self.errors.iter().any(|error| {
            let beside = error
                .key
                .rsplit_once('.')
                .is_some_and(|(at, _)| at == table);
            let meant = match &error.problem {
                Problem::Value(ValueProblem::UnknownKey { nearest, .. }) => nearest.as_deref(),
                _ => None,
            };
            beside && meant == Some(name)
        })
    }

    fn report_at(&mut self, place: Option<Place>, key: &str, problem: impl Into<Problem>) {
        self.errors.push(PlanError {
            place,
            key: key.to_owned(),
            problem: problem.into(),
        });
    }

    fn place(&self, file: usize, span: &Range<usize>) -> Option<Place> {
        self.texts.get(file).map(|text| text.place(span))
    }

    fn remember(&mut self, key: &str, node: &Node) {
        if let Some(place) = self.place(node.file, &node.span) {
            self.places.insert(key.to_owned(), place);
        }
    }

    /// Folder against which paths written there are resolved.
    fn folder(&self, node: &Node) -> &Path {
        self.texts
            .get(node.file)
            .and_then(|text| text.path.parent())
            .unwrap_or(Path::new(""))
    }

    /// Reads the known keys of a table and complains about the others.
    fn keys_of(
        &mut self,
        known: &[&'static Key],
        table: &Table,
        key: &str,
        place: Option<&Place>,
    ) -> Entry {
        let mut meant = Vec::new();
        for written in &table.keys {
            if !known.iter().any(|k| k.name == written.name) {
                meant.extend(self.unknown(written, known, key));
            }
        }
        let mut values = BTreeMap::new();
        for k in known {
            let inner = below(key, k.name);
            let value = match table.get(k.name) {
                Some(node) => self.value(&k.kind, node, &inner),
                // Misspelt, not missing: that was said already.
                None if meant.iter().any(|name| name == k.name) => None,
                None => self.left_out(k, &inner, place),
            };
            if let Some(value) = value {
                values.insert(k.name, value);
            }
        }
        Entry {
            key: key.to_owned(),
            variant: None,
            known: known.to_vec(),
            values,
        }
    }

    fn left_out(&mut self, k: &Key, key: &str, place: Option<&Place>) -> Option<Value> {
        match k.need {
            Need::Optional => None,
            Need::Default(text) => default_value(&k.kind, text, key),
            Need::Required => {
                let problem = ValueProblem::Missing {
                    help: k.help,
                    example: match k.kind {
                        Kind::Entries(_) => format!("[[{key}]]"),
                        _ => k.example(),
                    },
                };
                self.report_at(place.cloned(), key, problem);
                None
            }
        }
    }

    /// Complains about a key that nothing reads; returns the key that was probably meant.
    fn unknown(
        &mut self,
        written: &WrittenKey,
        known: &[&'static Key],
        key: &str,
    ) -> Option<String> {
        let place = self.place(written.node.file, &written.span);
        let full = below(key, &crate::units::shortened(&written.name));
        let names: Vec<&str> = known.iter().map(|k| k.name).collect();
        let near = nearest(&written.name, names.iter().copied());
        let top = ROOT.iter().find(|k| k.name == written.name);
        let problem = match top.filter(|_| near.is_none() && !key.is_empty()) {
            Some(top) => ValueProblem::KeyElsewhere {
                home: "the top of the file".to_owned(),
                instead: match top.kind {
                    Kind::Entries(_) => format!("write it as [[{}]]", top.name),
                    Kind::Table(_) | Kind::Tagged(_) => format!("write it as [{}]", top.name),
                    _ => "move it above the first [table]".to_owned(),
                },
            },
            None => ValueProblem::UnknownKey {
                nearest: near.clone(),
                known: listed(&names),
            },
        };
        self.report_at(place, &full, problem);
        near
    }

    fn tagged(&mut self, tagged: &'static Tagged, node: &Node, key: &str) -> Option<Value> {
        let table = self.table_of(node, key, &Kind::Tagged(tagged))?;
        let place = self.place(node.file, &node.span);
        let tag_key = below(key, tagged.tag);
        let Some(tag) = table.get(tagged.tag) else {
            let problem = ValueProblem::Missing {
                help: tagged.help,
                example: format!("{} = \"{}\"", tagged.tag, tagged.variants[0].name),
            };
            self.report_at(place, &tag_key, problem);
            return None;
        };
        self.remember(&tag_key, tag);
        let names: Vec<&'static str> = tagged.variants.iter().map(|v| v.name).collect();
        let word = self.word(&names, tag, &tag_key)?;
        let variant = tagged.variants.iter().find(|v| v.name == word)?;
        let home = |v: &Variant| format!("{} = \"{}\"", tagged.tag, v.name);
        let mut known: Vec<&'static Key> = variant.keys.iter().collect();
        known.extend(tagged.common);
        let rest = Table {
            keys: table
                .keys
                .iter()
                .filter(|k| k.name != tagged.tag)
                .cloned()
                .collect(),
        };
        let rest = self.without_strangers(rest, tagged.variants, &known, (key, &home));
        let mut entry = self.keys_of(&known, &rest, key, place.as_ref());
        entry.variant = Some(variant.name);
        Some(Value::Table(entry))
    }

    fn marked(&mut self, variants: &'static [Variant], node: &Node, key: &str) -> Option<Value> {
        let table = self.table_of(node, key, &Kind::Marked(variants))?;
        let place = self.place(node.file, &node.span);
        let mut said = variants.iter().filter(|v| table.get(v.name).is_some());
        let Some(variant) = said.next() else {
            for written in &table.keys {
                let all: Vec<&'static Key> = variants.iter().flat_map(|v| v.keys).collect();
                if !all.iter().any(|k| k.name == written.name) {
                    self.unknown(written, &all, key);
                }
            }
            let marks: Vec<&str> = variants.iter().map(|v| v.name).collect();
            let problem = ValueProblem::NoMark {
                marks: marks.join(", "),
                example: Kind::Marked(variants).example(),
            };
            self.report_at(place, key, problem);
            return None;
        };
        if let Some(other) = said.next() {
            let problem = ValueProblem::TwoMarks {
                one: variant.name,
                other: other.name,
            };
            self.report_at(place, key, problem);
            return None;
        }
        let home = |v: &Variant| v.name.to_owned();
        let known: Vec<&'static Key> = variant.keys.iter().collect();
        let rest = self.without_strangers(table.clone(), variants, &known, (key, &home));
        let mut entry = self.keys_of(&known, &rest, key, place.as_ref());
        entry.variant = Some(variant.name);
        Some(Value::Table(entry))
    }

    /// Takes out, with a complaint, the keys that belong to another variant.
    fn without_strangers(
        &mut self,
        table: Table,
        variants: &'static [Variant],
        known: &[&'static Key],
        (key, home): (&str, &dyn Fn(&Variant) -> String),
    ) -> Table {
        let (keep, strange): (Vec<_>, Vec<_>) = table.keys.into_iter().partition(|written| {
            known.iter().any(|k| k.name == written.name)
                || !variants.iter().any(|v| has(v, &written.name))
        });
        let names: Vec<&str> = known.iter().map(|k| k.name).collect();
        for written in strange {
            let homes: Vec<String> = variants
                .iter()
                .filter(|v| has(v, &written.name))
                .map(home)
                .collect();
            let problem = ValueProblem::KeyElsewhere {
                home: homes.join(" or "),
                instead: if names.is_empty() {
                    "leave it out".to_owned()
                } else {
                    format!("known here are {}", listed(&names))
                },
            };
            let place = self.place(written.node.file, &written.span);
            self.report_at(place, &below(key, &written.name), problem);
        }
        Table { keys: keep }
    }

    fn entries(&mut self, entries: &'static Entries, node: &Node, key: &str) -> Option<Value> {
        let Raw::List(list) = &node.raw else {
            let problem = if matches!(node.raw, Raw::Table(_)) {
                MeantProblem::OneTable {
                    name: key.to_owned(),
                }
                .into()
            } else {
                Problem::from(other_kind(&Kind::Entries(entries), node))
            };
            self.report(key, problem);
            return None;
        };
        if let Some(problem) = limits::list_length(list.len(), entries.least, MOST_ENTRIES) {
            self.report(key, problem);
            return None;
        }
        let known: Vec<&'static Key> = entries.keys.iter().collect();
        let mut taken: BTreeMap<String, usize> = BTreeMap::new();
        let mut read = Vec::with_capacity(list.len());
        for (i, item) in list.iter().enumerate() {
            let number = (i + 1).to_string();
            let Raw::Table(table) = &item.raw else {
                let problem = other_kind(&Kind::Table(entries.keys), item);
                let place = self.place(item.file, &item.span);
                self.report_at(place, &below(key, &number), problem);
                continue;
            };
            let by = match entries.by {
                By::Name => self.name_of(table, key, &mut taken),
                By::Number => None,
            };
            let inner = below(key, &by.unwrap_or(number));
            self.remember(&inner, item);
            let place = self.place(item.file, &item.span);
            read.push(self.keys_of(&known, table, &inner, place.as_ref()));
        }
        Some(Value::Entries(read))
    }

    /// The name by which an entry is known: none when it has none, a bad one, or a taken one.
    fn name_of(
        &mut self,
        table: &Table,
        key: &str,
        taken: &mut BTreeMap<String, usize>,
    ) -> Option<String> {
        let node = table.get("name")?;
        let Raw::Text(name) = &node.raw else {
            return None;
        };
        if names::why_not(name).is_some() {
            return None;
        }
        let place = self.place(node.file, &node.span);
        if let Some(line) = taken.get(name) {
            let problem = MeantProblem::NameTaken {
                name: name.clone(),
                what: key.to_owned(),
                line: *line,
            };
            self.report_at(place, &below(&below(key, name), "name"), problem);
            return None;
        }
        taken.insert(name.clone(), place.map_or(0, |place| place.line));
        Some(name.clone())
    }

    fn table_of<'n>(&mut self, node: &'n Node, key: &str, kind: &Kind) -> Option<&'n Table> {
        match &node.raw {
            Raw::Table(table) => Some(table),
            Raw::List(list) if list.iter().all(|n| matches!(n.raw, Raw::Table(_))) => {
                self.report(
                    key,
                    MeantProblem::ManyTables {
                        name: key.to_owned(),
                    },
                );
                None
            }
            _ => {
                self.report(key, other_kind(kind, node));
                None
            }
        }
    }
}

fn has(variant: &Variant, name: &str) -> bool {
    variant.keys.iter().any(|k| k.name == name)
}

fn listed(names: &[&str]) -> String {
    names.join(", ")
}

/// A default of the table of keys; it is read as if it were written.
fn default_value(kind: &Kind, text: &str, key: &str) -> Option<Value> {
    let tree = super::tree::parse(0, &format!("default = {text}")).ok()?;
    Checker::new(&[]).value(kind, tree.get("default")?, key)
}
