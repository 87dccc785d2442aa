//! Scrambled low-discrepancy points: nets, tables of them, shifts.
//!
//! In: a seed and a number. Out: points that fill the unit cube more evenly than independent ones, each of them uniform.

use super::{Stream, Use, halves, philox4x32};

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

/// Variates that a [`Net`] gives a thing.
pub const LED: usize = 8;

/// Points of the Sobol sequence in [`LED`] dimensions for things that start together, such as the atoms of one batch.
///
/// As in a [`Table`], the first 2^k points form a digital net for every k, scrambled so that each is uniform and means over
/// them are unbiased; nets of different numbers know nothing of each other.
#[derive(Debug, Clone)]
pub struct Net {
    directions: [[u32; 32]; LED],
    hashes: [u32; LED],
}

impl Net {
    /// The net of the things from number `first` on, for a use under a seed.
    pub fn new(seed: u64, purpose: Use, first: u64) -> Self {
        let mut stream = Stream::far_on(seed, purpose, first);
        Self {
            directions: directions(),
            hashes: std::array::from_fn(|_| stream.bits()),
        }
    }

    /// Point number `place`, as fractions of 2³².
    pub fn point(&self, place: u32) -> [u32; LED] {
        std::array::from_fn(|d| owen(sobol(place as usize, &self.directions[d]), self.hashes[d]))
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

/// Direction numbers of the first dimensions (Joe & Kuo 2008, table new-joe-kuo-6, from memory,
/// compared with an independent implementation in the tests).
fn directions() -> [[u32; 32]; LED] {
    // degree, inner coefficients of the primitive polynomial, initial odd numbers
    const POLYNOMIALS: [(usize, u32, &[u32]); LED - 1] = [
        (1, 0, &[1]),
        (2, 1, &[1, 3]),
        (3, 1, &[1, 3, 1]),
        (3, 2, &[1, 1, 1]),
        (4, 1, &[1, 1, 3, 3]),
        (4, 4, &[1, 3, 5, 13]),
        (5, 2, &[1, 1, 5, 5, 17]),
    ];
    let mut all = [[0; 32]; LED];
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
    fn sobol_agrees_with_an_independent_implementation() {
        // scipy.stats.qmc.Sobol(8, scramble=False), points 5, 11 and 100 (scipy 1.17 uses Joe & Kuo too;
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

    const SCIPY_5: [f64; LED] = [0.875, 0.875, 0.125, 0.375, 0.875, 0.625, 0.875, 0.375];
    const SCIPY_11: [f64; LED] = [
        0.4375, 0.5625, 0.1875, 0.6875, 0.8125, 0.0625, 0.6875, 0.6875,
    ];
    const SCIPY_100: [f64; LED] = [
        0.4140625, 0.2578125, 0.7734375, 0.7265625, 0.8828125, 0.7421875, 0.0234375, 0.4765625,
    ];

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
    fn points_of_a_net_fill_every_dimension_and_nets_differ() {
        let [one, other] = [64, 128].map(|first| Net::new(7, Use::Scatter, first));
        for dimension in 0..LED {
            let mut seen = [0; 128];
            for place in 0..128 {
                seen[(one.point(place)[dimension] >> 25) as usize] += 1;
            }
            assert!(seen.iter().all(|&n| n == 1), "dimension {dimension}");
            assert_ne!(one.point(0)[dimension], other.point(0)[dimension]);
        }
        let calibrates = Net::new(7, Use::CalibrateAtom, 64);
        assert_ne!(one.point(0), calibrates.point(0));
    }
}
