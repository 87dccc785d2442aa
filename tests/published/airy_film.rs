//! Light through a metal film on glass, against matrices of films.

use crate::values;
use evenfall_sim::worth::optics::{Light, film, stack};

fn on(of: &dyn Fn(&str) -> f64, behind: f64) -> Light {
    let index = [of("n"), of("k")];
    film(
        index,
        1e-9 * of("thickness_nm"),
        1e-9 * of("wavelength_nm"),
        behind,
    )
}

#[test]
fn light_passes_and_comes_back_as_the_table_says() {
    let table = values!("airy_film");
    table
        .quantity("share through")
        .check(|of| on(of, 1.52).through);
    table.quantity("share back").check(|of| on(of, 1.52).back);
    let free = table.quantity("share through a free film");
    free.check(|of| on(of, 1.0).through);
}

#[test]
fn the_comparison_notices_bare_attenuation() {
    // exp(-4 pi k d / lambda) is no transmittance: on glass they differ by a factor of up to two
    let table = values!("airy_film");
    for row in &table.quantity("share through").rows {
        let depth =
            4.0 * std::f64::consts::PI * row["k"] * row["thickness_nm"] / row["wavelength_nm"];
        assert!(
            ((-depth).exp() / row["value"] - 1.0).abs() > 1e-3,
            "{row:?}"
        );
    }
}

/// Layers of quarter waves on glass, high and low by turns, the high one outside.
fn quarter_waves(pairs: usize) -> Light {
    let (high, low, wavelength_m) = (2.35, 1.38, 550e-9);
    let quarter = |n: f64| ([n, 0.0], wavelength_m / (4.0 * n));
    let layers = [quarter(low), quarter(high)].repeat(pairs);
    stack(&layers, wavelength_m, 1.52)
}

#[test]
fn quarter_waves_by_turns_mirror_as_the_closed_form_says() {
    // R = ((1 − Y)/(1 + Y))², Y = (n_H/n_L)^2N n_body (Born, Wolf, section 1.6.5, from memory)
    for pairs in [1_i32, 3, 6] {
        let admittance = (2.35_f64 / 1.38).powi(2 * pairs) * 1.52;
        let wanted = ((1.0 - admittance) / (1.0 + admittance)).powi(2);
        let found = quarter_waves(pairs.unsigned_abs() as usize);
        assert!((found.back - wanted).abs() < 1e-12, "{pairs}: {found:?}");
        assert!(
            (found.back + found.through - 1.0).abs() < 1e-12,
            "{found:?}"
        );
    }
}

#[test]
fn quarter_waves_notice_layers_in_the_wrong_order() {
    let (high, low) = (([2.35, 0.0], 550e-9 / 9.4), ([1.38, 0.0], 550e-9 / 5.52));
    let found = stack(&[high, low], 550e-9, 1.52).back;
    assert!((found - quarter_waves(1).back).abs() > 0.1, "{found}");
}

#[test]
fn metals_on_metals_pass_light_as_matrices_of_layers_say() {
    // characteristic matrices (Abelès), computed apart with complex numbers; glass of 1.5, 550 nm
    let (chromium, gold, silver) = ([3.181, 3.329], [0.424, 2.472], [0.06, 3.597]);
    type Case<'a> = (&'a [([f64; 2], f64)], f64, f64);
    let cases: [Case; 3] = [
        (
            &[(chromium, 5e-9), (gold, 40e-9)],
            0.096_903_474_432_537_16,
            0.667_607_013_432_035_8,
        ),
        (
            &[(gold, 40e-9), (chromium, 5e-9)],
            0.099_671_328_067_279_2,
            0.434_112_949_875_363_75,
        ),
        (
            &[(chromium, 5e-9), (gold, 20e-9), (silver, 30e-9)],
            0.024_473_328_842_900_648,
            0.928_637_771_355_029_2,
        ),
    ];
    for (layers, through, back) in cases {
        let found = stack(layers, 550e-9, 1.5);
        assert!((found.through / through - 1.0).abs() < 1e-11, "{found:?}");
        assert!((found.back / back - 1.0).abs() < 1e-11, "{found:?}");
    }
}
