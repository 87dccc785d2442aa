//! What parts are made of, as far as heat asks.
//!
//! In: a material as the plan says it. Out: density, specific heat, emissivity, what it bears.

/// How heat runs along a wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// It stays where it arrives, for the minutes of a run.
    Stays,
    /// The part is equally warm.
    Spreads,
}

/// A material of parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// kg/m³.
    pub density_kg_per_m3: f64,
    /// J/(kg K).
    pub specific_heat_j_per_kg_k: f64,
    /// What it usually bears, K.
    pub limit_k: f64,
    /// How heat runs along it.
    pub spread: Spread,
}

use Spread::{Spreads, Stays};

/// Words it goes by, density in kg/m³, specific heat in J/(kg K), usual limit in °C, spread.
///
/// Densities and specific heats: data sheets and handbooks, from memory, good to a tenth (natural forms to a half). Limits:
/// common practice, no source: somewhat below where it softens, and for metals where glue and solder give way.
const MATERIALS: [(&[&str], f64, f64, f64, Spread); 10] = [
    (&["resin"], 1150.0, 1500.0, 50.0, Stays),
    (&["pla"], 1240.0, 1800.0, 50.0, Stays),
    (&["abs", "asa"], 1050.0, 1400.0, 80.0, Stays),
    (&["petg", "pet"], 1270.0, 1200.0, 65.0, Stays),
    (
        &["nylon", "polyamide", "pa12", "pa6"],
        1050.0,
        1700.0,
        80.0,
        Stays,
    ),
    (&["glass"], 2300.0, 830.0, 200.0, Stays),
    (&["brass"], 8500.0, 380.0, 150.0, Spreads),
    (&["aluminium", "aluminum"], 2700.0, 897.0, 150.0, Spreads),
    (&["steel"], 7850.0, 490.0, 200.0, Spreads),
    (
        &[
            "wood", "leaf", "shell", "bone", "seed", "flower", "feather", "cone",
        ],
        600.0,
        1700.0,
        60.0,
        Stays,
    ),
];

/// Emissivity of plastics, glass and wood where the plan says none, from and to.
///
/// Common practice, no source: bare they have 0.8 to 0.95; the coated side is a mirror to heat, so that little more than
/// the other side radiates.
const DULL: [f64; 2] = [0.4, 0.9];

/// The same of bare and coated metals. Common practice, no source.
const BRIGHT: [f64; 2] = [0.05, 0.2];

impl Material {
    /// The material of a name such as "printing resin" or "borosilicate glass"; none where no word is known.
    pub fn of(said: &str) -> Option<Self> {
        let said = said.to_lowercase();
        let words: Vec<&str> = said.split(|c: char| !c.is_alphanumeric()).collect();
        let known = MATERIALS
            .iter()
            .find(|known| known.0.iter().any(|word| words.contains(word)))?;
        let &(_, density_kg_per_m3, specific_heat_j_per_kg_k, limit_c, spread) = known;
        Some(Self {
            density_kg_per_m3,
            specific_heat_j_per_kg_k,
            limit_k: limit_c + 273.15,
            spread,
        })
    }

    /// Emissivity where the plan says none, from and to.
    pub fn emissivity(&self) -> [f64; 2] {
        match self.spread {
            Stays => DULL,
            Spreads => BRIGHT,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn materials_are_known_by_a_word_of_their_name() {
        for said in [
            "printing resin",
            "PLA",
            "Borosilicate glass",
            "stainless steel",
            "beech wood",
        ] {
            assert!(Material::of(said).is_some(), "{said}");
        }
        assert_eq!(Material::of("unobtainium"), None);
        assert_eq!(Material::of("plaster"), None);
        assert_eq!(Material::of("glass-filled nylon"), Material::of("nylon"));
    }

    #[test]
    fn a_mole_of_metal_atoms_takes_three_r() {
        // Dulong and Petit: 24.9 J/(mol K), within a tenth near room temperature for all three
        for (said, molar_mass_kg_per_mol) in [
            ("aluminium", 26.98e-3),
            ("brass", 64.2e-3),
            ("steel", 55.85e-3),
        ] {
            let molar =
                Material::of(said).unwrap().specific_heat_j_per_kg_k * molar_mass_kg_per_mol;
            assert!((molar / 24.9 - 1.0).abs() < 0.11, "{said}: {molar}");
        }
    }
}
