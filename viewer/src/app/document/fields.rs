//! The values of a plan's text, one by one, in its order.

use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

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
    /// Keys of the way to it that name its table: none at the top, two in `[[advise.vary]]`.
    heads: usize,
}

impl Field {
    /// Its keys within its table, from the outside in; places in lists are left out.
    pub fn path(&self) -> Vec<&str> {
        let keys = self.steps.iter().filter_map(|step| match step {
            Step::Key(key) => Some(key.as_str()),
            Step::Place(_) => None,
        });
        keys.skip(self.heads).collect()
    }
}

/// Fields under one heading.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// "source head", "step 2", …
    pub title: String,
    /// Name of its table; empty for what stands at the top.
    pub table: String,
    /// The way to it; empty for the top.
    pub way: Vec<Step>,
    /// Its fields.
    pub fields: Vec<Field>,
}

/// All values of a text, in its order.
pub fn sections_of(text: &str) -> Vec<Section> {
    let Ok(document) = text.parse::<DocumentMut>() else {
        return Vec::new();
    };
    let mut sections = vec![Section {
        title: "plan".to_owned(),
        table: String::new(),
        way: Vec::new(),
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
            Item::Table(table) => {
                sections.push(section(key, None, table, &way));
                sections.extend(lists_within(key, table, &way));
            }
            Item::Value(value) => {
                collect(value, &way, (key, key), &mut sections[0].fields);
            }
            Item::None => {}
        }
    }
    sections
}

/// The entries of lists of tables inside of a table (`[[advise.vary]]`).
fn lists_within(outer: &str, table: &Table, way: &[Step]) -> Vec<Section> {
    let mut found = Vec::new();
    for (key, item) in table.iter() {
        for (number, entry) in item.as_array_of_tables().into_iter().flatten().enumerate() {
            let mut way = way.to_vec();
            way.extend([Step::Key(key.to_owned()), Step::Place(number)]);
            let name = (number + 1).to_string();
            found.push(section(&format!("{outer}.{key}"), Some(&name), entry, &way));
        }
    }
    found
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
    let heads = way.iter().filter(|step| matches!(step, Step::Key(_)));
    let heads = heads.count();
    fields.iter_mut().for_each(|field| field.heads = heads);
    Section {
        title: name.map_or_else(|| table.to_owned(), |name| format!("{table} {name}")),
        table: table.to_owned(),
        way: way.to_vec(),
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
            heads: 0,
            text: match value {
                Value::String(text) => text.value().clone(),
                other => other.clone().decorated("", "").to_string(),
            },
        }),
    }
}
