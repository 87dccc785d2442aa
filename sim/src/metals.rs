//! Metals: density, molar mass, binding and melting, with sources.
//!
//! In: a name. Out: what turns a count of atoms into a thickness. A plan's own `[[metal]]`s come
//! through [`crate::plan::Plan::metal`].
//!
//! Molar masses: standard atomic weights of CIAAW, as carried by the packages periodictable 2.1.0
//! and mendeleev 1.3.0, which agree. Densities of the bulk solid near 20 °C, source beside each.

use crate::constants::{AVOGADRO_PER_MOL, ELEMENTARY_CHARGE_C};

/// A metal as the simulation uses it.
#[derive(Debug, Clone, PartialEq)]
pub struct Metal {
    /// Name as in the plan.
    pub name: String,
    /// Bulk density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Surface binding energy U, J; sputtered atoms start with energies about it.
    pub surface_binding_j: Option<f64>,
    /// Melting point, K.
    pub melting_point_k: Option<f64>,
    /// Diameter in collisions where the plan says one, m; else `gas` has a table.
    pub diameter_m: Option<f64>,
}

impl Metal {
    /// Mass of one atom, kg: M / N_A.
    pub fn atom_mass_kg(&self) -> f64 {
        self.molar_mass_kg_per_mol / AVOGADRO_PER_MOL
    }

    /// Volume that one atom takes in the bulk, m³: M / (N_A · ρ).
    pub fn atom_volume_m3(&self) -> f64 {
        self.atom_mass_kg() / self.density_kg_per_m3
    }
}

/// Names of the metals that every plan knows, in the order in which they are listed to people.
pub fn names() -> impl Iterator<Item = &'static str> {
    BUILT_IN.iter().map(|metal| metal.0)
}

/// One of the metals that every plan knows.
pub fn built_in(name: &str) -> Option<Metal> {
    let &(name, density_kg_per_m3, molar_mass_kg_per_mol, binding_ev, melting_point_k) =
        BUILT_IN.iter().find(|metal| metal.0 == name)?;
    Some(Metal {
        name: name.to_owned(),
        density_kg_per_m3,
        molar_mass_kg_per_mol,
        surface_binding_j: Some(binding_ev * ELEMENTARY_CHARGE_C),
        melting_point_k: Some(melting_point_k),
        diameter_m: None,
    })
}

/// Name, density in kg/m³, molar mass in kg/mol, surface binding energy in eV, melting point in K.
///
/// Surface binding energies: Y. Yamamura, H. Tawara, At. Data Nucl. Data Tables 62, 149 (1996), table 1 (the column
/// U_s). Melting points at 1 atm: CRC Handbook as carried by the packages mendeleev 1.3.0 and chemicals 1.5.2.
const BUILT_IN: [(&str, f64, f64, f64, f64); 8] = [
    // Density: Neutron Data Booklet, 2nd ed.; CRC Handbook (2014) agrees.
    ("gold", 19_300.0, 0.196_966_57, 3.81, 1337.33),
    // Density: public tables of the elements (10.49 g/cm³); CRC Handbook (2014) rounds to 10.5.
    ("silver", 10_490.0, 0.107_868_2, 2.95, 1234.93),
    // Density: Neutron Data Booklet, 2nd ed.; CRC Handbook (2014) agrees.
    ("copper", 8_960.0, 0.063_546, 3.49, 1357.77),
    // Density: CRC Handbook (2014); Neutron Data Booklet 2.6989 g/cm³.
    ("aluminium", 2_700.0, 0.026_981_538, 3.39, 933.473),
    // Density: CRC Handbook (2014); Neutron Data Booklet 4.54 g/cm³.
    ("titanium", 4_506.0, 0.047_867, 4.85, 1943.15),
    // Density: Neutron Data Booklet, 2nd ed.; CRC Handbook (2014) 7.15 g/cm³.
    ("chromium", 7_190.0, 0.051_996_1, 4.10, 2180.15),
    // Density: public tables of the elements (8.908 g/cm³); CRC Handbook (2014) 8.90.
    ("nickel", 8_908.0, 0.058_693_4, 4.44, 1728.15),
    // Density: graphite, CRC Handbook (2014); evaporated carbon is looser, 1.8 to 2.1 g/cm³
    // (common practice, no source). Melting point: package chemicals 1.5.2; it sublimes below.
    ("carbon", 2_200.0, 0.012_011, 7.37, 3823.15),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_has_a_metal() {
        assert_eq!(names().count(), 8);
        for name in names() {
            assert_eq!(built_in(name).unwrap().name, name);
        }
        assert_eq!(built_in("unobtainium"), None);
    }

    #[test]
    fn a_gram_of_gold_holds_its_atoms() {
        // 1 g / 196.96657 g/mol · N_A = 3.057 444e21, worked by hand from the two constants.
        let atoms = 1e-3 / built_in("gold").unwrap().atom_mass_kg();
        assert!((atoms / 3.057_444e21 - 1.0).abs() < 1e-6, "{atoms:e}");
    }

    #[test]
    fn copper_atoms_lie_as_far_apart_as_its_lattice_says() {
        // Copper is face-centred cubic, 4 atoms per cell of edge 3.6149 Å at 20 °C (from memory):
        // volume per atom = a³/4 = 1.1810e-29 m³.
        let edge_m: f64 = 3.6149e-10;
        let volume = built_in("copper").unwrap().atom_volume_m3();
        assert!(
            (volume / (edge_m.powi(3) / 4.0) - 1.0).abs() < 0.005,
            "{volume:e}"
        );
    }
}
