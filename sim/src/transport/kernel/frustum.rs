//! The space that a bundle of lines fills: rules out boxes for all of them at once.
//!
//! In: starts and ways of lines that run much alike. Out: a bit for each box that one of them may enter.
//!
//! Along the axis that the lines follow most, the others' coordinates stay between two planes each: through the
//! outermost start, with the steepest slope. So four planes and two ends hold all lines, and a box beyond one of them
//! is in nobody's way (after Haines and Wallace, named in [`super::shaft`]).
//!
//! With u = 2⁻²⁴ and the scene S (largest coordinate of triangles and starts), slopes up to 2: starts are off by uS, and
//! slopes by 4u of themselves, over at most 2S, 16uS; planes' offsets by another 8uS, a box's height over a plane by
//! 11uS when it is worked out. [`MARGIN`] is 64uS, so that no box is ruled out that a line meets something in.

use super::eight::Eight;
use super::layout::Node;
use wide::f32x8;

/// Slopes up to which lines count as running alike.
const STEEPEST: f32 = 2.0;
/// How far planes are moved outward, relative to the scene.
const MARGIN: f32 = 1.0 / (1u32 << 18) as f32;

/// A plane over one of the cross axes: `cross = slope · along + offset`.
#[derive(Debug, Clone, Copy, Default)]
struct Plane {
    slope: f32,
    offset: f32,
    /// Side of a box along the axis where the plane is least in its way.
    side: usize,
}

/// Space that holds some lines.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frustum {
    /// Cross axes, and the axis along.
    axes: [usize; 3],
    /// Over each cross axis: above all lines, and below them.
    planes: [[Plane; 2]; 2],
    /// Where the lines begin and end along their axis.
    range: [f32; 2],
}

/// The least of eight numbers.
#[inline(always)]
fn least(of: f32x8) -> f32 {
    let [a, b, c, d, e, f, g, h] = of.to_array();
    (a.min(b).min(c.min(d))).min(e.min(f).min(g.min(h)))
}

/// The greatest of eight numbers.
#[inline(always)]
fn greatest(of: f32x8) -> f32 {
    let [a, b, c, d, e, f, g, h] = of.to_array();
    (a.max(b).max(c.max(d))).max(e.max(f).max(g.max(h)))
}

impl Frustum {
    /// Around eight lines given by starts and ways to their ends, by axis; none if they run too unlike.
    ///
    /// - `begin`: shares of the ways before which nothing is met
    /// - `size`: largest coordinate of triangles
    #[inline(always)]
    pub fn new(from: &[f32x8; 3], way: &[f32x8; 3], begin: f32x8, size: f32) -> Option<Self> {
        let first = |axis: usize| way[axis].as_array()[0].abs();
        let first = [first(0), first(1), first(2)];
        let long = if first[2] > first[0] && first[2] > first[1] {
            2
        } else {
            usize::from(first[1] > first[0])
        };
        let axes = [(long + 1) % 3, (long + 2) % 3, long];
        let (start, along) = (from[long], way[long]);
        let back = along.simd_lt(f32x8::ZERO).to_bitmask();
        if back != 0 && back != 0xFF {
            return None;
        }
        let per = f32x8::ONE / along;
        let starts = from[0]
            .abs()
            .fast_max(from[1].abs())
            .fast_max(from[2].abs());
        let margin = size.max(greatest(starts)) * MARGIN;
        let mut planes = [[Plane::default(); 2]; 2];
        for (cross, planes) in planes.iter_mut().enumerate() {
            let axis = axes[cross];
            let slopes = way[axis] * per;
            let (low, high) = (least(slopes), greatest(slopes));
            if !(low >= -STEEPEST && high <= STEEPEST) {
                return None;
            }
            let [above, below] = if back == 0 { [high, low] } else { [low, high] };
            *planes = [
                Plane {
                    slope: above,
                    offset: greatest(from[axis] - start * f32x8::splat(above)) + margin,
                    side: usize::from(above > 0.0),
                },
                Plane {
                    slope: below,
                    offset: least(from[axis] - start * f32x8::splat(below)) - margin,
                    side: usize::from(below <= 0.0),
                },
            ];
        }
        let (begin, end) = (start + along * begin, start + along);
        Some(Self {
            axes,
            planes,
            range: [
                least(begin.fast_min(end)) - margin,
                greatest(begin.fast_max(end)) + margin,
            ],
        })
    }

    /// A bit for each child whose box may be entered; for a lane without child it means nothing.
    #[inline(always)]
    pub fn enter<E: Eight>(&self, node: &Node) -> u32 {
        let [least, most] = &node.planes;
        let along = [E::load(&least[self.axes[2]]), E::load(&most[self.axes[2]])];
        let (begin, end) = (E::splat(self.range[0]), E::splat(self.range[1]));
        let mut beyond = begin.minus(along[1]).max(along[0].minus(end));
        for cross in 0..2 {
            let (axis, [above, below]) = (self.axes[cross], self.planes[cross]);
            let over = along[above.side].times_plus(E::splat(above.slope), E::splat(above.offset));
            let under = along[below.side].times_plus(E::splat(below.slope), E::splat(below.offset));
            beyond = beyond.max(E::load(&least[axis]).minus(over));
            beyond = beyond.max(under.minus(E::load(&most[axis])));
        }
        beyond.not_above(E::splat(0.0))
    }
}
