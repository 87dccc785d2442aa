//! Which smoothing is right for a region, and how far it is off.
//!
//! In: two independent halves of the scores, smoothed at all levels. Out: a level and sums of squared deviations.

/// Levels between a smoothing and the finer one that tells how far it is off.
const FINER: usize = 3;
/// Level of smoothing with so little noise left that it tells more than the scores themselves do.
const FINEST: usize = 2;
/// A finer smoothing is taken when it foretells better by so many standard deviations: one of ten that are no better
/// should seldom look so.
const BEYOND: f64 = 2.0;

/// Two halves of the scores at all levels, `films[level][half]`.
pub(super) struct Halved<'a> {
    /// Areas of the facets.
    pub areas: &'a [f64],
    /// The finest is that without smoothing.
    pub films: &'a [[Vec<f64>; 2]],
    /// Film as it roughly is.
    pub plain: &'a [f64],
}

/// Weighted sums over a region.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Squares {
    /// Of the squared deviation of the chosen level from a finer one.
    pub coarse: f64,
    /// Of its squared deviation from the finest smoothing, less that from the finer one.
    fine: f64,
    /// Of the finest smoothing's squared deviation from the truth, as far as it is not in the others.
    finest: f64,
    /// Of the square of what makes up that sum: its variance.
    noise: f64,
    /// Of the squared film.
    pub film: f64,
}

impl Squares {
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            coarse: self.coarse + other.coarse,
            fine: self.fine + other.fine,
            finest: self.finest + other.finest,
            noise: self.noise + other.noise,
            film: self.film + other.film,
        }
    }

    /// Squared deviation beneath what the finer smoothing tells.
    ///
    /// From facet to facet the halves' own noise is large, and what is found there mostly noise of either sign: it
    /// counts by the share of its square that is not its variance.
    pub fn beneath(&self) -> f64 {
        let real = self.finest * self.finest / (self.finest * self.finest + self.noise);
        let finest = if self.finest > 0.0 {
            self.finest * real
        } else {
            0.0
        };
        self.fine.max(0.0) + finest
    }
}

impl Halved<'_> {
    /// Sum over facets, weighted as Poisson noise asks: by area over film.
    fn over(&self, facets: &[u32], of: impl Fn(usize) -> f64) -> f64 {
        let facets = facets.iter().map(|&facet| facet as usize);
        facets.map(|i| self.areas[i] / self.plain[i] * of(i)).sum()
    }

    /// Sum over facets of the squares of what [`Halved::over`] sums.
    fn squared(&self, facets: &[u32], of: impl Fn(usize) -> f64) -> f64 {
        let facets = facets.iter().map(|&facet| facet as usize);
        let one = |i: usize| self.areas[i] / self.plain[i] * of(i);
        facets.map(|i| one(i).powi(2)).sum()
    }

    /// The level whose fit to one half foretells the other best beyond chance, and how far it is off.
    ///
    /// With x₁, x₂ the halves (truth and noise of their own) and P the smoothing, ⟨(P x₁ − x₁)(P x₂ − x₂)⟩ is the squared
    /// deviation of P from the truth, without noise in its mean; but a noisy number. Against a finer smoothing instead
    /// of x it is far less noisy and finds nearly as much.
    pub fn best(&self, facets: &[u32]) -> (usize, Squares) {
        let [x, y] = &self.films[0];
        let miss = |level: usize, i: usize| {
            let [one, other] = &self.films[level];
            (one[i] - y[i]).powi(2) + (other[i] - x[i]).powi(2)
        };
        let mut level = self.films.len() - 1;
        for finer in (0..level).rev() {
            let better = |i: usize| miss(level, i) - miss(finer, i);
            // a finer one has more noise, which is there for sure
            if self.over(facets, better) > BEYOND * self.squared(facets, better).sqrt() {
                level = finer;
            }
        }
        let [one, other] = &self.films[level];
        let [fine, fine_other] = &self.films[level.saturating_sub(FINER)];
        let [least, least_other] = &self.films[level.min(FINEST)];
        let coarse = |i: usize| (one[i] - fine[i]) * (other[i] - fine_other[i]);
        let middle = |i: usize| (one[i] - least[i]) * (other[i] - least_other[i]);
        let all = |i: usize| (one[i] - x[i]) * (other[i] - y[i]);
        let squares = Squares {
            coarse: self.over(facets, coarse),
            fine: self.over(facets, |i| middle(i) - coarse(i)),
            finest: self.over(facets, |i| all(i) - middle(i)),
            noise: self.squared(facets, |i| all(i) - middle(i)),
            film: self.over(facets, |i| self.plain[i].powi(2)),
        };
        (level, squares)
    }
}
