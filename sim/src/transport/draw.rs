//! Lines drawn four at a time.
//!
//! In: points of low-discrepancy tables, a receiver, its window. Out: what [`Lines::line`] says of each, bit for
//! bit, in about half the time.

use super::channel::{Channel, Course};
use super::lines::{Ends, Line, Lines, Target};
use super::window::Window;
use crate::emission::FootprintShape;
use crate::lanes::{Four, LANES, Level, Task};
use crate::random::DIMENSIONS;
use crate::trig::sin_cos_of_turns_four;
use glam::{DAffine3, DVec3};
use std::f64::consts::TAU;

/// Variates of four lines, as [`Channel::deal`] dealt them: point on the receiver (2), point on the
/// footprint (2), time.
pub(super) type Points = [[f64; LANES]; DIMENSIONS];

/// Vectors of four lines.
pub(super) type Vectors = [[f64; LANES]; 3];

/// What the lines from one receiver through one window have in common.
pub(super) struct Pen<'a> {
    pub lines: &'a Lines<'a>,
    pub channel: &'a Channel,
    pub target: &'a Target,
    pub window: &'a Window,
}

/// Four lines.
#[derive(Default)]
pub(super) struct FourLines {
    /// Weights of their times.
    pub weight: [f64; LANES],
    /// Pieces that hold their times.
    pub bin: [u8; LANES],
    open: [f64; LANES],
    cosine: [f64; LANES],
    toward: Vectors,
    /// In the chamber and as a rider sees it: on the footprint, on the receiver.
    ends: [[Vectors; 2]; 2],
}

impl FourLines {
    /// One of them.
    #[inline]
    pub fn line(&self, lane: usize) -> Line {
        let vector = |of: &Vectors| DVec3::new(of[0][lane], of[1][lane], of[2][lane]);
        Line {
            open: self.open[lane],
            cosine: self.cosine[lane],
            toward: vector(&self.toward),
            ends: [0, 1].map(|frame| Ends {
                from: vector(&self.ends[frame][0]),
                to: vector(&self.ends[frame][1]),
            }),
        }
    }
}

/// A vector in four lines.
pub(super) type V<F> = [F; 3];

#[inline(always)]
fn splat<F: Four>(v: DVec3) -> V<F> {
    [F::splat(v.x), F::splat(v.y), F::splat(v.z)]
}

#[inline(always)]
pub(super) fn dot<F: Four>(a: V<F>, b: V<F>) -> F {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

#[inline(always)]
pub(super) fn plus<F: Four>(a: V<F>, b: V<F>) -> V<F> {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

#[inline(always)]
pub(super) fn minus<F: Four>(a: V<F>, b: V<F>) -> V<F> {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

#[inline(always)]
pub(super) fn times<F: Four>(a: V<F>, factor: F) -> V<F> {
    [a[0] * factor, a[1] * factor, a[2] * factor]
}

#[inline(always)]
fn store<F: Four>(v: V<F>) -> Vectors {
    [v[0].store(), v[1].store(), v[2].store()]
}

#[inline(always)]
fn load<F: Four>(v: &[DVec3; LANES]) -> V<F> {
    let along = |axis: usize| v.map(|v| v[axis]);
    [F::load(&along(0)), F::load(&along(1)), F::load(&along(2))]
}

/// The columns of the matrix, then the translation.
#[inline(always)]
fn columns(pose: &DAffine3) -> [DVec3; 4] {
    let matrix = &pose.matrix3;
    [
        matrix.x_axis,
        matrix.y_axis,
        matrix.z_axis,
        pose.translation,
    ]
}

/// `level + cosine · cos α + sine · sin α`, given sin α and cos α.
#[inline(always)]
fn turned<F: Four>([level, by_cosine, by_sine]: [DVec3; 3], (sine, cosine): (F, F)) -> V<F> {
    let level = plus(splat(level), times(splat(by_cosine), cosine));
    plus(level, times(splat(by_sine), sine))
}

/// chamber_from_riding of four lines: columns of the matrix, then the translation.
struct Poses<F>([V<F>; 4]);

impl<F: Four> Poses<F> {
    /// Poses one by one.
    #[inline(always)]
    fn gather(poses: [DAffine3; LANES]) -> Self {
        let poses = poses.each_ref().map(columns);
        let column = |at: usize| poses.map(|columns| columns[at]);
        Self([
            load(&column(0)),
            load(&column(1)),
            load(&column(2)),
            load(&column(3)),
        ])
    }

    #[inline(always)]
    fn to_chamber(&self, v: V<F>) -> V<F> {
        let [x, y, z, shift] = self.0;
        plus(
            plus(plus(times(x, v[0]), times(y, v[1])), times(z, v[2])),
            shift,
        )
    }

    #[inline(always)]
    fn to_riding(&self, v: V<F>) -> V<F> {
        let [x, y, z, shift] = self.0;
        let v = minus(v, shift);
        [dot(x, v), dot(y, v), dot(z, v)]
    }
}

/// Where four lines start and how they end on any of several receivers that see alike.
#[derive(Default)]
pub(super) struct FourStarts {
    /// Weights of their times.
    pub weight: [f64; LANES],
    /// Pieces that hold their times.
    pub bin: [u8; LANES],
    /// On the footprint, frame of the receivers.
    pub from: Vectors,
    /// Unit normal of the footprint there, frame of the receivers.
    pub facing: Vectors,
    /// Weights of the receivers' edges at their ends.
    pub along: [[f64; LANES]; 2],
    /// On the footprint, the other frame.
    pub from_elsewhere: Vectors,
    /// Into the other frame: columns of the matrix, then the translation.
    pub elsewhere: [Vectors; 4],
}

impl FourStarts {
    /// A vector of one of the four.
    #[inline]
    pub fn of(vectors: &Vectors, lane: usize) -> DVec3 {
        DVec3::new(vectors[0][lane], vectors[1][lane], vectors[2][lane])
    }
}

/// Starts of four lines to be drawn.
struct Starting<'a> {
    pen: &'a Pen<'a>,
    points: &'a Points,
    starts: &'a mut FourStarts,
}

impl Task for Starting<'_> {
    type Output = ();

    #[inline(always)]
    fn run<F: Four>(self) {
        self.pen.four_starts::<F>(self.points, self.starts);
    }
}

/// Four lines to be drawn.
struct Drawing<'a> {
    pen: &'a Pen<'a>,
    points: &'a Points,
    lines: &'a mut FourLines,
}

impl Task for Drawing<'_> {
    type Output = ();

    #[inline(always)]
    fn run<F: Four>(self) {
        self.pen.four::<F>(self.points, self.lines);
    }
}

impl Pen<'_> {
    /// Draws four lines at a level that the processor has.
    pub fn draw(&self, level: Level, points: &Points, lines: &mut FourLines) {
        level.run(Drawing {
            pen: self,
            points,
            lines,
        });
    }

    /// Draws starts of four lines at a level that the processor has.
    pub fn draw_starts(&self, level: Level, points: &Points, starts: &mut FourStarts) {
        level.run(Starting {
            pen: self,
            points,
            starts,
        });
    }

    #[inline(always)]
    fn four_starts<F: Four>(&self, u: &Points, starts: &mut FourStarts) {
        let at = self.times::<F>(&u[4], (&mut starts.weight, &mut starts.bin));
        let [u0, u1] = [F::load(&u[0]), F::load(&u[1])];
        let root = u0.sqrt();
        starts.along = [(root * (F::splat(1.0) - u1)).store(), (root * u1).store()];
        let (start, normal) = self.starts::<F>(&u[2], &u[3]);
        let poses = self.poses::<F>(&at);
        let start_riding = poses.to_riding(start);
        let [x, y, z, shift] = poses.0;
        if self.target.riding() {
            starts.from = store(start_riding);
            starts.facing = store([dot(x, normal), dot(y, normal), dot(z, normal)]);
            starts.from_elsewhere = store(start);
            starts.elsewhere = [store(x), store(y), store(z), store(shift)];
        } else {
            starts.from = store(start);
            starts.facing = store(normal);
            starts.from_elsewhere = store(start_riding);
            let shift = times(
                [dot(x, shift), dot(y, shift), dot(z, shift)],
                F::splat(-1.0),
            );
            starts.elsewhere = [
                store([x[0], y[0], z[0]]),
                store([x[1], y[1], z[1]]),
                store([x[2], y[2], z[2]]),
                store(shift),
            ];
        }
    }

    #[inline(always)]
    fn four<F: Four>(&self, u: &Points, lines: &mut FourLines) {
        let (target, channel) = (self.target, self.channel);
        let at = self.times::<F>(&u[4], (&mut lines.weight, &mut lines.bin));
        let [u0, u1] = [F::load(&u[0]), F::load(&u[1])];
        let root = u0.sqrt();
        let [first, second] = target.edges;
        let to = plus(
            plus(
                splat(target.corner),
                times(splat(first), root * (F::splat(1.0) - u1)),
            ),
            times(splat(second), root * u1),
        );
        let (start, normal) = self.starts::<F>(&u[2], &u[3]);
        let poses = self.poses::<F>(&at);
        let (in_chamber, in_riding) = if target.riding() {
            (poses.to_chamber(to), to)
        } else {
            (to, poses.to_riding(to))
        };
        let start_riding = poses.to_riding(start);
        let span = minus(in_chamber, start);
        let squared = dot(span, span);
        let per_distance = F::splat(1.0) / squared.sqrt();
        let emitted = (dot(span, normal) * per_distance).store();
        let law = &self.lines.scene.sources[channel.source].law;
        let density = emitted.map(|cosine| law.pdf_per_sr(cosine));
        lines.open = (F::load(&density) / squared).store();
        let (own_from, own_to) = if target.riding() {
            (start_riding, in_riding)
        } else {
            (start, in_chamber)
        };
        let toward = times(minus(own_from, own_to), per_distance);
        lines.cosine = dot(toward, splat(target.normal())).store();
        lines.toward = store(toward);
        lines.ends = [
            [store(start), store(in_chamber)],
            [store(start_riding), store(in_riding)],
        ];
    }

    /// Times for uniform variates: the inverse of the integral of the window's density, without cancellation where
    /// it is nearly level.
    #[inline(always)]
    fn times<F: Four>(
        &self,
        u: &[f64; LANES],
        (weight, piece): (&mut [f64; LANES], &mut [u8; LANES]),
    ) -> [f64; LANES] {
        let Some((cumulative, density)) = self.window.of_pieces() else {
            *weight = [1.0; LANES];
            *piece = [0; LANES];
            return *u;
        };
        let last = cumulative.len() - 1;
        let all = F::splat(cumulative[last]);
        let pick = F::load(u) * all;
        // counting beats a binary search, whose branches nobody can foresee
        let mut below = F::splat(0.0);
        for &sum in cumulative {
            below = below + F::splat(sum).is_at_most(pick);
        }
        let below = below.store();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a count"
        )]
        let bins = below.map(|count| (count as usize).min(last));
        let before = bins.map(|bin| if bin == 0 { 0.0 } else { cumulative[bin - 1] });
        let after = bins.map(|bin| cumulative[bin]);
        let from = F::load(&bins.map(|bin| density[bin][0]));
        let to = F::load(&bins.map(|bin| density[bin][1]));
        let (before, after) = (F::load(&before), F::load(&after));
        let (zero, one) = (F::splat(0.0), F::splat(1.0));
        let within = ((pick - before) / (after - before)).max(zero).min(one);
        let root = (from * from + within * (to * to - from * from))
            .max(zero)
            .sqrt();
        let part = (within * (from + to) / (from + root)).min(one);
        let width = F::splat(1.0 / cumulative.len() as f64);
        let bin = F::load(&bins.map(|bin| bin as f64));
        *weight = (width * all / (from + part * (to - from))).store();
        #[expect(
            clippy::cast_possible_truncation,
            reason = "below the number of pieces"
        )]
        let bins = bins.map(|bin| bin as u8);
        *piece = bins;
        ((bin + part) * width).store()
    }

    /// Points of the footprint, as [`Lines::start`], and normals there.
    #[inline(always)]
    fn starts<F: Four>(&self, u: &[f64; LANES], v: &[f64; LANES]) -> (V<F>, V<F>) {
        let footprint = &self.lines.scene.sources[self.channel.source].footprint;
        let FootprintShape::Ring {
            inner_radius_m,
            outer_radius_m,
        } = footprint.shape
        else {
            let points: [_; LANES] =
                std::array::from_fn(|lane| self.lines.start(self.channel, [u[lane], v[lane]]));
            return (
                load(&points.map(|point| point.position_m)),
                load(&points.map(|point| point.normal)),
            );
        };
        let inner = inner_radius_m * inner_radius_m;
        let outer = outer_radius_m * outer_radius_m;
        let radius = (F::splat(inner) + F::load(u) * F::splat(outer - inner)).sqrt();
        let (sine, cosine) = sin_cos_of_turns_four(F::load(v));
        let [along, across, normal] = footprint.frame;
        let point = plus(
            plus(
                splat(footprint.centre_m),
                times(splat(along), radius * cosine),
            ),
            times(splat(across), radius * sine),
        );
        let lift = normal * self.lines.standoff_m();
        (plus(point, splat(lift)), splat(normal))
    }

    /// Poses, as [`Lines::pose`].
    #[inline(always)]
    fn poses<F: Four>(&self, at: &[f64; LANES]) -> Poses<F> {
        match &self.channel.course {
            Course::Still(pose) => {
                let [x, y, z, shift] = columns(pose);
                Poses([splat(x), splat(y), splat(z), splat(shift)])
            }
            Course::Turning { rotation, terms } => {
                let angles = at.map(|at| self.channel.motion.angle_for(*rotation, at));
                let turns = F::load(&angles) * F::splat(1.0 / TAU);
                let turn = sin_cos_of_turns_four(turns);
                let [level, by_cosine, by_sine] = terms.each_ref().map(columns);
                let terms = |column: usize| [level[column], by_cosine[column], by_sine[column]];
                Poses([
                    turned(terms(0), turn),
                    turned(terms(1), turn),
                    turned(terms(2), turn),
                    turned(terms(3), turn),
                ])
            }
            Course::Tumbling => Poses::gather(at.map(|at| self.lines.pose(self.channel, at))),
        }
    }
}
