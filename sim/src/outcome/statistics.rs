//! Area-weighted statistics: chances, quantiles, distributions.
//!
//! In: thicknesses with standard errors and areas. Out: what `outcome::assemble` puts into the summary.

use crate::stats::weighted_quantiles;

/// A thickness on an area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Patch {
    /// m².
    pub area_m2: f64,
    /// m.
    pub thickness_m: f64,
    /// m.
    pub std_error_m: f64,
}

/// Distribution of thickness over an area, m.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Distribution {
    /// Total area, m².
    pub area_m2: f64,
    /// Least.
    pub min_m: f64,
    /// 5th percentile.
    pub p05_m: f64,
    /// Median.
    pub median_m: f64,
    /// Mean.
    pub mean_m: f64,
    /// 95th percentile.
    pub p95_m: f64,
    /// 99th percentile.
    pub p99_m: f64,
    /// Most.
    pub max_m: f64,
    /// Root mean square of the standard errors.
    pub noise_m: f64,
}

/// Chance that a thickness is at least `want_m`, given its estimate and normal error.
///
/// Φ((t − w) / s); for s = 0 it is 1 where t ≥ w and 0 elsewhere.
///
/// - `thickness_m`, `std_error_m`: estimate and its standard error, m, finite, error ≥ 0
/// - returns a probability, 0..=1
///
/// Source: normal distribution function by the complementary error function, Abramowitz & Stegun 26.2.29 (from memory).
/// Neglects: what is known of the thickness besides this one estimate.
pub fn chance_at_least(thickness_m: f64, std_error_m: f64, want_m: f64) -> f64 {
    if std_error_m > 0.0 {
        let z = (thickness_m - want_m) / std_error_m;
        0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
    } else if thickness_m >= want_m {
        1.0
    } else {
        0.0
    }
}

/// Area-weighted distribution of thickness.
///
/// A quantile q is the least thickness t such that the patches with at most t hold at least the share q of the
/// area. All zeros without area.
pub fn distribution(patches: impl Iterator<Item = Patch>) -> Distribution {
    let patches: Vec<Patch> = patches.filter(|patch| patch.area_m2 > 0.0).collect();
    let values: Vec<f64> = patches.iter().map(|patch| patch.thickness_m).collect();
    let weights: Vec<f64> = patches.iter().map(|patch| patch.area_m2).collect();
    let shares = [0.0, 0.05, 0.5, 0.95, 0.99, 1.0];
    let Some(found) = weighted_quantiles(&values, &weights, &shares) else {
        return Distribution::default();
    };
    let area_m2: f64 = weights.iter().sum();
    let mean = |value: &dyn Fn(&Patch) -> f64| {
        let weighed = patches.iter().map(|patch| patch.area_m2 * value(patch));
        weighed.sum::<f64>() / area_m2
    };
    Distribution {
        area_m2,
        min_m: found[0],
        p05_m: found[1],
        median_m: found[2],
        mean_m: mean(&|patch| patch.thickness_m),
        p95_m: found[3],
        p99_m: found[4],
        max_m: found[5],
        noise_m: mean(&|patch| patch.std_error_m * patch.std_error_m).sqrt(),
    }
}

#[cfg(test)]
#[expect(
    clippy::float_cmp,
    reason = "quantiles are values of the input, unchanged"
)]
mod tests {
    use super::*;

    fn patch(thickness_m: f64, area_m2: f64) -> Patch {
        Patch {
            area_m2,
            thickness_m,
            std_error_m: 0.0,
        }
    }

    #[test]
    fn chance_follows_the_normal_table() {
        // Φ(1) = 0.841345, Φ(1.96) = 0.975002, Φ(−3) = 0.00134990: normal table (common knowledge, from memory).
        for (z, table) in [
            (0.0, 0.5),
            (1.0, 0.841_345),
            (1.96, 0.975_002),
            (-3.0, 0.001_349_90),
        ] {
            let chance = chance_at_least(100.0 + 2.0 * z, 2.0, 100.0);
            assert!(
                (chance - table).abs() < 1e-6,
                "z {z}: {chance} against {table}"
            );
        }
        assert_eq!(chance_at_least(1.0, 0.0, 1.0), 1.0);
        assert_eq!(chance_at_least(0.999, 0.0, 1.0), 0.0);
    }

    #[test]
    fn quantiles_weigh_by_area_and_not_by_count() {
        // 90 small patches of thickness 1 on a tenth of the area, one large patch of thickness 3 on the rest.
        let small = (0..90).map(|_| patch(1.0, 0.1 / 90.0));
        let found = distribution(small.chain([patch(3.0, 0.9)]));
        assert_eq!(found.median_m, 3.0);
        assert_eq!(found.p05_m, 1.0);
        assert_eq!(found.p95_m, 3.0);
        assert!((found.mean_m - 2.8).abs() < 1e-12);
        assert_eq!((found.min_m, found.max_m), (1.0, 3.0));
    }

    #[test]
    fn nothing_has_a_distribution_of_zeros() {
        assert_eq!(distribution(std::iter::empty()), Distribution::default());
        assert_eq!(
            distribution([patch(1.0, 0.0)].into_iter()),
            Distribution::default()
        );
    }
}
