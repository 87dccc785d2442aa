//! What a pilot saw of a footprint from a receiver, and where more lines are worth drawing.
//!
//! In: lines drawn and lines clear in each piece of a step. Out: factors on the density of
//! [`super::window`], and pieces in which nothing is in the way.

use super::window::BINS;

/// Variance of the film of one line, relative, that has nothing to do with what stands in the way.
const SMOOTH: f64 = 0.15;

/// Variance that a pilot of few lines cannot rule out where all were blocked.
const UNSEEN: f64 = 0.02;

/// The largest variance: half the lines clear.
const MOST_UNEVEN: f64 = 0.25 + 0.5 * SMOOTH + UNSEEN;

/// What a pilot saw in each piece: lines drawn and lines that were clear.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Looks {
    drawn: [u16; BINS],
    clear: [u16; BINS],
}

/// What a pilot learned of a receiver's view of a footprint.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Seen {
    /// How uneven the view is in each piece: the factor on the density, in 255ths.
    pub uneven: [u8; BINS],
    /// A bit for each piece in which all lines are proved clear of what shares the receiver's frame.
    pub clear: u32,
}

impl Looks {
    /// Nothing seen yet.
    pub const NONE: Self = Self {
        drawn: [0; BINS],
        clear: [0; BINS],
    };

    /// Counts a line.
    #[inline]
    pub fn count(&mut self, bin: usize, clear: bool) {
        self.drawn[bin] = self.drawn[bin].saturating_add(1);
        self.clear[bin] = self.clear[bin].saturating_add(u16::from(clear));
    }

    /// Both together.
    pub fn plus(mut self, other: &Self) -> Self {
        for bin in 0..BINS {
            self.drawn[bin] = self.drawn[bin].saturating_add(other.drawn[bin]);
            self.clear[bin] = self.clear[bin].saturating_add(other.clear[bin]);
        }
        self
    }

    /// True when a line in the piece was blocked.
    pub fn blocked(&self, bin: usize) -> bool {
        self.clear[bin] < self.drawn[bin]
    }

    /// The factors: how uneven the view is, √(p(1 − p) + p · [`SMOOTH`] + [`UNSEEN`]), with p the share that is
    /// clear.
    ///
    /// Lines are stratified in time, so they belong where the view changes within a piece, and fewer do
    /// where all is clear or nothing is. Neighbours count half: a shadow's edge moves on from piece to piece.
    /// Where all lines fared alike nothing is learned: the unblocked flux is then the best density.
    pub fn uneven(&self) -> [u8; BINS] {
        let sum = |counts: &[u16; BINS]| counts.iter().map(|&n| u32::from(n)).sum::<u32>();
        let (drawn, clear) = (sum(&self.drawn), sum(&self.clear));
        if clear == 0 || clear == drawn {
            return [u8::MAX; BINS];
        }
        let smooth = |counts: &[u16; BINS], bin: usize| {
            let at = |bin: usize| f64::from(counts[bin]);
            at(bin) + 0.5 * (at((bin + BINS - 1) % BINS) + at((bin + 1) % BINS))
        };
        std::array::from_fn(|bin| {
            let (clear, drawn) = (smooth(&self.clear, bin), smooth(&self.drawn, bin));
            let unlike = if drawn > 0.0 {
                // 0 where all fared alike: no noise of small numbers in what is smooth
                let share = clear / drawn;
                share * (1.0 - share + SMOOTH) + UNSEEN
            } else {
                MOST_UNEVEN
            };
            let uneven = (unlike / MOST_UNEVEN).sqrt().min(1.0);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a share of 255"
            )]
            let factor = (uneven * 255.0).round() as u8;
            factor
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_go_where_the_view_changes_and_nowhere_none() {
        let mut looks = Looks::NONE;
        (0..1000).for_each(|_| looks.count(3, false));
        (0..1000).for_each(|_| looks.count(12, true));
        (0..1000).for_each(|i| looks.count(20, i % 2 == 0));
        let seen = looks.uneven();
        assert_eq!(seen[20], 255);
        for (bin, variance) in [(3, UNSEEN), (12, SMOOTH + UNSEEN)] {
            let factor = (variance / MOST_UNEVEN).sqrt() * 255.0;
            assert!((f64::from(seen[bin]) - factor).abs() < 5.0);
        }
        assert_eq!(seen[8], 255, "nothing is known of it");
        let mut alike = Looks::NONE;
        (0..1000).for_each(|i| alike.count(i % 7, true));
        assert_eq!(alike.uneven(), [255; BINS]);
    }
}
