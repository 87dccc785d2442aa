//! Rules out most triangles of a block, and takes most of the rest, eight at a time in f32.
//!
//! In: a ray in single precision and a block. Out: a bit for each triangle that the line may meet, and one for each that
//! it surely meets between its ends. Only what is left between the two is decided in f64.

use super::eight::Eight;
use super::layout::Block;
use super::ray::greater;
use wide::f32x8;

/// Bound of the error of plane coordinates in f32, relative to the scene, for a corner P away along an axis,
/// in units of 2⁻²⁴: origin 2 · scale, differences 2P, shear 5P for four roundings, product P, last difference 2P; P ≤ 2 ·
/// scale makes 22 · scale.
const BLUR: f32 = 24.0 / (1u32 << 24) as f32;
/// How far from the ends of a ray triangles lie that it surely meets between them, relative to the scene: twice where what
/// holds an end may be met, which is far above the rounding.
pub(super) const INSIDE: f32 = 1.0 / (1u32 << 19) as f32;
/// Shortening of rays for that, 1 − 2⁻¹⁹: more than their stretch for boxes.
const SHORTEN: f32 = 1.0 - 1.0 / (1u32 << 19) as f32;

/// An axis and the next two after it.
const AXES: [[u8; 3]; 4] = [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0; 3]];

/// A ray in single precision.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gaze {
    /// The axis along which the direction is longest, and the next two after it.
    axes: [u8; 3],
    /// By those.
    origin: [f32; 3],
    /// Minus the direction along the latter two over that along the longest.
    shear: [f32; 2],
    /// Eight times how far off the plane coordinates are that follow from them.
    eight_blur: f32,
    /// Along the longest axis from the origin: what lies between these is between the ends, and away from them.
    between: [f32; 2],
}

impl Gaze {
    /// Of no ray.
    pub const NONE: Self = Self {
        axes: [0, 1, 2],
        origin: [0.0; 3],
        shear: [0.0; 2],
        eight_blur: 0.0,
        between: [0.0; 2],
    };

    /// - `inverse`: reciprocal of the direction, right where that is longest
    /// - `t_max`: end, in lengths of the direction
    /// - `size`: largest coordinate of triangles
    #[inline(always)]
    pub fn new(
        [a, b, c]: [f32; 3],
        [u, v, w]: [f32; 3],
        inverse: [f32; 3],
        (t_max, size): (f32, f32),
    ) -> Self {
        let [x, y, z] = [u.abs(), v.abs(), w.abs()];
        let longer = greater(x, y);
        let longest = if z > longer { 2 } else { usize::from(y > x) };
        // no branch, which would be guessed wrong: read from there on
        let origin = [a, b, c, a, b, c, a, b];
        let way = [u, v, w, u, v, w, u, v];
        let [p, q, r] = inverse;
        let per = -[p, q, r, r][longest];
        let along = way[longest];
        let forward = usize::from(along > 0.0);
        let [x, y, z] = [a.abs(), b.abs(), c.abs()];
        let scale = greater(greater(greater(x, y), z), size);
        let near = INSIDE * scale;
        let far = t_max * along.abs() * SHORTEN - near;
        Self {
            axes: AXES[longest],
            origin: [origin[longest], origin[longest + 1], origin[longest + 2]],
            shear: [way[longest + 1] * per, way[longest + 2] * per],
            eight_blur: 8.0 * BLUR * scale,
            between: [[-far, -near], [near, far]][forward],
        }
    }
}

/// The ray's numbers for blocks of triangles, in every lane.
pub(super) struct Sift<E> {
    origin: [E; 3],
    /// Minus the shear.
    shear: [E; 2],
    /// 8η and 8η² of [`Sift::sift`].
    eight_blur: E,
    eight_blur_square: E,
}

/// What is known of the triangles of a block.
pub(super) struct Sifted<E> {
    /// A bit for each that the line may meet.
    pub may: u32,
    /// Least and greatest edge function, and how far off they may be.
    edges: [E; 2],
    margin: E,
    /// Of the corners, along the ray's longest axis from its origin.
    along: [E; 3],
}

impl<E: Eight> Sifted<E> {
    /// A bit for each triangle that the ray surely meets between its ends, away from them.
    #[inline(always)]
    pub fn surely(&self, gaze: &Gaze) -> u32 {
        let [a, b, c] = self.along;
        let [least, greatest] = self.edges;
        let held = self.margin.below(least) | greatest.below(E::splat(0.0).minus(self.margin));
        let [near, far] = gaze.between;
        held & E::splat(near).below(a.min(b).min(c)) & a.max(b).max(c).below(E::splat(far))
    }
}

impl<E: Eight> Sift<E> {
    #[inline(always)]
    pub fn new(gaze: &Gaze) -> Self {
        let [x, y, z] = gaze.origin;
        let [p, q] = gaze.shear;
        let blur = gaze.eight_blur;
        Self {
            origin: [E::splat(x), E::splat(y), E::splat(z)],
            shear: [E::splat(p), E::splat(q)],
            eight_blur: E::splat(blur),
            eight_blur_square: E::splat(0.125 * blur * blur),
        }
    }

    /// Looks at the triangles of a block.
    ///
    /// Plane coordinates in f32 are off by at most `blur`, called η, and edge functions of coordinates
    /// up to M by 4ηM + 2η² + 4 · 2⁻²⁴M² < 8η(M + η), as 2⁻²⁴M < η/4. Ruled out is what has, beyond
    /// that, edge functions of either sign; surely met is what has, beyond that, all of one sign. The plane coordinates of
    /// [`super::triangle`] are off by 10⁻⁹ of that, and may have another axis as the longest where two are as long: that
    /// multiplies all three edge functions by one number.
    #[inline(always)]
    pub fn sift(&self, gaze: &Gaze, block: &Block) -> Sifted<E> {
        let [z, x, y] = gaze.axes;
        let (xs, ys) = (
            &block.corners[usize::from(x)],
            &block.corners[usize::from(y)],
        );
        let zs = &block.corners[usize::from(z)];
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
        Sifted {
            may: !ruled_out,
            edges: [least, greatest],
            margin,
            along: [a[2], b[2], c[2]],
        }
    }

    /// Corners in the ray's plane, and along.
    #[inline(always)]
    fn seen(&self, xs: &f32x8, ys: &f32x8, zs: &f32x8) -> [E; 3] {
        let along = E::load(zs).minus(self.origin[0]);
        [
            along.times_plus(self.shear[0], E::load(xs).minus(self.origin[1])),
            along.times_plus(self.shear[1], E::load(ys).minus(self.origin[2])),
            along,
        ]
    }
}

/// Twice the areas of plane triangles (0, a, b), rounded.
#[inline(always)]
fn rough_edge<E: Eight>(a: [E; 3], b: [E; 3]) -> E {
    a[0].times_less(b[1], a[1].times(b[0]))
}

/// The same at the level that every processor has.
#[cfg(test)]
pub(super) struct Sieve(Gaze, Sift<f32x8>);

#[cfg(test)]
#[expect(
    clippy::cast_possible_truncation,
    reason = "the bounds cover the rounding"
)]
impl Sieve {
    pub fn new(ray: &super::ray::Ray) -> Self {
        let way = ray.slope().to_array().map(|x| x as f32);
        let inverse = way.map(f32::recip);
        let origin = ray.origin.map(|x| x as f32);
        let end = ray.depth_max as f32;
        let gaze = Gaze::new(origin, way, inverse, (end, ray.size as f32));
        Self(gaze, Sift::new(&gaze))
    }

    /// Bits for those that the line may meet, and for those that the ray surely meets between its ends.
    pub fn sift(&self, block: &Block) -> [u32; 2] {
        let sifted = self.1.sift(&self.0, block);
        [sifted.may, sifted.surely(&self.0)]
    }
}
