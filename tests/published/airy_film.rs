//! Light through a metal film on glass, against matrices of films.

use crate::values;
use evenfall_sim::worth::optics::{Light, film};

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
