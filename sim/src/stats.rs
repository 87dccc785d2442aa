//! Statistics that transport, film and the checks share: means with errors, quantiles, limits.
//!
//! In: plain numbers. Out: plain numbers. No module of the road depends on less.

/// Running mean and variance of equally weighted values.
///
/// Source: B. P. Welford, Technometrics 4, 419 (1962); merging: T. F. Chan, G. H. Golub,
/// R. J. LeVeque, The American Statistician 37, 242 (1983) (both from memory, and tested).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Running {
    count: u64,
    mean: f64,
    squares: f64,
}

impl Running {
    /// Takes in one value.
    pub fn push(&mut self, value: f64) {
        self.count += 1;
        let before = value - self.mean;
        self.mean += before / to_f64(self.count);
        self.squares += before * (value - self.mean);
    }

    /// Takes in all values of another one.
    pub fn merge(&mut self, other: &Self) {
        if other.count == 0 {
            return;
        }
        let (here, there) = (to_f64(self.count), to_f64(other.count));
        let all = here + there;
        let apart = other.mean - self.mean;
        self.mean += apart * (there / all);
        self.squares += other.squares + apart * apart * (here * there / all);
        self.count += other.count;
    }

    /// Number of values.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean; 0 without values.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Unbiased variance of one value; none with fewer than two values.
    pub fn variance(&self) -> Option<f64> {
        (self.count > 1).then(|| self.squares.max(0.0) / to_f64(self.count - 1))
    }

    /// Standard error of the mean, √(variance/count); none with fewer than two values.
    pub fn std_error(&self) -> Option<f64> {
        self.variance()
            .map(|variance| (variance / to_f64(self.count)).sqrt())
    }
}

impl FromIterator<f64> for Running {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        let mut running = Self::default();
        values.into_iter().for_each(|value| running.push(value));
        running
    }
}

/// A count as f64; exact below 2⁵³.
fn to_f64(count: u64) -> f64 {
    count as f64
}

/// The smallest value at or below which a share `q` of the weight lies.
///
/// Values of weight 0 are left out; no interpolation, so the answer is one of the values.
///
/// - `values`, `weights`: same length; weights 0 or more (areas, say)
/// - `q`: share, 0 to 1; 0 gives the smallest and 1 the largest value that has weight
/// - returns none if nothing has weight
pub fn weighted_quantile(values: &[f64], weights: &[f64], q: f64) -> Option<f64> {
    weighted_quantiles(values, weights, &[q]).map(|found| found[0])
}

/// [`weighted_quantile`] for several shares at the price of one sorting.
///
/// - `shares`: in any order
/// - returns one value per share, none if nothing has weight
pub fn weighted_quantiles(values: &[f64], weights: &[f64], shares: &[f64]) -> Option<Vec<f64>> {
    let mut pairs: Vec<(f64, f64)> = values
        .iter()
        .copied()
        .zip(weights.iter().copied())
        .collect();
    pairs.retain(|pair| pair.1 > 0.0);
    pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let last = pairs.last()?.0;
    let mut sum = 0.0;
    for pair in &mut pairs {
        sum += pair.1;
        pair.1 = sum;
    }
    let pick = |&share: &f64| {
        let place = pairs.partition_point(|pair| pair.1 < share * sum);
        pairs.get(place).map_or(last, |pair| pair.0)
    };
    Some(shares.iter().map(pick).collect())
}

/// Quantile of the standard normal distribution: x with Φ(x) = `p`.
///
/// - `p`: probability, above 0 and below 1; 0 and 1 give −∞ and +∞
/// - returns x, to 1e-15 relative in the body and the tails used here
///
/// Source: M. J. Wichura, algorithm AS 241 (PPND16), Applied Statistics 37, 477 (1988),
/// coefficients from memory, compared with an independent library to 1e-14.
pub fn normal_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&CENTRE_TOP, r) / polynomial(&CENTRE_BOTTOM, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail <= 0.0 {
        return f64::INFINITY.copysign(q);
    }
    let r = (-tail.ln()).sqrt();
    let x = if r <= 5.0 {
        polynomial(&MIDDLE_TOP, r - 1.6) / polynomial(&MIDDLE_BOTTOM, r - 1.6)
    } else {
        polynomial(&FAR_TOP, r - 5.0) / polynomial(&FAR_BOTTOM, r - 5.0)
    };
    x.copysign(q)
}

/// Σ cₖ xᵏ.
fn polynomial(coefficients: &[f64; 8], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

// Rational approximations of AS 241: |p − 1/2| ≤ 0.425, √(−ln tail) ≤ 5, and beyond.
const CENTRE_TOP: [f64; 8] = [
    3.387_132_872_796_366_6,
    133.141_667_891_784_38,
    1_971.590_950_306_551_3,
    13_731.693_765_509_46,
    45_921.953_931_549_87,
    67_265.770_927_008_7,
    33_430.575_583_588_13,
    2_509.080_928_730_122_7,
];
const CENTRE_BOTTOM: [f64; 8] = [
    1.0,
    42.313_330_701_600_91,
    687.187_007_492_057_9,
    5_394.196_021_424_751,
    21_213.794_301_586_597,
    39_307.895_800_092_71,
    28_729.085_735_721_943,
    5_226.495_278_852_545,
];
const MIDDLE_TOP: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    0.241_780_725_177_450_6,
    0.022_723_844_989_269_184,
    7.745_450_142_783_414e-4,
];
const MIDDLE_BOTTOM: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    0.689_767_334_985_1,
    0.148_103_976_427_480_08,
    0.015_198_666_563_616_457,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_8e-9,
];
const FAR_TOP: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    0.296_560_571_828_504_87,
    0.026_532_189_526_576_124,
    0.001_242_660_947_388_078_4,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const FAR_BOTTOM: [f64; 8] = [
    1.0,
    0.599_832_206_555_888,
    0.136_929_880_922_735_8,
    0.014_875_361_290_850_615,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_8e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];

/// Probability that χ² with `degrees` degrees of freedom exceeds `x`.
///
/// Q(k/2, x/2), the upper regularised incomplete gamma function: its power series below the mean, its
/// continued fraction above.
///
/// Source: NIST Digital Library of Mathematical Functions, 8.7.1 and 8.9.2 (from memory, compared with
/// an independent library to 1e-11).
pub fn chi_squared_tail(degrees: usize, x: f64) -> f64 {
    let a = 0.5 * count_f64(degrees);
    let x = 0.5 * x;
    if x <= 0.0 {
        return 1.0;
    }
    let scale = (a * x.ln() - x - log_gamma_of_half(degrees)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > sum * f64::EPSILON {
            n += 1.0;
            term *= x / n;
            sum += term;
        }
        return 1.0 - scale * sum;
    }
    // Modified Lentz evaluation of 1/(x+1−a − 1(1−a)/(x+3−a − 2(2−a)/(x+5−a − …))).
    let mut b = x + 1.0 - a;
    let (mut c, mut d) = (f64::INFINITY, 1.0 / b);
    let mut fraction = d;
    for i in 1..10_000 {
        let i = f64::from(i);
        let numerator = -i * (i - a);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = b + numerator / c;
        fraction *= c * d;
        if (c * d - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    scale * fraction
}

/// ln Γ(k/2) by the recurrence from Γ(1) = 1 or Γ(½) = √π.
fn log_gamma_of_half(k: usize) -> f64 {
    let (mut at, start) = if k.is_multiple_of(2) {
        (1.0, 0.0)
    } else {
        (0.5, 0.5 * std::f64::consts::PI.ln())
    };
    let mut sum = start;
    while at < 0.5 * count_f64(k) - 0.25 {
        sum += f64::ln(at);
        at += 1.0;
    }
    sum
}

/// Value that χ² with `degrees` degrees of freedom exceeds with probability `p`.
///
/// - `p`: probability, above 0 and below 1
/// - returns the root of [`chi_squared_tail`] = `p` by bisection
pub fn chi_squared_upper(degrees: usize, p: f64) -> f64 {
    let (mut low, mut high) = (0.0, count_f64(degrees) + 10.0);
    while chi_squared_tail(degrees, high) > p {
        high *= 2.0;
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if chi_squared_tail(degrees, middle) > p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// A count as f64.
fn count_f64(count: usize) -> f64 {
    count as f64
}

/// Distance of a result from its reference in standard errors, less a known bias.
///
/// z = max(0, |x − ref| − bias) / √(se² + se_ref²); 0 where nothing is left to compare, +∞ where a
/// difference stands against no error at all.
pub fn z(x: f64, reference: f64, std_error: f64, reference_std_error: f64, bias: f64) -> f64 {
    let apart = (x - reference).abs() - bias;
    if apart.is_nan() {
        return f64::INFINITY; // what is not a number never agrees
    }
    let error = std_error.hypot(reference_std_error);
    if apart > 0.0 { apart / error } else { 0.0 }
}

/// The |z| that a suite of `checks` independent comparisons exceeds anywhere with probability
/// `false_alarm`.
///
/// −Φ⁻¹(false_alarm / (2·checks)): 4.42 for 100 checks, 4.89 for 1000 at 1e-3.
pub fn z_limit(checks: usize, false_alarm: f64) -> f64 {
    #[expect(
        clippy::cast_precision_loss,
        reason = "a suite has far fewer than 2^53 checks"
    )]
    let checks = checks.max(1) as f64;
    -normal_quantile(0.5 * false_alarm / checks)
}

#[cfg(test)]
mod tests;
