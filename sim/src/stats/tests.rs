//! Reference values: normal quantiles from scipy 1.17 (`norm.ppf`), χ² from mpmath 1.3
//! (`gammainc` with 30 digits), neither of which shares code with what is tested.

use super::*;

fn close(x: f64, reference: f64, relative: f64) {
    assert!(
        (x - reference).abs() <= relative * reference.abs(),
        "{x} against {reference}"
    );
}

#[test]
fn normal_quantile_matches_independent_library() {
    for (p, reference) in [
        (1e-300, -37.047_096_299_361_2),
        (1e-50, -14.933_337_534_788_487),
        (1e-12, -7.034_483_825_301_131),
        (5e-7, -4.891_638_475_698_591),
        (0.001, -3.090_232_306_167_813),
        (0.1, -1.281_551_565_544_600_4),
        (0.3, -0.524_400_512_708_040_9),
        (0.95, 1.644_853_626_951_472_2),
    ] {
        close(normal_quantile(p), reference, 1e-14);
    }
    assert!(normal_quantile(0.5).abs() < 1e-16);
}

#[test]
fn chi_squared_matches_independent_library() {
    for (degrees, p, reference) in CHI_SQUARED_UPPER {
        close(chi_squared_upper(degrees, p), reference, 1e-11);
        close(chi_squared_tail(degrees, reference), p, 1e-9);
    }
}

const CHI_SQUARED_UPPER: [(usize, f64, f64); 10] = [
    (1, 0.05, 3.841458820694126),
    (1, 1e-06, 23.92812697693483),
    (2, 0.001, 13.815510557964274),
    (3, 1e-06, 30.664849706213598),
    (10, 0.05, 18.307038053275146),
    (10, 1e-06, 46.863046846784385),
    (31, 0.5, 30.33594245819812),
    (100, 1e-06, 182.12677711954757),
    (1000, 1e-06, 1227.1524211875756),
    (4000, 0.999, 3729.2907174069337),
];

#[test]
fn suite_limits_are_those_of_a_false_alarm_in_a_thousand_suites() {
    close(z_limit(100, 1e-3), 4.42, 1e-3);
    close(z_limit(1000, 1e-3), 4.89, 1e-3);
}

#[test]
fn running_mean_and_error_match_the_plain_sums() {
    let values = [3.0, -1.0, 4.5, 1e6, 0.25, 7.0, 7.0];
    let all: Running = values.iter().copied().collect();
    let mean = values.iter().sum::<f64>() / 7.0;
    let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 6.0;
    close(all.mean(), mean, 1e-14);
    close(all.variance().unwrap(), variance, 1e-14);
    close(all.std_error().unwrap(), (variance / 7.0).sqrt(), 1e-14);

    let mut merged: Running = values[..3].iter().copied().collect();
    merged.merge(&Running::default());
    merged.merge(&values[3..].iter().copied().collect());
    assert_eq!(merged.count(), 7);
    close(merged.mean(), mean, 1e-14);
    close(merged.variance().unwrap(), variance, 1e-12);

    let one: Running = [2.0].into_iter().collect();
    assert_eq!(one.variance(), None);
}

#[test]
fn weighted_quantile_is_the_value_below_which_the_share_of_area_lies() {
    let values = [5.0, 1.0, 3.0, 99.0];
    let areas = [1.0, 2.0, 7.0, 0.0];
    assert_eq!(weighted_quantile(&values, &areas, 0.0), Some(1.0));
    assert_eq!(weighted_quantile(&values, &areas, 0.2), Some(1.0));
    assert_eq!(weighted_quantile(&values, &areas, 0.21), Some(3.0));
    assert_eq!(weighted_quantile(&values, &areas, 0.9), Some(3.0));
    assert_eq!(weighted_quantile(&values, &areas, 0.95), Some(5.0));
    assert_eq!(weighted_quantile(&values, &areas, 1.0), Some(5.0));
    assert_eq!(weighted_quantile(&values, &[0.0; 4], 0.5), None);
    assert_eq!(
        weighted_quantiles(&values, &areas, &[0.5, 0.0]),
        Some(vec![3.0, 1.0])
    );
}

#[test]
fn z_counts_standard_errors_beyond_the_bias() {
    close(z(1.3, 1.0, 0.03, 0.04, 0.05), 5.0, 1e-12);
    assert!(z(1.04, 1.0, 0.01, 0.0, 0.05).abs() < 1e-300);
    assert!(z(1.1, 1.0, 0.0, 0.0, 0.0).is_infinite());
    assert!(z(f64::NAN, 1.0, 1.0, 0.0, 0.0).is_infinite());
}
