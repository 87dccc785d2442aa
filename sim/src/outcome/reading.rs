//! The units in which a person reads figures. The plan keeps its own, as typed.

use super::figures::{area, significant, three, trimmed};
use serde::{Deserialize, Serialize};

/// Unit of thicknesses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FilmUnit {
    /// nm.
    #[default]
    Nanometre,
    /// Å, a tenth of a nanometre.
    Angstrom,
}

/// Unit of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LengthUnit {
    /// mm.
    #[default]
    Millimetre,
    /// in, 25.4 mm.
    Inch,
}

/// Units of films and of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Reading {
    /// Of thicknesses.
    pub film: FilmUnit,
    /// Of lengths, and squared of areas.
    pub length: LengthUnit,
}

impl Reading {
    /// Sign of the unit of thicknesses.
    pub fn film_unit(self) -> &'static str {
        match self.film {
            FilmUnit::Nanometre => "nm",
            FilmUnit::Angstrom => "Å",
        }
    }

    /// A thickness as a number of that unit.
    ///
    /// - `thickness_m`: m
    pub fn film(self, thickness_m: f64) -> f64 {
        match self.film {
            FilmUnit::Nanometre => 1e9 * thickness_m,
            FilmUnit::Angstrom => 1e10 * thickness_m,
        }
    }

    /// Sign of the unit of lengths.
    pub fn length_unit(self) -> &'static str {
        match self.length {
            LengthUnit::Millimetre => "mm",
            LengthUnit::Inch => "in",
        }
    }

    /// A length as a number of that unit.
    ///
    /// - `length_m`: m
    pub fn length(self, length_m: f64) -> f64 {
        match self.length {
            LengthUnit::Millimetre => 1e3 * length_m,
            LengthUnit::Inch => length_m / 0.0254,
        }
    }

    /// A thickness with its unit, to three digits.
    ///
    /// - `thickness_m`: m
    pub fn film_in_words(self, thickness_m: f64) -> String {
        format!("{} {}", three(self.film(thickness_m)), self.film_unit())
    }

    /// A thickness that was asked for, with its unit.
    ///
    /// - `thickness_m`: m
    pub fn asked_in_words(self, thickness_m: f64) -> String {
        format!("{} {}", trimmed(self.film(thickness_m)), self.film_unit())
    }

    /// An area with its unit: whole mm² from 10 on, in² to three digits.
    ///
    /// - `area_m2`: m²
    pub fn area_in_words(self, area_m2: f64) -> String {
        match self.length {
            LengthUnit::Millimetre => format!("{} mm²", area(1e6 * area_m2)),
            LengthUnit::Inch => format!("{} in²", significant(area_m2 / (0.0254 * 0.0254), 3)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_systems_say_the_same_length_film_and_area() {
        let other = Reading {
            film: FilmUnit::Angstrom,
            length: LengthUnit::Inch,
        };
        // exact: an inch is 25.4 mm since 1959, an ångström 0.1 nm
        assert_eq!(Reading::default().film_in_words(12.3e-9), "12.3 nm");
        assert_eq!(other.film_in_words(12.3e-9), "123 Å");
        assert_eq!(other.asked_in_words(100e-9), "1 000 Å");
        assert!((other.length(0.0508) - 2.0).abs() < 1e-12);
        assert_eq!(Reading::default().area_in_words(7823e-6), "7 823 mm²");
        assert_eq!(other.area_in_words(6.4516e-4), "1.00 in²");
    }
}
