//! Receivers that lie side by side, and lines to all of them from one place at one time.
//!
//! In: up to eight receivers that face alike, points of low-discrepancy tables. Out: film per receiver and scrambling.
//!
//! Small facets side by side see the footprints alike. Lines that share their start, its time and their place on the
//! facet run nearly side by side: the start is drawn once, and the ray kernel meets the eight as one. Each receiver's
//! estimate is as unbiased as with lines of its own, and its scramblings are as independent of each other; but
//! neighbours' errors are alike, which sums over rows see, as they are taken within each scrambling.

use super::channel::Channel;
use super::draw::{FourStarts, Pen, Points, V, Vectors, dot, minus, plus, times};
use super::gather::{Cell, STRIDE};
use super::kernel::fan::{Fan, Footings};
use super::kernel::packet::RAYS;
use super::lines::{Lines, Target};
use super::looks::Looks;
use super::window::Window;
use crate::lanes::{Four, LANES, Level, Task};
use crate::random::DIMENSIONS;
use crate::trig::acos;
use glam::DVec3;

/// Receivers of a cluster, at most: as many as the ray kernel takes lines.
pub(crate) const MOST: usize = RAYS;
/// Fewer than these draw lines of their own.
pub(crate) const FEWEST: usize = 3;

/// Slope over a receiver above which lines are clear of what is near it ([`super::kernel`], `rise`), and the cosine of
/// their angle of incidence, a little more than SLOPE/√(1 + SLOPE²) = 0.0995.
const SLOPE: f64 = 0.1;
const STEEP: f64 = 0.1;
/// Lines to a receiver from which on looking for that costs less than it saves.
const WORTH: u32 = 48;

/// Numbers of all receivers; those of places without one mean nothing.
type Eight = [f64; MOST];

/// Some receivers in one channel.
pub(crate) struct Cluster<'a> {
    lines: &'a Lines<'a>,
    channel: &'a Channel,
    /// One of them, for what they have in common.
    any: &'a Target,
    count: usize,
    /// As dense as the windows of all.
    window: Window,
    corner: [Eight; 3],
    edges: [[Eight; 3]; 2],
    normal: [Eight; 3],
    footings: Footings,
    open: Footings,
    /// Distances before which nothing is in the way of lines that leave a receiver steeply, m.
    rises: Eight,
    /// A bit for each piece in which all lines of a receiver are proved clear of what shares its frame.
    clear: [u32; MOST],
    /// Film per unit of flux, m³.
    thickness: f64,
    /// Share of the emission in open time.
    visible: f64,
}

/// What is common to the lines of a channel.
#[derive(Clone, Copy)]
pub(crate) struct Common<'a> {
    pub lines: &'a Lines<'a>,
    pub channel: &'a Channel,
    /// Film per unit of flux, m³.
    pub thickness: f64,
    /// Share of the emission in open time.
    pub visible: f64,
    /// Lines to a receiver, about.
    pub draws: u32,
}

/// Starts of lines yet to be drawn: their variates and their scramblings.
#[derive(Default)]
pub(crate) struct Waiting {
    points: Points,
    scramblings: [u8; LANES],
    filled: usize,
}

/// The lines of one start.
#[derive(Default)]
pub(crate) struct Sight {
    /// Flux per atom at the receivers if they faced the footprint, 1/m².
    pub open: Eight,
    /// Cosine of the incidence angle; below 0 behind the receiver.
    pub cosine: Eight,
    /// Squares of their lengths, m².
    squared: Eight,
    /// Weight of their time, and the piece that holds it.
    weight: f64,
    bin: u8,
    /// A bit for each that brings something if it is clear.
    live: u32,
    blocked: u32,
    looked: u32,
}

impl Sight {
    /// Nothing is in the way of a line that brings something.
    #[inline]
    pub fn is_clear(&self, member: usize) -> bool {
        (self.live & !self.blocked) >> member & 1 != 0
    }
}

/// Where the film of a cluster is added up.
pub(crate) struct Tallied<'a> {
    pub cells: &'a mut [Cell],
    /// Estimates per receiver and scrambling of this pass, m.
    pub found: &'a mut [[f64; STRIDE as usize]; MOST],
    pub looks: &'a mut [Looks; MOST],
}

/// What the lines of one start look like at each receiver.
#[derive(Default)]
struct View {
    to: [Eight; 3],
    cosine: Eight,
    emitted: Eight,
    squared: Eight,
    /// Shares of the ways from the receivers in which nothing that shares their frame is in the way.
    begin: Eight,
}

/// A start whose lines are to be drawn.
struct Opening<'a> {
    cluster: &'a Cluster<'a>,
    starts: &'a FourStarts,
    lane: usize,
    view: &'a mut View,
}

impl Task for Opening<'_> {
    type Output = ();

    #[inline(always)]
    fn run<F: Four>(self) {
        let (cluster, lane) = (self.cluster, self.lane);
        let [first, second] = &self.starts.along;
        let (first, second) = (F::splat(first[lane]), F::splat(second[lane]));
        let from = one::<F>(&self.starts.from, lane);
        let facing = one::<F>(&self.starts.facing, lane);
        for half in 0..MOST / LANES {
            let [e, f] = &cluster.edges;
            let (e, f) = (part::<F>(e, half), part::<F>(f, half));
            let to = plus(
                plus(part::<F>(&cluster.corner, half), times(e, first)),
                times(f, second),
            );
            let span = minus(from, to);
            let squared = dot(span, span);
            let per_distance = F::splat(1.0) / squared.sqrt();
            let cosine = dot(span, part::<F>(&cluster.normal, half)) * per_distance;
            let emitted = F::splat(0.0) - dot(span, facing) * per_distance;
            keep(to[0], &mut self.view.to[0], half);
            keep(to[1], &mut self.view.to[1], half);
            keep(to[2], &mut self.view.to[2], half);
            keep(cosine, &mut self.view.cosine, half);
            keep(emitted, &mut self.view.emitted, half);
            keep(squared, &mut self.view.squared, half);
            let steep = F::splat(1.0) - cosine.is_at_most(F::splat(STEEP));
            let rise = F::load(&cluster.rises.as_chunks::<LANES>().0[half]);
            keep(rise * per_distance * steep, &mut self.view.begin, half);
        }
    }
}

/// The receivers' ends of the lines of a start, on their way into the other frame.
struct Crossing<'a> {
    starts: &'a FourStarts,
    lane: usize,
    to: &'a [Eight; 3],
    there: &'a mut [Eight; 3],
}

impl Task for Crossing<'_> {
    type Output = ();

    #[inline(always)]
    fn run<F: Four>(self) {
        let [x, y, z, shift] = &self.starts.elsewhere;
        let (x, y) = (one::<F>(x, self.lane), one::<F>(y, self.lane));
        let (z, shift) = (one::<F>(z, self.lane), one::<F>(shift, self.lane));
        for half in 0..MOST / LANES {
            let [a, b, c] = part::<F>(self.to, half);
            let [a, b, c] = plus(plus(plus(times(x, a), times(y, b)), times(z, c)), shift);
            keep(a, &mut self.there[0], half);
            keep(b, &mut self.there[1], half);
            keep(c, &mut self.there[2], half);
        }
    }
}

/// A vector of one of four lines, for four receivers.
#[inline(always)]
fn one<F: Four>(of: &Vectors, lane: usize) -> V<F> {
    [
        F::splat(of[0][lane]),
        F::splat(of[1][lane]),
        F::splat(of[2][lane]),
    ]
}

/// Vectors of four of eight receivers.
#[inline(always)]
fn part<F: Four>(of: &[Eight; 3], half: usize) -> V<F> {
    [
        F::load(&of[0].as_chunks::<LANES>().0[half]),
        F::load(&of[1].as_chunks::<LANES>().0[half]),
        F::load(&of[2].as_chunks::<LANES>().0[half]),
    ]
}

/// Stores four of eight numbers.
#[inline(always)]
fn keep<F: Four>(values: F, of: &mut Eight, half: usize) {
    of.as_chunks_mut::<LANES>().0[half] = values.store();
}

impl<'a> Cluster<'a> {
    /// Makes receivers ready; none if nothing can arrive on any of them.
    ///
    /// - `members`: at most [`MOST`], all of one body and side
    /// - `windows`, `clear`: per member, as for single receivers
    pub fn new(
        common: Common<'a>,
        members: &'a [Target],
        windows: &[Window],
        clear: [u32; MOST],
    ) -> Option<Self> {
        let Common { lines, channel, .. } = common;
        let window = Window::joined(windows).filter(|window| !window.is_shut())?;
        let any = members.first()?;
        let place = |of: fn(&Target) -> DVec3| {
            let at =
                |axis: usize| std::array::from_fn(|k| of(&members[k.min(members.len() - 1)])[axis]);
            [at(0), at(1), at(2)]
        };
        let kernel = &lines.group(channel.configuration, any.riding()).kernel;
        let facets: Vec<_> = members
            .iter()
            .map(|member| (member.base(), member.triangle()))
            .collect();
        let triangles: Vec<_> = facets.iter().map(|(_, triangle)| Some(*triangle)).collect();
        let mut rises = [0.0; MOST];
        if common.draws >= WORTH {
            rises[..members.len()].copy_from_slice(&kernel.rises(&facets, SLOPE));
        }
        Some(Self {
            lines,
            channel,
            any,
            count: members.len(),
            window,
            corner: place(|target| target.corner),
            edges: [
                place(|target| target.edges[0]),
                place(|target| target.edges[1]),
            ],
            normal: place(Target::normal),
            footings: kernel.footings(&triangles),
            open: kernel.footings(&[]),
            rises,
            clear,
            thickness: common.thickness,
            visible: common.visible,
        })
    }

    /// Draws the lines of one start for a scrambling of this pass, when four have come together.
    #[inline]
    pub fn draw(
        &self,
        point: [f64; DIMENSIONS],
        scrambling: u8,
        waiting: &mut Waiting,
        to: &mut Tallied,
    ) {
        let u = self.channel.deal(point);
        for (lanes, u) in waiting.points.iter_mut().zip(u) {
            lanes[waiting.filled] = u;
        }
        waiting.scramblings[waiting.filled] = scrambling;
        waiting.filled += 1;
        if waiting.filled == LANES {
            self.draw_those(waiting, to);
        }
    }

    /// Draws the lines of the starts that have come together, judges them and adds them up.
    pub fn draw_those(&self, waiting: &mut Waiting, tallied: &mut Tallied) {
        let count = std::mem::take(&mut waiting.filled);
        self.look(&waiting.points, count, |lane, sight| {
            self.tally(sight, usize::from(waiting.scramblings[lane]), tallied);
        });
    }

    /// Draws the lines of up to four starts and shows them, start by start, to a visitor.
    #[inline]
    pub fn look(&self, points: &Points, count: usize, mut visit: impl FnMut(usize, &Sight)) {
        if count == 0 {
            return;
        }
        let pen = Pen {
            lines: self.lines,
            channel: self.channel,
            target: self.any,
            window: &self.window,
        };
        let level = Level::best();
        let mut starts = FourStarts::default();
        pen.draw_starts(level, points, &mut starts);
        for lane in 0..count {
            let mut view = View::default();
            level.run(Opening {
                cluster: self,
                starts: &starts,
                lane,
                view: &mut view,
            });
            visit(lane, &self.judge(&view, (&starts, lane)));
        }
    }

    /// Judges the lines of one start.
    #[inline]
    fn judge(&self, view: &View, (starts, lane): (&FourStarts, usize)) -> Sight {
        let law = &self.lines.scene.sources[self.channel.source].law;
        let bin = starts.bin[lane];
        let mut sight = Sight {
            weight: starts.weight[lane],
            bin,
            cosine: view.cosine,
            squared: view.squared,
            ..Sight::default()
        };
        let mut unproved = 0_u32;
        for member in 0..self.count {
            sight.open[member] = law.pdf_per_sr(view.emitted[member]) / view.squared[member];
            let live = sight.open[member] > 0.0 && view.cosine[member] > 0.0;
            sight.live |= u32::from(live) << member;
            unproved |= (!self.clear[member] >> bin & 1) << member;
        }
        (sight.blocked, sight.looked) = self.blocked(view, (starts, lane), (sight.live, unproved));
        sight
    }

    /// Adds the lines of one start up.
    #[inline]
    fn tally(&self, sight: &Sight, scrambling: usize, to: &mut Tallied) {
        let mut live = sight.live;
        while live != 0 {
            let member = live.trailing_zeros() as usize % MOST;
            live &= live - 1;
            let film = sight.open[member]
                * sight.cosine[member]
                * self.thickness
                * sight.weight
                * self.survival(sight, member);
            let clear = sight.is_clear(member);
            to.looks[member].count(usize::from(sight.bin), clear);
            let cell = &mut to.cells[member];
            if !clear {
                cell.blocked = cell.blocked.saturating_add(1);
                cell.missed += film;
                continue;
            }
            cell.arrived = cell.arrived.saturating_add(1);
            cell.looked |= sight.looked >> member & 1 != 0;
            cell.angle += film * acos(sight.cosine[member].min(1.0));
            cell.visible += self.visible * sight.weight;
            to.found[member][scrambling] += film;
        }
    }

    /// Share of the atoms that fly along a line without meeting a gas atom.
    #[inline]
    pub fn survival(&self, sight: &Sight, member: usize) -> f64 {
        self.lines
            .survival_over(self.channel, || sight.squared[member].sqrt())
    }

    /// Bits for those of some lines that are blocked, and that took a look to find that.
    ///
    /// - `unproved`: those not proved clear of what shares the receivers' frame
    #[inline]
    fn blocked(
        &self,
        view: &View,
        (starts, lane): (&FourStarts, usize),
        (live, unproved): (u32, u32),
    ) -> (u32, u32) {
        let riding = self.any.riding();
        let kernel = |own: bool| {
            let group = self.lines.group(self.channel.configuration, riding == own);
            &group.kernel
        };
        let from = FourStarts::of(&starts.from, lane);
        let asked = match kernel(true).is_empty() {
            true => 0,
            false => live & unproved,
        };
        let fan = Fan {
            from: &view.to,
            to: from,
            footings: &self.footings,
            begin: &view.begin,
        };
        let blocked = kernel(true).blocked_fan(&fan, asked);
        if kernel(false).is_empty() {
            return (blocked, asked);
        }
        let mut there = [[0.0; MOST]; 3];
        Level::best().run(Crossing {
            starts,
            lane,
            to: &view.to,
            there: &mut there,
        });
        let from = FourStarts::of(&starts.from_elsewhere, lane);
        let others = kernel(false).near_some((&there, from), live & !blocked);
        let fan = Fan {
            from: &there,
            to: from,
            footings: &self.open,
            begin: &[0.0; MOST],
        };
        let met = kernel(false).blocked_fan(&fan, others);
        (blocked | met, asked | others)
    }
}
