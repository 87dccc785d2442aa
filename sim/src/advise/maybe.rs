//! Numbers that may be infinite, in JSON, which has none: null stands for them.
//!
//! In and out: for `#[serde(with = …)]`.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Writes a number, null where it is not finite.
pub(super) fn serialize<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    value.is_finite().then_some(*value).serialize(serializer)
}

/// Reads a number, infinite where null stands.
pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    Ok(Option::deserialize(deserializer)?.unwrap_or(f64::INFINITY))
}
