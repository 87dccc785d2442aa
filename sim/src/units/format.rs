//! SI numbers as text: exactly for plans, rounded for reports.

use super::table::{Scale, Unit, lookup, units_of};
use super::{Dimension, parse_quantity};

/// A quantity as a plan text that reads back to the same bits.
///
/// In `unit` when that is possible, else in the dimension's SI unit (a third of an inch has no
/// decimal text of its own).
///
/// - `si`: value in SI, finite
/// - `unit`: the unit wished for, as in [`super::UNITS`]; one of another dimension is not used
pub fn exact_quantity(si: f64, dimension: Dimension, unit: &str) -> String {
    lookup(unit)
        .filter(|u| u.dimension == dimension)
        .and_then(|u| text_in(u, si))
        .or_else(|| lookup(dimension.si_unit()).and_then(|u| text_in(u, si)))
        .unwrap_or_else(|| format!("{si} {}", dimension.si_unit()))
}

/// The text in this unit that reads back to the same bits, if there is one.
fn text_in(unit: &Unit, si: f64) -> Option<String> {
    let near = match unit.scale {
        // The digits of the SI value with the point moved: always exact.
        Scale::Ten(power) => {
            let (mantissa, exponent) = scientific(si);
            let number = point_moved(&mantissa, exponent - power);
            return Some(format!("{number} {}", unit.names[0]));
        }
        other => other.from_si(si),
    };
    [near, near.next_up(), near.next_down()]
        .into_iter()
        .map(|number| {
            let (mantissa, exponent) = scientific(number);
            format!("{} {}", point_moved(&mantissa, exponent), unit.names[0])
        })
        .find(|text| {
            parse_quantity(text, unit.dimension).is_ok_and(|back| back.to_bits() == si.to_bits())
        })
}

/// Shortest digits that read back to the number, one before the point, and the power of ten.
fn scientific(number: f64) -> (String, i32) {
    let text = format!("{number:e}");
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    (mantissa.to_owned(), exponent.parse().unwrap_or(0))
}

/// Writes `mantissa · 10^exponent` (one digit before the point) without an exponent where that is short.
fn point_moved(mantissa: &str, exponent: i32) -> String {
    if !(-5..15).contains(&exponent) {
        return format!("{mantissa}e{exponent}");
    }
    let (sign, digits) = match mantissa.strip_prefix('-') {
        Some(rest) => ("-", rest.replace('.', "")),
        None => ("", mantissa.replace('.', "")),
    };
    if exponent < 0 {
        let zeros = "0".repeat(usize::try_from(-exponent - 1).unwrap_or(0));
        return format!("{sign}0.{zeros}{digits}");
    }
    let whole = usize::try_from(exponent + 1).unwrap_or(1);
    if digits.len() <= whole {
        let zeros = "0".repeat(whole - digits.len());
        format!("{sign}{digits}{zeros}")
    } else {
        format!("{sign}{}.{}", &digits[..whole], &digits[whole..])
    }
}

/// A number to so many significant digits, without an exponent between 1e-4 and 1e9.
///
/// - `value`: any; not finite ones are named
/// - `digits`: 1 to 17
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return value.to_string();
    }
    let after = digits.clamp(1, 17) - 1;
    let text = format!("{value:.after$e}");
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    if value == 0.0 {
        return "0".to_owned();
    }
    if !(-4..9).contains(&exponent) {
        return text;
    }
    let moved = point_moved(mantissa, exponent);
    if moved.contains('.') {
        moved.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        moved
    }
}

/// A length in mm, as in "301.5 mm".
pub fn mm(length_m: f64) -> String {
    format!("{} mm", significant(length_m * 1e3, 4))
}

/// A length in inch, as in "11.81 in".
pub fn inch(length_m: f64) -> String {
    format!("{} in", significant(length_m / 0.0254, 4))
}

/// A length in both, as in "300 mm (11.81 in)".
pub fn mm_and_inch(length_m: f64) -> String {
    format!("{} ({})", mm(length_m), inch(length_m))
}

/// A film thickness in nm to three digits, as in "98.2 nm".
pub fn nm(thickness_m: f64) -> String {
    format!("{} nm", significant(thickness_m * 1e9, 3))
}

/// An angle in degrees, as in "35 deg".
pub fn degrees(angle_rad: f64) -> String {
    format!("{} deg", significant(angle_rad.to_degrees(), 4))
}

/// A time as people at a machine read it: "45 s", "12:30 min", "1:05:00 h"; whole seconds.
pub fn clock(time_s: f64) -> String {
    if !time_s.is_finite() {
        return format!("{time_s} s");
    }
    let sign = if time_s < 0.0 { "-" } else { "" };
    let seconds = time_s.abs().round();
    if seconds < 60.0 {
        return format!("{} s", significant(time_s, 3));
    }
    let minutes = (seconds / 60.0).floor();
    let rest = seconds - 60.0 * minutes;
    if minutes < 60.0 {
        return format!("{sign}{minutes}:{rest:02} min");
    }
    let hours = (minutes / 60.0).floor();
    format!("{sign}{hours}:{:02}:{rest:02} h", minutes - 60.0 * hours)
}

/// A pattern (ECMA 262) that the texts of this dimension match, for editors.
pub fn quantity_pattern(dimension: Dimension) -> String {
    format!(
        "^\\s*[+\\-\u{2212}]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+\\-\u{2212}]?[0-9]+)?\\s*(?:{})\\s*$",
        spellings_pattern(dimension)
    )
}

/// A pattern (ECMA 262) that the units of this dimension match.
pub fn unit_pattern(dimension: Dimension) -> String {
    format!("^\\s*(?:{})\\s*$", spellings_pattern(dimension))
}

/// All spellings of all units of a dimension, in every code point that is known.
fn spellings_pattern(dimension: Dimension) -> String {
    let names: Vec<String> = units_of(dimension)
        .flat_map(|u| u.names)
        .map(|name| {
            let name = name
                .replace('Å', "(?:Å|\u{212b}|A\u{30a})")
                .replace("Ohm", "(?:Ohm|\u{3a9}|\u{2126})")
                .replace("deg", "(?:deg|°)")
                .replace('K', "[K\u{212a}]")
                .replace(' ', "[ ·]+")
                .replace('2', "[2²]")
                .replace('3', "[3³]");
            match name.strip_prefix('u') {
                Some(rest) => format!("[u\u{b5}\u{3bc}]{rest}"),
                None => name,
            }
        })
        .collect();
    names.join("|")
}
