//! Rotation: angles over time, poses, and the partial turn that alone makes film uneven.
//!
//! Closed forms by counting passes (derived): rate f(φ), N = K + r turns; only the arc of r turns is
//! passed K + 1 times. (max − min)/mean is sin(πr)/N for the rectified cosine of a turning cylinder's side
//! in a beam, and min(r, w, 1 − r, 1 − w)/(w N) for a surface that sees the source in a fraction w of the
//! turn.

use super::*;
use glam::{DMat4, DQuat};
use std::f64::consts::{FRAC_PI_2, PI};

fn turning(turns: f64) -> StepMotion {
    StepMotion {
        axes: vec![AxisMotion::Turning {
            start_rad: 0.3,
            rate_rad_per_s: TAU * turns / 50.0,
        }],
        lasts_s: 50.0,
    }
}

/// (max − min)/mean over the azimuth of the mean of `rate` over the step's angles.
fn unevenness(motion: &StepMotion, rate: impl Fn(f64) -> f64) -> f64 {
    const SAMPLES: u32 = 20_000;
    const AZIMUTHS: u32 = 360;
    let angles: Vec<f64> = (0..SAMPLES)
        .map(|i| motion.angles_for((f64::from(i) + 0.5) / f64::from(SAMPLES))[0])
        .collect();
    let dose = |azimuth: f64| {
        angles
            .iter()
            .map(|angle| rate(angle + azimuth))
            .sum::<f64>()
    };
    let doses: Vec<f64> = (0..AZIMUTHS)
        .map(|i| dose(TAU * f64::from(i) / f64::from(AZIMUTHS)))
        .collect();
    let most = doses.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = doses.iter().copied().fold(f64::INFINITY, f64::min);
    (most - least) * f64::from(AZIMUTHS) / doses.iter().sum::<f64>()
}

fn rectified_cosine(angle: f64) -> f64 {
    angle.cos().max(0.0)
}

fn slit(width: f64) -> impl Fn(f64) -> f64 {
    move |angle| f64::from(u8::from((angle / TAU).rem_euclid(1.0) < width))
}

#[test]
fn whole_turns_are_exactly_even() {
    for turns in [1.0, 2.0, 7.0] {
        assert!(
            unevenness(&turning(turns), rectified_cosine) < 1e-6,
            "{turns}"
        );
    }
}

#[test]
fn the_last_partial_turn_alone_makes_the_side_of_a_cylinder_uneven() {
    for turns in [1.25_f64, 1.682_460, 2.403_301, 5.182_124, 10.095_282, 0.4] {
        let expected = (PI * turns.fract()).sin() / turns;
        let found = unevenness(&turning(turns), rectified_cosine);
        // 20 000 samples and 360 azimuths: cells of 1/20 000 of the mean and of (1 deg)²
        assert!(
            (found - expected).abs() < 5e-4,
            "{turns}: {found} {expected}"
        );
    }
}

#[test]
fn a_slit_sees_the_last_partial_turn_as_a_step() {
    for (turns, width) in [(3.25_f64, 0.5_f64), (3.25, 0.1), (2.8, 0.4), (1.5, 0.3)] {
        let rest = turns.fract();
        let expected = rest.min(width).min(1.0 - rest).min(1.0 - width) / (width * turns);
        let found = unevenness(&turning(turns), slit(width));
        assert!(
            (found - expected).abs() < 1e-3,
            "{turns} {width}: {found} {expected}"
        );
    }
}

#[test]
fn unevenness_notices_a_turn_that_is_one_percent_longer() {
    let expected = (PI * 0.25).sin() / 1.25;
    let found = unevenness(&turning(1.25 * 1.01), rectified_cosine);
    assert!((found - expected).abs() > 5e-4, "{found} {expected}");
}

#[test]
fn folded_angles_have_the_distribution_of_plain_time() {
    let swing = |start_rad, path: f64, sign| AxisMotion::Swinging {
        amplitude_rad: 2.0,
        start_rad,
        rate_rad_per_s: path / 50.0,
        sign,
    };
    let cases = [
        turning(3.7).axes[0],
        turning(-1.2).axes[0],
        swing(0.0, 1.3, 1.0),
        swing(0.5, 9.0, 1.0),
        swing(3.1, 2.0, 1.0),
        swing(1.0, 4.0, -1.0),
        swing(3.9, 25.3, -1.0),
    ];
    const SAMPLES: u32 = 40_000;
    for axis in cases {
        let motion = StepMotion {
            axes: vec![axis],
            lasts_s: 50.0,
        };
        let at = |i: u32| (f64::from(i) + 0.5) / f64::from(SAMPLES);
        let mut folded: Vec<f64> = (0..SAMPLES)
            .map(|i| motion.angles_for(at(i))[0].rem_euclid(TAU))
            .collect();
        let mut plain: Vec<f64> = (0..SAMPLES)
            .map(|i| motion.angles_at(50.0 * at(i))[0].rem_euclid(TAU))
            .collect();
        folded.sort_by(f64::total_cmp);
        plain.sort_by(f64::total_cmp);
        // both are the same distribution on a grid of 1/40 000: quantiles agree to a few grid steps of
        // the longest way (about 25 rad), except where they jump over a gap
        let far = folded
            .iter()
            .zip(&plain)
            .filter(|(f, p)| (*f - *p).abs() > 4e-3)
            .count();
        assert!(far <= 40, "{axis:?}: {far}");
        let order: Vec<f64> = (0..SAMPLES).map(|i| motion.angles_for(at(i))[0]).collect();
        let steps = order.windows(2).map(|pair| pair[1] - pair[0]);
        let (mut up, mut down) = (0, 0);
        steps.for_each(|step| {
            up += i32::from(step > 1e-12);
            down += i32::from(step < -1e-12);
        });
        assert!(up == 0 || down == 0, "strata of u are strata of the angle");
    }
}

#[test]
fn the_range_of_a_motion_holds_all_its_angles_and_touches_both_ends() {
    let swing = |start_rad, path: f64| AxisMotion::Swinging {
        amplitude_rad: 2.0,
        start_rad,
        rate_rad_per_s: path / 50.0,
        sign: -1.0,
    };
    let cases = [
        AxisMotion::Parked(1.5),
        turning(0.3).axes[0],
        turning(-0.6).axes[0],
        swing(0.0, 1.0),
        swing(1.5, 1.0),
        swing(3.5, 1.2),
        swing(0.2, 30.0),
    ];
    for axis in cases {
        let [low, high] = axis.range(50.0);
        let angles = (0..=10_000).map(|i| axis.angle_at(50.0 * f64::from(i) / 10_000.0));
        let (least, most) = angles.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), a| {
            (least.min(a), most.max(a))
        });
        assert!(
            (least - low).abs() < 4e-3 && (most - high).abs() < 4e-3,
            "{axis:?} {low} {high}"
        );
        assert!(least >= low - 1e-12 && most <= high + 1e-12);
    }
}

#[test]
fn nested_rotations_are_the_product_of_their_matrices_with_the_first_innermost() {
    let chain = [
        (DVec3::new(0.0, 0.6, 0.8), DVec3::new(0.01, 0.02, 0.1)),
        (DVec3::Z, DVec3::new(-0.05, 0.0, 0.0)),
        (DVec3::X, DVec3::new(0.0, 0.0, 0.2)),
    ];
    let motion = Motion {
        axes: chain.to_vec(),
    };
    let angles = [0.7, -1.9, 2.6, 0.0];
    let about = |(axis, through): (DVec3, DVec3), angle: f64| {
        DMat4::from_translation(through)
            * DMat4::from_quat(DQuat::from_axis_angle(axis, angle))
            * DMat4::from_translation(-through)
    };
    let explicit =
        about(chain[2], angles[2]) * about(chain[1], angles[1]) * about(chain[0], angles[0]);
    let pose = motion.pose(&angles);
    for point in [DVec3::ZERO, DVec3::new(0.03, -0.02, 0.11), DVec3::Y] {
        let expected = explicit.transform_point3(point);
        assert!(pose.transform_point3(point).distance(expected) < 1e-15);
    }
    // a quarter turn of the outer rotation carries the inner axis along
    let carried = Motion {
        axes: vec![(DVec3::X, DVec3::ZERO), (DVec3::Z, DVec3::ZERO)],
    };
    let point = carried
        .pose(&[FRAC_PI_2, FRAC_PI_2])
        .transform_point3(DVec3::Y);
    assert!(
        point.distance(DVec3::Z) < 1e-15,
        "y up to z about x, z stays about z: {point}"
    );
    let point = carried
        .pose(&[FRAC_PI_2, FRAC_PI_2])
        .transform_point3(DVec3::Z);
    assert!(
        point.distance(DVec3::X) < 1e-15,
        "z to -y about x, -y to x about z: {point}"
    );
}
