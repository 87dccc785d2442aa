//! The units known, and their factors with their sources.
//!
//! Sources: SI brochure, 9th edition (2019), for prefixes, minute, hour, degree and electronvolt
//! (table 8); international yard and pound agreement of 1959 for inch and foot (1 in = 25.4 mm
//! exactly); the standard atmosphere of 101 325 Pa (10th CGPM, 1954) for the torr, 1/760 of it;
//! degree Celsius and Fahrenheit by their definitions, t/°C = T/K − 273.15 and
//! t/°F = 9/5·T/K − 459.67.

use super::{Decimal, Dimension};
use crate::constants::ELEMENTARY_CHARGE_C;
use std::f64::consts::{PI, TAU};

/// How a number in a unit becomes SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// Times a power of ten, applied to the decimal text, hence without rounding twice.
    Ten(i32),
    /// Times a factor.
    Factor(f64),
    /// (value + offset) · factor.
    Shifted {
        /// In the unit.
        offset: f64,
        /// K per unit.
        factor: f64,
    },
}

impl Scale {
    /// The number in SI; not finite when it is too large.
    pub fn to_si(self, number: &Decimal) -> f64 {
        match self {
            Self::Ten(power) => decimal(number, power),
            Self::Factor(factor) => decimal(number, 0) * factor,
            Self::Shifted { offset, factor } => (decimal(number, 0) + offset) * factor,
        }
    }

    /// The nearest number in this unit to an SI value.
    pub fn from_si(self, si: f64) -> f64 {
        match self {
            Self::Ten(power) => decimal(
                &Decimal {
                    mantissa: format!("{si}"),
                    exponent: 0,
                },
                -power,
            ),
            Self::Factor(factor) => si / factor,
            Self::Shifted { offset, factor } => si / factor - offset,
        }
    }
}

/// The f64 nearest to a decimal number times a power of ten.
fn decimal(number: &Decimal, power: i32) -> f64 {
    format!("{}e{}", number.mantissa, number.exponent + power)
        .parse()
        .unwrap_or(f64::NAN)
}

/// A unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Spellings after normalising; the first is how we write it.
    pub names: &'static [&'static str],
    /// What people write instead, for suggestions only.
    pub misspelt: &'static [&'static str],
    /// What it measures.
    pub dimension: Dimension,
    /// Its scale.
    pub scale: Scale,
}

const fn ten(
    names: &'static [&'static str],
    misspelt: &'static [&'static str],
    dimension: Dimension,
    power: i32,
) -> Unit {
    Unit {
        names,
        misspelt,
        dimension,
        scale: Scale::Ten(power),
    }
}

const fn factor(
    names: &'static [&'static str],
    misspelt: &'static [&'static str],
    dimension: Dimension,
    factor: f64,
) -> Unit {
    Unit {
        names,
        misspelt,
        dimension,
        scale: Scale::Factor(factor),
    }
}

/// One standard atmosphere by 760, Pa: the torr.
const TORR_PA: f64 = 101_325.0 / 760.0;

/// All units. µ, Å, Ω, K and ° in their various code points are normalised first, see [`normalise`].
pub const UNITS: &[Unit] = &[
    ten(
        &["m"],
        &["meter", "metre", "meters", "metres"],
        Dimension::Length,
        0,
    ),
    ten(
        &["cm"],
        &["centimeter", "centimetre"],
        Dimension::Length,
        -2,
    ),
    ten(
        &["mm"],
        &["millimeter", "millimetre"],
        Dimension::Length,
        -3,
    ),
    ten(&["um"], &["micron", "microns", "mu"], Dimension::Length, -6),
    ten(&["nm"], &["nanometer", "nanometre"], Dimension::Length, -9),
    ten(
        &["Å"],
        &["ang", "angstrom", "ångström", "ångstrom"],
        Dimension::Length,
        -10,
    ),
    // 25.4 mm exactly, 1959 agreement.
    factor(
        &["in"],
        &["inch", "inches", "\"", "″"],
        Dimension::Length,
        0.0254,
    ),
    factor(&["thou"], &["mil", "mils"], Dimension::Length, 2.54e-5),
    factor(
        &["ft"],
        &["foot", "feet", "'", "′"],
        Dimension::Length,
        0.3048,
    ),
    ten(
        &["s"],
        &["sec", "secs", "second", "seconds"],
        Dimension::Time,
        0,
    ),
    factor(
        &["min"],
        &["mins", "minute", "minutes"],
        Dimension::Time,
        60.0,
    ),
    factor(
        &["h"],
        &["hr", "hrs", "hour", "hours"],
        Dimension::Time,
        3600.0,
    ),
    factor(
        &["rpm"],
        &["r/min", "rev/min", "1/min", "turn/min"],
        Dimension::TurningSpeed,
        TAU / 60.0,
    ),
    factor(
        &["deg/s"],
        &["deg/sec"],
        Dimension::TurningSpeed,
        PI / 180.0,
    ),
    ten(&["rad/s"], &["rad/sec"], Dimension::TurningSpeed, 0),
    factor(
        &["deg"],
        &["degree", "degrees"],
        Dimension::Angle,
        PI / 180.0,
    ),
    ten(&["rad"], &["radian", "radians"], Dimension::Angle, 0),
    factor(&["turn"], &["turns", "rev", "revs"], Dimension::Angle, TAU),
    ten(&["kg"], &["kilogram"], Dimension::Mass, 0),
    ten(&["g"], &["gram", "grams", "gr"], Dimension::Mass, -3),
    ten(&["mg"], &["milligram"], Dimension::Mass, -6),
    ten(&["K"], &["kelvin"], Dimension::Temperature, 0),
    Unit {
        names: &["degC"],
        misspelt: &["c", "celsius", "deg c"],
        dimension: Dimension::Temperature,
        scale: Scale::Shifted {
            offset: 273.15,
            factor: 1.0,
        },
    },
    Unit {
        names: &["degF"],
        misspelt: &["f", "fahrenheit", "deg f"],
        dimension: Dimension::Temperature,
        scale: Scale::Shifted {
            offset: 459.67,
            factor: 5.0 / 9.0,
        },
    },
    ten(&["kg/m3"], &["kg/m^3"], Dimension::Density, 0),
    ten(
        &["g/cm3"],
        &["g/cm^3", "g/cc", "g/ml"],
        Dimension::Density,
        3,
    ),
    ten(&["g/mol"], &["u", "amu"], Dimension::MolarMass, -3),
    factor(
        &["eV"],
        &["electronvolt"],
        Dimension::Energy,
        ELEMENTARY_CHARGE_C,
    ),
    ten(&["J"], &["joule"], Dimension::Energy, 0),
    ten(&["m2"], &["m^2", "sqm"], Dimension::Area, 0),
    ten(&["cm2"], &["cm^2", "sqcm"], Dimension::Area, -4),
    ten(&["mm2"], &["mm^2", "sqmm"], Dimension::Area, -6),
    ten(&["Ohm"], &["ohms"], Dimension::Resistance, 0),
    ten(&["kOhm"], &["kohms"], Dimension::Resistance, 3),
    ten(&["Ohm m"], &["ohmm"], Dimension::Resistivity, 0),
    ten(&["uOhm cm"], &["uohmcm"], Dimension::Resistivity, -8),
    ten(&["nOhm m"], &["nohmm"], Dimension::Resistivity, -9),
    ten(&["Pa"], &["pascal"], Dimension::Pressure, 0),
    ten(&["hPa"], &[], Dimension::Pressure, 2),
    ten(&["mbar"], &["millibar"], Dimension::Pressure, 2),
    factor(&["Torr"], &["mmhg"], Dimension::Pressure, TORR_PA),
    factor(&["mTorr"], &["mt"], Dimension::Pressure, TORR_PA / 1000.0),
    ten(&["W"], &["watt", "watts"], Dimension::Power, 0),
    ten(&["kW"], &["kilowatt"], Dimension::Power, 3),
    ten(&["V"], &["volt", "volts"], Dimension::Voltage, 0),
    ten(&["A"], &["amp", "amps", "ampere"], Dimension::Current, 0),
    ten(&["mA"], &["milliamp"], Dimension::Current, -3),
    ten(&["%"], &["percent", "pct"], Dimension::Share, -2),
];

/// The unit of this normalised spelling; case counts.
pub fn lookup(normalised: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|u| u.names.contains(&normalised))
}

/// The units of a dimension.
pub fn units_of(dimension: Dimension) -> impl Iterator<Item = &'static Unit> {
    UNITS.iter().filter(move |u| u.dimension == dimension)
}

/// The units of a dimension as a list for people: "m, cm, mm".
pub fn spellings(dimension: Dimension) -> String {
    units_of(dimension)
        .map(|u| u.names[0])
        .collect::<Vec<_>>()
        .join(", ")
}

/// One spelling for all code points: micro and Greek mu, Ångström sign and letter (also composed),
/// Ohm sign and Omega, Kelvin sign, degree sign, raised 2 and 3, `·` between units; spaces single.
pub fn normalise(unit: &str) -> String {
    let mut plain = String::with_capacity(unit.len());
    for c in unit.chars() {
        match c {
            '\u{b5}' | '\u{3bc}' => plain.push('u'),
            '\u{212b}' => plain.push('Å'),
            '\u{30a}' if plain.ends_with('A') => {
                plain.pop();
                plain.push('Å');
            }
            '\u{2126}' | '\u{3a9}' => plain.push_str("Ohm"),
            '\u{212a}' => plain.push('K'),
            '\u{b0}' => plain.push_str("deg"),
            '\u{b2}' => plain.push('2'),
            '\u{b3}' => plain.push('3'),
            '\u{b7}' | '\u{22c5}' => plain.push(' '),
            other => plain.push(other),
        }
    }
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}
