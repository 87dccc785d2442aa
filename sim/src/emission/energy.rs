//! Energies with which atoms leave: Thompson's spectrum of sputtering, thermal energies of what evaporates.
//!
//! In: a metal's binding energy or a temperature. Out: energies, drawn, and the density they follow.

use crate::constants::BOLTZMANN_J_PER_K;
use crate::random::Stream;

/// Law of starting energies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StartEnergy {
    /// Sputtered.
    Thompson {
        /// Surface binding energy U, J.
        binding_j: f64,
        /// Sharp upper end of the spectrum, J.
        cut_j: f64,
    },
    /// Leaving a surface or an opening of this temperature.
    Effusive {
        /// K.
        temperature_k: f64,
    },
}

impl StartEnergy {
    /// Draws an energy, J.
    ///
    /// Thompson: F(E) = (E/(E + U))² / (X/(X + U))² up to the cut X, so E = U s/(1 − s), s = √ξ X/(X + U).
    /// Effusive: the flux of a Maxwell gas through a surface, E = −k T ln(ξ₁ ξ₂), mean 2 k T.
    ///
    /// Source: M. W. Thompson, Phil. Mag. 18, 377 (1968), from memory; PHYSICS.md eqs. 53 and 54. Neglects: that the
    /// real spectrum falls off before the cut, which depends on the ion energy.
    #[inline]
    pub fn sample_j(&self, stream: &mut Stream) -> f64 {
        match *self {
            Self::Thompson { binding_j, cut_j } => {
                thompson_quantile_j(stream.uniform(), binding_j, cut_j)
            }
            Self::Effusive { temperature_k } => {
                let [a, b] = stream.pair();
                -BOLTZMANN_J_PER_K * temperature_k * (a * b).ln()
            }
        }
    }

    /// Probability density of the energy, 1/J.
    ///
    /// Thompson: 2 U E/(E + U)³ / (X/(X + U))² for E < X. Effusive: E/(kT)² · exp(−E/kT).
    pub fn pdf_per_j(&self, energy_j: f64) -> f64 {
        match *self {
            _ if energy_j < 0.0 => 0.0,
            Self::Thompson { binding_j, cut_j } => {
                if energy_j >= cut_j {
                    return 0.0;
                }
                let whole = (cut_j / (cut_j + binding_j)).powi(2);
                2.0 * binding_j * energy_j / (energy_j + binding_j).powi(3) / whole
            }
            Self::Effusive { temperature_k } => {
                let thermal_j = BOLTZMANN_J_PER_K * temperature_k;
                energy_j / (thermal_j * thermal_j) * (-energy_j / thermal_j).exp()
            }
        }
    }

    /// Energies and their weights, J and 1: a quadrature over the law, the weights adding up to 1.
    ///
    /// The midpoint rule in s = √F of Thompson's law and in √(E/kT) up to 40 kT of the effusive one, whose
    /// tail beyond is below 2·10⁻¹⁶.
    pub fn quadrature(&self, points: u32) -> Vec<(f64, f64)> {
        let middles = (0..points).map(|i| (f64::from(i) + 0.5) / f64::from(points));
        let mut all: Vec<(f64, f64)> = match *self {
            Self::Thompson { binding_j, cut_j } => middles
                .map(|s| (thompson_quantile_j(s * s, binding_j, cut_j), s))
                .collect(),
            Self::Effusive { temperature_k } => middles
                .map(|part| {
                    let root = part * 40.0_f64.sqrt();
                    let energy_j = BOLTZMANN_J_PER_K * temperature_k * root * root;
                    (energy_j, self.pdf_per_j(energy_j) * root)
                })
                .collect(),
        };
        let whole: f64 = all.iter().map(|(_, weight)| weight).sum();
        all.iter_mut().for_each(|(_, weight)| *weight /= whole);
        all
    }
}

/// Energy below which a share of sputtered atoms starts, J.
#[inline]
fn thompson_quantile_j(share: f64, binding_j: f64, cut_j: f64) -> f64 {
    let s = share.sqrt() * (cut_j / (cut_j + binding_j));
    binding_j * s / (1.0 - s)
}
