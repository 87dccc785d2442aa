//! Published and derived values: one TOML file per source, embedded, looked up by quantity and inputs.

use serde::Deserialize;
use std::collections::BTreeMap;

/// A source and the quantities taken from it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Where the values come from.
    pub source: String,
    /// How they were read.
    pub read: String,
    /// The quantities.
    pub quantity: Vec<Quantity>,
}

/// How far a value was traced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Status {
    /// Read in public material.
    Confirmed,
    /// The source is known but was not seen: from memory.
    Memory,
    /// Follows from a short derivation.
    Derived,
}

/// Values of one quantity.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Quantity {
    /// Name, in words.
    pub name: String,
    /// Unit; "1" for pure numbers.
    pub unit: String,
    /// Uncertainty of each value as a share of it.
    pub relative_uncertainty: f64,
    /// How far it was traced.
    pub status: Status,
    /// What else there is to say.
    pub note: Option<String>,
    /// Inputs by name, and the value.
    pub rows: Vec<BTreeMap<String, f64>>,
}

/// Name of a built-in metal by its atomic number.
///
/// # Panics
///
/// If there is none of that number.
pub fn metal_of(number: f64) -> &'static str {
    let known = [
        (6.0, "carbon"),
        (13.0, "aluminium"),
        (22.0, "titanium"),
        (24.0, "chromium"),
        (28.0, "nickel"),
        (29.0, "copper"),
        (47.0, "silver"),
        (79.0, "gold"),
    ];
    let found = known.iter().find(|(z, _)| (z - number).abs() < 0.5);
    found.expect("a metal of the table").1
}

impl Source {
    /// Reads a source from its TOML text.
    ///
    /// # Panics
    ///
    /// If the text is not what this file describes.
    pub fn from_toml(text: &str) -> Self {
        toml_edit::de::from_str(text).expect("a table of published values")
    }

    /// A quantity by name.
    ///
    /// # Panics
    ///
    /// If the source has none of that name.
    pub fn quantity(&self, name: &str) -> &Quantity {
        let found = self.quantity.iter().find(|quantity| quantity.name == name);
        found.unwrap_or_else(|| panic!("{name:?} is not in {:?}", self.source))
    }
}

impl Quantity {
    /// The value at the given inputs.
    ///
    /// # Panics
    ///
    /// If no row has these inputs.
    pub fn at(&self, inputs: &[(&str, f64)]) -> f64 {
        let fits = |row: &&BTreeMap<String, f64>| {
            inputs
                .iter()
                .all(|(name, x)| (row[*name] - x).abs() <= 1e-9 * x.abs())
        };
        let row = self.rows.iter().find(fits);
        row.unwrap_or_else(|| panic!("{:?} has no row {inputs:?}", self.name))["value"]
    }

    /// Holds a closed form against every row.
    ///
    /// # Panics
    ///
    /// If a row and the form differ by more than the row's uncertainty and 1e-9.
    pub fn check(&self, form: impl Fn(&dyn Fn(&str) -> f64) -> f64) {
        for row in &self.rows {
            let value = row["value"];
            let found = form(&|name| row[name]);
            let allowed = (self.relative_uncertainty + 1e-9) * value.abs();
            assert!(
                (found - value).abs() <= allowed,
                "{}: {found} against {value} at {row:?}",
                self.name
            );
        }
    }
}
