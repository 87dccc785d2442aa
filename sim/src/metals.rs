//! Metals: density and molar mass, with sources.

/// A metal as the simulation uses it.
#[derive(Debug, Clone, PartialEq)]
pub struct Metal {
    /// Name as in the plan.
    pub name: String,
    /// Bulk density, kg/m³.
    pub density_kg_per_m3: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
}

/// Name, bulk density at room temperature in kg/m³ (common handbook values) and standard atomic weight in
/// kg/mol (IUPAC/CIAAW, abridged) of the metals that every plan may use.
const BUILT_IN: [(&str, f64, f64); 8] = [
    ("gold", 19_300.0, 0.196_966_57),
    ("silver", 10_490.0, 0.107_868_2),
    ("copper", 8_960.0, 0.063_546),
    ("aluminium", 2_700.0, 0.026_981_538),
    ("titanium", 4_506.0, 0.047_867),
    ("chromium", 7_190.0, 0.051_996_1),
    ("nickel", 8_908.0, 0.058_693_4),
    ("carbon", 2_200.0, 0.012_011),
];

/// Names of the built-in metals.
pub fn names() -> impl Iterator<Item = &'static str> {
    BUILT_IN.iter().map(|metal| metal.0)
}

/// A built-in metal by its name in the plan.
pub fn built_in(name: &str) -> Option<Metal> {
    let &(name, density_kg_per_m3, molar_mass_kg_per_mol) =
        BUILT_IN.iter().find(|metal| metal.0 == name)?;
    Some(Metal {
        name: name.to_owned(),
        density_kg_per_m3,
        molar_mass_kg_per_mol,
    })
}
