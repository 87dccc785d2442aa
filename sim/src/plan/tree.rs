//! A TOML document as a plain tree in which every value knows its place.
//!
//! In: text. Out: [`Table`], or all places that are not TOML.

use super::problem::FileProblem;
use crate::units::{dimension_of, shortened};
use std::ops::Range;
use toml_edit::{Document, Item, TableLike, Value};
use toml_parser::parser::{Event, EventKind, RecursionGuard};
use toml_parser::{Expected, ParseError, Source};

/// Places that are not TOML, named one by one.
const MOST_LISTED: usize = 20;
/// Nesting that no plan needs.
const MOST_NESTED: u32 = 32;

/// A value and where it stands.
#[derive(Debug, Clone)]
pub(super) struct Node {
    /// Number of the file.
    pub file: usize,
    /// Bytes of the value; of a table under a header, of its header.
    pub span: Range<usize>,
    /// The value.
    pub raw: Raw,
}

/// A value as TOML knows it.
#[derive(Debug, Clone)]
pub(super) enum Raw {
    Text(String),
    Whole(i64),
    Real(f64),
    Flag(bool),
    Date(String),
    List(Vec<Node>),
    Table(Table),
}

/// Keys in the order in which they stand.
#[derive(Debug, Clone, Default)]
pub(super) struct Table {
    pub keys: Vec<WrittenKey>,
}

/// A key with its value.
#[derive(Debug, Clone)]
pub(super) struct WrittenKey {
    /// The key.
    pub name: String,
    /// Bytes of the key, in the file of its value.
    pub span: Range<usize>,
    /// The value.
    pub node: Node,
}

impl Table {
    pub fn get(&self, name: &str) -> Option<&Node> {
        self.keys.iter().find(|k| k.name == name).map(|k| &k.node)
    }
}

/// A place that is not TOML.
#[derive(Debug)]
pub(super) struct NotToml {
    pub span: Range<usize>,
    pub problem: FileProblem,
}

/// Parses a text.
///
/// # Errors
/// All places at which the grammar is broken; when there are none, the first key that stands twice
/// or value that cannot be.
pub(super) fn parse(file: usize, text: &str) -> Result<Table, Vec<NotToml>> {
    let broken = broken_places(text);
    if !broken.is_empty() {
        return Err(broken);
    }
    let document = Document::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        vec![NotToml {
            problem: explain(text, &span, error.message()),
            span,
        }]
    })?;
    Ok(table(file, document.as_table()))
}

/// All breaches of the grammar; keys that stand twice are not among them.
fn broken_places(text: &str) -> Vec<NotToml> {
    let tokens = Source::new(text).lex().into_vec();
    let mut errors: Vec<ParseError> = Vec::new();
    let mut too_deep = None;
    let mut dots = 0;
    let mut watch = |event: Event| match event.kind() {
        EventKind::KeySep => {
            dots += 1;
            if dots > MOST_NESTED {
                too_deep.get_or_insert(event.span());
            }
        }
        EventKind::SimpleKey | EventKind::Whitespace => {}
        _ => dots = 0,
    };
    let mut guarded = RecursionGuard::new(&mut watch, MOST_NESTED);
    toml_parser::parser::parse_document(&tokens, &mut guarded, &mut errors);
    if let Some(span) = too_deep {
        // Such a key would become tables in tables without end.
        errors.push(ParseError::new("key with too many dots").with_unexpected(span));
    }
    let mut broken: Vec<NotToml> = errors
        .iter()
        .take(MOST_LISTED)
        .map(|error| {
            let span = error.unexpected().or(error.context());
            let span = span.map_or(text.len()..text.len(), |s| s.start()..s.end());
            NotToml {
                problem: explain(text, &span, &described(error)),
                span,
            }
        })
        .collect();
    broken.dedup_by(|a, b| a.problem == b.problem && a.span == b.span);
    if errors.len() > MOST_LISTED {
        broken.push(NotToml {
            span: text.len()..text.len(),
            problem: FileProblem::MoreToml {
                more: errors.len() - MOST_LISTED,
                shown: MOST_LISTED,
            },
        });
    }
    broken
}

fn described(error: &ParseError) -> String {
    let mut said = error.description().to_owned();
    let expected: Vec<String> = error
        .expected()
        .unwrap_or_default()
        .iter()
        .map(|expected| match expected {
            Expected::Literal("\n") => "a new line".to_owned(),
            Expected::Literal(literal) => format!("`{literal}`"),
            Expected::Description(what) => (*what).to_owned(),
            _ => "something else".to_owned(),
        })
        .collect();
    if !expected.is_empty() {
        said.push_str(", expected ");
        said.push_str(&expected.join(" or "));
    }
    said
}

/// Words for a breach; a quantity without quotes, the commonest slip, is recognised.
fn explain(text: &str, span: &Range<usize>, what: &str) -> FileProblem {
    let at = span.start.min(text.len());
    let head = text.get(..at).unwrap_or("");
    let from = head.rfind('\n').map_or(0, |i| i + 1);
    let line = text.get(from..).unwrap_or("").lines().next().unwrap_or("");
    let bare = line
        .split_once('=')
        .map(|(_, value)| value.split('#').next().unwrap_or("").trim())
        .filter(|value| dimension_of(value).is_some());
    if let Some(value) = bare {
        let value = shortened(value);
        return FileProblem::Toml {
            what: format!("{value} stands without quotes (a quantity is a text)"),
            instead: format!("write \"{value}\""),
        };
    }
    if what.contains("duplicate key") {
        let key = shortened(text.get(span.clone()).unwrap_or("this key"));
        return FileProblem::Toml {
            what: format!("{key} stands here a second time (each key has one value)"),
            instead: "keep one of the two".to_owned(),
        };
    }
    FileProblem::Toml {
        what: what.to_owned(),
        instead: "correct this line".to_owned(),
    }
}

fn table(file: usize, table: &dyn TableLike) -> Table {
    let keys = table
        .iter()
        .map(|(name, item)| {
            let span = table.key(name).and_then(toml_edit::Key::span);
            let node = node(file, item, span.as_ref());
            WrittenKey {
                name: name.to_owned(),
                span: span.unwrap_or_else(|| node.span.clone()),
                node,
            }
        })
        .collect();
    Table { keys }
}

fn node(file: usize, item: &Item, key: Option<&Range<usize>>) -> Node {
    let raw = match item {
        Item::None => Raw::Table(Table::default()),
        Item::Value(value) => return value_node(file, value, key),
        Item::Table(inner) => Raw::Table(table(file, inner)),
        Item::ArrayOfTables(entries) => Raw::List(
            entries
                .iter()
                .map(|entry| Node {
                    file,
                    span: entry.span().or(key.cloned()).unwrap_or_default(),
                    raw: Raw::Table(table(file, entry)),
                })
                .collect(),
        ),
    };
    // A table that only its keys imply (`law.cosine = 1`) has no span of its own.
    let span = match item {
        Item::Table(inner) if inner.is_implicit() || inner.is_dotted() => None,
        other => other.span(),
    };
    Node {
        file,
        span: span.or(key.cloned()).unwrap_or_default(),
        raw,
    }
}

fn value_node(file: usize, value: &Value, key: Option<&Range<usize>>) -> Node {
    let raw = match value {
        Value::String(text) => Raw::Text(text.value().clone()),
        Value::Integer(whole) => Raw::Whole(*whole.value()),
        Value::Float(real) => Raw::Real(*real.value()),
        Value::Boolean(flag) => Raw::Flag(*flag.value()),
        Value::Datetime(date) => Raw::Date(date.value().to_string()),
        Value::Array(list) => Raw::List(list.iter().map(|v| value_node(file, v, key)).collect()),
        Value::InlineTable(inner) => Raw::Table(table(file, inner)),
    };
    Node {
        file,
        span: value.span().or(key.cloned()).unwrap_or_default(),
        raw,
    }
}
