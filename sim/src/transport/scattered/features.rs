//! What the scattered film of a facet depends on: where it lies, and what it sees of the sky.
//!
//! In: receivers of a part. Out: [`FEATURES`] numbers each. Scattered atoms come from all sides, out of a volume, so that
//! their film varies smoothly with these, though the part's own shadow may change from one facet to the next.
//!
//! With V(ω) = 1 − exp(−d(ω)/λ), the share of what comes from a direction ω that starts before the first solid there, at
//! d(ω), film under a sky I(ω) is ∫ I V cos θ dω. A sky of low harmonics Y turns it into a sum over the integrals
//! ∫ Y V cos θ dω, one set per facet, that know all of the shadow: the transfer vectors of P.-P. Sloan, J. Kautz and
//! J. Snyder, ACM Trans. Graph. 21(3), 527 (2002), from memory, with gas in front of what shadows.

use crate::scene::{Group, Receiver};
use crate::transport::kernel::Kernel;
use crate::transport::lines::{Lines, Target};
use glam::DVec3;
use rayon::prelude::*;
use std::f64::consts::{GOLDEN_RATIO, TAU};
use std::ops::Range;

/// Numbers per facet: place (3), mean direction of what it sees (3), share of the sky, five of second order, what is
/// missing near by, of order zero and one (4), what the gas above it sees, of order zero and one (4), and seven and
/// eleven of third and fifth order.
pub(super) const FEATURES: usize = 38;
/// Those up to what the gas above it sees.
pub(super) const LOW: usize = 20;
/// The very first: what a small group of facets is fitted with.
pub(super) const FEW: usize = 7;

/// Directions looked into, all around. On the part of the `scattered` bench, silver, the fit of [`super::guide`] is then
/// off by 0.3 %, with half of them by 0.65 %, with a fourth by 0.9 %; four times as many are no better within noise.
const DIRECTIONS: u32 = 256;
/// Those looked into from the gas above: at 5 mm twice and four times as many gain nothing.
const ABOVE_DIRECTIONS: u32 = 64;
/// How far above a facet its gas is asked what it sees, in free paths, but at most half the part's diagonal and half the
/// way to what is above.
const ABOVE: f64 = 0.5;
/// How far they reach, in free paths: what is farther is hidden by the gas.
const REACH: f64 = 5.0;

/// Features of one facet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Features(pub [f32; FEATURES]);

impl Default for Features {
    fn default() -> Self {
        Self([0.0; FEATURES])
    }
}

impl Features {
    /// Of a facet that sees all of its half sky.
    ///
    /// - `place`: its middle, m
    /// - `normal`: unit vector
    #[cfg(test)]
    pub fn open(place: DVec3, normal: DVec3) -> Self {
        Self::seeing(place, &Sky::open(normal))
    }

    fn seeing(place: DVec3, sky: &Sky) -> Self {
        let [x, y, z] = place.to_array();
        let [open, bent @ ..] = sky.first;
        let [b, c, d] = bent.map(|moment| 1.5 * moment); // the normal where all is open
        let [e, f, g, h, i] = sky.second;
        let low = [x, y, z, b, c, d, open, e, f, g, h, i];
        let near = sky.missing.iter().chain(&sky.above);
        let high = sky.third.iter().chain(&sky.fifth);
        let all = low.iter().chain(near).chain(high);
        let mut features = Self::default();
        for (own, &number) in features.0.iter_mut().zip(all) {
            #[expect(clippy::cast_possible_truncation, reason = "regressors")]
            let number = number as f32;
            *own = number;
        }
        features
    }

    /// Coordinate of a space in which facets that get much the same film lie near: place, and direction times a length.
    ///
    /// - `axis`: 0 to 5
    pub fn coordinate(&self, axis: usize, length_m: f32) -> f32 {
        if axis < 3 {
            self.0[axis]
        } else {
            self.0[axis] * length_m
        }
    }
}

/// Moments over the half sky, ∫ Y V cos θ dω/π.
struct Sky {
    /// Y = 1, x, y, z.
    first: [f64; 4],
    /// Y = xy, yz, zx, x² − y², 3z² − 1.
    second: [f64; 5],
    /// Of d/λ exp(−d/λ) instead of V, Y = 1, x, y, z: near a solid gas holds fewer atoms.
    missing: [f64; 4],
    /// ∫ Y V dω/4π at a place in the gas above, Y = 1, x, y, z: as many atoms collide there as come there, so that it
    /// tells of those that make two flights in the part's own shadow.
    above: [f64; 4],
    /// As `second`, the harmonics of third and fifth order: atoms that keep their direction through collisions come
    /// out of a narrow part of the sky. Those of fourth and sixth order tell nothing more (measured, silver, 50 mm).
    third: [f64; 7],
    fifth: [f64; 11],
}

impl Sky {
    /// With nothing in the way: the harmonics at the normal times 1, 2/3 and 1/4. Source: R. Ramamoorthi and
    /// P. Hanrahan, "An efficient representation for irradiance environment maps", SIGGRAPH (2001), from memory;
    /// checked by sums over directions.
    fn open(normal: DVec3) -> Self {
        let first = linear(normal);
        Self {
            first: std::array::from_fn(|i| first[i] * if i == 0 { 1.0 } else { 2.0 / 3.0 }),
            second: quadratic(normal).map(|y| 0.25 * y),
            missing: [0.0; 4],
            above: [1.0, 0.0, 0.0, 0.0],
            // a cosine has no harmonics of odd order above the first (the same source)
            third: [0.0; 7],
            fifth: [0.0; 11],
        }
    }

    /// Takes away what a solid hides.
    ///
    /// - `share`: cos θ dω/π
    /// - `paths`: distance to it in free paths
    fn hide(&mut self, toward: DVec3, share: f64, paths: f64) {
        let gone = share * (-paths).exp();
        let first = linear(toward);
        for (sum, y) in self.first.iter_mut().zip(first) {
            *sum -= gone * y;
        }
        for (sum, y) in self.second.iter_mut().zip(quadratic(toward)) {
            *sum -= gone * y;
        }
        for (sum, y) in self.missing.iter_mut().zip(first) {
            *sum += gone * paths * y;
        }
        let (third, fifth) = odd(toward);
        for (sum, y) in self.third.iter_mut().zip(third) {
            *sum -= gone * y;
        }
        for (sum, y) in self.fifth.iter_mut().zip(fifth) {
            *sum -= gone * y;
        }
    }

    /// Takes away what a solid hides from the place above.
    ///
    /// - `share`: dω/4π
    fn hide_above(&mut self, toward: DVec3, share: f64, paths: f64) {
        let gone = share * (-paths).exp();
        for (sum, y) in self.above.iter_mut().zip(linear(toward)) {
            *sum -= gone * y;
        }
    }
}

fn linear(along: DVec3) -> [f64; 4] {
    [1.0, along.x, along.y, along.z]
}

fn quadratic(along: DVec3) -> [f64; 5] {
    let [x, y, z] = along.to_array();
    [x * y, y * z, z * x, x * x - y * y, 3.0 * z * z - 1.0]
}

/// Harmonics of third and fifth order, not normalised.
///
/// Re and Im (x + i y)^m times the m-th derivative of the Legendre polynomial at z, over its leading factors. Source:
/// D. A. Varshalovich, A. N. Moskalev, V. K. Khersonskii, "Quantum Theory of Angular Momentum" (1988), ch. 5, from
/// memory; that they are harmonics of their order is tested.
fn odd(along: DVec3) -> ([f64; 7], [f64; 11]) {
    let [x, y, z] = along.to_array();
    // powers of x + iy
    let mut turned = [[1.0, 0.0]; 6];
    for m in 1..6 {
        let [re, im] = turned[m - 1];
        turned[m] = [re * x - im * y, re * y + im * x];
    }
    let z2 = z * z;
    let of_third = [z * (5.0 * z2 - 3.0), 5.0 * z2 - 1.0, z, 1.0];
    let of_fifth = [
        z * (63.0 * z2 * z2 - 70.0 * z2 + 15.0) / 8.0,
        21.0 * z2 * z2 - 14.0 * z2 + 1.0,
        z * (3.0 * z2 - 1.0),
        9.0 * z2 - 1.0,
        z,
        1.0,
    ];
    let mut third = [0.0; 7];
    let mut fifth = [0.0; 11];
    fill(&mut third, &of_third, &turned);
    fill(&mut fifth, &of_fifth, &turned);
    (third, fifth)
}

/// Both harmonics of each m, but one where m is 0.
fn fill(all: &mut [f64], of_z: &[f64], turned: &[[f64; 2]; 6]) {
    all[0] = of_z[0];
    for (m, pair) in (1..).zip(all[1..].chunks_exact_mut(2)) {
        pair[0] = of_z[m] * turned[m][0];
        pair[1] = of_z[m] * turned[m][1];
    }
}

/// Directions spread evenly, by the golden angle. Source: R. Swinbank and R. J. Purser, Q. J. R. Meteorol. Soc. 132,
/// 1769 (2006), from memory.
fn spread(count: u32) -> Vec<DVec3> {
    (0..count)
        .map(|number| {
            let z = 1.0 - (2.0 * f64::from(number) + 1.0) / f64::from(count);
            let radius = (1.0 - z * z).sqrt();
            let angle = TAU * f64::from(number) / GOLDEN_RATIO;
            DVec3::new(radius * angle.cos(), radius * angle.sin(), z)
        })
        .collect()
}

/// Features of a range of receivers, as they lie in a configuration.
pub(super) fn features(
    lines: &Lines,
    range: Range<usize>,
    configuration: usize,
    free_path_m: f64,
) -> Vec<Features> {
    let all = [DIRECTIONS, ABOVE_DIRECTIONS].map(spread);
    let receivers = lines.scene.receivers[range].par_iter();
    let of = |receiver: &Receiver| {
        lines
            .target(receiver, configuration)
            .map(|target| {
                let group = lines.group(configuration, target.riding());
                one(group, &target, &all, free_path_m)
            })
            .unwrap_or_default()
    };
    receivers.map(of).collect()
}

fn one(
    group: &Group,
    target: &Target,
    [all, above]: &[Vec<DVec3>; 2],
    free_path_m: f64,
) -> Features {
    let (middle, _) = target.bounding_sphere();
    let kernel = &group.kernel;
    let size_m = kernel
        .bounds()
        .map_or(0.0, |(least, most)| f64::from((most - least).length()));
    let normal = target.normal();
    let own = Some(target.triangle());
    let mut look = Look {
        kernel,
        free_path_m,
        reach_m: (REACH * free_path_m).min(size_m),
    };
    let mut sky = Sky::open(normal);
    let upward = all.iter().filter(|direction| direction.dot(normal) > 0.0);
    look.around((middle, own), upward, |direction, paths| {
        let share = direction.dot(normal) * (4.0 / f64::from(DIRECTIONS));
        sky.hide(direction, share, paths);
    });
    // without gas free paths have no end
    let height_m = (ABOVE * free_path_m).min(0.5 * size_m);
    let up = kernel.first_hit(middle, normal, 2.0 * height_m, own);
    let height_m = up.map_or(height_m, |hit| height_m.min(0.5 * hit.t));
    let place = middle + normal * height_m;
    look.reach_m = (REACH * free_path_m).min(size_m + height_m);
    let share = 1.0 / f64::from(ABOVE_DIRECTIONS);
    look.around((place, None), above.iter(), |direction, paths| {
        sky.hide_above(direction, share, paths);
    });
    Features::seeing(middle, &sky)
}

/// Looks for solids in a group's frame.
struct Look<'a> {
    kernel: &'a Kernel,
    free_path_m: f64,
    reach_m: f64,
}

impl Look<'_> {
    /// Tells of every direction that is blocked, and after how many free paths.
    ///
    /// - `from`: a place, and the triangle that it lies on
    fn around<'d>(
        &self,
        from: (DVec3, Option<u32>),
        directions: impl Iterator<Item = &'d DVec3>,
        mut hidden: impl FnMut(DVec3, f64),
    ) {
        let mut eight = [DVec3::ZERO; 8];
        let mut full = 0;
        for &direction in directions {
            eight[full] = direction;
            full += 1;
            if full == 8 {
                self.together(from, &eight, &mut hidden);
                full = 0;
            }
        }
        self.together(from, &eight[..full], &mut hidden);
    }

    fn together(
        &self,
        (from, skip): (DVec3, Option<u32>),
        eight: &[DVec3],
        hidden: &mut impl FnMut(DVec3, f64),
    ) {
        let mut segments = [(from, from); 8];
        for (segment, direction) in segments.iter_mut().zip(eight) {
            segment.1 = from + *direction * self.reach_m;
        }
        let blocked = self.kernel.blocked_eight(&segments[..eight.len()], skip);
        for (bit, &direction) in eight.iter().enumerate() {
            if blocked >> bit & 1 == 1 {
                let hit = self.kernel.first_hit(from, direction, self.reach_m, skip);
                let distance_m = hit.map_or(self.reach_m, |hit| hit.t);
                hidden(direction, distance_m / self.free_path_m);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::solids;
    use crate::transport::tests::{hollow, lines_of};

    #[test]
    fn the_open_sky_is_what_directions_add_up_to() {
        let normal = DVec3::new(0.36, -0.48, 0.8);
        let open = Sky::open(normal);
        // all hidden at no distance: nothing is left of it
        let mut sky = Sky::open(normal);
        let share = 4.0 / f64::from(DIRECTIONS);
        for direction in spread(DIRECTIONS) {
            sky.hide(direction, share * direction.dot(normal).max(0.0), 0.0);
        }
        let left = sky.first.iter().chain(&sky.second);
        for (left, whole) in left.zip(open.first.iter().chain(&open.second)) {
            assert!(left.abs() < 2e-3, "{left} of {whole}");
        }
        for direction in spread(ABOVE_DIRECTIONS) {
            sky.hide_above(direction, 1.0 / f64::from(ABOVE_DIRECTIONS), 0.0);
        }
        assert!(
            sky.above.iter().all(|left| left.abs() < 5e-3),
            "{:?}",
            sky.above
        );
        // larger numbers, that change more from one direction to the next
        for left in sky.third.iter().chain(&sky.fifth) {
            assert!(left.abs() < 5e-3, "{left} of 0");
        }
        assert!((open.first[3] - 0.8 * 2.0 / 3.0).abs() < 1e-15);
    }

    #[test]
    fn within_a_ball_a_facet_and_the_gas_at_its_middle_see_what_chords_give() {
        let radius_m = 0.02;
        let scene = hollow(&solids::sphere(2.0 * radius_m));
        let lines = lines_of(&scene);
        let back = scene.parts[0].back.clone();
        // a free path as long as the way across or longer: the place above is the middle, R from everywhere
        for radii in [2.0, 8.0_f64] {
            let configuration = scene.open_configuration;
            let of = features(&lines, back.clone(), configuration, radii * radius_m);
            // chords have the length 2 R cos θ: 1 − 2 ∫ μ exp(−a μ) dμ
            let a = 2.0 / radii;
            let open = 1.0 - 2.0 * (1.0 - (-a).exp() * (1.0 + a)) / (a * a);
            let above = 1.0 - (-1.0 / radii).exp();
            for features in of.iter().step_by(97) {
                let f = features.0.map(f64::from);
                assert!((f[6] - open).abs() < 5e-3, "{} for {open}", f[6]);
                assert!((f[16] - above).abs() < 5e-4, "{} for {above}", f[16]);
                assert!(f[17..20].iter().all(|x| x.abs() < 3e-3), "{:?}", &f[17..20]);
            }
        }
    }

    #[test]
    fn harmonics_of_different_order_share_nothing() {
        let count = 20_000;
        let of = |along: DVec3| {
            let (third, fifth) = odd(along);
            [
                &linear(along)[..1],
                &linear(along)[1..],
                &quadratic(along),
                &third,
                &fifth,
            ]
            .map(<[f64]>::to_vec)
        };
        let all: Vec<[Vec<f64>; 5]> = spread(count).into_iter().map(of).collect();
        let mean = |a: (usize, usize), b: (usize, usize)| {
            let products = all.iter().map(|y| y[a.0][a.1] * y[b.0][b.1]);
            products.sum::<f64>() / f64::from(count)
        };
        let every: Vec<(usize, usize)> = (0..5)
            .flat_map(|order| (0..all[0][order].len()).map(move |i| (order, i)))
            .collect();
        for &a in &every {
            for &b in &every {
                let shared = mean(a, b) / (mean(a, a) * mean(b, b)).sqrt();
                let alone = f64::from(u8::from(a == b));
                assert!((shared - alone).abs() < 2e-3, "{a:?}, {b:?}: {shared}");
            }
        }
    }
}
