use super::*;

/// Two millimetres of a resin of 1150 kg/m³ and 1500 J/(kg K), emissivity 0.9.
const RESIN: Wall = Wall {
    capacity_j_per_m2_k: 3450.0,
    emissivity: 0.9,
};

/// π⁵ · 2 k⁴/(15 h³ c²): the constant from those of nature, all exact (SI of 2019).
fn from_planck() -> f64 {
    let (k, h, c) = (1.380_649e-23_f64, 6.626_070_15e-34_f64, 299_792_458.0_f64);
    2.0 * std::f64::consts::PI.powi(5) * k.powi(4) / (15.0 * h.powi(3) * c * c)
}

#[test]
fn the_constant_of_radiation_follows_from_plancks() {
    assert!((STEFAN_BOLTZMANN_W_PER_M2_K4 / from_planck() - 1.0).abs() < 1e-9);
}

#[test]
fn a_black_face_in_the_sun_settles_where_textbooks_say() {
    // 1361 W/m² from a chamber at 0 K would be 393.6 K (textbook subsolar point of a black body, from memory); with the
    // chamber: T⁴ = 300⁴ + 1361/σ, worked by hand: 8.1e9 + 2.400 19e10 = 3.210 19e10, fourth root 423.285 K
    let found_k = steady_k(1361.0, 1.0);
    assert!((found_k - 423.285).abs() < 1e-3, "{found_k}");
    let empty_k = (found_k.powi(4) - CHAMBER_K.powi(4)).sqrt().sqrt();
    assert!((empty_k - 393.6).abs() < 0.1, "{empty_k}");
}

#[test]
fn a_wall_left_alone_long_enough_settles_at_the_closed_form() {
    let load = 300.0;
    let wanted_k = steady_k(load, RESIN.emissivity);
    let after_k = RESIN.after_k(CHAMBER_K, load, 30.0 * RESIN.time_constant_s(wanted_k));
    assert!((after_k - wanted_k).abs() < 1e-4, "{after_k} {wanted_k}");
    assert!(RESIN.rise_k_per_s(wanted_k, load).abs() < 1e-12);
}

/// Relative error of the integrated temperature against the exact solution, the wall's losses off by a factor.
fn against_exact(losses: f64) -> f64 {
    let wrong = Wall {
        emissivity: RESIN.emissivity * losses,
        ..RESIN
    };
    let mut worst: f64 = 0.0;
    for (from_k, to_k, load) in [
        (300.0, 330.0, 300.0),
        (300.0, 343.0, 300.0),
        (300.0, 600.0, 9000.0),
        (600.0, 310.0, 0.0),
        (400.0, 360.0, 300.0),
    ] {
        let time_s = RESIN.time_s((from_k, to_k), load).unwrap();
        let found_k = wrong.after_k(from_k, load, time_s);
        worst = worst.max((found_k - to_k).abs() / to_k);
    }
    worst
}

#[test]
fn warming_and_cooling_follow_the_exact_solution() {
    // the fourth order with twenty steps per time constant leaves under 1e-8
    let worst = against_exact(1.0);
    assert!(worst < 1e-8, "{worst:e}");
}

#[test]
fn the_exact_solution_notices_a_hundredth_of_emissivity() {
    assert!(against_exact(1.01) > 1e-4);
}

#[test]
fn near_its_end_a_wall_approaches_exponentially() {
    // linear about the steady temperature: what is missing falls by e in C/(4 ε σ T³); 0.1 K away the next order is 1e-3
    let load = 300.0;
    let end_k = steady_k(load, RESIN.emissivity);
    let constant_s = RESIN.time_constant_s(end_k);
    let after_k = RESIN.after_k(end_k - 0.1, load, constant_s);
    let left = (end_k - after_k) / 0.1;
    assert!((left * 1.0_f64.exp() - 1.0).abs() < 1e-3, "{left}");
    // a law of T³ instead of 4 T³ would leave e^(−1/4)
    assert!((left / (-0.25_f64).exp() - 1.0).abs() > 0.1);
}

#[test]
fn a_wall_starts_to_warm_by_load_over_capacity() {
    // 100 W/m² on 2 mm of that resin: 100/3450 K/s = 1.739 K a minute, by hand
    let per_minute = 60.0 * RESIN.rise_k_per_s(CHAMBER_K, 100.0);
    assert!((per_minute - 1.7391).abs() < 1e-4, "{per_minute}");
}

#[test]
fn rests_keep_a_wall_below_its_limit_and_none_do_not() {
    let (load, limit_k) = (600.0, 328.15);
    let (rests, highest_k) = RESIN.rests(load, limit_k).unwrap();
    // integrated apart, by Euler with steps of a second
    let (mut at_k, mut seen_k) = (CHAMBER_K, CHAMBER_K);
    for _ in 0..50 {
        for (time_s, load) in [(rests.on_s, load), (rests.off_s, 0.0)] {
            let mut left_s = time_s;
            while left_s > 0.5 {
                at_k += RESIN.rise_k_per_s(at_k, load);
                left_s -= 1.0;
                seen_k = seen_k.max(at_k);
            }
        }
    }
    assert!(
        seen_k < limit_k && (seen_k - highest_k).abs() < 0.1,
        "{seen_k} {highest_k}"
    );
    // half the rest is too little
    let short = Rests {
        off_s: 0.5 * rests.off_s,
        ..rests
    };
    assert!(RESIN.highest_k(load, short, MOST_TURNS) > limit_k);
}

#[test]
fn rests_are_not_told_where_none_are_needed_or_none_would_do() {
    assert!(RESIN.rests(50.0, 328.15).is_none());
    assert!(RESIN.rests(600.0, CHAMBER_K).is_none());
    assert!(RESIN.rests(1e6, 328.15).is_none());
}
