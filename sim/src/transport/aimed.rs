//! Lines aimed at those pieces of a receiver that are not proved dark.
//!
//! In: the bits of a receiver ([`crate::scene::Receiver::lit`]) and variates. Out: variates whose place on the receiver
//! lies on those pieces, evenly by area. What arrives there, times their share of the area, is what arrives in all.

use crate::random::DIMENSIONS;
use crate::scene::covered::{ALL_LIT, PIECES, piece};
use glam::DVec2;

/// Where on a receiver lines end.
#[derive(Debug, Clone)]
pub(crate) enum Aimed {
    /// Anywhere.
    Anywhere,
    /// On pieces that may be lit.
    Lit(Box<Pieces>),
}

/// Some pieces of a receiver: weights of its second and third corner at their corners.
#[derive(Debug, Clone)]
pub(crate) struct Pieces(Vec<[DVec2; 3]>);

impl Aimed {
    /// Aims at the pieces whose bits are set.
    pub fn at(lit: u64) -> Self {
        if lit == ALL_LIT {
            return Self::Anywhere;
        }
        let numbers = (0..PIECES).filter(|number| lit >> number & 1 != 0);
        Self::Lit(Box::new(Pieces(numbers.map(piece).collect())))
    }

    /// Their share of the receiver's area.
    pub fn share(&self) -> f64 {
        match self {
            Self::Anywhere => 1.0,
            Self::Lit(pieces) => pieces.0.len() as f64 / f64::from(PIECES),
        }
    }
}

impl Pieces {
    /// Moves the place on the receiver, the first two variates, onto the pieces.
    ///
    /// The first picks the piece and is stretched over it. Weights w₁ = √u₀ (1 − u₁), w₂ = √u₀ u₁ belong to the variates
    /// u₀ = (w₁ + w₂)², u₁ = w₂/(w₁ + w₂).
    #[inline]
    pub fn aim(&self, mut u: [f64; DIMENSIONS]) -> [f64; DIMENSIONS] {
        let count = self.0.len() as f64;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a number from 0 to 63"
        )]
        let number = ((u[0] * count) as usize).min(self.0.len() - 1);
        let [a, b, c] = self.0[number];
        let root = (u[0] * count - number as f64).clamp(0.0, 1.0).sqrt();
        let w = a + (b - a) * (root * (1.0 - u[1])) + (c - a) * (root * u[1]);
        let sum = w.x + w.y;
        u[0] = sum * sum;
        u[1] = if sum > 0.0 { w.y / sum } else { 0.0 };
        u
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_tile_a_receiver() {
        let area = |[a, b, c]: [DVec2; 3]| 0.5 * (b - a).perp_dot(c - a);
        let all: Vec<[DVec2; 3]> = (0..PIECES).map(piece).collect();
        assert!(all.iter().all(|p| (area(*p) - 0.5 / 64.0).abs() < 1e-15));
        let holds = |[a, b, c]: [DVec2; 3], p: DVec2| {
            [(a, b), (b, c), (c, a)]
                .into_iter()
                .all(|(from, to)| (to - from).perp_dot(p - from) >= 0.0)
        };
        for k in 0..1000_u32 {
            let [u, v] = [0.618_034, 0.754_878].map(|step| (f64::from(k) * step).fract());
            let p = if u + v < 1.0 {
                DVec2::new(u, v)
            } else {
                DVec2::new(1.0 - u, 1.0 - v)
            };
            assert_eq!(
                all.iter().filter(|piece| holds(**piece, p)).count(),
                1,
                "{p}"
            );
        }
    }

    #[test]
    fn aimed_lines_end_on_lit_pieces_evenly_by_area() {
        let lit = 0x8000_0000_00F0_0103_u64;
        let Aimed::Lit(pieces) = Aimed::at(lit) else {
            panic!("some pieces are dark");
        };
        assert_eq!(pieces.0.len(), 8);
        let mut sums = vec![(0, DVec2::ZERO); 8];
        let steps = 400;
        for (i, j) in (0..steps).flat_map(|i| (0..steps).map(move |j| (i, j))) {
            let at = |k: i32| (f64::from(k) + 0.5) / f64::from(steps);
            let [u, v, ..] = pieces.aim([at(i), at(j), 0.0, 0.0, 0.0]);
            let w = DVec2::new(u.sqrt() * (1.0 - v), u.sqrt() * v);
            let inside = |[a, b, c]: &[DVec2; 3]| {
                [(a, b), (b, c), (c, a)]
                    .into_iter()
                    .all(|(from, to)| (*to - *from).perp_dot(w - *from) >= -1e-12)
            };
            let number = pieces.0.iter().position(inside).expect("on a lit piece");
            sums[number].0 += 1;
            sums[number].1 += w;
        }
        for ((count, sum), [a, b, c]) in sums.into_iter().zip(pieces.0) {
            assert_eq!(count, steps * steps / 8);
            let middle = (a + b + c) / 3.0;
            assert!((sum / f64::from(count)).distance(middle) < 1e-4);
        }
    }
}
