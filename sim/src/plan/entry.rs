//! Values of a plan after each was checked by itself, with defaults filled in.
//!
//! In: the reader by the table of keys. Out: typed values by key for what gives the plan its meaning.
//! A value that was wrong is absent: its error is already on the list.

use super::keys::Key;
use glam::DVec3;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A checked value.
#[derive(Debug, Clone)]
pub(super) enum Value {
    /// Text, word, name or reference.
    Text(String),
    /// Quantity in SI, or bare number.
    Number(f64),
    Count(u32),
    Flag(bool),
    Vector(DVec3),
    Path(PathBuf),
    List(Vec<Value>),
    Map(BTreeMap<String, Value>),
    Table(Entry),
    Entries(Vec<Entry>),
}

/// A checked table.
#[derive(Debug, Clone, Default)]
pub(super) struct Entry {
    /// Its key in full, as in `source.head` or `source.head.footprint`; empty at the top.
    pub key: String,
    /// The word or the marking key that decides which keys it has.
    pub variant: Option<&'static str>,
    /// The keys that it may have.
    pub known: Vec<&'static Key>,
    /// Its values.
    pub values: BTreeMap<&'static str, Value>,
}

impl Entry {
    /// Key in full of one of its keys.
    pub fn key_of(&self, name: &str) -> String {
        below(&self.key, name)
    }

    pub fn number(&self, name: &str) -> Option<f64> {
        match self.values.get(name)? {
            Value::Number(number) => Some(*number),
            _ => None,
        }
    }

    pub fn count(&self, name: &str) -> Option<u32> {
        match self.values.get(name)? {
            Value::Count(count) => Some(*count),
            _ => None,
        }
    }

    pub fn flag(&self, name: &str) -> Option<bool> {
        match self.values.get(name)? {
            Value::Flag(flag) => Some(*flag),
            _ => None,
        }
    }

    pub fn text(&self, name: &str) -> Option<&str> {
        match self.values.get(name)? {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    pub fn vector(&self, name: &str) -> Option<DVec3> {
        match self.values.get(name)? {
            Value::Vector(vector) => Some(*vector),
            _ => None,
        }
    }

    pub fn path(&self, name: &str) -> Option<&Path> {
        match self.values.get(name)? {
            Value::Path(path) => Some(path),
            _ => None,
        }
    }

    pub fn table(&self, name: &str) -> Option<&Self> {
        match self.values.get(name)? {
            Value::Table(table) => Some(table),
            _ => None,
        }
    }

    pub fn list(&self, name: &str) -> Option<&[Value]> {
        match self.values.get(name)? {
            Value::List(list) => Some(list),
            _ => None,
        }
    }

    /// The texts of a list.
    pub fn texts(&self, name: &str) -> Option<Vec<String>> {
        self.list(name)?
            .iter()
            .map(|value| match value {
                Value::Text(text) => Some(text.clone()),
                _ => None,
            })
            .collect()
    }

    /// The entries of an array of tables; none when it is not said.
    pub fn entries(&self, name: &str) -> &[Self] {
        match self.values.get(name) {
            Some(Value::Entries(entries)) => entries,
            _ => &[],
        }
    }
}

/// A key below another.
pub(super) fn below(key: &str, name: &str) -> String {
    if key.is_empty() {
        name.to_owned()
    } else {
        format!("{key}.{name}")
    }
}
