use super::*;
use crate::random::{Stream, Use};

/// Coupons under a small source at height 1: at these distances from below it, and these gaps of gas.
struct Bench {
    /// Distance from the point under the source.
    aside: Vec<f64>,
    /// Height over the coupon.
    height: Vec<f64>,
}

impl Bench {
    /// Logarithm of the film: ln s + ln((n + 1)/(2π h²)) − (n + 3)/2 · ln(1 + (x/h)²) − d/λ.
    ///
    /// Source: small source over a parallel plate (formula of the ring tests, derived) and Beer's law along the line.
    fn film(&self, values: &[f64]) -> Vec<f64> {
        let [scale, n, path] = [values[0], values[1], values[2].exp()];
        let both = self.aside.iter().zip(&self.height);
        both.map(|(x, h)| {
            let ratio = 1.0 + (x / h).powi(2);
            let flux =
                ((n + 1.0) / (std::f64::consts::TAU * h * h)).ln() - 0.5 * (n + 3.0) * ratio.ln();
            scale + flux - (x * x + h * h).sqrt() / path
        })
        .collect()
    }

    /// On a plate at one height alone: the gaps go with the angles.
    fn plate() -> Self {
        let aside = vec![0.0, 0.2, 0.4, 0.6];
        let height = vec![1.0; aside.len()];
        Self { aside, height }
    }

    /// Well spread over angles and gaps.
    fn spread() -> Self {
        Self {
            aside: vec![0.0, 0.0, 0.0, 0.9, 1.2, 0.6, 1.8, 0.5],
            height: vec![0.3, 1.0, 2.0, 0.6, 1.2, 1.8, 1.5, 0.25],
        }
    }
}

fn causes() -> Vec<Cause> {
    let cause = |name: &str, now: f64, range, told_within| Cause {
        name: name.to_owned(),
        now,
        range,
        told_within,
    };
    vec![
        cause("the rate", 0.0, [-5.0, 5.0], 0.4),
        cause("the exponent", 1.0, [0.0, 4.0], 0.5),
        cause("the free path", 0.0, [-2.0, 2.0], 0.7),
    ]
}

/// Normal variate.
fn normal(stream: &mut Stream) -> f64 {
    normal_quantile(stream.uniform())
}

fn measured(film: &[f64], error: f64, real_error: f64, trial: u64) -> Vec<Measured> {
    let mut stream = Stream::new(11, Use::Probe, trial);
    film.iter()
        .map(|log| Measured {
            log: log + real_error * normal(&mut stream),
            error,
        })
        .collect()
}

/// Of 400 trials with a truth of their own, those whose interval holds it, per cause.
fn covered(stated: f64, real: f64) -> [u32; 3] {
    let bench = Bench::spread();
    let causes = causes();
    let model = |values: &[f64]| bench.film(values);
    let mut covered = [0; 3];
    for trial in 0..400 {
        let mut stream = Stream::new(5, Use::Refine, trial);
        let truth = [
            stream.uniform() - 0.5,
            0.6 + 1.2 * stream.uniform(),
            0.8 * (stream.uniform() - 0.5),
        ];
        let measured = measured(&bench.film(&truth), stated, real, trial);
        let fit = fit(&causes, &[0, 1, 2], (&measured, &model)).expect("can be told");
        for told in &fit.told {
            if (told.value - truth[told.cause]).abs() <= told.half_width {
                covered[told.cause] += 1;
            }
        }
    }
    covered
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    // 90 % of 400 are 360 ± 6; four of those either way
    for count in covered(0.02, 0.02) {
        assert!((335..=385).contains(&count), "{count} of 400");
    }
}

#[test]
fn intervals_notice_errors_that_are_twice_as_large_as_said() {
    let counts = covered(0.02, 0.04);
    assert!(
        counts.iter().any(|count| !(335..=385).contains(count)),
        "{counts:?}"
    );
}

/// What is told of coupons measured without error but said to be good to this.
fn told(bench: &Bench, truth: [f64; 3], error: f64) -> Found {
    let model = |values: &[f64]| bench.film(values);
    tell(
        &causes(),
        &measured(&bench.film(&truth), error, 0.0, 0),
        &model,
    )
}

#[test]
fn one_coupon_tells_the_rate_alone() {
    let bench = Bench {
        aside: vec![0.3],
        height: vec![1.0],
    };
    let Found::Fit { fit, untold } = told(&bench, [0.25, 1.0, 0.0], 0.05) else {
        panic!("the rate can be told");
    };
    assert_eq!(fit.told.len(), 1);
    assert!((fit.told[0].value - 0.25).abs() < 1e-9);
    assert!((fit.told[0].half_width - 0.05 * 1.644_854).abs() < 1e-6);
    assert_eq!(untold.len(), 2, "{untold:?}");
}

#[test]
fn coupons_spread_over_angles_and_gaps_tell_all_three() {
    let truth = [0.1, 1.4, -0.2];
    let Found::Fit { fit, untold } = told(&Bench::spread(), truth, 0.02) else {
        panic!("all can be told");
    };
    assert_eq!(fit.told.len(), 3, "{untold:?}");
    for told in &fit.told {
        assert!((told.value - truth[told.cause]).abs() < 1e-4, "{fit:?}");
    }
}

#[test]
fn causes_that_pull_alike_are_not_told_apart() {
    // On a plate both exponent and free path take from the outer coupons, the one as ln(1 + x²), the other as √(1 + x²):
    // what the one does the other may do as well.
    let Found::Fit { fit, untold } = told(&Bench::plate(), [0.1, 1.0, 0.0], 0.03) else {
        panic!("the rate can be told");
    };
    assert_eq!(fit.told.len(), 1, "{fit:?}");
    assert_eq!(
        untold,
        [
            "the exponent and the free path cannot be told apart by these coupons (what one of them does, the others may do as well)"
        ]
    );
}

#[test]
fn coupons_at_one_place_tell_the_rate_alone() {
    let bench = Bench {
        aside: vec![0.3; 4],
        height: vec![1.0; 4],
    };
    let Found::Fit { fit, .. } = told(&bench, [0.1, 1.2, 0.1], 0.02) else {
        panic!("the rate can be told");
    };
    assert_eq!(fit.told.len(), 1);
}

#[test]
fn a_coupon_that_gets_nothing_tells_nothing() {
    let model = |_: &[f64]| vec![f64::NEG_INFINITY];
    let measured = [Measured {
        log: 0.0,
        error: 0.05,
    }];
    assert!(matches!(
        tell(&causes(), &measured, &model),
        Found::Nothing { .. }
    ));
    // and one that is known to a factor only
    let bench = Bench {
        aside: vec![0.3],
        height: vec![1.0],
    };
    assert!(matches!(
        told(&bench, [0.1, 1.0, 0.0], 0.6),
        Found::Nothing { .. }
    ));
}

#[test]
fn scatter_beyond_the_errors_widens_the_interval() {
    let bench = Bench::spread();
    let model = |values: &[f64]| bench.film(values);
    let quiet = measured(&bench.film(&[0.0, 1.0, 0.0]), 0.01, 0.01, 1);
    let loud = measured(&bench.film(&[0.0, 1.0, 0.0]), 0.01, 0.1, 1);
    let width = |measured: &[Measured]| {
        let fit = fit(&causes(), &[0, 1], (measured, &model)).expect("fits");
        fit.told[0].half_width
    };
    assert!(width(&loud) > 3.0 * width(&quiet));
}
