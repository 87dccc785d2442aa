//! Where words go: stdout for what was asked for, stderr for everything else; and a few words for numbers.
//!
//! A reader that closes its end (`evenfall schema | head -1`) ends nothing with a panic.

use crate::failure::Failure;
use evenfall_sim::outcome::words::decimal;
use glam::DVec3;
use std::io::{ErrorKind, Write};

/// Writes what was asked for to stdout, with a final line feed.
///
/// A closed pipe is no failure: the reader had enough.
///
/// # Errors
/// When stdout cannot take it, as on a full disk.
pub fn answer(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    let written = writeln!(stdout, "{}", text.trim_end_matches('\n')).and_then(|()| stdout.flush());
    match written {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Failure::Unfinished(format!(
            "stdout does not take the answer ({error})"
        ))),
        _ => Ok(()),
    }
}

/// Writes a line to stderr; where nobody can read it, nothing is lost.
pub fn tell(text: &str) {
    let mut stderr = std::io::stderr().lock();
    // Nothing sensible can be done when even stderr is gone.
    let _ = writeln!(stderr, "{text}").and_then(|()| stderr.flush());
}

/// A direction, with the axis named where it is one.
pub fn direction(unit: DVec3) -> String {
    let named = [
        (DVec3::X, "+x"),
        (DVec3::NEG_X, "-x"),
        (DVec3::Y, "+y"),
        (DVec3::NEG_Y, "-y"),
        (DVec3::Z, "+z (up)"),
        (DVec3::NEG_Z, "-z (down)"),
    ];
    for (axis, name) in named {
        if unit.abs_diff_eq(axis, 1e-9) {
            return name.to_owned();
        }
    }
    format!(
        "({})",
        unit.to_array()
            .map(|value| format!("{value:.3}"))
            .join(", ")
    )
}

/// A share as a percentage.
pub fn percent(share: f64) -> String {
    format!("{} %", decimal(share * 100.0))
}

/// A whole number in groups of three, as in 1 234 567.
pub fn count(value: usize) -> String {
    let digits = value.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

/// "1 triangle", "2 triangles", "no triangles".
pub fn counted(value: usize, thing: &str) -> String {
    match value {
        0 => format!("no {thing}s"),
        1 => format!("1 {thing}"),
        _ => format!("{} {thing}s", count(value)),
    }
}

/// "1 edge of a hole", "2 edges of a hole": the first word takes the plural.
pub fn several(value: usize, what: &str) -> String {
    let (thing, rest) = what.split_once(' ').unwrap_or((what, ""));
    let thing = match thing {
        // Adjectives stand before the noun that takes the plural.
        "open" | "welded" => return counted(value, what),
        _ => counted(value, thing),
    };
    format!("{thing} {rest}").trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_of_three() {
        assert_eq!(count(5), "5");
        assert_eq!(count(1234), "1 234");
        assert_eq!(count(1234567), "1 234 567");
    }

    #[test]
    fn plurals() {
        assert_eq!(counted(1, "closed shell"), "1 closed shell");
        assert_eq!(several(2, "open edge"), "2 open edges");
        assert_eq!(
            several(2, "triangle without area"),
            "2 triangles without area"
        );
        assert_eq!(several(1, "hollow"), "1 hollow");
    }

    #[test]
    fn axes_have_names() {
        assert_eq!(direction(DVec3::NEG_Z), "-z (down)");
        assert_eq!(
            direction(DVec3::new(0.6, 0.0, 0.8)),
            "(0.600, 0.000, 0.800)"
        );
    }
}
