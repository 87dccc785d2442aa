//! Points on triangles: the nearest one to a given point, and starts of rays.
//!
//! In: a point. Out: the triangle and weights nearest to it, or the same point made fit to start from.

use super::layout::{Child, Node, WIDTH};
use super::packet::RAYS;
use super::{Kernel, Nearest, split};
use crate::lanes::{Four, LANES};
use glam::{DVec2, DVec3};

/// Least weight of a corner at a start.
const INSET: f64 = 1.0 / (1u64 << 20) as f64;
/// Starts farther than this off their triangle, relative to the scene, are left where they are.
const OFF: f64 = 1.0 / (1u64 << 20) as f64;

impl Kernel {
    /// The point on any triangle that is nearest to the given one; the smallest number where several are.
    pub fn nearest_point(&self, point: DVec3) -> Option<Nearest> {
        let mut best: Option<Nearest> = None;
        let mut open = vec![(0.0, 0u32)];
        while let Some((least, child)) = open.pop() {
            if self.nodes.is_empty() || best.is_some_and(|old| least > old.distance) {
                continue;
            }
            let node = match Child::read(child) {
                Child::Node(index) => &self.nodes[index],
                Child::Leaf { block, mask } => {
                    let numbers = &self.blocks[block as usize].number;
                    for number in numbers[..mask.count_ones() as usize].iter().copied() {
                        let (bary, distance) = nearest_on(self.triangle(number), point);
                        let better = best.is_none_or(|old| {
                            distance < old.distance
                                || (distance <= old.distance && number < old.triangle)
                        });
                        if better {
                            best = Some(Nearest {
                                triangle: number,
                                bary,
                                distance,
                            });
                        }
                    }
                    continue;
                }
            };
            let from = open.len();
            open.extend(
                (0..WIDTH)
                    .map(|lane| (box_distance(node, lane, point), node.child[lane]))
                    .filter(|(distance, _)| distance.is_finite()),
            );
            open[from..].sort_by(|a, b| b.0.total_cmp(&a.0));
        }
        best
    }

    /// A start on its triangle: dropped onto it and kept off its edges.
    #[inline(always)]
    pub(super) fn start(&self, from: &DVec3, skip: Option<u32>) -> DVec3 {
        match skip {
            Some(triangle) => self.ground(triangle).start(*from),
            None => *from,
        }
    }

    /// What starts on a triangle have in common.
    #[inline(always)]
    pub(super) fn starts(&self, skip: Option<u32>) -> Starts {
        Starts(skip.map(|triangle| self.ground(triangle)))
    }

    /// What starts on triangles have in common, line by line.
    pub(super) fn grounds(&self, triangles: &[Option<u32>; RAYS]) -> Grounds {
        Grounds::new(triangles.map(|triangle| triangle.map(|number| self.ground(number))))
    }

    #[inline(always)]
    fn ground(&self, triangle: u32) -> Ground {
        let (block, lane) = split(self.place[triangle as usize]);
        let [a, b, c] = self.blocks[block].corners(lane);
        let wide = |[x, y, z]: [f32; 3]| DVec3::new(f64::from(x), f64::from(y), f64::from(z));
        let (a, b, c) = (wide(a), wide(b), wide(c));
        let (e, f) = (b - a, c - a);
        let (ee, ef, ff) = (e.dot(e), e.dot(f), f.dot(f));
        Ground {
            corner: a,
            edges: [e, f],
            products: [ee, ef, ff],
            whole: ee * ff - ef * ef,
            size: self.size,
        }
    }
}

/// Starts on one triangle, or in the open.
#[derive(Debug)]
pub(super) struct Starts(Option<Ground>);

/// The triangle that starts lie on.
#[derive(Debug, Default)]
struct Ground {
    corner: DVec3,
    edges: [DVec3; 2],
    /// Products of the edges: first with itself, with the second, second with itself.
    products: [f64; 3],
    /// Square of twice the area.
    whole: f64,
    /// Of the scene.
    size: f64,
}

impl Starts {
    /// The start, dropped onto the triangle and kept off its edges.
    #[inline(always)]
    pub fn of(&self, from: DVec3) -> DVec3 {
        match &self.0 {
            Some(ground) => ground.start(from),
            None => from,
        }
    }
}

/// Triangles that lines of a packet start on, or the open; numbers by line, after the axis.
#[derive(Debug)]
pub(super) struct Grounds {
    each: [Starts; RAYS],
    corner: [[f64; RAYS]; 3],
    edges: [[[f64; RAYS]; 3]; 2],
    products: [[f64; RAYS]; 3],
    whole: [f64; RAYS],
}

/// Four of eight vectors.
#[inline(always)]
fn part<F: Four>(of: &[[f64; RAYS]; 3], half: usize) -> [F; 3] {
    [
        F::load(&of[0].as_chunks::<LANES>().0[half]),
        F::load(&of[1].as_chunks::<LANES>().0[half]),
        F::load(&of[2].as_chunks::<LANES>().0[half]),
    ]
}

impl Grounds {
    fn new(each: [Option<Ground>; RAYS]) -> Self {
        // The open, and triangles without area, move nothing.
        let open = Ground::default();
        let of = |line: usize| each[line].as_ref().filter(|ground| ground.whole > 0.0);
        let of = |line: usize| of(line).unwrap_or(&open);
        let by_line =
            |number: &dyn Fn(&Ground) -> f64| std::array::from_fn(|line| number(of(line)));
        let vectors = |vector: &dyn Fn(&Ground) -> DVec3| {
            [0, 1, 2].map(|axis| by_line(&|ground| vector(ground)[axis]))
        };
        Self {
            corner: vectors(&|ground| ground.corner),
            edges: [0, 1].map(|edge| vectors(&|ground| ground.edges[edge])),
            products: [0, 1, 2].map(|product| by_line(&|ground| ground.products[product])),
            whole: by_line(&|ground| ground.whole),
            each: each.map(Starts),
        }
    }

    /// The starts of some lines, as [`Starts::of`] gives them one by one.
    #[inline(always)]
    pub fn starts<F: Four>(&self, from: &[[f64; RAYS]; 3], asked: u32) -> [[f64; RAYS]; 3] {
        let mut off = 0;
        for half in 0..RAYS / LANES {
            let ([x, y, z], [a, b, c]) = (part::<F>(from, half), part::<F>(&self.corner, half));
            let (x, y, z) = (x - a, y - b, z - c);
            let [a, b, c] = part::<F>(&self.edges[0], half);
            let ep = a * x + b * y + c * z;
            let [a, b, c] = part::<F>(&self.edges[1], half);
            let fp = a * x + b * y + c * z;
            let [ee, ef, ff] = part::<F>(&self.products, half);
            let (second, third) = (ff * ep - ef * fp, ee * fp - ef * ep);
            let whole = F::load(&self.whole.as_chunks::<LANES>().0[half]);
            let first = whole - second - third;
            let least = first.min(second).min(third);
            let well = (whole * F::splat(INSET)).is_at_most(least).store();
            for (lane, well) in well.into_iter().enumerate() {
                off |= u32::from(well < 1.0) << (half * LANES + lane);
            }
        }
        let mut starts = *from;
        off &= asked;
        while off != 0 {
            self.set_right(off.trailing_zeros() as usize % RAYS, &mut starts);
            off &= off - 1;
        }
        starts
    }

    #[cold]
    #[inline(never)]
    fn set_right(&self, line: usize, starts: &mut [[f64; RAYS]; 3]) {
        let [x, y, z] = starts;
        let start = self.each[line].of(DVec3::new(x[line], y[line], z[line]));
        (x[line], y[line], z[line]) = start.into();
    }
}

impl Ground {
    #[inline(always)]
    fn start(&self, from: DVec3) -> DVec3 {
        let ([e, f], [ee, ef, ff], whole) = (self.edges, self.products, self.whole);
        let p = from - self.corner;
        let (ep, fp) = (e.dot(p), f.dot(p));
        let (second, third) = (ff * ep - ef * fp, ee * fp - ef * ep);
        let first = whole - second - third;
        let least = INSET * whole;
        if whole <= 0.0 || (first >= least && second >= least && third >= least) {
            return from;
        }
        self.dropped(from, DVec3::new(first, second, third))
    }

    /// The start near the rim, by its weights times the square of twice the area.
    #[cold]
    #[inline(never)]
    fn dropped(&self, from: DVec3, weights: DVec3) -> DVec3 {
        let [e, f] = self.edges;
        let free = 1.0 - 3.0 * INSET;
        let weights = weights.max(DVec3::splat(INSET * self.whole));
        let weights = weights / weights.element_sum() * free + DVec3::splat(INSET);
        let dropped = self.corner + e * weights.y + f * weights.z;
        let allowed = OFF * self.size + 3.0 * INSET * (e.length() + f.length());
        if dropped.distance(from) <= allowed {
            dropped
        } else {
            from
        }
    }
}

/// Least distance from the point to the box of a child, a little less for rounding.
fn box_distance(node: &Node, lane: usize, point: DVec3) -> f64 {
    let [least, most] = node.corners(lane).map(|corner| corner.as_dvec3());
    let outside = (least - point).max(point - most).max(DVec3::ZERO);
    outside.length() * (1.0 - 1e-14)
}

/// Weights and distance of the point of a triangle that is nearest to the given one: the foot of the
/// perpendicular if it falls inside, otherwise the nearest point of the nearest edge.
fn nearest_on([a, b, c]: [DVec3; 3], point: DVec3) -> (DVec2, f64) {
    let (e, f, p) = (b - a, c - a, point - a);
    let (ee, ef, ff, ep, fp) = (e.dot(e), e.dot(f), f.dot(f), e.dot(p), f.dot(p));
    let whole = ee * ff - ef * ef;
    let inside = DVec2::new(ff * ep - ef * fp, ee * fp - ef * ep) / whole;
    let along = |from: DVec3, to: DVec3| {
        let side = to - from;
        let share = (side.dot(point - from) / side.dot(side)).clamp(0.0, 1.0);
        if share.is_nan() { 0.0 } else { share }
    };
    let (ab, ac, bc) = (along(a, b), along(a, c), along(b, c));
    let candidates = [
        DVec2::new(ab, 0.0),
        DVec2::new(0.0, ac),
        DVec2::new(1.0 - bc, bc),
    ];
    let distance = |bary: DVec2| (e * bary.x + f * bary.y - p).length();
    let mut best = (candidates[0], distance(candidates[0]));
    let foot = (inside.x >= 0.0 && inside.y >= 0.0 && inside.x + inside.y <= 1.0).then_some(inside);
    for bary in candidates[1..].iter().copied().chain(foot) {
        if distance(bary) < best.1 {
            best = (bary, distance(bary));
        }
    }
    best
}
