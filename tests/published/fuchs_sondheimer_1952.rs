//! Resistivity of thin films: K. Fuchs (1938), E. H. Sondheimer (1952).

use crate::values;
use evenfall_sim::worth::conduction::{Conductor, fuchs_sondheimer};
use evenfall_tests::published::metal_of;

#[test]
fn thin_films_resist_more_as_the_integral_says() {
    let table = values!("fuchs_sondheimer_1952");
    let ratios = table.quantity("resistivity over that of the bulk");
    ratios.check(|of| fuchs_sondheimer(of("kappa"), of("specular")));
}

#[test]
fn the_comparison_notices_the_rule_of_thumb() {
    let table = values!("fuchs_sondheimer_1952");
    let rule = table.quantity("rule of thumb 1 + 3(1 - p)/(8 kappa)");
    let off = rule
        .rows
        .iter()
        .map(|row| (row["value"] / fuchs_sondheimer(row["kappa"], 0.0) - 1.0).abs());
    assert!(off.fold(0.0, f64::max) > 0.1);
}

#[test]
fn squares_of_metals_resist_as_the_table_says() {
    let table = values!("fuchs_sondheimer_1952");
    table.quantity("resistance of a square").check(|of| {
        let metal = Conductor::of(metal_of(of("metal_z"))).expect("a conductor of the table");
        let thickness_m = 1e-9 * of("thickness_nm");
        metal.least_resistivity_ohm_m(thickness_m) / thickness_m
    });
}
