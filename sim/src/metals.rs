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
