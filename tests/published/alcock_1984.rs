//! Vapour pressures and evaporation: C. B. Alcock and others (1984), CRC Handbook, Hertz and Knudsen.

use crate::values;
use evenfall_sim::metals::built_in;
use evenfall_sim::supply::evaporate::{Vapour, hertz_knudsen_per_m2_s};
use evenfall_tests::published::metal_of;

fn pressure_pa(number: f64, temperature_k: f64) -> f64 {
    let vapour = Vapour::of(metal_of(number)).expect("a vapour of the table");
    vapour
        .pressure_pa(temperature_k)
        .expect("within its equations")
}

#[test]
fn vapour_pressures_are_those_of_the_paper() {
    let table = values!("alcock_1984");
    let pressures = table.quantity("vapour pressure");
    pressures.check(|of| pressure_pa(of("metal_z"), of("temperature_k")));
}

/// Temperature at which a pressure that rises with it is 1 Pa, by bisection.
fn of_one_pascal(pressure_pa: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (800.0, 2150.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if pressure_pa(middle) < 1.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

#[test]
fn a_pascal_is_reached_where_the_handbook_says() {
    let table = values!("alcock_1984");
    let handbook = table.quantity("temperature of 1 Pa");
    handbook.check(|of| of_one_pascal(|t| pressure_pa(of("metal_z"), t)));
}

#[test]
fn the_comparison_notices_a_dropped_term_of_chromium() {
    let table = values!("alcock_1984");
    let handbook = table.quantity("temperature of 1 Pa");
    let wanted = handbook.at(&[("metal_z", 24.0)]);
    // without its last term, + 0.4094e-3 T in the decadic logarithm, the pressure is 4.8 times as high
    let found = of_one_pascal(|t| 10_f64.powf(0.4094e-3 * t) * pressure_pa(24.0, t));
    assert!(
        (found / wanted - 1.0).abs() > 2.0 * handbook.relative_uncertainty,
        "{found}"
    );
}

#[test]
fn atoms_leave_a_melt_at_one_pascal_as_hertz_and_knudsen_say() {
    let table = values!("alcock_1984");
    table.quantity("atoms that leave at 1 Pa").check(|of| {
        let metal = built_in(metal_of(of("metal_z"))).expect("a built-in metal");
        hertz_knudsen_per_m2_s(1.0, metal.molar_mass_kg_per_mol, of("temperature_k"))
    });
}
