use super::*;
use std::f64::consts::TAU;

/// Film of places around a body that turns: place i at angle αᵢ gets `rate`(α − turned).
fn turned(angles: &[f64], rate: impl Fn(f64, usize) -> f64) -> (PoseRates, Vec<Place>) {
    let poses = poses();
    let of_pose = |&[k, n]: &[u32; 2]| {
        let pose = TAU * f64::from(k) / f64::from(n);
        let film = angles
            .iter()
            .enumerate()
            .map(|(i, angle)| rate(angle - pose, i));
        vec![film.collect::<Vec<f64>>()]
    };
    let half: Vec<Vec<Vec<f64>>> = poses.iter().map(of_pose).collect();
    let none = vec![vec![0.0; angles.len()]];
    let places = (0..angles.len()).map(|receiver| Place {
        receiver,
        area_m2: 1.0,
        wanted: true,
        bare: 0,
        part: 0,
        regions: 0,
    });
    let rates = PoseRates {
        poses,
        halves: [half.clone(), half],
        fixed_m: [none.clone(), none],
    };
    (rates, places.collect())
}

fn found(rates: &PoseRates, places: &[Place], minimise: Minimise) -> Vec<ByCount> {
    let needs = Needs {
        wants_m: vec![(vec![0], 1.0)],
        on: 1.0,
        bare_under_m: 0.0,
        scale: [0.0, f64::INFINITY],
    };
    let asked = Asked {
        places,
        needs: &needs,
        minimise,
        open_time_s: 60.0,
        stop: &|| false,
    };
    by_count(rates, &asked)
}

fn around() -> Vec<f64> {
    (0..720).map(|i| TAU * f64::from(i) / 720.0).collect()
}

#[test]
fn equal_stops_in_a_beam_leave_the_ripples_that_are_derived() {
    // n rectified cosines: even n 1/sin(π/n) against cot(π/n), odd n 1/(2 sin(π/2n)) against cot(π/2n)/2 (derived)
    let (rates, places) = turned(&around(), |angle, _| angle.cos().max(0.0));
    let found = found(&rates, &places, Minimise::Unevenness);
    for (by, percent) in found.iter().zip([7.2, 17.0, 2.5, 7.2, 1.3, 4.0, 0.8]) {
        let half_turn = std::f64::consts::PI
            / f64::from(if by.stops % 2 == 0 {
                by.stops
            } else {
                2 * by.stops
            });
        let exact = (1.0 - half_turn.cos()) / (1.0 + half_turn.cos());
        let value = by.equal.score.unevenness;
        // places half a degree apart may miss the extremes of the ripple by (¼°)²/2
        assert!(
            (value - exact).abs() < 2e-5,
            "{} stops: {value} {exact}",
            by.stops
        );
        assert!(
            (100.0 * value - percent).abs()
                < 0.5 * 10.0_f64.powf(if percent > 10.0 { 0.0 } else { -1.0 }) + 0.02
        );
        // a turning cylinder prefers no side: equal dwells at equal stops cannot be beaten by other dwells
        let weighted = by.weighted.as_ref().expect("solved").score.unevenness;
        assert!(
            (weighted - value).abs() < 1e-4,
            "{} stops: {weighted} {value}",
            by.stops
        );
        assert!(by.free.as_ref().expect("solved").score.unevenness <= value * 1.001);
    }
}

#[test]
fn equal_stops_near_a_source_leave_the_ripples_of_an_own_calculation() {
    // cylinder of radius 1, small cosine source at 5 from its axis, facing it: 34, 2.3, 5.1, 1.9 % (own calculation)
    let flux = |angle: f64, _| {
        let (c, d) = (angle.cos(), 5.0);
        let r2: f64 = d * d + 1.0 - 2.0 * d * c;
        ((d * c - 1.0).max(0.0)) * (d - c) / (r2 * r2)
    };
    let (rates, places) = turned(&around(), flux);
    let found = found(&rates, &places, Minimise::Unevenness);
    for (by, percent) in found.iter().zip([34.0, 2.3, 5.1, 1.9]) {
        let value = 100.0 * by.equal.score.unevenness;
        let rounding = if percent > 10.0 { 0.5 } else { 0.05 };
        assert!(
            (value - percent).abs() < rounding,
            "{} stops: {value}",
            by.stops
        );
    }
}

#[test]
fn ripples_notice_a_source_that_is_a_little_nearer() {
    let flux = |angle: f64, _| {
        let (c, d) = (angle.cos(), 4.8);
        let r2: f64 = d * d + 1.0 - 2.0 * d * c;
        ((d * c - 1.0).max(0.0)) * (d - c) / (r2 * r2)
    };
    let (rates, places) = turned(&around(), flux);
    let value = 100.0
        * found(&rates, &places, Minimise::Unevenness)[0]
            .equal
            .score
            .unevenness;
    assert!((value - 34.0).abs() > 0.5, "{value}");
}

#[test]
fn two_lobes_that_share_no_stop_get_dwells_that_go_as_one_over_their_rates() {
    // Flat lobes 150° apart in a beam, the second leaning by β out of the turn's plane: a stop that serves both brings
    // cos 75° = 0.26 to each, less than half; so each is faced in turn, for 1 and for 1/cos β (derived).
    let lean = 40_f64.to_radians();
    let (rates, places) = turned(&[0.0, 150_f64.to_radians()], |angle, lobe| {
        angle.cos().max(0.0) * if lobe == 0 { 1.0 } else { lean.cos() }
    });
    let found = found(&rates, &places, Minimise::Time);
    let free = found[0].free.as_ref().expect("solved");
    assert_eq!(free.turns.len(), 2, "{free:?}");
    assert!((free.turns[0]).abs() < 1e-12 && (free.turns[1] - 150.0 / 360.0).abs() < 1e-12);
    assert!(
        (free.dwell_s[0] - 1.0).abs() < 1e-5 && (free.dwell_s[1] - 1.0 / lean.cos()).abs() < 1e-5
    );
    // steady turning gives each 1/π of its rate: π/cos β
    let steady = std::f64::consts::PI / lean.cos();
    assert!(free.open_time_s < 0.6 * steady);
    assert!(free.open_time_s < found[0].equal.open_time_s);
}

#[test]
fn two_lobes_notice_another_lean() {
    let (rates, places) = turned(&[0.0, 150_f64.to_radians()], |angle, lobe| {
        angle.cos().max(0.0)
            * if lobe == 0 {
                1.0
            } else {
                42_f64.to_radians().cos()
            }
    });
    let found = found(&rates, &places, Minimise::Time);
    let free = found[0].free.as_ref().expect("solved");
    assert!((free.dwell_s[1] - 1.0 / 40_f64.to_radians().cos()).abs() > 0.01);
}
