//! How near atoms come to each other in a collision: the doubt of free paths, pair by pair.
//!
//! In: a metal, a gas. Out: how much shorter and longer than tabulated a free path may be, for `outcome::flight`.

use crate::constants::ELEMENTARY_CHARGE_C;
use crate::supply::sputter::{Ion, atomic_number};

/// e²/4πε₀, J m (CODATA 2018: 14.399 645 eV Å).
const COULOMB_J_M: f64 = 14.399_645e-10 * ELEMENTARY_CHARGE_C;
/// Bohr radius, m (CODATA 2018, digits cut).
const BOHR_M: f64 = 0.529_177_2e-10;
/// The universal screening function φ(x) = Σ c e^{−b x}: c and b.
const SCREENING: [(f64, f64); 4] = [
    (0.1818, 3.2),
    (0.5099, 0.9423),
    (0.2802, 0.4029),
    (0.028_17, 0.2016),
];
/// Energies between which sputtered atoms spend their flight, eV (our choice: an atom starts with about 5, and is nearly one
/// of the gas at 0.5).
const ENERGIES_EV: [f64; 2] = [0.5, 5.0];
/// Distances between which the closest one is searched, m.
const SEARCHED_M: [f64; 2] = [1e-12, 2e-9];

/// Closest distance of two atoms that meet head-on, m: where V(r) = Z₁Z₂e²/(4πε₀ r) φ(r/a) equals the energy between them.
///
/// a = 0.8854 a₀/(Z₁^0.23 + Z₂^0.23).
///
/// - `energy_j`: in the frame of the centre of mass
///
/// Source: J. F. Ziegler, J. P. Biersack, U. Littmark, The Stopping and Range of Ions in Solids (1985), from memory.
/// Neglects: attraction, which matters below 0.1 eV.
pub fn closest_m([z1, z2]: [f64; 2], energy_j: f64) -> f64 {
    let screening_m = 0.8854 * BOHR_M / (z1.powf(0.23) + z2.powf(0.23));
    let potential_j = |r: f64| {
        let screened = SCREENING.map(|(c, b)| c * (-b * r / screening_m).exp());
        z1 * z2 * COULOMB_J_M / r * screened.iter().sum::<f64>()
    };
    let [mut near, mut far] = SEARCHED_M;
    for _ in 0..60 {
        let middle = 0.5 * (near + far);
        if potential_j(middle) > energy_j {
            near = middle;
        } else {
            far = middle;
        }
    }
    far
}

/// How much shorter and longer a free path may truly be than one of a tabulated cross-section, as factors.
///
/// σ/(π r²) with r of [`closest_m`] for atoms of 0.5 and of 5 eV in a gas at rest, and 1 within the range.
///
/// - `gas`: a noble gas; `sigma_m2`: tabulated
/// - returns none for other gases and for metals of the plan's own
pub fn doubt(metal: &str, gas: &str, sigma_m2: f64) -> Option<[f64; 2]> {
    let (ion, (number, mass_u)) = Ion::of(gas).zip(atomic_number(metal))?;
    let share = ion.mass_u / (ion.mass_u + mass_u);
    let factors = ENERGIES_EV.map(|ev| {
        let closest_m = closest_m([number, ion.number], share * ev * ELEMENTARY_CHARGE_C);
        sigma_m2 / (std::f64::consts::PI * closest_m * closest_m)
    });
    Some([factors[0].min(1.0), factors[1].max(1.0)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::BOLTZMANN_J_PER_K;
    use std::f64::consts::PI;

    /// Free path at 1 Pa and 300 K in argon, mm.
    fn path_mm(number: f64, mass_u: f64, ev: f64) -> f64 {
        let energy_j = 39.948 / (39.948 + mass_u) * ev * ELEMENTARY_CHARGE_C;
        let closest_m = closest_m([number, 18.0], energy_j);
        1e3 * BOLTZMANN_J_PER_K * 300.0 / (PI * closest_m * closest_m)
    }

    #[test]
    fn head_on_distances_give_the_free_paths_computed_apart() {
        // aluminium, titanium, copper, silver, gold in argon: derived independently, to three digits
        for (number, mass_u, fast, slow) in [
            (13.0, 26.982, 34.6, 15.1),
            (22.0, 47.867, 28.2, 13.0),
            (29.0, 63.546, 25.4, 12.1),
            (47.0, 107.868, 21.0, 10.7),
        ] {
            for (ev, wanted) in [(5.0, fast), (0.5, slow)] {
                let found = path_mm(number, mass_u, ev);
                assert!(
                    (found / wanted - 1.0).abs() < 0.005,
                    "{number} {ev}: {found}"
                );
            }
        }
    }

    #[test]
    fn each_pair_has_its_own_doubt() {
        // silver of 0.289 nm in argon of 0.364 nm: 12.4 mm, other reckonings 10.7 to 21.0 mm
        let sigma = PI * (0.5e-9_f64 * (0.289 + 0.364)).powi(2);
        let [least, most] = doubt("silver", "argon", sigma).unwrap();
        assert!((least - 10.7 / 12.4).abs() < 0.01 && (most - 21.0 / 12.4).abs() < 0.02);
        // against heavier gas more of the energy is between the two: they come nearer
        let [_, heavy] = doubt("silver", "xenon", sigma).unwrap();
        assert!(heavy > 1.05 * most, "{heavy}");
        assert_eq!(doubt("silver", "nitrogen", sigma), None);
        assert_eq!(doubt("brass", "argon", sigma), None);
    }
}
