//! Quantities as people write them: `"60 mm"`, `"0,67 Pa"`, `"800 Å"`.
//!
//! In: text of a plan or a command line. Out: SI numbers in f64, and text again for reports.
//! First on the road; the only place where millimetres, degrees or millitorr exist.

mod format;
mod table;
#[cfg(test)]
mod tests;

pub use format::*;
pub use table::{Scale, UNITS, Unit, lookup, spellings, units_of};

use thiserror::Error;

/// What a quantity measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// m.
    Length,
    /// s.
    Time,
    /// rad/s.
    TurningSpeed,
    /// rad.
    Angle,
    /// kg.
    Mass,
    /// K.
    Temperature,
    /// kg/m³.
    Density,
    /// kg/mol.
    MolarMass,
    /// J.
    Energy,
    /// m².
    Area,
    /// Ohm.
    Resistance,
    /// Ohm·m.
    Resistivity,
    /// Pa.
    Pressure,
    /// W.
    Power,
    /// V.
    Voltage,
    /// A.
    Current,
    /// A share of a whole: 1 is 100 %.
    Share,
}

impl Dimension {
    /// All dimensions, in the order of the enum.
    pub const ALL: [Self; 17] = [
        Self::Length,
        Self::Time,
        Self::TurningSpeed,
        Self::Angle,
        Self::Mass,
        Self::Temperature,
        Self::Density,
        Self::MolarMass,
        Self::Energy,
        Self::Area,
        Self::Resistance,
        Self::Resistivity,
        Self::Pressure,
        Self::Power,
        Self::Voltage,
        Self::Current,
        Self::Share,
    ];

    /// Name with its article, as in "a length".
    pub fn a_name(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Time => "a time",
            Self::TurningSpeed => "a turning speed",
            Self::Angle => "an angle",
            Self::Mass => "a mass",
            Self::Temperature => "a temperature",
            Self::Density => "a density",
            Self::MolarMass => "a molar mass",
            Self::Energy => "an energy",
            Self::Area => "an area",
            Self::Resistance => "a resistance",
            Self::Resistivity => "a resistivity",
            Self::Pressure => "a pressure",
            Self::Power => "a power",
            Self::Voltage => "a voltage",
            Self::Current => "a current",
            Self::Share => "a share",
        }
    }

    /// The unit in which an example of this dimension is shown to people.
    pub fn usual_unit(self) -> &'static str {
        match self {
            Self::Length => "mm",
            Self::Time => "min",
            Self::TurningSpeed => "rpm",
            Self::Angle => "deg",
            Self::Mass => "mg",
            Self::Temperature => "degC",
            Self::Density => "g/cm3",
            Self::MolarMass => "g/mol",
            Self::Energy => "eV",
            Self::Area => "mm2",
            Self::Resistance => "Ohm",
            Self::Resistivity => "nOhm m",
            Self::Pressure => "Pa",
            Self::Power => "W",
            Self::Voltage => "V",
            Self::Current => "A",
            Self::Share => "%",
        }
    }

    /// The decimal unit of this dimension in which every SI value has an exact text.
    pub fn si_unit(self) -> &'static str {
        match self {
            Self::Length => "m",
            Self::Time => "s",
            Self::TurningSpeed => "rad/s",
            Self::Angle => "rad",
            Self::Mass => "kg",
            Self::Temperature => "K",
            Self::Density => "kg/m3",
            Self::MolarMass => "g/mol",
            Self::Energy => "J",
            Self::Area => "m2",
            Self::Resistance => "Ohm",
            Self::Resistivity => "Ohm m",
            Self::Pressure => "Pa",
            Self::Power => "W",
            Self::Voltage => "V",
            Self::Current => "A",
            Self::Share => "%",
        }
    }
}

/// Why a text is no quantity of the dimension asked for.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum UnitError {
    /// Nothing in it.
    #[error("\"\" says nothing ({} belongs here); write for example \"60 {}\"", .wanted.a_name(), .wanted.usual_unit())]
    Empty {
        /// What belongs here.
        wanted: Dimension,
    },
    /// It does not begin with a number.
    #[error("\"{text}\" does not begin with a number ({} belongs here); write for example \"60 {}\"", .wanted.a_name(), .wanted.usual_unit())]
    NoNumber {
        /// The text.
        text: String,
        /// What belongs here.
        wanted: Dimension,
    },
    /// NaN or an infinity.
    #[error(
        "\"{text}\" is not a finite number (nothing can be computed from it); write a number and its unit"
    )]
    NotFinite {
        /// The text.
        text: String,
    },
    /// Too large for f64.
    #[error("\"{text}\" is too large (above 1.8e308 in {si}); check the exponent")]
    TooLarge {
        /// The text.
        text: String,
        /// The SI unit.
        si: &'static str,
    },
    /// Two decimal marks, as in a thousands separator.
    #[error(
        "\"{text}\" has two decimal marks (comma and dot both mean the decimal mark, there is no thousands separator); write one of them at most"
    )]
    TwoMarks {
        /// The text.
        text: String,
    },
    /// A number alone.
    #[error("\"{text}\" has no unit ({} needs one); write for example \"{number} {}\"", .wanted.a_name(), .wanted.usual_unit())]
    NoUnit {
        /// The text.
        text: String,
        /// A number for the example.
        number: String,
        /// What belongs here.
        wanted: Dimension,
    },
    /// A unit nobody knows here.
    #[error("\"{text}\" has the unknown unit \"{unit}\" ({} belongs here); {}", .wanted.a_name(), meant(.nearest, *.wanted))]
    UnknownUnit {
        /// The text.
        text: String,
        /// The unit as written.
        unit: String,
        /// The known unit nearest to it.
        nearest: Option<&'static str>,
        /// What belongs here.
        wanted: Dimension,
    },
    /// A unit of another dimension.
    #[error("\"{text}\" is {} ({} belongs here); use one of {}", .found.a_name(), .wanted.a_name(), spellings(*.wanted))]
    OtherDimension {
        /// The text.
        text: String,
        /// What it measures.
        found: Dimension,
        /// What belongs here.
        wanted: Dimension,
    },
}

fn meant(nearest: &Option<&'static str>, wanted: Dimension) -> String {
    match nearest {
        Some(unit) => format!("did you mean \"{unit}\"?"),
        None => format!("use one of {}", spellings(wanted)),
    }
}

/// Reads a quantity with its unit.
///
/// Number, optional space, unit; comma or dot is the decimal mark, an exponent may follow
/// (`"1e-5 Torr"`). In decimal units the result is the f64 nearest to the decimal value, so
/// that `"60 mm"` is the same number as `0.06`.
///
/// - `text`: what was written
/// - `wanted`: what it has to measure
/// - returns the value in SI (rad for angles, 1 for 100 %)
///
/// Signs are not judged here: whether a length is an extent or a position, its key knows.
///
/// # Errors
/// When `text` is no finite number followed by a known unit of that dimension.
pub fn parse_quantity(text: &str, wanted: Dimension) -> Result<f64, UnitError> {
    let (number, unit) = split(text, wanted)?;
    let Some(unit) = lookup(&unit) else {
        return Err(unknown(text, &unit, wanted));
    };
    if unit.dimension != wanted {
        return Err(UnitError::OtherDimension {
            text: shortened(text),
            found: unit.dimension,
            wanted,
        });
    }
    let value = unit.scale.to_si(&number);
    if value.is_finite() {
        Ok(value)
    } else {
        Err(UnitError::TooLarge {
            text: shortened(text),
            si: wanted.si_unit(),
        })
    }
}

/// The dimension of a text that is a quantity, whatever it measures.
pub fn dimension_of(text: &str) -> Option<Dimension> {
    let (_, unit) = split(text, Dimension::Length).ok()?;
    lookup(&unit).map(|unit| unit.dimension)
}

/// A decimal number as written: sign and digits with a dot, and a power of ten.
#[derive(Debug, Clone, PartialEq)]
pub struct Decimal {
    /// Sign, digits, at most one dot.
    pub mantissa: String,
    /// Power of ten.
    pub exponent: i32,
}

/// Splits a text into its number and its normalised unit.
fn split(text: &str, wanted: Dimension) -> Result<(Decimal, String), UnitError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(UnitError::Empty { wanted });
    }
    let (number, rest) = match take_decimal(trimmed) {
        Taken::Number(number, rest) => (number, rest),
        Taken::TwoMarks => {
            return Err(UnitError::TwoMarks {
                text: shortened(trimmed),
            });
        }
        Taken::Nothing => return Err(no_number(trimmed, wanted)),
    };
    let unit = table::normalise(rest);
    if unit.is_empty() {
        return Err(UnitError::NoUnit {
            text: shortened(trimmed),
            number: example_number(trimmed, wanted),
            wanted,
        });
    }
    Ok((number, unit))
}

/// The number for an example with a unit: the one written, as a percentage where it was a fraction.
pub fn example_number(written: &str, wanted: Dimension) -> String {
    match written.replace(',', ".").parse::<f64>() {
        Ok(share) if wanted == Dimension::Share && share.abs() <= 1.0 => {
            significant(share * 100.0, 6)
        }
        _ => shortened(written),
    }
}

fn no_number(trimmed: &str, wanted: Dimension) -> UnitError {
    let word: String = trimmed
        .trim_start_matches(['+', '-', '\u{2212}'])
        .chars()
        .take(3)
        .collect::<String>()
        .to_lowercase();
    let text = shortened(trimmed);
    if word == "nan" || word == "inf" || word.starts_with('∞') {
        UnitError::NotFinite { text }
    } else {
        UnitError::NoNumber { text, wanted }
    }
}

enum Taken<'a> {
    Number(Decimal, &'a str),
    TwoMarks,
    Nothing,
}

/// Takes sign, digits, one decimal mark and an exponent off the front of a text.
fn take_decimal(text: &str) -> Taken<'_> {
    let mut mantissa = String::new();
    let mut rest = text;
    if let Some(after) = rest.strip_prefix(['-', '\u{2212}']) {
        mantissa.push('-');
        rest = after;
    } else if let Some(after) = rest.strip_prefix('+') {
        rest = after;
    }
    let length = rest
        .bytes()
        .take_while(|b| b.is_ascii_digit() || *b == b'.' || *b == b',')
        .count();
    let (digits, after) = rest.split_at(length);
    if !digits.bytes().any(|b| b.is_ascii_digit()) {
        return Taken::Nothing;
    }
    if digits.bytes().filter(|b| !b.is_ascii_digit()).count() > 1 {
        return Taken::TwoMarks;
    }
    mantissa.push_str(&digits.replace(',', "."));
    let (exponent, after) = take_exponent(after);
    Taken::Number(Decimal { mantissa, exponent }, after)
}

/// Takes `e`, sign and digits off the front; an `e` without digits belongs to the unit, as in `eV`.
fn take_exponent(text: &str) -> (i32, &str) {
    let Some(after) = text.strip_prefix(['e', 'E']) else {
        return (0, text);
    };
    let (negative, after) = if let Some(after) = after.strip_prefix(['-', '\u{2212}']) {
        (true, after)
    } else {
        (false, after.strip_prefix('+').unwrap_or(after))
    };
    let length = after.bytes().take_while(u8::is_ascii_digit).count();
    if length == 0 {
        return (0, text);
    }
    let (digits, after) = after.split_at(length);
    // Far outside f64 either way: the exact figure no longer matters.
    let size = digits.parse::<i32>().unwrap_or(i32::MAX).min(1_000_000);
    (if negative { -size } else { size }, after)
}

fn unknown(text: &str, unit: &str, wanted: Dimension) -> UnitError {
    let folded = unit.to_lowercase();
    let nearest = units_of(wanted)
        .chain(UNITS.iter().filter(|u| u.dimension != wanted))
        .find(|u| {
            u.names
                .iter()
                .chain(u.misspelt)
                .any(|n| n.to_lowercase() == folded)
        })
        .map(|u| u.names[0]);
    UnitError::UnknownUnit {
        text: shortened(text),
        unit: shortened(unit),
        nearest,
        wanted,
    }
}

/// A text as shown in a message: at most 60 characters, control characters made visible.
pub fn shortened(text: &str) -> String {
    const MOST: usize = 60;
    let mut shown: String = text
        .chars()
        .take(MOST)
        .flat_map(|c| {
            let visible = !c.is_control();
            visible
                .then_some(c)
                .into_iter()
                .chain((!visible).then(|| c.escape_default()).into_iter().flatten())
        })
        .collect();
    if text.chars().nth(MOST).is_some() {
        shown.push('…');
    }
    shown
}
