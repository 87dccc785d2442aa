//! Atoms on their way through gas and off surfaces, each with extra flights drawn towards the parts.
//!
//! In: lines, targets, atom numbers. Out: scores in a [`Book`]. Only what comes after a collision or a bounce is scored:
//! what comes straight is gathered.
//!
//! At every place where an atom's direction is drawn anew, several flights are drawn alike, and each counts with the
//! chance that it meets nothing before the part that it flies towards; the atom itself then flies on along the first
//! of them and scores nothing where it lands. Where the density of directions is known, flights are aimed at the balls
//! around parts instead and weighed by it. The mean is that of plain firing: a flight from a place is replaced by
//! the mean of several, and an exponential free path by its chance. Near a part an atom is split into lighter ones, far
//! away, or flying past, few go on and weigh more: the mean stays as it is again. Source: E. D. Cashwell and
//! C. J. Everett, "A practical manual on the Monte Carlo method" (1959), splitting and Russian roulette, from memory.

use super::book::Book;
use super::targets::{Heading, Seen, Standing, Targets};
use crate::random::{Net, Stream, Use};
use crate::transport::fire::Landing;
use crate::transport::flight::{Atom, Turn, Way};
use crate::transport::lines::Lines;
use glam::DVec3;
use rayon::prelude::*;
use std::ops::Range;

/// Atoms per unit of parallel work.
const CHUNK: u64 = 16;
/// A flight that few would survive is drawn on with this times that chance.
const KEPT: f64 = 3.0;
/// An atom is split when it is this much too heavy, and may go when this much too light.
const WINDOW: [f64; 2] = [1.5, 0.5];
/// A direction counts that lasts this many free paths.
const LASTING: f64 = 2.0;
/// Most pieces at once.
const MOST_PIECES: f64 = 64.0;

/// Draws scattered flights.
pub(super) struct Walker<'a> {
    pub lines: &'a Lines<'a>,
    pub targets: Targets,
    /// Running sums of the channels' real atoms.
    pub cumulative: Vec<f64>,
    pub seed: u64,
    /// What the atoms are for.
    pub purpose: Use,
    /// Whether the atoms that are followed together start from the points of a net of their own: measured on parts alone.
    pub from_nets: bool,
}

/// An atom where its direction is to be drawn.
struct Piece {
    atom: Atom,
    turn: Turn,
    weight: f64,
}

impl Walker<'_> {
    /// Follows the atoms with these numbers; false if it was stopped, and what is in the book then no longer of use.
    pub fn walk(&self, numbers: Range<u64>, book: &Book, stop: &(dyn Fn() -> bool + Sync)) -> bool {
        let chunks = (numbers.end - numbers.start).div_ceil(CHUNK);
        let net = self
            .from_nets
            .then(|| Net::new(self.seed, self.purpose, numbers.start));
        (0..chunks).into_par_iter().all(|chunk| {
            let first = numbers.start + chunk * CHUNK;
            let last = (first + CHUNK).min(numbers.end);
            let stream = |number: u64| {
                #[expect(clippy::cast_possible_truncation, reason = "a batch is far smaller")]
                let place = (number - numbers.start) as u32;
                let lead = net.as_ref().map(|net| net.point(place));
                Stream::led(self.seed, self.purpose, number, lead)
            };
            !stop() && (first..last).all(|number| self.one(stream(number), book, stop))
        })
    }

    fn one(&self, mut stream: Stream, book: &Book, stop: &dyn Fn() -> bool) -> bool {
        let Some(&all) = self.cumulative.last() else {
            return true;
        };
        let pick = stream.uniform() * all;
        let channel = self
            .cumulative
            .partition_point(|&sum| sum <= pick)
            .min(self.cumulative.len() - 1);
        let way = Way::new(self.lines, channel, &mut stream);
        let standing = self.targets.standing(
            self.lines.channels[channel].configuration,
            way.chamber_from_riding(),
            way.start().at_m,
        );
        let here = Here {
            walker: self,
            way: &way,
            standing: &standing,
            book,
            channel,
        };
        let mut waiting = Vec::new();
        here.fly_on(way.start(), 1.0, &mut waiting, &mut stream);
        let mut turns = 0_u32;
        let mut seen = Vec::new();
        while let Some(mut piece) = waiting.pop() {
            here.draw(&mut piece, &mut seen, &mut stream);
            here.fly_on(piece.atom, piece.weight, &mut waiting, &mut stream);
            turns = turns.wrapping_add(1);
            if turns.is_multiple_of(1 << 16) && stop() {
                return false;
            }
        }
        true
    }
}

/// In how many pieces an atom goes on, and what each weighs: on average what the atom weighed.
fn pieces(weight: f64, wanted: f64, stream: &mut Stream) -> (u32, f64) {
    let [heavy, light] = WINDOW;
    let ratio = weight / wanted;
    if ratio > heavy {
        let ratio = ratio.min(MOST_PIECES);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at most one more than the most pieces"
        )]
        let count = (ratio + stream.uniform()).floor() as u32;
        (count, weight / ratio)
    } else if ratio >= light {
        (1, weight)
    } else if stream.uniform() < ratio {
        (1, wanted)
    } else {
        (0, 0.0)
    }
}

/// One atom's surroundings.
struct Here<'a> {
    walker: &'a Walker<'a>,
    way: &'a Way<'a>,
    standing: &'a Standing,
    book: &'a Book,
    channel: usize,
}

impl Here<'_> {
    /// Flies to where the direction is drawn anew; splits the atom there or lets it go, or lets it go before it sets out
    /// where it would hardly come near.
    fn fly_on(
        &self,
        mut atom: Atom,
        mut weight: f64,
        waiting: &mut Vec<Piece>,
        stream: &mut Stream,
    ) {
        let heading = self.heading(&atom);
        if let Some(heading) = &heading {
            // a wall that holds little sends back what flies there
            let least = 1.0 - self.way.wall_sticking();
            let wanted = self.standing.weight_along(atom.at_m, heading, least);
            // it is split where it arrives, not where it sets out
            let (count, kept) = pieces(weight, wanted.max(weight), stream);
            if count == 0 {
                return;
            }
            weight = kept;
        }
        let met = self.way.next(&atom, stream);
        if self.way.ends(&met, &atom, stream) {
            return;
        }
        let turn = self.way.arrive(&mut atom, &met);
        let wanted = match (heading, turn) {
            (Some(heading), Turn::Gas) => self.standing.weight_along(atom.at_m, &heading, 0.0),
            _ => self.standing.weight(atom.at_m),
        };
        let (count, weight) = pieces(weight, wanted, stream);
        waiting.extend((0..count).map(|_| Piece { atom, turn, weight }));
    }

    /// An atom's direction, and how well it keeps it; none where it hardly outlasts a collision.
    fn heading(&self, atom: &Atom) -> Option<Heading> {
        let free_path_m = self.way.free_path_m(&atom.velocity);
        let straight_path_m = self.way.straight_path_m(&atom.velocity);
        let lasts = straight_path_m > LASTING * free_path_m && straight_path_m < f64::INFINITY;
        lasts.then_some(Heading {
            along: atom.velocity.along,
            free_path_m,
            straight_path_m,
        })
    }

    /// Draws flights, scores them and lets the atom fly on.
    fn draw(&self, piece: &mut Piece, seen: &mut Vec<Seen>, stream: &mut Stream) {
        if self.way.density(piece.turn, DVec3::Z).is_some() {
            self.aim(piece, seen, stream);
        } else {
            self.scatter(piece, stream);
        }
    }

    /// Draws flights as the atom's own, and gives it the first.
    fn scatter(&self, piece: &mut Piece, stream: &mut Stream) {
        let before = piece.atom;
        let path_m = self.way.free_path_m(&before.velocity);
        let flights = self.standing.flights(before.at_m, (piece.weight, path_m));
        let count = (flights + stream.uniform()).floor();
        let score = piece.weight / flights;
        let velocity = self.way.depart(&before, piece.turn, stream);
        piece.atom.velocity = velocity;
        let mut left = count;
        let mut atom = piece.atom;
        while left >= 1.0 {
            self.score(&atom, score, stream);
            left -= 1.0;
            if left >= 1.0 {
                atom.velocity = self.way.depart(&before, piece.turn, stream);
            }
        }
    }

    /// Aims flights at what is to be reached, weighed by how likely the atom is to fly there, and draws its own.
    fn aim(&self, piece: &mut Piece, seen: &mut Vec<Seen>, stream: &mut Stream) {
        let before = piece.atom;
        let path_m = self.way.free_path_m(&before.velocity);
        let aims = self
            .standing
            .aims(before.at_m, (piece.weight, path_m), seen);
        let mut left = (aims.flights + stream.uniform()).floor();
        while left >= 1.0 {
            left -= 1.0;
            let (along, flights) = aims.draw(stream);
            let density = self.way.density(piece.turn, along).unwrap_or(0.0);
            if density > 0.0 && flights > 0.0 {
                let velocity = self.way.depart_along(&before, piece.turn, along, stream);
                let mut atom = before;
                atom.velocity = velocity;
                self.score(&atom, piece.weight * density / flights, stream);
            }
        }
        piece.atom.velocity = self.way.depart(&before, piece.turn, stream);
    }

    /// Scores a flight with the chance that it arrives.
    fn score(&self, atom: &Atom, weight: f64, stream: &mut Stream) {
        let along = atom.velocity.along;
        let Some(entry_m) = self.standing.entry_m(atom.at_m, along) else {
            return;
        };
        let path_m = self.way.free_path_m(&atom.velocity);
        let kept = (KEPT * (-entry_m / path_m).exp()).min(1.0);
        if kept < 1.0 && stream.uniform() >= kept {
            return;
        }
        let Some((hit, riding)) = self.way.first_body(atom, along, f64::INFINITY) else {
            return;
        };
        let Landing::Body {
            body,
            triangle,
            side,
            bary,
            incidence_rad,
        } = self.way.landing_on(&hit, riding, along)
        else {
            return;
        };
        if !self.walker.targets.is_aimed(body) {
            return;
        }
        let scene = self.walker.lines.scene;
        if let Some(receiver) = scene.receiver_at(body, triangle, side, bary) {
            let stays = scene.bodies[body.0 as usize].sticking;
            let score = weight / kept * (-hit.t / path_m).exp() * stays;
            self.book
                .add((receiver, self.channel), score, incidence_rad);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Running;

    #[test]
    fn splitting_and_letting_go_keep_an_atoms_weight_on_average() {
        let mut stream = Stream::new(3, Use::Scatter, 0);
        for (weight, wanted) in [
            (1.0, 20.0),
            (0.3, 0.7),
            (1.0, 1.9),
            (1.0, 0.37),
            (9.0, 0.08),
        ] {
            let after: Running = (0..40_000)
                .map(|_| {
                    let (count, each) = pieces(weight, wanted, &mut stream);
                    f64::from(count) * each
                })
                .collect();
            let error = after.std_error().unwrap().max(1e-12);
            let off = (after.mean() - weight).abs() / error;
            assert!(off < 4.0, "{weight}, {wanted}: {} ± {error}", after.mean());
        }
    }
}
