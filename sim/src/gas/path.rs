//! Free paths in a thermal gas against speed.
//!
//! In: a speed in units of √(2kT/m). Out: the free path as a share of that of a very fast atom.

use std::f64::consts::PI;
use std::sync::LazyLock;

/// Entries of the table per unit of speed.
const PER_UNIT: usize = 256;
/// Speed up to which the table reaches; beyond it exp(−y²) < 2·10⁻²⁸ and erf y is 1.
const LAST: usize = 8;

/// Mean speed at which an atom meets gas atoms, ⟨|v − u|⟩/√(2kT/m).
///
/// g(y) = (y + 1/(2y)) erf y + exp(−y²)/√π
///
/// - `y`: speed of the atom, v/√(2kT/m), at least 0
///
/// Source: derived, PHYSICS.md eq. 50 (an integral over the Maxwell distribution).
pub(crate) fn mean_relative_speed(y: f64) -> f64 {
    if y < 1e-4 {
        return 2.0 / PI.sqrt() * (1.0 + y * y / 3.0); // its series; the next term is below 10⁻¹⁷
    }
    (y + 0.5 / y) * libm::erf(y) + (-y * y).exp() / PI.sqrt()
}

/// The free path's share y/g(y), tabulated: linear between entries, right to 6·10⁻⁶ of itself.
#[derive(Debug, PartialEq)]
pub(crate) struct Slowing([f64; LAST * PER_UNIT + 2]);

impl Slowing {
    /// Free path over that of a very fast atom at a speed.
    #[inline]
    pub fn at(&self, y: f64) -> f64 {
        let place = y * PER_UNIT as f64;
        if place >= (LAST * PER_UNIT) as f64 {
            return 1.0 / (1.0 + 0.5 / (y * y));
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a speed from 0 to 8 times 256"
        )]
        let entry = place as usize;
        let (low, high) = (self.0[entry], self.0[entry + 1]);
        low + (place - entry as f64) * (high - low)
    }
}

static SLOWING: LazyLock<Slowing> = LazyLock::new(|| {
    Slowing(std::array::from_fn(|entry| {
        let y = entry as f64 / PER_UNIT as f64;
        y / mean_relative_speed(y)
    }))
});

/// The table.
pub(crate) fn slowing() -> &'static Slowing {
    &SLOWING
}
