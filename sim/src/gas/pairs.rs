//! Diameters of atoms in collisions: the one table that cross-sections come from.
//!
//! In: a gas and a metal. Out: cross-section, and how much it is to be doubted.

use super::Species;
use crate::metals::Metal;
use std::f64::consts::PI;

impl Species {
    /// Molar mass, kg/mol.
    ///
    /// Standard atomic weights of CIAAW as carried by the packages periodictable 2.1.0 and mendeleev 1.3.0
    /// (argon); the others from memory. Nitrogen: N₂.
    pub fn molar_mass_kg_per_mol(self) -> f64 {
        match self {
            Self::Argon => 0.039_948,
            Self::Neon => 0.020_179_7,
            Self::Krypton => 0.083_798,
            Self::Xenon => 0.131_293,
            Self::Nitrogen => 0.028_013_4,
        }
    }

    /// Diameter as a hard sphere, m: that which gives the gas its viscosity η at 273.15 K.
    ///
    /// d² = (5/16 η) √(m k T/π) (first Chapman–Enskog approximation).
    pub fn diameter_m(self) -> f64 {
        match self {
            // η = 20.998 µPa s: E. W. Lemmon, R. T. Jacobsen, Int. J. Thermophys. 25 (2004), by CoolProp 8.0.0.
            Self::Argon => 0.364e-9,
            // η = 29.7 µPa s, from memory.
            Self::Neon => 0.259e-9,
            // η = 23.3 µPa s, from memory.
            Self::Krypton => 0.416e-9,
            // η = 21.1 µPa s, from memory.
            Self::Xenon => 0.490e-9,
            // η = 16.614 µPa s: as argon.
            Self::Nitrogen => 0.375e-9,
        }
    }

    /// Name as in the plan.
    pub fn name(self) -> &'static str {
        match self {
            Self::Argon => "argon",
            Self::Neon => "neon",
            Self::Krypton => "krypton",
            Self::Xenon => "xenon",
            Self::Nitrogen => "nitrogen",
        }
    }
}

/// Diameter of an atom of a built-in metal in collisions, m: the distance of nearest neighbours in the solid.
///
/// From memory of lattice constants at 20 °C; used for want of measured collision diameters, see [`doubt`].
pub fn metal_diameter_m(name: &str) -> Option<f64> {
    Some(match name {
        "gold" => 0.2884e-9,
        "silver" | "titanium" => 0.289e-9,
        "copper" => 0.2556e-9,
        "aluminium" => 0.286e-9,
        "chromium" => 0.25e-9,
        "nickel" => 0.249e-9,
        // graphite within a layer; between layers atoms keep 0.335 nm apart
        "carbon" => 0.142e-9,
        _ => return None,
    })
}

/// Cross-section of two hard spheres, π ((d₁ + d₂)/2)², m².
///
/// The plan's diameter of a metal comes before the table's; none if there is neither.
pub(super) fn sigma_m2(species: Species, metal: &Metal) -> Option<f64> {
    let own_m = metal.diameter_m.or_else(|| metal_diameter_m(&metal.name))?;
    let reach_m = 0.5 * (species.diameter_m() + own_m);
    Some(PI * reach_m * reach_m)
}

/// How far the true free path may lie from the tabulated one, as factors on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubt {
    /// Shortest.
    pub least: f64,
    /// Longest.
    pub most: f64,
}

/// Doubt of a tabulated free path.
///
/// Derived: a screened-Coulomb universal repulsive potential, closest approach head-on, gives in argon at 1 Pa
/// and 300 K for atoms of 5 eV 34.6 mm (aluminium), 28.2 (titanium), 25.4 (copper), 21.0 (silver), 17.3 (gold) and for
/// atoms of 0.5 eV 15.1, 13.0, 12.1, 10.7, 9.5 mm, where the table of nearest neighbours gives 12.5, 12.4, 13.7, 12.4, 12.4.
/// For carbon, whose diameter is a guess, one factor of two more.
pub fn doubt(metal: &str) -> Doubt {
    match metal {
        "carbon" => Doubt {
            least: 0.4,
            most: 6.0,
        },
        _ => Doubt {
            least: 0.75,
            most: 2.8,
        },
    }
}
