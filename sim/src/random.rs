//! Random numbers: a counter-based generator and scrambled low-discrepancy points.
//!
//! In: a seed and the number of an atom or a receiver. Out: variates that depend on nothing else, so
//! that the same seed gives the same bits on any number of threads. Used by `transport`.

mod nets;

pub use nets::{DIMENSIONS, LED, Net, Shift, TABLE_POINTS, Table};

use rand::rand_core::{Infallible, TryRng};

/// What a random stream is for; streams of different uses never share numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub enum Use {
    /// Flight of a fired atom.
    Atom = 1,
    /// Scrambling of the low-discrepancy tables.
    Scramble = 2,
    /// Shift of a table for one receiver and channel.
    Shift = 3,
    /// Pilot runs, thrown away.
    Pilot = 4,
    /// Scaling a rate to a coupon.
    Calibrate = 5,
    /// Points of probes.
    Probe = 6,
    /// Deciding how far a mesh is refined.
    Refine = 7,
    /// Why a receiver gets what it gets.
    Causes = 8,
    /// Flight of an atom fired to scale a rate.
    CalibrateAtom = 9,
    /// Flight of an atom that is scattered on its way.
    Scatter = 10,
}

/// One block of the Philox4x32-10 generator.
///
/// - `counter`, `key`: any bits
/// - returns 128 random bits
///
/// Source: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as easy as
/// 1, 2, 3", SC'11 (2011), doi 10.1145/2063384.2063405; constants and known answers from memory.
pub fn philox4x32(counter: [u32; 4], key: [u32; 2]) -> [u32; 4] {
    const M0: u64 = 0xD251_1F53; // multiplier of the paper
    const M1: u64 = 0xCD9E_8D57; // multiplier of the paper
    const W0: u32 = 0x9E37_79B9; // Weyl step, golden ratio
    const W1: u32 = 0xBB67_AE85; // Weyl step, sqrt(3) − 1
    let [mut c0, mut c1, mut c2, mut c3] = counter;
    let [mut k0, mut k1] = key;
    for _ in 0..10 {
        let (h0, l0) = wide_product(M0, c0);
        let (h1, l1) = wide_product(M1, c2);
        (c0, c1, c2, c3) = (h1 ^ c1 ^ k0, l1, h0 ^ c3 ^ k1, l0);
        k0 = k0.wrapping_add(W0);
        k1 = k1.wrapping_add(W1);
    }
    [c0, c1, c2, c3]
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "the two halves of a 64-bit product are wanted"
)]
fn wide_product(multiplier: u64, value: u32) -> (u32, u32) {
    let product = multiplier * u64::from(value);
    ((product >> 32) as u32, product as u32)
}

#[expect(clippy::cast_possible_truncation, reason = "the two halves are wanted")]
fn halves(value: u64) -> (u32, u32) {
    (value as u32, (value >> 32) as u32)
}

/// The random numbers of one atom (or one other numbered thing), in order.
#[derive(Debug, Clone)]
pub struct Stream {
    key: [u32; 2],
    counter: [u32; 4],
    block: [u32; 4],
    used: usize,
    /// Upper halves of the first variates, and which of them come next.
    lead: [u32; LED],
    next: usize,
}

impl Stream {
    /// Starts the stream of thing number `index` for a given use under a seed.
    pub fn new(seed: u64, purpose: Use, index: u64) -> Self {
        let (k0, k1) = halves(seed);
        let (lo, hi) = halves(index);
        Self {
            key: [k0, k1],
            counter: [0, purpose as u32, lo, hi],
            block: [0; 4],
            used: 4,
            lead: [0; LED],
            next: LED,
        }
    }

    /// The same, but the upper 32 bits of its first [`LED`] uniform variates may be given, as fractions of 2³².
    ///
    /// - `lead`: a point of a [`Net`]
    pub fn led(seed: u64, purpose: Use, index: u64, lead: Option<[u32; LED]>) -> Self {
        let mut stream = Self::new(seed, purpose, index);
        if let Some(lead) = lead {
            stream.lead = lead;
            stream.next = 0;
        }
        stream
    }

    /// The same, from numbers on that no thing comes to by itself.
    fn far_on(seed: u64, purpose: Use, index: u64) -> Self {
        let mut stream = Self::new(seed, purpose, index);
        stream.counter[0] = 1 << 31;
        stream
    }

    /// Next 32 random bits.
    #[inline]
    pub fn bits(&mut self) -> u32 {
        if self.used == 4 {
            self.block = philox4x32(self.counter, self.key);
            // a block makes two variates, upper halves first
            if let Some(&[first, second]) = self.lead[self.next..].first_chunk() {
                self.block[0] = first;
                self.block[2] = second;
                self.next += 2;
            }
            self.counter[0] = self.counter[0].wrapping_add(1);
            self.used = 0;
        }
        let out = self.block[self.used];
        self.used += 1;
        out
    }

    /// Next variate, uniform in (0, 1), 52 random bits.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        let bits = (u64::from(self.bits()) << 32) | u64::from(self.bits());
        ((bits >> 12) as f64 + 0.5) * 2.0_f64.powi(-52) // midpoint of 2^52 equal cells: never 0 or 1
    }

    /// Next variate, uniform in (0, 1), 32 random bits: for angles and for what is kept or rejected.
    #[inline]
    pub fn fraction(&mut self) -> f64 {
        (f64::from(self.bits()) + 0.5) * 2.0_f64.powi(-32)
    }

    /// Two variates.
    pub fn pair(&mut self) -> [f64; 2] {
        [self.uniform(), self.uniform()]
    }
}

impl TryRng for Stream {
    type Error = Infallible;

    fn try_next_u32(&mut self) -> Result<u32, Infallible> {
        Ok(self.bits())
    }

    fn try_next_u64(&mut self) -> Result<u64, Infallible> {
        Ok((u64::from(self.bits()) << 32) | u64::from(self.bits()))
    }

    fn try_fill_bytes(&mut self, target: &mut [u8]) -> Result<(), Infallible> {
        for piece in target.chunks_mut(4) {
            let bytes = self.bits().to_le_bytes();
            piece.copy_from_slice(&bytes[..piece.len()]);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn philox_gives_its_known_answers() {
        // Known-answer vectors of Random123 (kat_vectors, philox4x32 10), from memory.
        assert_eq!(
            philox4x32([0; 4], [0; 2]),
            [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8]
        );
        assert_eq!(
            philox4x32([u32::MAX; 4], [u32::MAX; 2]),
            [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]
        );
    }

    #[test]
    fn streams_of_neighbours_do_not_repeat() {
        let mut seen = std::collections::BTreeSet::new();
        for index in 0..1000 {
            let mut stream = Stream::new(1, Use::Atom, index);
            for _ in 0..8 {
                assert!(seen.insert((stream.bits(), stream.bits())));
            }
        }
    }

    #[test]
    fn a_point_of_a_net_leads_the_first_variates_and_no_more() {
        let lead = [1, 3, 5, 7, 9, 11, 13, 15].map(|sixteenths| u32::MAX / 16 * sixteenths);
        let mut led = Stream::led(4, Use::Scatter, 7, Some(lead));
        let mut free = Stream::new(4, Use::Scatter, 7);
        for upper in lead {
            let (given, own) = (led.uniform(), free.uniform());
            let least = f64::from(upper) / 2.0_f64.powi(32);
            assert!(given > least && given < least + 2.0_f64.powi(-32));
            assert!((given - own).abs() > 1e-6);
        }
        for _ in 0..9 {
            assert_eq!(led.bits(), free.bits());
        }
    }

    #[test]
    fn uniform_has_the_moments_of_a_uniform_variate() {
        let n = 200_000;
        let mut stream = Stream::new(3, Use::Atom, 9);
        let (mut s1, mut s2) = (0.0, 0.0);
        for _ in 0..n {
            let u = stream.uniform();
            assert!(u > 0.0 && u < 1.0);
            s1 += u;
            s2 += u * u;
        }
        let n = f64::from(n);
        // mean 1/2 ± 1/sqrt(12 n); mean square 1/3 ± sqrt(4/45/n)
        assert!((s1 / n - 0.5).abs() < 4.5 / (12.0 * n).sqrt());
        assert!((s2 / n - 1.0 / 3.0).abs() < 4.5 * (4.0 / 45.0 / n).sqrt());
    }
}
