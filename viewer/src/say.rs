//! Where words go: stdout for what was asked for, stderr for everything else; and numbers as words.
//!
//! A reader that closes its end (`evenfall schema | head -1`) ends nothing with a panic.

use glam::DVec3;
use std::io::{ErrorKind, Write};

use crate::failure::Failure;

/// Writes what was asked for to stdout, with a final line feed.
///
/// A closed pipe is no failure: the reader had enough.
///
/// # Errors
/// When stdout cannot take it, as on a full disk.
pub fn answer(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    let written = stdout
        .write_all(text.as_bytes())
        .and_then(|()| {
            if text.ends_with('\n') {
                Ok(())
            } else {
                stdout.write_all(b"\n")
            }
        })
        .and_then(|()| stdout.flush());
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

/// A number with as many digits as its size deserves: three significant, no exponent in between.
pub fn number(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 {
        "0".to_owned()
    } else if !value.is_finite() {
        "unknown".to_owned()
    } else if !(1e-3..1e6).contains(&size) {
        format!("{value:.2e}")
    } else {
        let digits = if size >= 100.0 {
            0
        } else if size >= 10.0 {
            1
        } else if size >= 1.0 {
            2
        } else if size >= 0.1 {
            3
        } else if size >= 0.01 {
            4
        } else {
            5
        };
        let text = format!("{value:.digits$}");
        match text.contains('.') {
            true => text
                .trim_end_matches('0')
                .trim_end_matches('.')
                .to_owned(),
            false => text,
        }
    }
}

/// A length in mm and inch.
pub fn length(metres: f64) -> String {
    format!(
        "{} mm ({} in)",
        number(metres * 1e3),
        number(metres / 0.0254)
    )
}

/// Three lengths in mm and inch.
pub fn extent(metres: DVec3) -> String {
    let triple = |factor: f64| {
        [metres.x, metres.y, metres.z]
            .map(|value| number(value * factor))
            .join(" × ")
    };
    format!("{} mm ({} in)", triple(1e3), triple(1.0 / 0.0254))
}

/// A point in mm.
pub fn point(metres: DVec3) -> String {
    let [x, y, z] = [metres.x, metres.y, metres.z].map(|value| number(value * 1e3));
    format!("({x}, {y}, {z}) mm")
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
    let [x, y, z] = [unit.x, unit.y, unit.z].map(|value| format!("{value:.3}"));
    format!("({x}, {y}, {z})")
}

/// A time as seconds below two minutes, else as h:mm:ss or m:ss.
pub fn duration(seconds: f64) -> String {
    if !(seconds.is_finite() && seconds < 1e9) {
        return format!("{} s", number(seconds));
    }
    if seconds < 120.0 {
        return format!("{} s", number(seconds));
    }
    let whole = seconds.round();
    let hours = (whole / 3600.0).floor();
    let minutes = ((whole - 3600.0 * hours) / 60.0).floor();
    let rest = whole - 3600.0 * hours - 60.0 * minutes;
    if hours > 0.0 {
        format!("{hours:.0}:{minutes:02.0}:{rest:02.0} h")
    } else {
        format!("{minutes:.0}:{rest:02.0} min")
    }
}

/// Angles in degrees, several joined.
pub fn angles(radians: &[f64]) -> String {
    radians
        .iter()
        .map(|angle| format!("{}°", number(angle.to_degrees())))
        .collect::<Vec<_>>()
        .join(", ")
}

/// A share as a percentage.
pub fn percent(share: f64) -> String {
    format!("{} %", number(share * 100.0))
}

/// A whole number with thin groups of three, as in 1 234 567.
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

/// "1 triangle", "2 triangles".
pub fn counted(value: usize, thing: &str) -> String {
    let plural = if value == 1 { "" } else { "s" };
    format!("{} {thing}{plural}", count(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_three_digits() {
        assert_eq!(number(0.0), "0");
        assert_eq!(number(12.34), "12.3");
        assert_eq!(number(100.0), "100");
        assert_eq!(number(2.50), "2.5");
        assert_eq!(number(0.001234), "0.00123");
        assert_eq!(number(-4.0), "-4");
        assert_eq!(number(6.02e23), "6.02e23");
    }

    #[test]
    fn an_inch_is_25_4_mm() {
        assert_eq!(length(0.0254), "25.4 mm (1 in)");
    }

    #[test]
    fn times_read_like_a_clock() {
        assert_eq!(duration(90.0), "90 s");
        assert_eq!(duration(720.0), "12:00 min");
        assert_eq!(duration(3661.0), "1:01:01 h");
    }

    #[test]
    fn groups_of_three() {
        assert_eq!(count(5), "5");
        assert_eq!(count(1234), "1 234");
        assert_eq!(count(1234567), "1 234 567");
    }
}
