//! Reads one value of each kind.

use super::limits::{entries, list_length, out_of_range};
use super::{Checker, MOST_NAMED, Problem, Reference, names};
use crate::plan::entry::{Value, below};
use crate::plan::keys::{Kind, Naming, Of, Range, quoted};
use crate::plan::problem::ValueProblem;
use crate::plan::tree::{Node, Raw};
use crate::units::{Dimension, UnitError, parse_quantity, shortened, units_of};
use glam::DVec3;
use std::collections::BTreeMap;

const AXES: [&str; 3] = ["x", "y", "z"];

impl Checker<'_> {
    /// Reads a value; a wrong one is reported and absent.
    pub(super) fn value(&mut self, kind: &Kind, node: &Node, key: &str) -> Option<Value> {
        self.remember(key, node);
        match *kind {
            Kind::Text | Kind::FreeKey => self.text(kind, node, key).map(Value::Text),
            Kind::Name(naming) => self.name(naming, node, key).map(Value::Text),
            Kind::Reference(of) => self.reference(of, node, key).map(Value::Text),
            Kind::Word(words) => {
                let word = self.word(words, node, key)?;
                Some(Value::Text(word.to_owned()))
            }
            Kind::Quantity(dimension, range) => {
                let quantity = self.quantity(dimension, range, node, key);
                quantity.map(Value::Number)
            }
            Kind::QuantityOr(dimension, range, word) => match &node.raw {
                Raw::Text(text) if text == word => Some(Value::Text(text.clone())),
                Raw::Text(_) | Raw::Whole(_) | Raw::Real(_) => {
                    let quantity = self.quantity(dimension, range, node, key);
                    quantity.map(Value::Number)
                }
                _ => self.wrong_kind(kind, node, key),
            },
            Kind::Number(range) => self.number(range, node, key).map(Value::Number),
            Kind::Count(least, most) => self.count(least, most, node, key).map(Value::Count),
            Kind::Flag => match node.raw {
                Raw::Flag(flag) => Some(Value::Flag(flag)),
                _ => self.wrong_kind(kind, node, key),
            },
            Kind::Direction => self.direction(node, key).map(Value::Vector),
            Kind::Vector(dimension, range) => {
                let vector = self.vector(dimension, range, node, key);
                vector.map(Value::Vector)
            }
            Kind::Path => self.path(node, key),
            Kind::LengthUnit => self.length_unit(node, key).map(Value::Number),
            Kind::List(of, least) => self.list(of, least, node, key).map(Value::List),
            Kind::Map(of, inner) => self.map(of, inner, node, key).map(Value::Map),
            Kind::OrMap(of, inner) => match node.raw {
                Raw::Table(_) => self.map(of, inner, node, key).map(Value::Map),
                Raw::Text(_) | Raw::Whole(_) | Raw::Real(_) => self.value(inner, node, key),
                _ => self.wrong_kind(kind, node, key),
            },
            Kind::Table(keys) => {
                let table = self.table_of(node, key, kind)?;
                let place = self.place(node.file, &node.span);
                let known: Vec<_> = keys.iter().collect();
                let entry = self.keys_of(&known, table, key, place.as_ref());
                Some(Value::Table(entry))
            }
            Kind::Tagged(tagged) => self.tagged(tagged, node, key),
            Kind::Marked(variants) => self.marked(variants, node, key),
            Kind::Entries(entries) => self.entries(entries, node, key),
            Kind::Bound => self.bound(node, key),
        }
    }

    fn wrong_kind<T>(&mut self, kind: &Kind, node: &Node, key: &str) -> Option<T> {
        self.report_here(node, key, other_kind(kind, node));
        None
    }

    fn report_here(&mut self, node: &Node, key: &str, problem: impl Into<Problem>) {
        let place = self.place(node.file, &node.span);
        self.report_at(place, key, problem);
    }

    fn text(&mut self, kind: &Kind, node: &Node, key: &str) -> Option<String> {
        let Raw::Text(text) = &node.raw else {
            return self.wrong_kind(kind, node, key);
        };
        if text.trim().is_empty() {
            let example = kind.example();
            self.report_here(node, key, ValueProblem::EmptyText { example });
            return None;
        }
        Some(text.clone())
    }

    fn name(&mut self, naming: Naming, node: &Node, key: &str) -> Option<String> {
        let Raw::Text(text) = &node.raw else {
            return self.wrong_kind(&Kind::Name(naming), node, key);
        };
        let no_file = match naming {
            Naming::Plain => None,
            Naming::File => names::why_no_file(text),
        };
        if let Some((why, instead)) = names::why_not(text).or(no_file) {
            let problem = ValueProblem::BadName {
                name: format!("\"{}\"", shortened(text)),
                why,
                instead,
            };
            self.report_here(node, key, problem);
            return None;
        }
        Some(text.clone())
    }

    fn reference(&mut self, of: Of, node: &Node, key: &str) -> Option<String> {
        let name = self.text(&Kind::Reference(of), node, key)?;
        self.references.push(Reference {
            of,
            name: name.clone(),
            key: key.to_owned(),
        });
        Some(name)
    }

    /// One of some words.
    pub(super) fn word(
        &mut self,
        words: &[&'static str],
        node: &Node,
        key: &str,
    ) -> Option<&'static str> {
        let Raw::Text(text) = &node.raw else {
            let problem = ValueProblem::OtherKind {
                found: found(node),
                wanted: format!("one of {}", quoted(words)),
                example: format!("\"{}\"", words.first().unwrap_or(&"")),
            };
            self.report_here(node, key, problem);
            return None;
        };
        let known = words.iter().find(|word| *word == text).copied();
        if known.is_none() {
            let nearest = super::nearest(text, words.iter().copied());
            let problem = ValueProblem::OtherWord {
                word: shortened(text),
                words: quoted(words),
                nearest: nearest.map(|w| format!("\"{w}\"")),
            };
            self.report_here(node, key, problem);
        }
        known
    }

    fn quantity(
        &mut self,
        dimension: Dimension,
        range: &'static Range,
        node: &Node,
        key: &str,
    ) -> Option<f64> {
        let text = match &node.raw {
            Raw::Text(text) => text,
            Raw::Whole(_) | Raw::Real(_) => {
                let problem = ValueProblem::BareNumber {
                    number: self.finite(node, key)?.to_string(),
                    wanted: dimension,
                };
                self.report_here(node, key, problem);
                return None;
            }
            _ => return self.wrong_kind(&Kind::Quantity(dimension, range), node, key),
        };
        let value = match parse_quantity(text, dimension) {
            Ok(value) => value,
            Err(error) => {
                self.report_here(node, key, error);
                return None;
            }
        };
        let written = format!("\"{}\"", shortened(text));
        match out_of_range(value, range, written, Some(dimension)) {
            None => Some(value),
            Some(problem) => {
                self.report_here(node, key, problem);
                None
            }
        }
    }

    fn number(&mut self, range: &'static Range, node: &Node, key: &str) -> Option<f64> {
        if !matches!(node.raw, Raw::Whole(_) | Raw::Real(_)) {
            return self.wrong_kind(&Kind::Number(range), node, key);
        }
        let number = self.finite(node, key)?;
        match out_of_range(number, range, number.to_string(), None) {
            None => Some(number),
            Some(problem) => {
                self.report_here(node, key, problem);
                None
            }
        }
    }

    fn finite(&mut self, node: &Node, key: &str) -> Option<f64> {
        let number = match node.raw {
            Raw::Whole(whole) => whole as f64,
            Raw::Real(real) => real,
            _ => return None,
        };
        if number.is_finite() {
            return Some(number);
        }
        self.report_here(node, key, ValueProblem::NotFinite { number });
        None
    }

    fn count(&mut self, least: u32, most: u32, node: &Node, key: &str) -> Option<u32> {
        let Raw::Whole(whole) = node.raw else {
            return self.wrong_kind(&Kind::Count(least, most), node, key);
        };
        match u32::try_from(whole) {
            Ok(count) if (least..=most).contains(&count) => Some(count),
            _ => {
                let problem = ValueProblem::OutOfRange {
                    value: whole.to_string(),
                    limit: format!("must be at least {least} and at most {most}"),
                    instead: "write a number between them",
                };
                self.report_here(node, key, problem);
                None
            }
        }
    }

    fn three<'n>(&mut self, kind: &Kind, node: &'n Node, key: &str) -> Option<&'n [Node]> {
        let Raw::List(list) = &node.raw else {
            return self.wrong_kind(kind, node, key);
        };
        if list.len() == 3 {
            return Some(list);
        }
        let problem = ValueProblem::ListLength {
            found: entries(list.len()),
            wanted: "x, y and z are three".to_owned(),
            instead: format!("write for example {}", kind.example()),
        };
        self.report_here(node, key, problem);
        None
    }

    fn direction(&mut self, node: &Node, key: &str) -> Option<DVec3> {
        let list = self.three(&Kind::Direction, node, key)?;
        let mut read = [None; 3];
        for ((item, axis), slot) in list.iter().zip(AXES).zip(&mut read) {
            let inner = below(key, axis);
            self.remember(&inner, item);
            *slot = self.number(&ANY, item, &inner);
        }
        let [Some(x), Some(y), Some(z)] = read else {
            return None;
        };
        // Scaled first, so that neither 1e-200 nor 1e200 is lost in the squares.
        let largest = x.abs().max(y.abs()).max(z.abs());
        if largest > 0.0 {
            return (DVec3::new(x, y, z) / largest).try_normalize();
        }
        let value = format!("[{x}, {y}, {z}]");
        self.report_here(node, key, ValueProblem::NoDirection { value });
        None
    }

    fn vector(
        &mut self,
        dimension: Dimension,
        range: &'static Range,
        node: &Node,
        key: &str,
    ) -> Option<DVec3> {
        let list = self.three(&Kind::Vector(dimension, range), node, key)?;
        let mut read = [None; 3];
        for ((item, axis), slot) in list.iter().zip(AXES).zip(&mut read) {
            let inner = below(key, axis);
            self.remember(&inner, item);
            *slot = self.quantity(dimension, range, item, &inner);
        }
        match read {
            [Some(x), Some(y), Some(z)] => Some(DVec3::new(x, y, z)),
            _ => None,
        }
    }

    fn path(&mut self, node: &Node, key: &str) -> Option<Value> {
        let text = self.text(&Kind::Path, node, key)?;
        if text.contains('\0') {
            let problem = ValueProblem::BadName {
                name: format!("\"{}\"", shortened(&text)),
                why: "it has the control character \\u{0}".to_owned(),
                instead: "write the path of a file",
            };
            self.report_here(node, key, problem);
            return None;
        }
        Some(Value::Path(self.folder(node).join(text)))
    }

    fn length_unit(&mut self, node: &Node, key: &str) -> Option<f64> {
        let text = self.text(&Kind::LengthUnit, node, key)?;
        let nearest = match parse_quantity(&format!("1 {text}"), Dimension::Length) {
            Ok(metres) => return Some(metres),
            Err(UnitError::UnknownUnit { nearest, .. }) => nearest,
            Err(_) => None,
        };
        let words: Vec<&str> = units_of(Dimension::Length).map(|u| u.names[0]).collect();
        let problem = ValueProblem::OtherWord {
            word: shortened(&text),
            words: quoted(&words),
            nearest: nearest.map(|unit| format!("\"{unit}\"")),
        };
        self.report_here(node, key, problem);
        None
    }

    fn list(
        &mut self,
        of: &'static Kind,
        least: usize,
        node: &Node,
        key: &str,
    ) -> Option<Vec<Value>> {
        let Raw::List(list) = &node.raw else {
            return self.wrong_kind(&Kind::List(of, least), node, key);
        };
        if let Some(problem) = list_length(list.len(), least, MOST_NAMED) {
            self.report_here(node, key, problem);
            return None;
        }
        let read: Vec<Option<Value>> = list
            .iter()
            .enumerate()
            .map(|(i, item)| self.value(of, item, &below(key, &(i + 1).to_string())))
            .collect();
        read.into_iter().collect()
    }

    fn map(
        &mut self,
        of: Of,
        kind: &'static Kind,
        node: &Node,
        key: &str,
    ) -> Option<BTreeMap<String, Value>> {
        let Raw::Table(table) = &node.raw else {
            return self.wrong_kind(&Kind::Map(of, kind), node, key);
        };
        if let Some(problem) = list_length(table.keys.len(), 1, MOST_NAMED) {
            self.report_here(node, key, problem);
            return None;
        }
        let mut read = BTreeMap::new();
        for written in &table.keys {
            let inner = below(key, &written.name);
            self.references.push(Reference {
                of,
                name: written.name.clone(),
                key: inner.clone(),
            });
            if let Some(value) = self.value(kind, &written.node, &inner) {
                read.insert(written.name.clone(), value);
            }
        }
        (read.len() == table.keys.len()).then_some(read)
    }

    /// A bound is read once its key is known; until then it stays as written.
    fn bound(&mut self, node: &Node, key: &str) -> Option<Value> {
        match &node.raw {
            Raw::Text(text) => Some(Value::Text(text.clone())),
            Raw::Whole(_) | Raw::Real(_) => self.finite(node, key).map(Value::Number),
            _ => self.wrong_kind(&Kind::Bound, node, key),
        }
    }
}

/// Components of a direction.
static ANY: Range = Range {
    least: f64::MIN,
    most: f64::MAX,
    end: crate::plan::keys::End::Closed,
    why: "it is a finite number",
    instead: "write one",
};

/// The complaint that a value is of another kind.
pub(super) fn other_kind(kind: &Kind, node: &Node) -> ValueProblem {
    ValueProblem::OtherKind {
        found: found(node),
        wanted: kind.a_name(),
        example: kind.example(),
    }
}

fn found(node: &Node) -> String {
    match &node.raw {
        Raw::Text(text) => format!("the text \"{}\"", shortened(text)),
        Raw::Whole(whole) => format!("the number {whole}"),
        Raw::Real(real) => format!("the number {real}"),
        Raw::Flag(flag) => flag.to_string(),
        Raw::Date(date) => format!("the date {}", shortened(date)),
        Raw::List(list) => format!("a list of {}", entries(list.len())),
        Raw::Table(_) => "a table".to_owned(),
    }
}
