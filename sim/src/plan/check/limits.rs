//! Whether numbers and lists keep their limits, and the words when they do not.

use crate::plan::keys::{End, Range};
use crate::plan::problem::ValueProblem;
use crate::units::{Dimension, lookup, significant};

/// The complaint about a value out of its range; none when it is inside.
pub(in crate::plan) fn out_of_range(
    value: f64,
    range: &Range,
    written: String,
    dimension: Option<Dimension>,
) -> Option<ValueProblem> {
    let limit = broken_limit(value, range, dimension)?;
    Some(ValueProblem::OutOfRange {
        value: written,
        limit: format!("{limit}, {}", range.why),
        instead: range.instead,
    })
}

fn broken_limit(value: f64, range: &Range, dimension: Option<Dimension>) -> Option<String> {
    let shown = |limit: f64| match dimension {
        Some(dimension) => in_usual_unit(limit, dimension),
        None => limit.to_string(),
    };
    let below = match range.end {
        End::Closed => value < range.least,
        End::Open => value <= range.least,
    };
    if below && range.least > 0.0 && value <= 0.0 {
        Some(format!("must be above {}", shown(0.0)))
    } else if below && range.end == End::Open {
        Some(format!("must be above {}", shown(range.least)))
    } else if below {
        Some(format!("must be at least {}", shown(range.least)))
    } else if value > range.most {
        Some(format!("must be at most {}", shown(range.most)))
    } else {
        None
    }
}

/// A limit in the unit in which such values are usually written.
fn in_usual_unit(si: f64, dimension: Dimension) -> String {
    let unit = match dimension {
        Dimension::Temperature => "K",
        Dimension::Time => "s",
        Dimension::Length if si.abs() >= 1.0 => "m",
        Dimension::Length if si.abs() > 0.0 && si.abs() < 1e-6 => "nm",
        other => other.usual_unit(),
    };
    let number = lookup(unit).map_or(si, |u| u.scale.from_si(si));
    format!("{} {unit}", significant(number, 6))
}

/// As in "2 entries".
pub(super) fn entries(count: usize) -> String {
    match count {
        1 => "1 entry".to_owned(),
        many => format!("{many} entries"),
    }
}

/// The complaint about a list's length; none when it is right.
pub(super) fn list_length(found: usize, least: usize, most: usize) -> Option<ValueProblem> {
    let (wanted, instead) = if found < least {
        (
            format!("at least {least} is needed"),
            "add what belongs there",
        )
    } else if found > most {
        (format!("at most {most} are read"), "write fewer")
    } else {
        return None;
    };
    Some(ValueProblem::ListLength {
        found: entries(found),
        wanted,
        instead: instead.to_owned(),
    })
}
