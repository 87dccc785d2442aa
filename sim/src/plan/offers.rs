//! What may be put into a plan, for whoever edits it key by key.
//!
//! In: the table of keys, and the names that a plan has. Out: keys, other forms of values and whole tables, each as
//! TOML that can be read, with what it says.

use super::keys::{By, Key, Kind, Naming, Need, Of, ROOT};
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
const SENSIBLE: [(&str, &str); 13] = [
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
];

/// A value for a key: a sensible one, else an example of its kind.
fn example_of(key: &Key, names: &Names) -> String {
    let sensible = SENSIBLE.iter().find(|(name, _)| *name == key.name);
    match (sensible, &key.kind) {
        (Some((_, toml)), Kind::Vector(..)) if toml.starts_with('[') => (*toml).to_owned(),
        (Some((_, toml)), Kind::Quantity(..)) if !toml.starts_with('[') => (*toml).to_owned(),
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
    free.map(|key| Offer {
        name: key.name.to_owned(),
        help: key.help,
        toml: whole_table(key, names),
        required: false,
    })
    .collect()
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

fn table_of(name: &str) -> Option<&'static Kind> {
    let key = ROOT.iter().find(|key| key.name == name)?;
    is_table(&key.kind).then_some(&key.kind)
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
    let lines = said.map(|inner| {
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
    head + &tag.unwrap_or_default() + &lines.collect::<String>()
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
    match kind {
        Kind::Reference(of) => name(*of),
        Kind::List(of, _) => format!("[{}]", example(of, names)),
        Kind::Map(of, kind) => format!("{{ {} = {} }}", name(*of), example(kind, names)),
        Kind::OrMap(_, kind) => example(kind, names),
        _ => kind.example(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::read_text;
    use std::path::Path;

    fn names() -> Names {
        let name = |table: &str, name: &str| (table.to_owned(), vec![name.to_owned()]);
        [
            name("part", "dish"),
            name("source", "head"),
            name("coupon", "slide"),
        ]
        .into()
    }

    /// The least that a plan may be.
    const PLAN: &str = "[[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"silver\"\n\
        at = [\"0 mm\", \"0 mm\", \"60 mm\"]\nfacing = [0, 0, 1]\n\
        footprint = { shape = \"disc\", radius = \"20 mm\" }\noutput = { charge = \"50 mg\" }\n\
        [[coupon]]\nname = \"slide\"\nat = [\"0 mm\", \"0 mm\", \"90 mm\"]\nfacing = [0, 0, -1]\n\
        [[part]]\nname = \"dish\"\nmesh = \"dish.stl\"\nunit = \"mm\"\nat = [\"0 mm\", \"0 mm\", \"99 mm\"]\n\
        [[step]]\nlasts = \"10 min\"\n";

    fn unknown_or_unreadable(text: &str) -> Vec<String> {
        let errors = read_text(Path::new("plan.toml"), text).err();
        let errors = errors.iter().flat_map(|errors| &errors.errors);
        errors
            .map(|error| format!("{}: {}", error.key(), error.message()))
            .collect()
    }

    #[test]
    fn every_table_that_is_offered_can_be_read() {
        for offer in tables(&[], &names()) {
            let text = format!("{PLAN}{}", offer.toml);
            let said = unknown_or_unreadable(&text);
            // what the plan's other values and files decide is not the offer's business
            let meant = said
                .iter()
                .filter(|said| said.contains("unknown") || said.contains("must be"));
            assert_eq!(meant.count(), 0, "{}: {said:?}", offer.toml);
        }
    }

    #[test]
    fn every_form_of_a_footprint_is_offered_and_can_be_read() {
        let forms = forms("source", "footprint", &names());
        let words: Vec<&str> = forms.iter().map(|form| form.name.as_str()).collect();
        assert!(
            words.contains(&"ring") && words.contains(&"rectangle"),
            "{words:?}"
        );
        for form in &forms {
            let footprint = "{ shape = \"disc\", radius = \"20 mm\" }";
            let said = unknown_or_unreadable(&PLAN.replace(footprint, &form.toml));
            assert!(
                said.iter().all(|said| !said.contains("unknown")),
                "{said:?}"
            );
        }
        assert!(forms_of_nothing().is_empty());
    }

    fn forms_of_nothing() -> Vec<Offer> {
        forms("source", "metal", &names())
    }

    #[test]
    fn names_that_are_taken_are_not_offered_again() {
        let tables = tables(&["chamber"], &names());
        let toml = |name: &str| {
            let mut all = tables.iter();
            all.find(|offer| offer.name == name)
                .map(|offer| offer.toml.clone())
        };
        assert!(toml("chamber").is_none());
        let part = toml("part").expect("parts may be several");
        assert!(part.contains("name = \"new\""), "{part}");
        assert!(toml("advise").is_some() && toml("mask").is_some());
        let probe = toml("probe").expect("probes");
        assert!(probe.contains("part = \"dish\""), "{probe}");
    }

    #[test]
    fn help_is_found_inside_of_tables() {
        assert!(help("source", &["footprint", "inner_radius"]).is_some());
        assert!(help("chamber", &["shape"]).is_some());
        assert!(help("", &["title"]).is_some());
        assert!(help("source", &["nonsense"]).is_none());
        let keys = keys("chamber", Some("box"), &names());
        let words: Vec<&str> = keys.iter().map(|key| key.name.as_str()).collect();
        assert!(
            words.contains(&"size") && !words.contains(&"diameter"),
            "{words:?}"
        );
    }
}
