//! `evenfall schema`: the JSON Schema of the plan file on stdout.

use crate::failure::{Exit, Failure};
use crate::say;

/// Prints the schema.
///
/// # Errors
/// When stdout cannot take it.
pub fn run() -> Result<Exit, Failure> {
    let schema = evenfall_sim::plan::schema();
    let text = serde_json::to_string_pretty(&schema)
        .map_err(|error| Failure::Unfinished(format!("the schema cannot be printed ({error})")))?;
    say::answer(&text)?;
    Ok(Exit::Done)
}
