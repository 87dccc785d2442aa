//! Random numbers: a counter-based generator and scrambled low-discrepancy points.
//!
//! In: a seed and the number of an atom or a receiver. Out: variates that depend on nothing else, so
//! that the same seed gives the same bits on any number of threads. Used by `transport`.

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
        }
    }

    /// Next 32 random bits.
    #[inline]
    pub fn bits(&mut self) -> u32 {
        if self.used == 4 {
            self.block = philox4x32(self.counter, self.key);
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

/// Dimensions of a gathered sample: point on the receiver (2), point on the footprint (2), time (1).
pub const DIMENSIONS: usize = 5;

/// Largest number of points per table, a power of two.
pub const TABLE_POINTS: usize = 4096;

/// Points of one scrambling of the Sobol sequence in [`DIMENSIONS`] dimensions, as 32-bit fractions.
///
/// The first 2^k points form a digital net for every k. Shifting all points of a dimension by one
/// random XOR keeps that and makes each point uniform, so one table serves all receivers, each with
/// its own [`Shift`]: estimates are unbiased and independent from receiver to receiver.
///
/// Source: I. M. Sobol', USSR Comput. Math. Math. Phys. 7(4), 86 (1967); direction numbers of S. Joe and
/// F. Y. Kuo, SIAM J. Sci. Comput. 30, 2635 (2008); nested uniform scrambling of A. B. Owen (1995) by the
/// hash of B. Burley, J. Comput. Graph. Tech. 9(4), 1 (2020).
#[derive(Debug, Clone)]
pub struct Table {
    points: Vec<[u32; DIMENSIONS]>,
}

impl Table {
    /// Scrambling number `scrambling` under a seed, with `points` points (a power of two, at most
    /// [`TABLE_POINTS`]; more are cut off).
    pub fn new(seed: u64, purpose: Use, scrambling: u64, points: usize) -> Self {
        let mut stream = Stream::new(seed, purpose, scrambling);
        let mut hashes = [0; DIMENSIONS];
        for hash in &mut hashes {
            *hash = stream.bits();
        }
        let directions = directions();
        let points = (0..points.min(TABLE_POINTS))
            .map(|index| {
                let mut point = [0; DIMENSIONS];
                for (dimension, value) in point.iter_mut().enumerate() {
                    *value = owen(sobol(index, &directions[dimension]), hashes[dimension]);
                }
                point
            })
            .collect();
        Self { points }
    }

    /// Point `index` under a shift, each coordinate in (0, 1).
    #[inline]
    pub fn point(&self, index: usize, shift: &Shift) -> [f64; DIMENSIONS] {
        let raw = &self.points[index];
        std::array::from_fn(|d| (f64::from(raw[d] ^ shift.0[d]) + 0.5) * 2.0_f64.powi(-32))
    }
}

/// A random XOR for every dimension of a [`Table`].
#[derive(Debug, Clone, Copy)]
pub struct Shift([u32; DIMENSIONS]);

impl Shift {
    /// The shift for one thing (receiver and channel numbers) in one scrambling.
    #[inline]
    pub fn new(seed: u64, purpose: Use, scrambling: u32, (thing, channel): (u64, u32)) -> Self {
        let (k0, k1) = halves(seed);
        let (lo, hi) = halves(thing);
        let key = [k0 ^ 0x5851_F42D, k1 ^ purpose as u32]; // any constant that keeps it apart from atoms
        let first = philox4x32([lo, hi, scrambling, channel], key);
        let fifth = mix(first[0] ^ mix(first[1] ^ mix(first[2] ^ mix(first[3]))));
        Self([first[0], first[1], first[2], first[3], fifth])
    }
}

/// A bijective mixing of 32 bits (finaliser with the constants found by C. Wellons, 2018, from memory).
fn mix(mut x: u32) -> u32 {
    x ^= x >> 16;
    x = x.wrapping_mul(0x7FEB_352D);
    x ^= x >> 15;
    x = x.wrapping_mul(0x846C_A68B);
    x ^ (x >> 16)
}

/// Direction numbers of the first five dimensions (Joe & Kuo 2008, table new-joe-kuo-6, from memory,
/// compared with an independent implementation in the tests).
fn directions() -> [[u32; 32]; DIMENSIONS] {
    // degree, inner coefficients of the primitive polynomial, initial odd numbers
    const POLYNOMIALS: [(usize, u32, &[u32]); DIMENSIONS - 1] = [
        (1, 0, &[1]),
        (2, 1, &[1, 3]),
        (3, 1, &[1, 3, 1]),
        (3, 2, &[1, 1, 1]),
    ];
    let mut all = [[0; 32]; DIMENSIONS];
    for (bit, v) in all[0].iter_mut().enumerate() {
        *v = 1 << (31 - bit);
    }
    for (dimension, &(degree, inner, initial)) in POLYNOMIALS.iter().enumerate() {
        let v = &mut all[dimension + 1];
        for (bit, &m) in initial.iter().enumerate() {
            v[bit] = m << (31 - bit);
        }
        for bit in degree..32 {
            let mut value = v[bit - degree] ^ (v[bit - degree] >> degree);
            for k in 1..degree {
                if (inner >> (degree - 1 - k)) & 1 == 1 {
                    value ^= v[bit - k];
                }
            }
            v[bit] = value;
        }
    }
    all
}

fn sobol(index: usize, directions: &[u32; 32]) -> u32 {
    let mut value = 0;
    for (bit, v) in directions.iter().enumerate() {
        if (index >> bit) & 1 == 1 {
            value ^= v;
        }
    }
    value
}

/// Nested uniform scrambling: each bit is flipped depending on the bits above it.
fn owen(value: u32, seed: u32) -> u32 {
    let mut x = value.reverse_bits();
    x = x.wrapping_add(seed);
    x ^= x.wrapping_mul(0x6C50_B47C);
    x ^= x.wrapping_mul(0xB82F_1E52);
    x ^= x.wrapping_mul(0xC7AF_E638);
    x ^= x.wrapping_mul(0x8D22_F6E6);
    x.reverse_bits()
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
    fn sobol_agrees_with_an_independent_implementation() {
        // scipy.stats.qmc.Sobol(5, scramble=False), points 5, 11 and 100 (scipy 1.x uses Joe & Kuo too;
        // it runs through the points in Gray-code order, so its point i is ours number i ^ (i >> 1)).
        let directions = directions();
        let point = |i: usize| -> Vec<f64> {
            directions
                .iter()
                .map(|d| f64::from(sobol(i ^ (i >> 1), d)) / 2.0_f64.powi(32))
                .collect()
        };
        assert_eq!(point(5), SCIPY_5);
        assert_eq!(point(11), SCIPY_11);
        assert_eq!(point(100), SCIPY_100);
    }

    const SCIPY_5: [f64; 5] = [0.875, 0.875, 0.125, 0.375, 0.875];
    const SCIPY_11: [f64; 5] = [0.4375, 0.5625, 0.1875, 0.6875, 0.8125];
    const SCIPY_100: [f64; 5] = [0.4140625, 0.2578125, 0.7734375, 0.7265625, 0.8828125];

    #[test]
    fn scrambled_points_stay_a_net_in_every_dimension() {
        let table = Table::new(7, Use::Scramble, 3, 256);
        let shift = Shift::new(7, Use::Shift, 3, (12, 0));
        for dimension in 0..DIMENSIONS {
            let mut seen = [0; 256];
            for index in 0..256 {
                let value = table.point(index, &shift)[dimension];
                seen[(0..256)
                    .position(|cell| value < f64::from(cell + 1) / 256.0)
                    .unwrap()] += 1;
            }
            assert!(
                seen.iter().all(|&n| n == 1),
                "dimension {dimension} has empty cells"
            );
        }
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
