//! Evaporation: vapour pressures, and the atoms that leave a melt at a temperature.
//!
//! Source: C. B. Alcock, V. P. Itkin, M. K. Horrigan, Can. Metall. Q. 23, 309 (1984): equations and coefficients, good to
//! 5 %. The coefficients of liquid aluminium were read in public material, the others are from memory; all of them
//! reproduce the tabulated values of the package thermo 0.6.1 (which carries that paper) to 4 %, chromium, which the
//! package lacks, the temperature of 1 Pa in the CRC Handbook to 3 K.

use crate::constants::{AVOGADRO_PER_MOL, BOLTZMANN_J_PER_K};
use std::f64::consts::PI;

/// One standard atmosphere, Pa; exact.
const ATMOSPHERE_PA: f64 = 101_325.0;

/// Coefficients A, B, C, D of log₁₀(p/atm) = A + B/T + C log₁₀ T + D·10⁻³ T.
type Coefficients = [f64; 4];

/// A metal's vapour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vapour {
    melting_point_k: f64,
    solid: Option<Coefficients>,
    liquid: Option<Coefficients>,
}

/// Name, melting point in K (CRC Handbook as carried by the packages mendeleev 1.3.0 and chemicals 1.5.2), solid, liquid.
#[rustfmt::skip]
const VAPOURS: [(&str, f64, Option<Coefficients>, Option<Coefficients>); 7] = [
    ("gold", 1337.33, Some([9.152, -19343.0, -0.7479, 0.0]), Some([5.832, -18024.0, 0.0, 0.0])),
    ("silver", 1234.93, Some([9.127, -14999.0, -0.7845, 0.0]), Some([5.752, -13827.0, 0.0, 0.0])),
    ("copper", 1357.77, Some([9.123, -17748.0, -0.7317, 0.0]), Some([5.849, -16415.0, 0.0, 0.0])),
    ("aluminium", 933.473, Some([9.459, -17342.0, -0.7927, 0.0]), Some([5.911, -16211.0, 0.0, 0.0])),
    ("titanium", 1941.0, Some([11.925, -24991.0, -1.3376, 0.0]), Some([6.358, -22747.0, 0.0, 0.0])),
    ("chromium", 2180.15, Some([6.800, -20733.0, 0.4391, -0.4094]), None),
    ("nickel", 1728.15, Some([10.557, -22606.0, -0.8717, 0.0]), Some([6.666, -20765.0, 0.0, 0.0])),
];

impl Vapour {
    /// The vapour of a built-in metal; none for carbon, which sublimes as clusters.
    pub fn of(metal: &str) -> Option<Self> {
        let &(_, melting_point_k, solid, liquid) = VAPOURS.iter().find(|known| known.0 == metal)?;
        Some(Self {
            melting_point_k,
            solid,
            liquid,
        })
    }

    /// Equilibrium pressure, Pa.
    ///
    /// - `temperature_k`: K
    /// - returns none where the paper gives no equation for that phase
    pub fn pressure_pa(&self, temperature_k: f64) -> Option<f64> {
        let melted = temperature_k >= self.melting_point_k;
        let [a, b, c, d] = if melted { self.liquid } else { self.solid }?;
        let t = temperature_k;
        Some(ATMOSPHERE_PA * 10_f64.powf(a + b / t + c * t.log10() + d * 1e-3 * t))
    }
}

/// Atoms that leave a surface into a vacuum, per area and time: p/√(2π m k T) (Hertz and Knudsen).
///
/// - `pressure_pa`: equilibrium pressure
/// - `molar_mass_kg_per_mol`: of the atoms that leave
/// - returns 1/(m² s); metals evaporate with a coefficient near 1, which is assumed
pub fn hertz_knudsen_per_m2_s(
    pressure_pa: f64,
    molar_mass_kg_per_mol: f64,
    temperature_k: f64,
) -> f64 {
    let atom_kg = molar_mass_kg_per_mol / AVOGADRO_PER_MOL;
    pressure_pa / (2.0 * PI * atom_kg * BOLTZMANN_J_PER_K * temperature_k).sqrt()
}

/// How much more or less would leave if the temperature were off by one part in a hundred, as a factor.
///
/// - returns p(1.01 T)/p(T); none outside the equations
pub fn factor_per_percent(vapour: &Vapour, temperature_k: f64) -> Option<f64> {
    Some(vapour.pressure_pa(1.01 * temperature_k)? / vapour.pressure_pa(temperature_k)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hertz_knudsen_constant_is_that_of_handbooks() {
        // 2.634777e24 p(Pa)/√(M(g/mol) T(K)) per m² and s: derived from the exact constants
        let flux = hertz_knudsen_per_m2_s(1.0, 1e-3, 1.0);
        assert!((flux / 2.634_777e24 - 1.0).abs() < 1e-6, "{flux:e}");
        // 5.834e-2 p(Torr) √(M/T) g/(cm² s) in handbooks, from memory: 4 digits
        let grams = flux / AVOGADRO_PER_MOL * 1e-4 * 133.322_368;
        assert!((grams / 5.834e-2 - 1.0).abs() < 3e-4, "{grams}");
    }

    #[test]
    fn pressures_meet_where_a_metal_melts() {
        for (name, melting_point_k, solid, liquid) in VAPOURS {
            if solid.is_some() && liquid.is_some() {
                let vapour = Vapour::of(name).unwrap();
                let [below, above] =
                    [-1e-3, 1e-3].map(|off| vapour.pressure_pa(melting_point_k + off).unwrap());
                // both equations are good to 5 %
                assert!((above / below - 1.0).abs() < 0.1, "{name}: {below} {above}");
            }
        }
        assert_eq!(Vapour::of("chromium").unwrap().pressure_pa(2300.0), None);
        assert_eq!(Vapour::of("carbon"), None);
    }
}
