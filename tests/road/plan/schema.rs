//! The JSON Schema of the plan file, judged by a general-purpose validator.

use super::{BASE, EXAMPLE, WHOLE};
use evenfall_sim::plan::schema;
use serde_json::{Map, Value as Json, json};
use toml_edit::{Document, Item, Value};

fn json_of(item: &Item) -> Json {
    match item {
        Item::None => Json::Null,
        Item::Value(value) => json_value(value),
        Item::Table(table) => Json::Object(
            table
                .iter()
                .map(|(k, v)| (k.to_owned(), json_of(v)))
                .collect(),
        ),
        Item::ArrayOfTables(list) => Json::Array(
            list.iter()
                .map(|t| {
                    t.iter()
                        .map(|(k, v)| (k.to_owned(), json_of(v)))
                        .collect::<Map<_, _>>()
                })
                .map(Json::Object)
                .collect(),
        ),
    }
}

fn json_value(value: &Value) -> Json {
    match value {
        Value::String(text) => json!(text.value()),
        Value::Integer(whole) => json!(whole.value()),
        Value::Float(real) => json!(real.value()),
        Value::Boolean(flag) => json!(flag.value()),
        Value::Datetime(date) => json!(date.value().to_string()),
        Value::Array(list) => list.iter().map(json_value).collect(),
        Value::InlineTable(table) => Json::Object(
            table
                .iter()
                .map(|(k, v)| (k.to_owned(), json_value(v)))
                .collect(),
        ),
    }
}

fn plan_as_json(text: &str) -> Json {
    json_of(Document::parse(text).unwrap().as_item())
}

#[test]
fn the_schema_is_a_schema_of_2020_12() {
    let schema = schema();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    jsonschema::draft202012::meta::validate(&schema).unwrap_or_else(|error| panic!("{error}"));
}

#[test]
fn plans_that_read_satisfy_the_schema() {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    use evenfall_sim::plan::starter::{Kind, text};
    let starters = [Kind::Print, Kind::Stencil, Kind::Boat].map(text);
    for plan in [BASE, EXAMPLE, WHOLE].into_iter().chain(starters) {
        let plan = plan_as_json(plan);
        let wrong: Vec<String> = validator
            .iter_errors(&plan)
            .map(|error| format!("{} {error}", error.instance_path()))
            .collect();
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
    assert!(validator.is_valid(&json!({ "include": ["base.toml"], "title": "x" })));
}

#[test]
fn what_a_value_alone_makes_wrong_breaks_the_schema() {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    for (replace, with) in [
        ("metal = \"silver\"", "metall = \"silver\""),
        ("metal = \"silver\"\n", ""),
        ("diameter = \"300 mm\"", "diameter = 300"),
        ("diameter = \"300 mm\"", "diameter = \"300\""),
        ("diameter = \"300 mm\"", "diameter = \"300 s\""),
        (
            "diameter = \"300 mm\"",
            "diameter = \"300 mm\"\nsize = \"300 mm\"",
        ),
        (
            "facing = [0, 0, 1]\nfootprint",
            "facing = [0, 0]\nfootprint",
        ),
        ("{ cosine = 1.0 }", "{ cosine = -1.0 }"),
        ("{ cosine = 1.0 }", "{ cosine = 1.0, sine = 1.0 }"),
        ("{ charge = \"250 mg\" }", "{ }"),
        ("kind = \"sputter\"", "kind = \"sputtered\""),
        ("shutter = \"shut\"", "shutter = \"half\""),
        ("over = [\"head\"]", "over = []"),
        ("name = \"edge\"", "name = \"v1.2\""),
        ("unit = \"mm\"", "unit = \"inch\""),
        ("[chamber]", "[chambre]"),
    ] {
        assert!(BASE.contains(replace), "{replace}");
        let plan = plan_as_json(&BASE.replacen(replace, with, 1));
        assert!(!validator.is_valid(&plan), "{with}");
    }
}

#[test]
fn every_spelling_of_a_unit_matches_the_pattern_of_its_quantity() {
    use evenfall_sim::units::{UNITS, quantity_pattern};
    for unit in UNITS {
        let schema = json!({ "type": "string", "pattern": quantity_pattern(unit.dimension) });
        let validator = jsonschema::draft202012::new(&schema).unwrap();
        for name in unit.names {
            for text in [
                format!("60 {name}"),
                format!("-0,5e-3{name}"),
                format!(".5  {name} "),
            ] {
                assert!(validator.is_valid(&json!(text)), "{text}");
            }
            for text in [
                format!("60 {name}x"),
                name.to_string(),
                format!("1.0.0 {name}"),
            ] {
                assert!(!validator.is_valid(&json!(text)), "{text}");
            }
        }
    }
}
