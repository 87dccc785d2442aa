//! Another name for an entry of the plan, wherever the plan speaks of it; comments and order stay.
//!
//! In: a plan's text and the way to a name. Out: the changed document. Which places name an entry is known from the table
//! of keys ([`offers::refers`]).

use super::change::value_at;
use super::fields::Step;
use evenfall_sim::plan::offers::{self, Refers};
use toml_edit::{Array, DocumentMut, InlineTable, Item, Key, Table, TableLike, Value};

/// An entry that gets another name.
struct Renamed<'a> {
    /// Its table.
    table: &'a str,
    before: &'a str,
    after: &'a str,
}

/// Changes a name and, where it alone stands for its entry, what refers to it.
///
/// - `steps`: the way to the name
/// - `after`: the new one; one that another entry has is set and nothing follows it
///
/// # Errors
/// A sentence, if there is no such name.
pub fn rename(document: &mut DocumentMut, steps: &[Step], after: &str) -> Result<(), String> {
    let after = after.trim();
    let value = value_at(document, steps)?;
    let before = value.as_str().unwrap_or_default().to_owned();
    replace(value, after);
    let [Step::Key(table), Step::Place(_), _] = steps else {
        return Ok(());
    };
    let entries = document.get(table).and_then(Item::as_array_of_tables);
    let names: Vec<&str> = entries
        .into_iter()
        .flatten()
        .filter_map(|entry| entry.get("name")?.as_str())
        .collect();
    let count = |name: &str| names.iter().filter(|other| **other == name).count();
    if before.is_empty() || after.is_empty() || count(&before) > 0 || count(after) > 1 {
        return Ok(());
    }
    let renamed = Renamed {
        table,
        before: &before,
        after,
    };
    for (key, item) in document.iter_mut() {
        let table = key.get().to_owned();
        renamed.in_item(item, &table, &mut Vec::new());
    }
    Ok(())
}

/// Another text in place of a value, its spaces and comments kept.
fn replace(value: &mut Value, text: &str) {
    let decor = value.decor().clone();
    *value = text.into();
    *value.decor_mut() = decor;
}

impl Renamed<'_> {
    fn in_item(&self, item: &mut Item, table: &str, path: &mut Vec<String>) {
        match item {
            Item::Value(value) => self.in_value(value, table, path),
            Item::Table(inner) => self.in_table(inner, table, path),
            Item::ArrayOfTables(entries) => {
                for entry in entries.iter_mut() {
                    self.in_table(entry, table, path);
                }
            }
            Item::None => {}
        }
    }

    fn in_table(&self, inner: &mut Table, table: &str, path: &mut Vec<String>) {
        if self.names_keys(inner, table, path) {
            let keys: Vec<String> = inner.iter().map(|(key, _)| key.to_owned()).collect();
            let entries: Vec<(Key, Item)> = keys
                .iter()
                .filter_map(|key| {
                    let (key, item) = inner.get_key_value(key)?;
                    Some((self.key(key), item.clone()))
                })
                .collect();
            inner.clear();
            for (key, item) in entries {
                inner.insert_formatted(&key, item);
            }
        }
        for (key, item) in inner.iter_mut() {
            path.push(key.get().to_owned());
            self.in_item(item, table, path);
            path.pop();
        }
    }

    fn in_value(&self, value: &mut Value, table: &str, path: &mut Vec<String>) {
        match value {
            Value::InlineTable(inner) => self.in_inline(inner, table, path),
            Value::Array(array) => self.in_array(array, table, path),
            Value::String(text) => {
                let text = text.value().clone();
                match refers(table, path) {
                    Some(Refers::Text(of)) if of == self.table && text == self.before => {
                        replace(value, self.after);
                    }
                    Some(Refers::FreeKey) => {
                        let rest = text.strip_prefix(&format!("{}.{}.", self.table, self.before));
                        if let Some(rest) = rest {
                            replace(value, &format!("{}.{}.{rest}", self.table, self.after));
                        }
                    }
                    _ => {}
                }
            }
            _ => {}
        }
    }

    fn in_array(&self, array: &mut Array, table: &str, path: &mut Vec<String>) {
        for value in array.iter_mut() {
            self.in_value(value, table, path);
        }
    }

    fn in_inline(&self, inner: &mut InlineTable, table: &str, path: &mut Vec<String>) {
        if self.names_keys(inner, table, path) {
            let keys: Vec<String> = inner.iter().map(|(key, _)| key.to_owned()).collect();
            let entries: Vec<(Key, Value)> = keys
                .iter()
                .filter_map(|key| {
                    let (key, item) = inner.get_key_value(key)?;
                    Some((self.key(key), item.as_value()?.clone()))
                })
                .collect();
            inner.clear();
            for (key, value) in entries {
                inner.insert_formatted(&key, value);
            }
        }
        for (key, value) in inner.iter_mut() {
            path.push(key.get().to_owned());
            self.in_value(value, table, path);
            path.pop();
        }
    }

    /// True for a table whose keys are names, the one that changes among them.
    fn names_keys(&self, inner: &dyn TableLike, table: &str, path: &[String]) -> bool {
        let names = matches!(refers(table, path), Some(Refers::Keys(of)) if of == self.table);
        names && inner.contains_key(self.before)
    }

    /// A key, or the new one in its place.
    fn key(&self, key: &Key) -> Key {
        if key.get() != self.before {
            return key.clone();
        }
        Key::new(self.after)
            .with_leaf_decor(key.leaf_decor().clone())
            .with_dotted_decor(key.dotted_decor().clone())
    }
}

fn refers(table: &str, path: &[String]) -> Option<Refers> {
    let path: Vec<&str> = path.iter().map(String::as_str).collect();
    offers::refers(table, &path)
}

#[cfg(test)]
mod tests {
    use super::super::Change;
    use super::*;

    const PLAN: &str = r#"# two heads
[[source]]
name = "head" # the first
metal = "silver"
output = { coupon = "slide", thickness = "60 nm" } # measured

[[source]]
name = "boat"

[[metal]]
name = "silver"

[[coupon]]
name = "slide"

[[shutter]]
name = "flap"
over = ["head", "boat"] # both

[[part]]
name = "horn"

[[region]]
name = "bore"
part = "horn"

[[probe]]
name = "line"
part = "horn" # along it

[[step]]
lasts = "1 min"
power = { head = 0.5, boat = 1 } # half
shutter = { flap = "shut" }
turn = { horn = ["0 deg", "10 deg", "0 deg"] }

[[step]]
lasts = "1 min"
[step.power] # in full
# the first
head = 1 # all of it
boat = 0

[film]
want = { silver = "90 nm" }
in = ["bore"]
bare = [ "bore" ] # not here

[advise]
minimise = "time"
[[advise.vary]]
key = "part.horn.turn.y" # the tilt
[[advise.vary]]
key = "source.head.at.z"
"#;

    fn renamed(table: &str, place: usize, after: &str) -> String {
        let steps = vec![
            Step::Key(table.to_owned()),
            Step::Place(place),
            Step::Key("name".to_owned()),
        ];
        Change::Rename(steps, after.to_owned()).of(PLAN).unwrap()
    }

    #[test]
    fn a_name_changes_wherever_the_plan_speaks_of_it_and_nowhere_else() {
        // by hand: every "head" of this plan is the source's but the first word of the comment
        let head = PLAN
            .replace("\"head\"", "\"gun\"")
            .replace("head = ", "gun = ")
            .replace("source.head.", "source.gun.");
        assert_eq!(renamed("source", 0, "gun"), head);
        assert_eq!(renamed("part", 0, "cup"), {
            let horn = PLAN
                .replace("\"horn\"", "\"cup\"")
                .replace("horn = ", "cup = ");
            horn.replace("part.horn.", "part.cup.")
        });
        let others = [
            ("shutter", "flap", "lid"),
            ("region", "bore", "hole"),
            ("coupon", "slide", "witness"),
            ("metal", "silver", "alloy"),
        ];
        for (table, before, after) in others {
            assert_eq!(
                renamed(table, 0, after),
                PLAN.replace(before, after),
                "{table}"
            );
        }
    }

    #[test]
    fn a_name_that_needs_quotes_gets_them() {
        let text = renamed("source", 0, "left head");
        assert!(text.contains("power = { \"left head\" = 0.5, boat = 1 } # half"));
        assert!(text.contains("\"left head\" = 1 # all of it"), "{text}");
    }

    #[test]
    fn what_another_entry_is_called_is_not_mixed_up_with_it() {
        let text = renamed("source", 1, "head");
        assert_eq!(text, PLAN.replacen("\"boat\"", "\"head\"", 1));
        // and out of that muddle nothing follows either: nobody knows which was meant
        let steps = vec![
            Step::Key("source".to_owned()),
            Step::Place(1),
            Step::Key("name".to_owned()),
        ];
        let back = Change::Rename(steps, "boat".to_owned()).of(&text).unwrap();
        assert_eq!(back, PLAN);
    }
}
