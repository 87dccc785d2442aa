//! The working gas: how far an atom flies in it and how it leaves a collision.
//!
//! In: species, pressure and temperature from `scene::lower`, and the metals that fly. Out: free paths and
//! velocities after collisions, drawn for `transport`.
//!
//! Atoms of the gas and of the metal are hard spheres with their real masses; the gas is thermal, or at rest
//! for checks. Directions are unit vectors and speeds a factor beside them: with gas at rest a speed falls
//! without limit, and a direction derived from it would be lost with it.

mod collide;
mod pairs;
mod path;
mod survival;
#[cfg(test)]
mod tests;

pub use collide::Velocity;
pub use pairs::{Doubt, doubt, metal_diameter_m};
pub use survival::Survival;

use crate::constants::{AVOGADRO_PER_MOL, BOLTZMANN_J_PER_K};
use crate::metals::Metal;
use path::Slowing;
use std::f64::consts::FRAC_1_PI;

/// A gas that a plan may name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Species {
    /// Argon.
    Argon,
    /// Neon.
    Neon,
    /// Krypton.
    Krypton,
    /// Xenon.
    Xenon,
    /// Nitrogen, N₂ as one sphere.
    Nitrogen,
}

/// How an atom is deflected by a gas atom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scatter {
    /// Hard spheres in a thermal gas.
    HardSphere,
    /// Hard spheres in a gas at rest (for checks).
    HardSphereAtRest,
    /// Isotropic in the laboratory, energy kept (for checks).
    Isotropic,
}

/// State of a gas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GasState {
    /// Species.
    pub species: Species,
    /// Pressure, Pa.
    pub pressure_pa: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// 1/(n σ) for every metal instead of what the table of pairs says, m.
    pub free_path_m: Option<f64>,
    /// Law of deflection.
    pub scatter: Scatter,
}

/// A gas and all metals that fly in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Medium {
    /// Its state.
    pub state: GasState,
    /// Gas atoms per volume, p/(k T), 1/m³.
    pub density_per_m3: f64,
    /// One entry per metal, in the order of [`crate::scene::Scene::metals`].
    pub pairs: Vec<Pair>,
}

/// A metal in the gas.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Cross-section σ in force: from the table of pairs, or 1/(n · free path) where the plan says that, m².
    pub sigma_m2: f64,
    /// 1/(n σ), m: the mean free path of an atom far faster than the gas.
    pub free_path_m: f64,
    /// Law of deflection.
    pub scatter: Scatter,
    /// M/(M + m), M the atom's mass and m the gas atom's.
    pub(crate) atom_share: f64,
    /// m/(M + m).
    pub(crate) gas_share: f64,
    /// Energy of an atom at the gas's most probable speed: (M/m) k T, J.
    pub(crate) unit_energy_j: f64,
    slowing: &'static Slowing,
}

impl Medium {
    /// The gas with the metals in it; none if a metal has no diameter and the plan gives no free path.
    ///
    /// n = p/(k T); σ = π (d_gas/2 + d_metal/2)²; 1/(n σ).
    ///
    /// Neglects: that real atoms are softer than spheres and the faster the smaller ([`doubt`]); that the gas
    /// thins out where it is hot.
    pub fn new(state: &GasState, metals: &[Metal]) -> Option<Self> {
        let density_per_m3 = state.pressure_pa / (BOLTZMANN_J_PER_K * state.temperature_k);
        let gas_mass_kg = state.species.molar_mass_kg_per_mol() / AVOGADRO_PER_MOL;
        let pair = |metal: &Metal| {
            let sigma_m2 = match state.free_path_m {
                Some(free_path_m) => 1.0 / (density_per_m3 * free_path_m),
                None => pairs::sigma_m2(state.species, metal)?,
            };
            let atom_mass_kg = metal.atom_mass_kg();
            Some(Pair {
                sigma_m2,
                free_path_m: 1.0 / (density_per_m3 * sigma_m2),
                scatter: state.scatter,
                atom_share: atom_mass_kg / (atom_mass_kg + gas_mass_kg),
                gas_share: gas_mass_kg / (atom_mass_kg + gas_mass_kg),
                unit_energy_j: atom_mass_kg / gas_mass_kg * BOLTZMANN_J_PER_K * state.temperature_k,
                slowing: path::slowing(),
            })
        };
        Some(Self {
            state: *state,
            density_per_m3,
            pairs: metals.iter().map(pair).collect::<Option<_>>()?,
        })
    }
}

impl Pair {
    /// Mean free path at a speed, m.
    ///
    /// Thermal gas: v/(n σ ⟨|v − u|⟩), shorter for slow atoms; at rest and isotropic: 1/(n σ).
    ///
    /// - `speed`: v/√(2kT/m), m the mass of a gas atom
    ///
    /// Source: PHYSICS.md eq. 50.
    #[inline]
    pub fn free_path_at_m(&self, speed: f64) -> f64 {
        match self.scatter {
            Scatter::HardSphere => self.free_path_m * self.slowing.at(speed),
            Scatter::HardSphereAtRest | Scatter::Isotropic => self.free_path_m,
        }
    }

    /// How far an atom gets before it has forgotten its direction, roughly, m: its free path over 1 − ⟨cos θ⟩.
    ///
    /// ⟨cos θ⟩ of a collision with a gas at rest is 1 − A²/3, or 2/(3A) where A = m/M is above 1 (PHYSICS.md eq. 51); with
    /// thermal gas it falls with the atom's speed y, taken as y²/(y² + ½) of that. Isotropic: 0. For sampling only.
    pub(crate) fn straight_path_m(&self, speed: f64) -> f64 {
        let ratio = self.gas_share / self.atom_share;
        let at_rest = if ratio < 1.0 {
            1.0 - ratio * ratio / 3.0
        } else {
            2.0 / (3.0 * ratio)
        };
        let kept = match self.scatter {
            Scatter::HardSphere => at_rest * speed * speed / (speed * speed + 0.5),
            Scatter::HardSphereAtRest => at_rest,
            Scatter::Isotropic => 0.0,
        };
        self.free_path_at_m(speed) / (1.0 - kept)
    }

    /// Density of directions after a collision, per steradian, where it is the same for all and the speed is kept.
    pub(crate) fn even_density(&self) -> Option<f64> {
        match self.scatter {
            Scatter::Isotropic => Some(0.25 * FRAC_1_PI),
            Scatter::HardSphere | Scatter::HardSphereAtRest => None,
        }
    }

    /// Speed at an energy, in units of √(2kT/m).
    #[inline]
    pub fn speed_of(&self, energy_j: f64) -> f64 {
        (energy_j / self.unit_energy_j).sqrt()
    }

    /// Energy at a speed, J: ½ M v² = (M/m) k T y².
    #[inline]
    pub fn energy_j(&self, speed: f64) -> f64 {
        self.unit_energy_j * speed * speed
    }
}
