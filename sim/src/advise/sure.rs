//! Sure enough: the open time with which the film is as wanted though the rate is known to a range only.
//!
//! In: an open time for the rate as it stands, and how far the rate may be off. Out: longer times with their confidence.

use crate::plan::model::{Output, Source};
use crate::stats::normal_quantile;

/// Confidences that are told.
pub const CONFIDENCES: [f64; 3] = [0.80, 0.90, 0.95];

/// Factor within which a rate scaled to a measured slide lies, at 95 %: a slide's thickness is read to about 5 % and runs
/// repeat to about as much (common practice, no source).
const OF_COUPON: f64 = 1.15;

/// Factor within which a rate from yields or vapour pressures lies, taken as 95 %: as told of any outcome without a coupon;
/// carbon's second.
const OF_FORMULA: [f64; 2] = [2.0, 3.0];

/// An open time and how sure it is to be enough.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Sure {
    /// Chance that it is enough.
    pub confidence: f64,
    /// s.
    pub open_time_s: f64,
}

/// Factor within which the rates of a plan lie, at 95 %: the widest of its sources.
pub fn rate_factor(sources: &[Source]) -> f64 {
    let of = |source: &Source| {
        let told = matches!(source.output, Output::Coupon { .. });
        let corrected = (source.correction - 1.0).abs() > f64::EPSILON;
        if told || corrected {
            OF_COUPON
        } else {
            OF_FORMULA[usize::from(source.metal == "carbon")]
        }
    };
    sources.iter().map(of).fold(1.0, f64::max)
}

/// Open times with which the film is as wanted at each confidence.
///
/// The rate is taken as lognormal, σ = ln F/1.96 with F the factor within which it lies at 95 %; film is as wanted where
/// t ≥ t₀ · rate/true rate, so t = t₀ exp(z σ) with z the normal quantile of the confidence (derived).
/// Neglects: what is not the rate (free path, geometry, the film's own error).
pub fn sure_enough(open_time_s: f64, rate_factor: f64) -> Vec<Sure> {
    // 97.5 % of a normal variate lie below 1.96: normal table
    let sigma = rate_factor.ln() / normal_quantile(0.975);
    CONFIDENCES
        .iter()
        .map(|&confidence| Sure {
            confidence,
            open_time_s: open_time_s * (normal_quantile(confidence) * sigma).exp(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Stream, Use};

    /// Share of rates, drawn from this range, with which each time is enough.
    fn enough(times: &[Sure], true_factor: f64) -> Vec<f64> {
        let draws = 20_000;
        let sigma = true_factor.ln() / 1.959_964;
        let mut counts = vec![0_u32; times.len()];
        for draw in 0..draws {
            let u = Stream::new(3, Use::Probe, draw).uniform();
            let rate = (normal_quantile(u) * sigma).exp();
            for (count, time) in counts.iter_mut().zip(times) {
                *count += u32::from(time.open_time_s * rate >= 100.0);
            }
        }
        counts
            .iter()
            .map(|&n| f64::from(n) / draws as f64)
            .collect()
    }

    #[test]
    fn times_are_enough_as_often_as_they_say() {
        let times = sure_enough(100.0, 2.0);
        for (share, time) in enough(&times, 2.0).iter().zip(&times) {
            // four standard errors of a share of 20 000
            let error = (time.confidence * (1.0 - time.confidence) / 20_000.0).sqrt();
            assert!(
                (share - time.confidence).abs() < 4.0 * error,
                "{share} {time:?}"
            );
        }
        // z(80 %) = 0.8416, z(95 %) = 1.6449 (normal table, from memory): 2^(z/1.96)
        assert!(
            (times[0].open_time_s - 134.7).abs() < 0.1
                && (times[2].open_time_s - 178.9).abs() < 0.1
        );
    }

    #[test]
    fn times_notice_a_wider_range() {
        let times = sure_enough(100.0, 2.0);
        let shares = enough(&times, 2.5);
        assert!((shares[2] - 0.95).abs() > 4.0 * (0.95 * 0.05_f64 / 20_000.0).sqrt());
    }
}
