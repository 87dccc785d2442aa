//! What is left of the atoms of a source after a straight line in gas.
//!
//! In: a metal in the gas and its starting energies. Out: the share that has met no gas atom, against distance.

use super::{Pair, Scatter};
use crate::emission::StartEnergy;

/// Entries of the table per mean free path of very fast atoms.
const PER_PATH: f64 = 32.0;
/// Mean free paths up to which the table reaches; beyond, less than 10⁻¹⁷ is left.
const REACH: usize = 40;
/// Energies that stand for the law of starting energies.
const ENERGIES: u32 = 512;

/// Share of atoms that fly a distance without a collision.
#[derive(Debug, Clone, PartialEq)]
pub struct Survival {
    free_path_m: f64,
    /// −ln of the share at distances of free path/32; empty where it is the distance in free paths.
    depths: Vec<f64>,
}

impl Survival {
    /// The law of a source.
    ///
    /// S(d) = ⟨exp(−d/λ(v))⟩ over the starting energies; λ is one number with the two laws for checks. It is not
    /// exp(−d/⟨λ⟩): slow atoms are lost first.
    ///
    /// Source: PHYSICS.md eq. 56.
    pub fn new(pair: &Pair, energy: &StartEnergy) -> Self {
        let mut depths = Vec::new();
        if pair.scatter == Scatter::HardSphere {
            // 1/λ against weight
            let losses: Vec<(f64, f64)> = energy
                .quadrature(ENERGIES)
                .into_iter()
                .map(|(energy_j, weight)| {
                    let path_m = pair.free_path_at_m(pair.speed_of(energy_j));
                    (pair.free_path_m / path_m, weight)
                })
                .collect();
            let share = |paths: f64| -> f64 {
                losses
                    .iter()
                    .map(|(loss, w)| w * (-paths * loss).exp())
                    .sum()
            };
            depths = (0..=REACH * 32)
                .map(|entry| -share(entry as f64 / PER_PATH).ln())
                .collect();
        }
        Self {
            free_path_m: pair.free_path_m,
            depths,
        }
    }

    /// Share left after a distance, 0 to 1.
    ///
    /// - `distance_m`: at least 0
    #[inline]
    pub fn at(&self, distance_m: f64) -> f64 {
        let paths = distance_m / self.free_path_m;
        let Some(&last) = self.depths.last() else {
            return (-paths).exp();
        };
        let place = paths * PER_PATH;
        if place >= (self.depths.len() - 1) as f64 {
            return (-last - (paths - REACH as f64)).exp();
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a place in the table"
        )]
        let entry = place as usize;
        let part = place - entry as f64;
        let depth = self.depths[entry] * (1.0 - part) + self.depths[entry + 1] * part;
        (-depth).exp()
    }
}
