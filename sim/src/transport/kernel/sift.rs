//! Rules out most triangles of a block, eight at a time in f32.
//!
//! In: a ready ray and a block. Out: a bit for each triangle that the line may meet.

use super::eight::Eight;
use super::layout::Block;
use super::ray::Ray;
use wide::f32x8;

/// The ray's numbers for blocks of triangles, in every lane.
pub(super) struct Sift<E> {
    origin: [E; 3],
    /// Minus the shear.
    shear: [E; 2],
    /// 8η and 8η² of [`Sift::may_meet`].
    eight_blur: E,
    eight_blur_square: E,
}

impl<E: Eight> Sift<E> {
    #[inline(always)]
    pub fn new(ray: &Ray) -> Self {
        let [x, y, z, p, q, blur] = ray.sift;
        Self {
            origin: [E::splat(x), E::splat(y), E::splat(z)],
            shear: [E::splat(p), E::splat(q)],
            eight_blur: E::splat(blur),
            eight_blur_square: E::splat(0.125 * blur * blur),
        }
    }

    /// A bit for each triangle of the block that the line may meet.
    ///
    /// Its plane coordinates in f32 are off by at most `blur`, called η, and edge functions of coordinates
    /// up to M by 4ηM + 2η² + 4 · 2⁻²⁴M² < 8η(M + η), as 2⁻²⁴M < η/4 ([`Ray`]). Ruled out is what has, beyond
    /// that, edge functions of either sign.
    #[inline(always)]
    pub fn may_meet(&self, ray: &Ray, block: &Block) -> u32 {
        let [x, y, z] = ray.axes;
        let (xs, ys, zs) = (&block.corners[x], &block.corners[y], &block.corners[z]);
        let a = self.seen(&xs[0], &ys[0], &zs[0]);
        let b = self.seen(&xs[1], &ys[1], &zs[1]);
        let c = self.seen(&xs[2], &ys[2], &zs[2]);
        let most = a[0].abs().max(a[1].abs()).max(b[0].abs().max(b[1].abs()));
        let most = most.max(c[0].abs().max(c[1].abs()));
        let margin = most.times_plus(self.eight_blur, self.eight_blur_square);
        let (u, v, w) = (rough_edge(b, c), rough_edge(c, a), rough_edge(a, b));
        let least = u.min(v).min(w);
        let greatest = u.max(v).max(w);
        let ruled_out = least.below(E::splat(0.0).minus(margin)) & margin.below(greatest);
        !ruled_out
    }

    /// Corners in the ray's plane.
    #[inline(always)]
    fn seen(&self, xs: &f32x8, ys: &f32x8, zs: &f32x8) -> [E; 2] {
        let along = E::load(zs).minus(self.origin[2]);
        [
            along.times_plus(self.shear[0], E::load(xs).minus(self.origin[0])),
            along.times_plus(self.shear[1], E::load(ys).minus(self.origin[1])),
        ]
    }
}

/// Twice the areas of plane triangles (0, a, b), rounded.
#[inline(always)]
fn rough_edge<E: Eight>(a: [E; 2], b: [E; 2]) -> E {
    a[0].times_less(b[1], a[1].times(b[0]))
}

/// The same at the level that every processor has.
#[cfg(test)]
pub(super) struct Sieve(Sift<f32x8>);

#[cfg(test)]
impl Sieve {
    pub fn new(ray: &Ray) -> Self {
        Self(Sift::new(ray))
    }

    pub fn may_meet(&self, ray: &Ray, block: &Block) -> u32 {
        self.0.may_meet(ray, block)
    }
}
