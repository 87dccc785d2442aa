//! Lines through one point, at blocks of triangles.
//!
//! In: the point, and lines to it that run much alike. Out: for a block a bit for each triangle that a line may meet, and
//! one for each that it surely meets between its ends, as [`super::sift`] gives them for a line alone, for less.
//!
//! Seen from the point, an edge from A to B is the plane with normal A × (B − A), and a line with direction d passes on one side of it or
//! on the other by the sign of d · (A × (B − A)): the normals are worked out once for all lines. Space is sheared along one of the
//! lines first, so that this one has direction (0, 0, 1), the axis that it follows most last; the others have (p, q, 1) with small p
//! and q, and their sides are p n₁ + q n₂ + n₃.
//!
//! **Bound.** Edges are divided by L, their longest coordinate. With u = 2⁻²⁴, ρ for the largest coordinate of A, M for the largest
//! across in the sheared space, slopes up to σ of the line and p, q up to τ: the point is subtracted as the sum of two numbers
//! of single precision, so A is off by a = 2uρ for the two roundings; across, sheared, by e = a (1 + σ) + uσρ, and uM for its
//! rounding. Edges are off by 2u, across by 4u (1 + σ). So n₃ is off by (1 + σ) (2e + 13uM), n₁ and n₂ by
//! e + a (1 + σ) + 6uM + 7uρ (1 + σ), and at most M + ρ (1 + σ). p and q are off by 4u of themselves, and the sum has three
//! roundings. All in all
//!
//! 2 (1 + σ) e + 2τ (e + a (1 + σ)) + 28uτρ (1 + σ) + uM (19 (1 + σ) + 26τ),
//!
//! with half as much again in hand. All of it goes as A's own ρ and M, so what is off does not grow with the scene, nor
//! with how far from its middle the part lies; the sum of the two is divided out beside L. The two numbers leave u² of the
//! point, so ρ counts as 2⁻²⁰ scenes at least (scene: largest coordinate of triangles, starts and the point), of which that is a
//! thirty-second. An edge without length makes no number, which rules nothing out.

use super::eight::Eight;
use super::layout::Block;
use super::packet::RAYS;
use super::ray::greater;
use super::sift::INSIDE;
use crate::lanes::{Four, LANES};
use glam::DVec3;
use wide::f32x8;

/// Slopes up to which lines count as running alike.
const STEEPEST: f32 = 2.0;
/// Least distance from the point that counts, in scenes.
const LEAST: f32 = 1.0 / (1u32 << 20) as f32;
/// Half as much again as 2⁻²⁴.
const ROUNDING: f32 = 1.5 / (1u32 << 24) as f32;

/// Lines through one point.
#[derive(Debug)]
pub(super) struct Pencil {
    /// Cross axes, and the axis along.
    axes: [usize; 3],
    /// The point, by those: its numbers rounded, and what they lack.
    apex: [[f32; 2]; 3],
    /// Minus the slopes over the cross axes of the line along which space is sheared.
    shear: [f32; 2],
    /// Slopes of the lines over the cross axes in that space.
    slopes: [[f32; RAYS]; 2],
    /// Along, from the point: what lies between these is between the ends of a line, and away from them.
    between: [[f32; RAYS]; 2],
    /// How far off sides of edges are per distance from the point; how much more of that away from the line, and the least
    /// distance that counts.
    doubt: f32,
    more: f32,
    least: f32,
}

/// A block as the point sees it.
pub(super) struct Faced<E> {
    /// Normals of the planes through the point and the edges.
    normals: [[E; 3]; 3],
    /// Least and greatest coordinate along.
    along: [E; 2],
}

/// Eight lines to one place.
#[derive(Clone, Copy)]
pub(super) struct Eightfold<'a> {
    pub to: DVec3,
    /// Their starts, by axis.
    pub from: &'a [[f64; RAYS]; 3],
    /// The same in single precision, and the ways.
    pub start: &'a [f32x8; 3],
    pub way: &'a [f32x8; 3],
}

impl Pencil {
    /// None if the lines run too unlike.
    ///
    /// - `size`: largest coordinate of triangles
    #[inline(always)]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "rounding of the point is in the bound"
    )]
    pub fn new<F: Four>(lines: Eightfold, size: f32) -> Option<Self> {
        let Eightfold { start, way, .. } = lines;
        let first = [
            way[0].as_array()[0],
            way[1].as_array()[0],
            way[2].as_array()[0],
        ];
        let [x, y, z] = [first[0].abs(), first[1].abs(), first[2].abs()];
        let long = if z > x && z > y {
            2
        } else {
            usize::from(y > x)
        };
        let axes = [(long + 1) % 3, (long + 2) % 3, long];
        let per = f32x8::ONE / way[long];
        let steep = [first[axes[0]] / first[long], first[axes[1]] / first[long]];
        let slopes = [
            lines.off::<F>([axes[0], long], steep[0]) * per,
            lines.off::<F>([axes[1], long], steep[1]) * per,
        ];
        let sigma = greater(steep[0].abs(), steep[1].abs());
        let tau = greatest(slopes[0].abs().fast_max(slopes[1].abs()));
        if !(sigma <= STEEPEST && tau <= STEEPEST) {
            return None;
        }
        let starts = start[0].abs().fast_max(start[1].abs());
        let starts = greatest(starts.fast_max(start[2].abs()));
        let apex = lines.to.to_array().map(|x| {
            let rounded = x as f32;
            [rounded, (x - f64::from(rounded)) as f32]
        });
        let far = greater(
            greater(apex[0][0].abs(), apex[1][0].abs()),
            apex[2][0].abs(),
        );
        let scale = greater(greater(size, far), starts);
        let slope = 1.0 + sigma;
        let across = 2.0 * slope + sigma;
        let doubt = 2.0 * slope * across + 2.0 * tau * (across + 2.0 * slope) + 28.0 * tau * slope;
        let near = f32x8::splat(INSIDE * scale);
        let other = start[long] - f32x8::splat(apex[long][0]);
        let low = other.fast_min(f32x8::ZERO) + near;
        let high = other.fast_max(f32x8::ZERO) - near;
        Some(Self {
            axes,
            apex: axes.map(|axis| apex[axis]),
            shear: [-steep[0], -steep[1]],
            slopes: [slopes[0].to_array(), slopes[1].to_array()],
            between: [low.to_array(), high.to_array()],
            doubt: doubt * ROUNDING,
            more: (19.0 * slope + 26.0 * tau) / doubt,
            least: LEAST * scale,
        })
    }

    /// A block as the point sees it.
    #[inline(always)]
    pub fn face<E: Eight>(&self, block: &Block) -> Faced<E> {
        let [x, y, z] = self.axes;
        let (xs, ys, zs) = (&block.corners[x], &block.corners[y], &block.corners[z]);
        let a = [E::load(&xs[0]), E::load(&ys[0]), E::load(&zs[0])];
        let b = [E::load(&xs[1]), E::load(&ys[1]), E::load(&zs[1])];
        let c = [E::load(&xs[2]), E::load(&ys[2]), E::load(&zs[2])];
        let (e, f, g) = (difference(b, a), difference(c, b), difference(a, c));
        let [x, y, z] = self.apex;
        let rounded = [E::splat(x[0]), E::splat(y[0]), E::splat(z[0])];
        let rest = [E::splat(x[1]), E::splat(y[1]), E::splat(z[1])];
        // no closures: what is not inlined has no wide instructions
        let a = difference(difference(a, rounded), rest);
        let b = difference(difference(b, rounded), rest);
        let c = difference(difference(c, rounded), rest);
        Faced {
            normals: [self.normal(a, e), self.normal(b, f), self.normal(c, g)],
            along: [a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2])],
        }
    }

    /// The normal of the plane through the point and an edge from a, in the sheared space.
    #[inline(always)]
    fn normal<E: Eight>(&self, a: [E; 3], edge: [E; 3]) -> [E; 3] {
        let longest = edge[0].abs().max(edge[1].abs()).max(edge[2].abs());
        let far = a[0].abs().max(a[1].abs()).max(a[2].abs());
        let (a, edge) = (self.sheared(a), self.sheared(edge));
        let away = a[0].abs().max(a[1].abs());
        let doubt = away.times_plus(E::splat(self.more), far.max(E::splat(self.least)));
        let per = E::splat(1.0).over(longest.times(doubt));
        let [x, y, z] = [edge[0].times(per), edge[1].times(per), edge[2].times(per)];
        [
            a[1].times_less(z, a[2].times(y)),
            a[2].times_less(x, a[0].times(z)),
            a[0].times_less(y, a[1].times(x)),
        ]
    }

    #[inline(always)]
    fn sheared<E: Eight>(&self, [x, y, z]: [E; 3]) -> [E; 3] {
        let (p, q) = (E::splat(self.shear[0]), E::splat(self.shear[1]));
        [z.times_plus(p, x), z.times_plus(q, y), z]
    }

    /// Bits for the triangles that a line may meet, and for those that it surely meets between its ends.
    #[inline(always)]
    pub fn meet<E: Eight>(&self, line: usize, faced: &Faced<E>) -> (u32, u32) {
        let (p, q) = (
            E::splat(self.slopes[0][line % RAYS]),
            E::splat(self.slopes[1][line % RAYS]),
        );
        let [u, v, w] = &faced.normals;
        let u = p.times_plus(u[0], q.times_plus(u[1], u[2]));
        let v = p.times_plus(v[0], q.times_plus(v[1], v[2]));
        let w = p.times_plus(w[0], q.times_plus(w[1], w[2]));
        let (least, greatest) = (u.min(v).min(w), u.max(v).max(w));
        let (margin, minus) = (E::splat(self.doubt), E::splat(-self.doubt));
        let may = !(least.below(minus) & margin.below(greatest));
        let low = E::splat(self.between[0][line % RAYS]);
        let high = E::splat(self.between[1][line % RAYS]);
        let held = margin.below(least) | greatest.below(minus);
        let [nearest, farthest] = faced.along;
        (may, held & low.below(nearest) & farthest.below(high))
    }
}

impl Eightfold<'_> {
    /// How far off ways are across, for a slope over the axis along.
    #[inline(always)]
    fn off<F: Four>(&self, [across, along]: [usize; 2], slope: f32) -> f32x8 {
        let (to, slope) = (self.to.to_array(), F::splat(f64::from(slope)));
        let (x, z) = (F::splat(to[across]), F::splat(to[along]));
        let mut off = [0.0; RAYS];
        for half in 0..RAYS / LANES {
            let x = x - F::load(&self.from[across].as_chunks::<LANES>().0[half]);
            let z = z - F::load(&self.from[along].as_chunks::<LANES>().0[half]);
            off.as_chunks_mut::<LANES>().0[half] = (x - slope * z).narrow();
        }
        f32x8::new(off)
    }
}

/// The greatest of eight numbers.
#[inline(always)]
fn greatest(of: f32x8) -> f32 {
    let [a, b, c, d, e, f, g, h] = of.to_array();
    greater(
        greater(greater(a, b), greater(c, d)),
        greater(greater(e, f), greater(g, h)),
    )
}

#[inline(always)]
fn difference<E: Eight>(a: [E; 3], b: [E; 3]) -> [E; 3] {
    [a[0].minus(b[0]), a[1].minus(b[1]), a[2].minus(b[2])]
}
