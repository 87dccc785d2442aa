//! The lines of one receiver and channel: drawn, judged eight at a time, and added up.
//!
//! In: points of low-discrepancy tables. Out: film per scrambling, and sums in a [`Cell`].

use super::aimed::Aimed;
use super::channel::Channel;
use super::cluster::Common;
use super::draw::{FourLines, Pen, Points};
use super::gather::{Cell, STRIDE};
use super::kernel::packet::RAYS;
use super::lines::{Ends, Line, Lines, Target};
use super::looks::Looks;
use super::window::Window;
use crate::lanes::{LANES, Level};
use crate::random::DIMENSIONS;
use crate::trig::acos;
use glam::DVec3;

/// Lines judged in one go.
const BATCH: usize = 1024;
/// Directions are told apart in so many cells a side.
const SIDE: u8 = 16;
const CELLS: usize = SIDE as usize * SIDE as usize;

/// What the lines of one receiver and channel have in common.
pub(crate) struct Bundle<'a> {
    pub common: Common<'a>,
    pub target: Target,
    pub window: Window,
    /// A bit for each piece in which all lines are proved clear of what shares the receiver's frame.
    pub clear: u32,
    /// Where on the receiver lines end.
    pub aimed: Aimed,
}

/// Lines that wait to be judged; room that is used again and again.
#[derive(Default)]
pub(crate) struct Batch {
    /// Lines yet to be drawn, fewer than four: their variates and their scramblings.
    points: Points,
    scramblings: [u8; LANES],
    filled: usize,
    drawn: Vec<Drawn>,
    /// Numbers of those that need a look, in the order of their directions.
    order: Vec<u16>,
}

/// A line that waits to be judged.
struct Drawn {
    ends: [Ends; 2],
    cosine: f64,
    /// Film that it brings if it is clear, m.
    arrives: f64,
    /// Weight of its time.
    weight: f64,
    /// Piece that holds its time.
    bin: u8,
    /// Its scrambling in this pass.
    scrambling: u8,
    /// Cell of its direction.
    cell: u8,
    /// Nothing found in the way so far.
    clear: bool,
    /// It took a look to find that.
    looked: bool,
}

/// Where the film of lines is added up.
pub(crate) struct Tallied<'a> {
    pub cell: &'a mut Cell,
    /// Estimates per scrambling of this pass, m.
    pub found: &'a mut [f64; STRIDE as usize],
    pub looks: Looks,
}

impl Bundle<'_> {
    /// Draws one line for a scrambling of this pass, when four have come together; judges all that wait when the
    /// batch is full.
    #[inline]
    pub fn draw(
        &self,
        point: [f64; DIMENSIONS],
        scrambling: u8,
        batch: &mut Batch,
        to: &mut Tallied,
    ) {
        let u = match &self.aimed {
            Aimed::Anywhere => self.common.channel.deal(point),
            Aimed::Lit(pieces) => pieces.aim(self.common.channel.deal_place_first(point)),
        };
        for (lanes, u) in batch.points.iter_mut().zip(u) {
            lanes[batch.filled] = u;
        }
        batch.scramblings[batch.filled] = scrambling;
        batch.filled += 1;
        if batch.filled == LANES {
            self.draw_those(batch);
            if batch.drawn.len() == BATCH {
                self.judge(batch, to);
            }
        }
    }

    /// Draws the lines that have come together.
    fn draw_those(&self, batch: &mut Batch) {
        let Common {
            lines,
            channel,
            thickness,
            ..
        } = self.common;
        let pen = Pen {
            lines,
            channel,
            target: &self.target,
            window: &self.window,
        };
        let mut four = FourLines::default();
        pen.draw(Level::best(), &batch.points, &mut four);
        for lane in 0..std::mem::take(&mut batch.filled) {
            let line = four.line(lane);
            let weight = four.weight[lane];
            let survives = lines.survival(channel, &line);
            let arrives = line.open * line.cosine.max(0.0) * thickness * weight * survives;
            batch.drawn.push(Drawn {
                weight,
                bin: four.bin[lane],
                scrambling: batch.scramblings[lane],
                ..Drawn::of(&self.target, &line, arrives)
            });
        }
    }

    /// Judges the lines that wait and adds them up, in the order in which they were drawn.
    pub fn judge(&self, batch: &mut Batch, to: &mut Tallied) {
        if batch.filled > 0 {
            self.draw_those(batch);
        }
        let there = (self.common.lines, self.common.channel, &self.target);
        batch.look(there, self.clear);
        for drawn in batch.drawn.drain(..) {
            if drawn.arrives <= 0.0 {
                continue;
            }
            to.looks.count(usize::from(drawn.bin), drawn.clear);
            let cell = &mut *to.cell;
            if !drawn.clear {
                cell.blocked = cell.blocked.saturating_add(1);
                cell.missed += drawn.arrives;
                continue;
            }
            cell.arrived = cell.arrived.saturating_add(1);
            cell.looked |= drawn.looked;
            cell.angle += drawn.arrives * acos(drawn.cosine.min(1.0));
            cell.visible += self.common.visible * drawn.weight;
            to.found[usize::from(drawn.scrambling)] += drawn.arrives;
        }
    }
}

impl Drawn {
    /// A line that brings so much film if it is clear.
    #[inline]
    fn of(target: &Target, line: &Line, arrives: f64) -> Self {
        Self {
            ends: line.ends,
            cosine: line.cosine,
            arrives,
            weight: 1.0,
            bin: 0,
            scrambling: 0,
            cell: Self::cell(target, line),
            clear: arrives > 0.0,
            looked: false,
        }
    }

    /// Cell of a line's direction over the receiver, neighbours mostly next to each other.
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "cut off at the rim"
    )]
    fn cell(target: &Target, line: &Line) -> u8 {
        let [first, second] = target.across();
        let place = |axis: DVec3| {
            let share = 0.5 + 0.5 * line.toward.dot(axis);
            (share * f64::from(SIDE)).clamp(0.0, f64::from(SIDE - 1)) as u8
        };
        let apart = |cell: u8| {
            let pairs = (cell | cell << 2) & 0x33;
            (pairs | pairs << 1) & 0x55
        };
        apart(place(first)) << 1 | apart(place(second)) // Z-curve
    }
}

/// Where lines run: scene, channel, receiver.
type There<'a> = (&'a Lines<'a>, &'a Channel, &'a Target);

impl Batch {
    /// True for each of some lines that arrives with nothing in the way.
    pub fn free(&mut self, there: There, lines: &[Line]) -> impl Iterator<Item = bool> {
        for line in lines {
            let arrives = line.open * line.cosine.max(0.0);
            self.drawn.push(Drawn::of(there.2, line, arrives));
        }
        self.look(there, 0);
        self.drawn.drain(..).map(|drawn| drawn.clear)
    }

    /// Looks which of the lines that wait are blocked.
    ///
    /// - `proved`: a bit for each piece in which nothing that shares the receiver's frame is in the way
    fn look(&mut self, (lines, channel, target): There, proved: u32) {
        for own in [true, false] {
            let riding = target.riding() == own;
            let kernel = &lines.group(channel.configuration, riding).kernel;
            if kernel.is_empty() {
                continue;
            }
            self.sort(|drawn| {
                let ends = &drawn.ends[usize::from(riding)];
                let proved = own && proved >> drawn.bin & 1 != 0;
                drawn.clear && !proved && kernel.near(ends.to, ends.from)
            });
            let skip = own.then_some(target.triangle());
            for eight in self.order.chunks(RAYS) {
                let mut segments = [(DVec3::ZERO, DVec3::ZERO); RAYS];
                for (segment, &number) in segments.iter_mut().zip(eight) {
                    let ends = &self.drawn[usize::from(number)].ends[usize::from(riding)];
                    *segment = (ends.to, ends.from);
                }
                let blocked = kernel.blocked_eight(&segments[..eight.len()], skip);
                for (bit, &number) in eight.iter().enumerate() {
                    let drawn = &mut self.drawn[usize::from(number)];
                    drawn.looked = true;
                    drawn.clear &= blocked >> bit & 1 == 0;
                }
            }
        }
    }

    /// Sorts those that need a look by the cells of their directions.
    #[expect(clippy::cast_possible_truncation, reason = "fewer than 2¹⁶ lines")]
    fn sort(&mut self, needs: impl Fn(&Drawn) -> bool) {
        let mut starts = [0_usize; CELLS + 1];
        for drawn in self.drawn.iter().filter(|drawn| needs(drawn)) {
            starts[usize::from(drawn.cell) + 1] += 1;
        }
        for cell in 0..CELLS {
            starts[cell + 1] += starts[cell];
        }
        self.order.clear();
        self.order.resize(starts[CELLS], 0);
        for (number, drawn) in self.drawn.iter().enumerate() {
            if needs(drawn) {
                self.order[starts[usize::from(drawn.cell)]] = number as u16;
                starts[usize::from(drawn.cell)] += 1;
            }
        }
    }
}
