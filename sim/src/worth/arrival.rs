//! Heat that comes with every atom of a film.
//!
//! In: binding energies, masses, temperatures. Out: joules per atom, from and to, for `worth::heat`.

use super::heat::{CHAMBER_K, STEFAN_BOLTZMANN_W_PER_M2_K4};
use crate::constants::BOLTZMANN_J_PER_K;

/// Energy of the ions of a head whose voltage is not known, eV (common practice, no source: heads run at 300 to 600 V).
pub const USUAL_ION_EV: f64 = 500.0;

/// Heat of the plasma of a head (its light, ions, electrons, its warm target) over what atoms bring, as factors.
///
/// Common practice, no source. It is the largest doubt of a head's heat: 1.5 to 3 times the floor in all.
pub const PLASMA: [f64; 2] = [0.5, 2.0];

/// Emissivity of melts and of the boats that hold them, from and to. Common practice, no source.
pub const MELT_EMISSIVITY: [f64; 2] = [0.1, 0.4];

/// Greatest share of its energy that an ion can hand over: γ = 4 M m/(M + m)².
///
/// - masses: in the same unit
pub fn transfer(ion_mass: f64, atom_mass: f64) -> f64 {
    let sum = ion_mass + atom_mass;
    4.0 * ion_mass * atom_mass / (sum * sum)
}

/// Mean energy with which sputtered atoms leave, J.
///
/// Mean of f(E) ∝ E/(E + U)³ · (1 − √((E + U)/(γ Eᵢ))) up to γ Eᵢ − U. With E + U = U eˣ and X = ln(γ Eᵢ/U), a = e^(−X/2),
/// both integrals are sums of exponentials: 2 U I₁/I₀,
/// I₁ = X − 2(1 − a²) + (1 − a⁴)/2 − a [2(1/a − 1) − 4(1 − a) + ⅔(1 − a³)],
/// I₀ = 2(1 − a²) − (1 − a⁴) − a [4(1 − a) − 4/3 (1 − a³)].
///
/// - `binding_j`: U; `most_j`: γ Eᵢ
/// - returns none where γ Eᵢ is not above U: nothing leaves
///
/// Source: M. W. Thompson, Phil. Mag. 18, 377 (1968), from memory; the integrals are derived. Neglects: gas.
pub fn mean_sputtered_j(binding_j: f64, most_j: f64) -> Option<f64> {
    if most_j <= binding_j {
        return None;
    }
    let x = (most_j / binding_j).ln();
    let a = (-0.5 * x).exp();
    let (a2, a3, a4) = (a * a, a * a * a, a * a * a * a);
    let upper = x - 2.0 * (1.0 - a2) + 0.5 * (1.0 - a4)
        - a * (2.0 * (1.0 / a - 1.0) - 4.0 * (1.0 - a) + 2.0 / 3.0 * (1.0 - a3));
    let lower = 2.0 * (1.0 - a2) - (1.0 - a4) - a * (4.0 * (1.0 - a) - 4.0 / 3.0 * (1.0 - a3));
    Some(2.0 * binding_j * upper / lower)
}

/// Heat per sputtered atom, from and to, J: binding and kinetic energy, and [`PLASMA`] times the sum of both.
///
/// - `binding_j`: U; `leaving_j`: mean kinetic energy at the source
/// - `arriving_j`: mean kinetic energy at the part where it is known; gas takes some
///
/// Source: J. A. Thornton, J. L. Lamb, Thin Solid Films 119, 87 (1984) names these parts, from memory.
pub fn sputtered_j(binding_j: f64, leaving_j: f64, arriving_j: Option<f64>) -> [f64; 2] {
    let floor_j = binding_j + leaving_j;
    let arriving_j = arriving_j.map_or(leaving_j, |known| known.min(leaving_j));
    [
        binding_j + arriving_j + PLASMA[0] * floor_j,
        floor_j + PLASMA[1] * floor_j,
    ]
}

/// Heat per evaporated atom without the glow of the melt, J: U + 2 k T.
///
/// - `binding_j`: U, which condensing sets free; `temperature_k`: of the melt
///
/// Source: mean energy of the flux out of a Maxwell gas, 2 k T (kinetic theory).
pub fn evaporated_j(binding_j: f64, temperature_k: f64) -> f64 {
    binding_j + 2.0 * BOLTZMANN_J_PER_K * temperature_k
}

/// Glow of a melt per atom that leaves it, from and to, J: ε σ (T⁴ − T_c⁴) A/q.
///
/// Light and atoms leave a flat melt by the same cosine law, hence spread alike: what a part takes of one it takes of the other.
///
/// - `area_m2`: of the melt; `rate_per_s`: q, atoms that leave it
///
/// Source: law of Stefan and Boltzmann, grey with [`MELT_EMISSIVITY`]. Neglects: the hot sides and leads of the boat, that
/// films reflect (the part is taken as black), laws other than the cosine.
pub fn glow_j(temperature_k: f64, area_m2: f64, rate_per_s: f64) -> [f64; 2] {
    let black_w_per_m2 = STEFAN_BOLTZMANN_W_PER_M2_K4 * (temperature_k.powi(4) - CHAMBER_K.powi(4));
    MELT_EMISSIVITY.map(|emissivity| emissivity * black_w_per_m2 * area_m2 / rate_per_s)
}
