//! The plan as a text that is edited field by field; comments and order stay.

mod change;
mod fields;
pub mod quantity;
mod rename;

pub use change::Change;
use evenfall_sim::plan::offers::Names;
use fields::sections_of;
pub use fields::{Field, Section, Step};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Texts that undo goes back through.
const MOST_UNDONE: usize = 1000;

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

    /// Names of the entries, by the key of their table.
    pub fn names(&self) -> Names {
        let mut names = Names::new();
        for section in &self.sections {
            let mut fields = section.fields.iter();
            if let Some(name) = fields.find(|field| field.name == "name") {
                let of_table = names.entry(section.table.clone()).or_default();
                of_table.push(name.text.clone());
            }
        }
        names
    }

    /// The text of a value, as typed.
    pub fn text_of(&self, steps: &[Step]) -> Option<String> {
        let mut fields = self.sections.iter().flat_map(|section| &section.fields);
        fields
            .find(|field| field.steps == steps)
            .map(|field| field.text.clone())
    }

    /// Changes the text.
    ///
    /// # Errors
    /// A sentence, if the change does not fit it.
    pub fn change(&mut self, change: &Change) -> Result<(), String> {
        let text = change.of(&self.text)?;
        self.replace(text);
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

    /// Writes a file of another name beside this one, `…-2.toml` or the next that is free, and goes on with that.
    ///
    /// # Errors
    /// A sentence, if it cannot be written.
    pub fn save_copy(&mut self) -> Result<(), String> {
        let stem = self
            .path
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let stem = stem
            .trim_end_matches(|c: char| c.is_ascii_digit())
            .trim_end_matches('-');
        let names =
            (2..1000).map(|number| self.path.with_file_name(format!("{stem}-{number}.toml")));
        let free = names.into_iter().find(|path| !path.exists());
        let path = free.ok_or_else(|| "no free name was found for a copy".to_owned())?;
        // what was kept of the old name is saved under the new one
        let _ = std::fs::remove_file(self.beside());
        self.path = path;
        self.save()
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
        document.change(&Change::Set(z, "2,5 in".into())).unwrap();
        let cosine = field(&document, "source.head.law.cosine").steps;
        document.change(&Change::Set(cosine, "2".into())).unwrap();
        let expected = PLAN.replace("60 mm", "2,5 in").replace("1.5", "2");
        assert_eq!(document.text(), expected);
    }

    #[test]
    fn undo_and_redo_walk_through_the_edits() {
        let (_folder, mut document) = document();
        let title = field(&document, "title").steps;
        for text in ["A", "B"] {
            document
                .change(&Change::Set(title.clone(), text.into()))
                .unwrap();
        }
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
