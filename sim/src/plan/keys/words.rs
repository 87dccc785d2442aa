//! Kinds of values in words: their names, and an example of each.

use super::{Key, Kind, Need};
use crate::units::Dimension;

impl Kind {
    /// Name with its article, as in "a length".
    pub fn a_name(&self) -> String {
        match self {
            Self::Text => "a text".to_owned(),
            Self::Name(_) => "a name".to_owned(),
            Self::Reference(of) => format!("the name of a {}", of.table()),
            Self::Word(words) => format!("one of {}", quoted(words)),
            Self::Quantity(dimension, _) => dimension.a_name().to_owned(),
            Self::QuantityOr(dimension, _, word) => {
                format!("{} or \"{word}\"", dimension.a_name())
            }
            Self::Number(_) => "a bare number".to_owned(),
            Self::Count(..) => "a whole number".to_owned(),
            Self::Flag => "true or false".to_owned(),
            Self::Direction => "a direction of three numbers".to_owned(),
            Self::Vector(dimension, _) => format!("a list of three {}", plural(*dimension)),
            Self::Path => "a file's path".to_owned(),
            Self::LengthUnit => "a unit of length".to_owned(),
            Self::List(of, _) => format!("a list of {}", of.many()),
            Self::Map(of, kind) => {
                format!("a table from {}s to {}", of.table(), kind.a_name())
            }
            Self::OrMap(of, kind) => format!(
                "{0}, or a table from {1}s to {0},",
                kind.a_name(),
                of.table()
            ),
            Self::Table(_) | Self::Tagged(_) | Self::Marked(_) => "a table".to_owned(),
            Self::Entries(_) => "a list of tables".to_owned(),
            Self::FreeKey => "the key of a value".to_owned(),
            Self::Bound => "a value of the key's own kind".to_owned(),
        }
    }

    /// Name of several, as in "lengths".
    fn many(&self) -> String {
        match self {
            Self::Reference(of) => format!("{} names", of.table()),
            Self::Path => "paths".to_owned(),
            Self::Quantity(dimension, _) => plural(*dimension),
            Self::QuantityOr(dimension, _, word) => format!("{} or \"{word}\"", plural(*dimension)),
            _ => "values".to_owned(),
        }
    }

    /// A value of this kind in TOML.
    pub fn example(&self) -> String {
        match self {
            Self::Text => "\"a text\"".to_owned(),
            Self::Name(_) => "\"horn\"".to_owned(),
            Self::Reference(of) => format!("\"{}\"", of.example()),
            Self::Word(words) => format!("\"{}\"", words.first().unwrap_or(&"")),
            Self::Quantity(dimension, _) | Self::QuantityOr(dimension, ..) => {
                format!("\"{}\"", example_quantity(*dimension))
            }
            Self::Number(_) => "1.0".to_owned(),
            Self::Count(least, _) => least.to_string(),
            Self::Flag => "true".to_owned(),
            Self::Direction => "[0, 0, 1]".to_owned(),
            Self::Vector(dimension, _) => {
                let one = example_quantity(*dimension);
                format!("[\"{one}\", \"{one}\", \"{one}\"]")
            }
            Self::Path => "\"horn.stl\"".to_owned(),
            Self::LengthUnit => "\"mm\"".to_owned(),
            Self::List(of, _) => format!("[{}]", of.example()),
            Self::Map(of, kind) => format!("{{ {} = {} }}", of.example(), kind.example()),
            Self::OrMap(_, kind) => kind.example(),
            Self::Table(keys) => table_example(keys),
            Self::Tagged(tagged) => {
                let first = &tagged.variants[0];
                let rest = first.keys.iter().filter_map(said);
                let tag = format!("{} = \"{}\"", tagged.tag, first.name);
                let all: Vec<_> = std::iter::once(tag).chain(rest).collect();
                format!("{{ {} }}", all.join(", "))
            }
            Self::Marked(variants) => table_example(variants[0].keys),
            Self::Entries(_) => "[[...]]".to_owned(),
            Self::FreeKey => "\"part.horn.turn.y\"".to_owned(),
            Self::Bound => "\"60 deg\"".to_owned(),
        }
    }
}

/// A table that says all that must be said.
fn table_example(keys: &[Key]) -> String {
    let said: Vec<_> = keys.iter().filter_map(said).collect();
    format!("{{ {} }}", said.join(", "))
}

fn said(key: &Key) -> Option<String> {
    matches!(key.need, Need::Required).then(|| key.example())
}

impl Key {
    /// As in `diameter = "60 mm"`.
    pub fn example(&self) -> String {
        match self.kind {
            Kind::Entries(_) => format!("[[{}]]", self.name),
            _ => format!("{} = {}", self.name, self.kind.example()),
        }
    }
}

/// As in "lengths"; for those dimensions of which plans have several in a row.
fn plural(dimension: Dimension) -> String {
    let name = dimension.a_name();
    format!("{}s", name.split_once(' ').map_or(name, |(_, name)| name))
}

fn example_quantity(dimension: Dimension) -> String {
    let number = match dimension {
        Dimension::Share => 95,
        Dimension::Time | Dimension::TurningSpeed => 12,
        Dimension::Density => 9,
        Dimension::Temperature => 1200,
        _ => 60,
    };
    format!("{number} {}", dimension.usual_unit())
}

/// Words in quotes with commas.
pub(in crate::plan) fn quoted(words: &[&str]) -> String {
    words
        .iter()
        .map(|word| format!("\"{word}\""))
        .collect::<Vec<_>>()
        .join(", ")
}
