//! What may be put into a plan, for whoever edits it key by key.
//!
//! In: the table of keys, and the names that a plan has. Out: keys, other forms of values and whole tables, each as
//! TOML that can be read, with what it says.

use super::keys::{By, Entries, Key, Kind, Naming, Need, Of, ROOT};
use std::collections::BTreeMap;

/// Names of the entries of a plan, by the key of their table.
pub type Names = BTreeMap<String, Vec<String>>;

/// Something that can be put into a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// Its key; of other forms of a value the word that stands for it; of tables their name.
    pub name: String,
    /// What it says: a noun phrase.
    pub help: &'static str,
    /// The value in TOML; of tables the whole of it with its head.
    pub toml: String,
    /// It must be said where its table is.
    pub required: bool,
}

/// The keys that a table may have.
///
/// - `table`: its name as in `[gas]` or `[[source]]`; empty for what stands at the top of a plan
/// - `tag`: the word behind the key on which the others depend, where there is one (`shape` of a chamber)
/// - `names`: names that the plan has, for keys that refer to one
pub fn keys(table: &str, tag: Option<&str>, names: &Names) -> Vec<Offer> {
    let at_top = |key: &&Key| !is_table(&key.kind);
    let keys: Vec<&Key> = match (table, table_of(table)) {
        ("", _) => ROOT.iter().filter(at_top).collect(),
        (_, None) => Vec::new(),
        (_, Some(Kind::Tagged(tagged))) => {
            let variants = tagged.variants.iter();
            let of_tag = variants.filter(|variant| Some(variant.name) == tag);
            of_tag
                .flat_map(|variant| variant.keys)
                .chain(tagged.common)
                .collect()
        }
        (_, Some(kind)) => own_keys(kind),
    };
    keys.into_iter().map(|key| offer(key, names)).collect()
}

/// The keys that may be added inside a value that is a table (`inside`: at, turn).
///
/// - `table`, `key`: where the value stands
/// - `tag`: the word behind the key on which the others depend (its `shape`), where there is one
/// - `names`: names that the plan has
pub fn inner(table: &str, key: &str, tag: Option<&str>, names: &Names) -> Vec<Offer> {
    let keys = table_of(table).map(own_keys).unwrap_or_default();
    let keys = match keys
        .into_iter()
        .find(|known| known.name == key)
        .map(|k| &k.kind)
    {
        Some(Kind::Tagged(tagged)) => {
            let variants = tagged.variants.iter();
            let of_tag = variants.filter(|variant| Some(variant.name) == tag);
            of_tag
                .flat_map(|variant| variant.keys)
                .chain(tagged.common)
                .collect()
        }
        Some(Kind::Table(keys)) => keys.iter().collect::<Vec<_>>(),
        _ => Vec::new(),
    };
    keys.into_iter().map(|key| offer(key, names)).collect()
}

fn offer(key: &Key, names: &Names) -> Offer {
    Offer {
        name: key.name.to_owned(),
        help: key.help,
        toml: match key.need {
            Need::Default(toml) => toml.to_owned(),
            Need::Required | Need::Optional => example_of(key, names),
        },
        required: matches!(key.need, Need::Required),
    }
}

/// Values that make sense to begin with, by key; lengths of a small coater. Common practice, no source.
const SENSIBLE: [(&str, &str); 15] = [
    ("pressure", "\"0.5 Pa\""),
    ("base_pressure", "\"1e-5 Torr\""),
    ("free_path", "\"15 mm\""),
    ("radius", "\"20 mm\""),
    ("inner_radius", "\"12 mm\""),
    ("outer_radius", "\"21 mm\""),
    ("diameter", "\"20 mm\""),
    ("inner_diameter", "\"16 mm\""),
    ("outer_diameter", "\"20 mm\""),
    ("size", "[\"20 mm\", \"20 mm\", \"2 mm\"]"),
    ("charge", "\"250 mg\""),
    ("voltage", "\"400 V\""),
    ("current", "\"0.2 A\""),
    ("from", "\"-30 deg\""),
    ("to", "\"30 deg\""),
];

/// A value for a key: a sensible one, else an example of its kind.
fn example_of(key: &Key, names: &Names) -> String {
    let sensible = SENSIBLE.iter().find(|(name, _)| *name == key.name);
    match (sensible, &key.kind) {
        (Some((_, toml)), Kind::Vector(..)) if toml.starts_with('[') => (*toml).to_owned(),
        (Some((_, toml)), Kind::Quantity(..) | Kind::Bound) if !toml.starts_with('[') => {
            (*toml).to_owned()
        }
        _ => example(&key.kind, names),
    }
}

/// The forms that a value may have, where it may have several (`footprint`: disc, ring, …).
///
/// - `table`, `key`: where it stands
/// - `names`: names that the plan has
pub fn forms(table: &str, key: &str, names: &Names) -> Vec<Offer> {
    let keys = table_of(table).map(own_keys).unwrap_or_default();
    let Some(key) = keys.into_iter().find(|known| known.name == key) else {
        return Vec::new();
    };
    let variants = match key.kind {
        Kind::Tagged(tagged) => tagged.variants,
        Kind::Marked(variants) => variants,
        _ => return Vec::new(),
    };
    let forms = variants.iter().map(|variant| {
        let tag = match key.kind {
            Kind::Tagged(tagged) => Some(format!("{} = \"{}\"", tagged.tag, variant.name)),
            _ => None,
        };
        let said = variant
            .keys
            .iter()
            .filter(|key| matches!(key.need, Need::Required));
        let said = said.map(|key| format!("{} = {}", key.name, example_of(key, names)));
        let all: Vec<String> = tag.into_iter().chain(said).collect();
        Offer {
            name: variant.name.to_owned(),
            help: variant.help,
            toml: format!("{{ {} }}", all.join(", ")),
            required: false,
        }
    });
    forms.collect()
}

/// The tables that a plan may get: those it can have several of, and those it does not have yet.
///
/// - `has`: names of the tables that it has
/// - `names`: names of their entries
pub fn tables(has: &[&str], names: &Names) -> Vec<Offer> {
    let tables = ROOT.iter().filter(|key| is_table(&key.kind));
    let free =
        tables.filter(|key| matches!(key.kind, Kind::Entries(_)) || !has.contains(&key.name));
    let whole = free.map(|key| Offer {
        name: key.name.to_owned(),
        help: key.help,
        toml: whole_table(key, names),
        required: false,
    });
    whole.chain(entries_within(has, names)).collect()
}

/// Further entries of lists of tables that stand inside of tables (`advise.vary`), where there are some.
fn entries_within(has: &[&str], names: &Names) -> Vec<Offer> {
    let mut found = Vec::new();
    for outer in ROOT {
        let Kind::Table(keys) = outer.kind else {
            continue;
        };
        for key in keys {
            let name = format!("{}.{}", outer.name, key.name);
            if let Kind::Entries(entries) = key.kind
                && has.contains(&name.as_str())
            {
                found.push(Offer {
                    toml: entry_within(&name, entries, names),
                    help: key.help,
                    required: false,
                    name,
                });
            }
        }
    }
    found
}

fn entry_within(name: &str, entries: &Entries, names: &Names) -> String {
    let said = entries
        .keys
        .iter()
        .filter(|key| matches!(key.need, Need::Required));
    let lines = said.map(|key| format!("{} = {}\n", key.name, example_of(key, names)));
    format!("[[{name}]]\n{}", lines.collect::<String>())
}

/// What a value says.
///
/// - `table`: the table it stands in; empty for the top of a plan
/// - `path`: its key there, and those inside of it
pub fn help(table: &str, path: &[&str]) -> Option<&'static str> {
    let top = table_of(table);
    let mut keys: Vec<&Key> = match top {
        Some(kind) => own_keys(kind),
        None if table.is_empty() => ROOT.iter().collect(),
        None => return None,
    };
    let mut help = None;
    if let (Some(Kind::Tagged(tagged)), [only]) = (top, path)
        && *only == tagged.tag
    {
        return Some(tagged.help);
    }
    for name in path {
        let Some(key) = keys.iter().find(|key| key.name == *name).copied() else {
            break;
        };
        help = Some(key.help);
        keys = own_keys(&key.kind);
    }
    help
}

/// What stands at a place of a plan that names something of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refers {
    /// A text, or a list of texts: the name of an entry of this table.
    Text(&'static str),
    /// A table: its keys are names of entries of this table.
    Keys(&'static str),
    /// A text: the key of a value, as in `part.horn.turn.y`.
    FreeKey,
}

/// Whether a place names something of the plan.
///
/// - `table`: the table it stands in
/// - `path`: its key there, and those inside of it
pub fn refers(table: &str, path: &[&str]) -> Option<Refers> {
    let mut kind = table_of(table)?;
    for name in path {
        kind = &own_keys(kind)
            .into_iter()
            .find(|key| key.name == *name)?
            .kind;
    }
    match kind {
        Kind::Reference(of) | Kind::List(Kind::Reference(of), _) => Some(Refers::Text(of.table())),
        Kind::Map(of, _) | Kind::OrMap(of, _) => Some(Refers::Keys(of.table())),
        Kind::FreeKey => Some(Refers::FreeKey),
        _ => None,
    }
}

fn is_table(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::Entries(_) | Kind::Table(_) | Kind::Tagged(_) | Kind::Marked(_)
    )
}

/// A table by its name; `advise.vary` is one inside of another.
fn table_of(name: &str) -> Option<&'static Kind> {
    let mut names = name.split('.');
    let first = names.next()?;
    let key = ROOT.iter().find(|key| key.name == first)?;
    let kind = names.try_fold(&key.kind, |kind, name| {
        let mut inner = own_keys(kind).into_iter();
        Some(&inner.find(|key| key.name == name)?.kind)
    })?;
    is_table(kind).then_some(kind)
}

/// All keys that a table may have in any of its forms.
fn own_keys(kind: &'static Kind) -> Vec<&'static Key> {
    match kind {
        Kind::Table(keys) => keys.iter().collect(),
        Kind::Entries(entries) => entries.keys.iter().collect(),
        Kind::Tagged(tagged) => {
            let variants = tagged.variants.iter().flat_map(|variant| variant.keys);
            variants.chain(tagged.common).collect()
        }
        Kind::Marked(variants) => variants.iter().flat_map(|variant| variant.keys).collect(),
        _ => Vec::new(),
    }
}

/// A table with all that must be said in it.
fn whole_table(key: &'static Key, names: &Names) -> String {
    let entries = match key.kind {
        Kind::Entries(entries) => Some(entries),
        _ => None,
    };
    let head = match entries {
        Some(_) => format!("[[{}]]\n", key.name),
        None => format!("[{}]\n", key.name),
    };
    let (tag, keys): (Option<String>, Vec<&Key>) = match key.kind {
        Kind::Tagged(tagged) => {
            let first = &tagged.variants[0];
            let tag = format!("{} = \"{}\"\n", tagged.tag, first.name);
            (Some(tag), first.keys.iter().chain(tagged.common).collect())
        }
        _ => (None, own_keys(&key.kind)),
    };
    let said = keys
        .into_iter()
        .filter(|key| matches!(key.need, Need::Required));
    let (lists, said): (Vec<&Key>, Vec<&Key>) =
        said.partition(|inner| matches!(inner.kind, Kind::Entries(_)));
    let within = lists.into_iter().filter_map(|inner| {
        let Kind::Entries(entries) = inner.kind else {
            return None;
        };
        let name = format!("{}.{}", key.name, inner.name);
        Some(format!("\n{}", entry_within(&name, entries, names)))
    });
    let within: String = within.collect();
    let lines = said.into_iter().map(|inner| {
        let toml = match (inner.kind, entries.map(|entries| entries.by)) {
            (Kind::Name(Naming::Plain | Naming::File), Some(By::Name)) if inner.name == "name" => {
                format!("\"{}\"", free_name(key.name, names))
            }
            (Kind::Direction, _) if key.name == "coupon" => "[0, 0, -1]".to_owned(),
            (Kind::Vector(..), _) if key.name == "coupon" => {
                "[\"40 mm\", \"0 mm\", \"140 mm\"]".to_owned()
            }
            _ => example_of(inner, names),
        };
        format!("{} = {toml}\n", inner.name)
    });
    head + &tag.unwrap_or_default() + &lines.collect::<String>() + &within
}

/// A name that no entry of the table has yet.
fn free_name(table: &str, names: &Names) -> String {
    let taken = names.get(table).map_or(&[][..], Vec::as_slice);
    let numbered = (2_u32..).map(|number| format!("new {number}"));
    let mut all = std::iter::once("new".to_owned()).chain(numbered);
    let free = all.find(|name| !taken.contains(name));
    free.unwrap_or_default()
}

/// A value in TOML that refers to what the plan has.
fn example(kind: &Kind, names: &Names) -> String {
    let name = |of: Of| {
        let first = names.get(of.table()).and_then(|names| names.first());
        match (of, first) {
            (Of::Metal, _) | (_, None) => Kind::Reference(of).example(),
            (_, Some(name)) => format!("\"{name}\""),
        }
    };
    let first_part = names.get("part").and_then(|names| names.first());
    if let (Kind::FreeKey, Some(part)) = (kind, first_part) {
        // the tilt of a part, which most plans write
        return format!("\"part.{part}.turn.y\"");
    }
    match kind {
        Kind::Reference(of) => name(*of),
        Kind::List(of, _) => format!("[{}]", example(of, names)),
        Kind::Map(of, kind) => format!("{{ {} = {} }}", name(*of), example(kind, names)),
        Kind::OrMap(_, kind) => example(kind, names),
        _ => kind.example(),
    }
}

#[cfg(test)]
mod tests;
