//! The plan file as a JSON Schema (2020-12), for completion and first checks in editors.
//!
//! In: the table of keys. Out: the schema. What must hold between keys (names that meet something,
//! `facing` for a face) only the reader knows.

use super::keys::{End, Entries, Key, Kind, Need, ROOT, Range, Tagged, Variant};
use crate::units::{Dimension, quantity_pattern, unit_pattern};
use serde_json::{Map, Value, json};

/// The JSON Schema of a plan file.
pub fn schema() -> Value {
    let mut defs = Map::new();
    for dimension in Dimension::ALL {
        let about = json!({
            "type": "string",
            "description": format!("{} with its unit", dimension.a_name()),
            "pattern": quantity_pattern(dimension),
        });
        defs.insert(def_name(dimension), about);
    }
    let keys: Vec<&Key> = ROOT.iter().collect();
    let mut top = table(&keys, None);
    let required = top.remove("required").unwrap_or_default();
    let mut schema = Map::new();
    schema.insert(
        "$schema".to_owned(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    schema.insert("title".to_owned(), json!("Evenfall plan"));
    schema.extend(top);
    // What must be said may stand in an included file.
    schema.insert(
        "anyOf".to_owned(),
        json!([{ "required": required }, { "required": ["include"] }]),
    );
    schema.insert("$defs".to_owned(), Value::Object(defs));
    Value::Object(schema)
}

fn def_name(dimension: Dimension) -> String {
    dimension
        .a_name()
        .trim_start_matches("an ")
        .trim_start_matches("a ")
        .replace(' ', "_")
}

fn quantity(dimension: Dimension) -> Value {
    json!({ "$ref": format!("#/$defs/{}", def_name(dimension)) })
}

fn kind(kind: &Kind) -> Value {
    match *kind {
        Kind::Text | Kind::Reference(_) | Kind::Path => json!({ "type": "string", "minLength": 1 }),
        Kind::Name(_) => json!({
            "type": "string",
            "minLength": 1,
            "maxLength": super::check::MOST_CHARACTERS,
            "pattern": r#"^[^.,;/\\:*?"'<>|=\[\]{}#`]+$"#,
        }),
        Kind::Word(words) => json!({ "enum": words }),
        Kind::Quantity(dimension, _) => quantity(dimension),
        Kind::QuantityOr(dimension, _, word) => {
            json!({ "anyOf": [{ "const": word }, quantity(dimension)] })
        }
        Kind::Number(range) => number(range),
        Kind::Count(least, most) => {
            json!({ "type": "integer", "minimum": least, "maximum": most })
        }
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Direction => three(&json!({ "type": "number" })),
        Kind::Vector(dimension, _) => three(&quantity(dimension)),
        Kind::LengthUnit => {
            json!({ "type": "string", "pattern": unit_pattern(Dimension::Length) })
        }
        Kind::List(of, least) => {
            json!({ "type": "array", "items": self::kind(of), "minItems": least })
        }
        Kind::Map(_, of) => named(of),
        Kind::OrMap(_, of) => json!({ "anyOf": [self::kind(of), named(of)] }),
        Kind::Table(keys) => Value::Object(table(&keys.iter().collect::<Vec<_>>(), None)),
        Kind::Tagged(of) => tagged(of),
        Kind::Marked(variants) => marked(variants),
        Kind::Entries(of) => entries(of),
        Kind::FreeKey => json!({ "type": "string", "pattern": r"^[^.]+(\.[^.]+)+$" }),
        Kind::Bound => json!({ "type": ["string", "number"] }),
    }
}

fn number(range: &Range) -> Value {
    let least = match range.end {
        End::Closed => "minimum",
        End::Open => "exclusiveMinimum",
    };
    json!({ "type": "number", least: range.least, "maximum": range.most })
}

fn three(of: &Value) -> Value {
    json!({ "type": "array", "items": of, "minItems": 3, "maxItems": 3 })
}

fn named(of: &Kind) -> Value {
    json!({ "type": "object", "additionalProperties": kind(of), "minProperties": 1 })
}

fn entries(of: &Entries) -> Value {
    let keys: Vec<&Key> = of.keys.iter().collect();
    json!({
        "type": "array",
        "items": table(&keys, None),
        "minItems": of.least,
    })
}

fn tagged(of: &Tagged) -> Value {
    let variants: Vec<Value> = of
        .variants
        .iter()
        .map(|variant| {
            let keys: Vec<&Key> = variant.keys.iter().chain(of.common).collect();
            let tag = json!({ "const": variant.name, "description": of.help });
            let mut about = table(&keys, Some((of.tag, tag)));
            about.insert("description".to_owned(), json!(variant.help));
            Value::Object(about)
        })
        .collect();
    json!({ "oneOf": variants })
}

fn marked(variants: &[Variant]) -> Value {
    let variants: Vec<Value> = variants
        .iter()
        .map(|variant| {
            let mut about = table(&variant.keys.iter().collect::<Vec<_>>(), None);
            about.insert("description".to_owned(), json!(variant.help));
            Value::Object(about)
        })
        .collect();
    json!({ "oneOf": variants })
}

/// A table of these keys and no others.
fn table(keys: &[&Key], tag: Option<(&str, Value)>) -> Map<String, Value> {
    let mut properties = Map::new();
    let mut required = Vec::new();
    if let Some((name, about)) = tag {
        properties.insert(name.to_owned(), about);
        required.push(name);
    }
    for key in keys {
        let mut about = match kind(&key.kind) {
            Value::Object(about) => about,
            _ => Map::new(),
        };
        about.insert("description".to_owned(), json!(key.help));
        match key.need {
            Need::Required => required.push(key.name),
            Need::Optional => {}
            Need::Default(text) => {
                about.insert("default".to_owned(), toml_as_json(text));
            }
        }
        properties.insert(key.name.to_owned(), Value::Object(about));
    }
    let mut whole = Map::new();
    whole.insert("type".to_owned(), json!("object"));
    whole.insert("properties".to_owned(), Value::Object(properties));
    if !required.is_empty() {
        whole.insert("required".to_owned(), json!(required));
    }
    whole.insert("additionalProperties".to_owned(), json!(false));
    whole
}

/// A default of the table of keys, which are texts, numbers, flags and lists of texts: in these
/// TOML and JSON are written alike.
fn toml_as_json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or(Value::Null)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn defaults(value: &Value, found: &mut Vec<Value>) {
        match value {
            Value::Object(map) => {
                found.extend(map.get("default").cloned());
                for inner in map.values() {
                    defaults(inner, found);
                }
            }
            Value::Array(list) => list.iter().for_each(|inner| defaults(inner, found)),
            _ => {}
        }
    }

    #[test]
    fn every_default_of_the_table_of_keys_is_shown() {
        let mut found = Vec::new();
        defaults(&schema(), &mut found);
        assert!(found.len() > 30, "{}", found.len());
        assert!(found.iter().all(|default| !default.is_null()));
        assert!(found.contains(&json!("95 %")));
    }
}
