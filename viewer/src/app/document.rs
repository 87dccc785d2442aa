//! The plan as a text that is edited field by field; comments and order stay.

use std::path::{Path, PathBuf};
use std::time::SystemTime;
use toml_edit::{DocumentMut, Item, TableLike, Value};

/// Texts that undo goes back through.
const MOST_UNDONE: usize = 1000;

/// A step on the way to a value.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Step {
    /// A key.
    Key(String),
    /// A place in a list, from 0.
    Place(usize),
}

/// A value of the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// The way to it.
    pub steps: Vec<Step>,
    /// Key in full, as diagnostics name it.
    pub key: String,
    /// Its name within its section.
    pub name: String,
    /// Its value as typed.
    pub text: String,
}

/// Fields under one heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// "source head", "step 2", …
    pub title: String,
    /// Its fields.
    pub fields: Vec<Field>,
}

/// A plan that is worked on.
#[derive(Debug, Clone)]
pub struct Document {
    /// Its file.
    pub path: PathBuf,
    text: String,
    /// Its values; empty while the text is no TOML.
    sections: Vec<Section>,
    /// As the file has it.
    saved: String,
    undone: Vec<String>,
    done: Vec<String>,
    changed: Option<SystemTime>,
}

impl Document {
    /// Reads a plan; it need not be right.
    ///
    /// # Errors
    /// A sentence, if the file cannot be read as text.
    pub fn open(path: &Path) -> Result<Self, String> {
        let text = std::fs::read_to_string(path)
            .map_err(|error| format!("{} cannot be read ({error})", path.display()))?;
        Ok(Self {
            path: path.to_owned(),
            saved: text.clone(),
            sections: sections_of(&text),
            text,
            undone: Vec::new(),
            done: Vec::new(),
            changed: changed(path),
        })
    }

    /// A plan that is in no file yet.
    pub fn begun(path: PathBuf, text: String) -> Self {
        Self {
            path,
            sections: sections_of(&text),
            text,
            saved: String::new(),
            undone: Vec::new(),
            done: Vec::new(),
            changed: None,
        }
    }

    /// The text as it stands.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// True when the file has another text.
    pub fn is_unsaved(&self) -> bool {
        self.text != self.saved
    }

    pub fn can_undo(&self) -> bool {
        !self.done.is_empty()
    }

    pub fn can_redo(&self) -> bool {
        !self.undone.is_empty()
    }

    /// All values, in the order of the file; empty while the text is no TOML.
    pub fn sections(&self) -> &[Section] {
        &self.sections
    }

    /// The text of a value, as typed.
    pub fn text_of(&self, steps: &[Step]) -> Option<String> {
        let mut fields = self.sections.iter().flat_map(|section| &section.fields);
        fields
            .find(|field| field.steps == steps)
            .map(|field| field.text.clone())
    }

    /// Gives a value another text; its comments stay.
    ///
    /// # Errors
    /// A sentence, if there is no such value.
    pub fn set(&mut self, steps: &[Step], text: &str) -> Result<(), String> {
        let missing = || "that value is no longer in the plan".to_owned();
        let mut document = self
            .text
            .parse::<DocumentMut>()
            .map_err(|_| "the plan is no TOML at present".to_owned())?;
        let mut item = document.as_item_mut();
        let mut rest = steps.iter();
        // tables first, then values
        let value = loop {
            let step = rest.next().ok_or_else(missing)?;
            let next = match step {
                Step::Key(key) => item.get_mut(key.as_str()),
                Step::Place(place) => item.get_mut(*place),
            };
            item = next.ok_or_else(missing)?;
            if rest.len() == 0 || item.is_value() {
                break item.as_value_mut().ok_or_else(missing)?;
            }
        };
        let value = rest.try_fold(value, |value, step| match step {
            Step::Key(key) => value.as_inline_table_mut()?.get_mut(key),
            Step::Place(place) => value.as_array_mut()?.get_mut(*place),
        });
        let value = value.ok_or_else(missing)?;
        let decor = value.decor().clone();
        *value = typed(value, text.trim());
        *value.decor_mut() = decor;
        self.replace(document.to_string());
        Ok(())
    }

    /// Where unsaved edits are kept, beside the plan, in case the program ends before they are saved.
    fn beside(&self) -> PathBuf {
        let mut name = self.path.as_os_str().to_owned();
        name.push(".unsaved");
        PathBuf::from(name)
    }

    /// Keeps unsaved edits, or removes what was kept when there are none.
    pub fn keep(&self) {
        // Nothing but the safety net is lost where the folder cannot be written.
        let _ = if self.is_unsaved() {
            crate::folder::replace(&self.beside(), self.text.as_bytes())
        } else {
            std::fs::remove_file(self.beside())
        };
    }

    /// Edits that an earlier session kept and nobody saved.
    pub fn left(&self) -> Option<String> {
        let text = std::fs::read_to_string(self.beside()).ok()?;
        (text != self.text).then_some(text)
    }

    /// Takes edits over that [`Document::left`] found.
    pub fn take_over(&mut self, text: String) {
        self.replace(text);
    }

    /// Goes one edit back; false when there is none.
    pub fn undo(&mut self) -> bool {
        let Some(text) = self.done.pop() else {
            return false;
        };
        let now = self.put(text);
        self.undone.push(now);
        true
    }

    /// Takes an undone edit up again; false when there is none.
    pub fn redo(&mut self) -> bool {
        let Some(text) = self.undone.pop() else {
            return false;
        };
        let now = self.put(text);
        self.done.push(now);
        true
    }

    /// Writes the file.
    ///
    /// # Errors
    /// A sentence, if it cannot be written.
    pub fn save(&mut self) -> Result<(), String> {
        crate::folder::replace(&self.path, self.text.as_bytes())
            .map_err(|error| format!("{} cannot be written ({error})", self.path.display()))?;
        self.saved.clone_from(&self.text);
        self.changed = changed(&self.path);
        Ok(())
    }

    /// Takes the file's text over when something else has changed it; true then.
    pub fn reread(&mut self) -> bool {
        let now = changed(&self.path);
        if now == self.changed {
            return false;
        }
        self.changed = now;
        let Ok(text) = std::fs::read_to_string(&self.path) else {
            return false;
        };
        if text == self.saved {
            return false;
        }
        self.saved.clone_from(&text);
        if text == self.text {
            return false;
        }
        self.replace(text);
        true
    }

    /// Puts another text in place; returns the old one.
    fn put(&mut self, text: String) -> String {
        self.sections = sections_of(&text);
        std::mem::replace(&mut self.text, text)
    }

    fn replace(&mut self, text: String) {
        if text == self.text {
            return;
        }
        self.undone.clear();
        let now = self.put(text);
        self.done.push(now);
        if self.done.len() > MOST_UNDONE {
            self.done.remove(0);
        }
    }
}

fn changed(path: &Path) -> Option<SystemTime> {
    std::fs::metadata(path)
        .and_then(|data| data.modified())
        .ok()
}

/// All values of a text, in its order.
fn sections_of(text: &str) -> Vec<Section> {
    let Ok(document) = text.parse::<DocumentMut>() else {
        return Vec::new();
    };
    let mut sections = vec![Section {
        title: "plan".to_owned(),
        fields: Vec::new(),
    }];
    for (key, item) in document.iter() {
        let way = vec![Step::Key(key.to_owned())];
        match item {
            Item::ArrayOfTables(tables) => {
                for (number, table) in tables.iter().enumerate() {
                    let name = table.get("name").and_then(Item::as_str);
                    let name = name.map_or_else(|| (number + 1).to_string(), str::to_owned);
                    let mut way = way.clone();
                    way.push(Step::Place(number));
                    sections.push(section(key, Some(&name), table, &way));
                }
            }
            Item::Table(table) => sections.push(section(key, None, table, &way)),
            Item::Value(value) => {
                collect(value, &way, (key, key), &mut sections[0].fields);
            }
            Item::None => {}
        }
    }
    sections.retain(|section| !section.fields.is_empty());
    sections
}

fn section(table: &str, name: Option<&str>, items: &dyn TableLike, way: &[Step]) -> Section {
    let prefix = name.map_or_else(|| table.to_owned(), |name| format!("{table}.{name}"));
    let mut fields = Vec::new();
    for (key, item) in items.iter() {
        let Some(value) = item.as_value() else {
            continue;
        };
        let mut way = way.to_vec();
        way.push(Step::Key(key.to_owned()));
        collect(value, &way, (&format!("{prefix}.{key}"), key), &mut fields);
    }
    Section {
        title: name.map_or_else(|| table.to_owned(), |name| format!("{table} {name}")),
        fields,
    }
}

fn collect(value: &Value, way: &[Step], (key, name): (&str, &str), fields: &mut Vec<Field>) {
    match value {
        Value::Array(array) => {
            for (place, value) in array.iter().enumerate() {
                let axis = match (array.len(), place) {
                    (3, 0..3) => ["x", "y", "z"][place].to_owned(),
                    _ => (place + 1).to_string(),
                };
                let mut way = way.to_vec();
                way.push(Step::Place(place));
                collect(
                    value,
                    &way,
                    (&format!("{key}.{axis}"), &format!("{name} {axis}")),
                    fields,
                );
            }
        }
        Value::InlineTable(table) => {
            for (inner, value) in table.iter() {
                let mut way = way.to_vec();
                way.push(Step::Key(inner.to_owned()));
                collect(
                    value,
                    &way,
                    (&format!("{key}.{inner}"), &format!("{name} {inner}")),
                    fields,
                );
            }
        }
        _ => fields.push(Field {
            steps: way.to_vec(),
            key: key.to_owned(),
            name: name.to_owned(),
            text: match value {
                Value::String(text) => text.value().clone(),
                other => other.clone().decorated("", "").to_string(),
            },
        }),
    }
}

/// A text as a value of the old one's kind, or as a string where it is none.
fn typed(old: &Value, text: &str) -> Value {
    let bare = || text.parse::<Value>().ok();
    match old {
        Value::String(_) => text.into(),
        _ => bare()
            .filter(|value| !matches!(value, Value::Array(_) | Value::InlineTable(_)))
            .unwrap_or_else(|| text.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = "# the run\ntitle = \"Horn\" # its name\n\n[[source]] # the head\n\
        name = \"head\"\nat = [\"0 mm\", \"0 mm\", \"60 mm\"] # middle\nlaw = { cosine = 1.5 } # n\n";

    fn document() -> (tempfile::TempDir, Document) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("horn.toml");
        std::fs::write(&path, PLAN).unwrap();
        let document = Document::open(&path).unwrap();
        (folder, document)
    }

    fn field(document: &Document, key: &str) -> Field {
        let sections = document.sections().to_vec();
        let mut fields = sections.into_iter().flat_map(|section| section.fields);
        fields.find(|field| field.key == key).expect(key)
    }

    #[test]
    fn every_value_is_a_field_with_the_key_that_diagnostics_use() {
        let (_folder, document) = document();
        let sections = document.sections();
        let names: Vec<String> = sections
            .iter()
            .flat_map(|section| &section.fields)
            .map(|field| format!("{}={}", field.key, field.text))
            .collect();
        assert_eq!(
            names,
            [
                "title=Horn",
                "source.head.name=head",
                "source.head.at.x=0 mm",
                "source.head.at.y=0 mm",
                "source.head.at.z=60 mm",
                "source.head.law.cosine=1.5",
            ]
        );
        assert_eq!(sections[1].title, "source head");
    }

    #[test]
    fn an_edit_keeps_comments_order_and_the_kind_of_the_value() {
        let (_folder, mut document) = document();
        let z = field(&document, "source.head.at.z").steps;
        document.set(&z, "2,5 in").unwrap();
        let cosine = field(&document, "source.head.law.cosine").steps;
        document.set(&cosine, "2").unwrap();
        let expected = PLAN.replace("60 mm", "2,5 in").replace("1.5", "2");
        assert_eq!(document.text(), expected);
    }

    #[test]
    fn undo_and_redo_walk_through_the_edits() {
        let (_folder, mut document) = document();
        let title = field(&document, "title").steps;
        document.set(&title, "A").unwrap();
        document.set(&title, "B").unwrap();
        assert!(document.undo());
        assert_eq!(field(&document, "title").text, "A");
        assert!(document.undo() && !document.undo());
        assert_eq!(document.text(), PLAN);
        assert!(document.redo() && document.redo() && !document.redo());
        assert_eq!(field(&document, "title").text, "B");
    }

    #[test]
    fn edits_from_outside_are_noticed_and_can_be_undone() {
        let (_folder, mut document) = document();
        assert!(!document.reread());
        std::fs::write(&document.path, PLAN.replace("Horn", "Bell")).unwrap();
        document.changed = None; // clocks of file systems are coarse
        assert!(document.reread());
        assert_eq!(field(&document, "title").text, "Bell");
        assert!(!document.is_unsaved());
        assert!(document.undo() && document.is_unsaved());
        document.save().unwrap();
        assert_eq!(std::fs::read_to_string(&document.path).unwrap(), PLAN);
    }
}
