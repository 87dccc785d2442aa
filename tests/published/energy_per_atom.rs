//! Energy per atom that a film takes: floors of sputtered and of evaporated atoms.

use crate::values;
use evenfall_sim::constants::ELEMENTARY_CHARGE_C;
use evenfall_sim::worth::arrival::{evaporated_j, mean_sputtered_j, transfer};

fn mean_ev(binding_ev: f64, most_ev: f64) -> f64 {
    let in_j = [binding_ev, most_ev].map(|ev| ev * ELEMENTARY_CHARGE_C);
    mean_sputtered_j(in_j[0], in_j[1]).unwrap() / ELEMENTARY_CHARGE_C
}

#[test]
fn atoms_bring_the_energy_that_the_table_says() {
    let table = values!("energy_per_atom");
    let mean = table.quantity("mean energy of sputtered atoms");
    mean.check(|of| mean_ev(of("binding_ev"), of("transfer") * of("ion_ev")));
    let floor = table.quantity("least heat per sputtered atom");
    floor.check(|of| {
        let most_ev = 500.0 * transfer(39.948, of("molar_mass_g_per_mol"));
        of("binding_ev") + mean_ev(of("binding_ev"), most_ev)
    });
    let evaporated = table.quantity("heat per evaporated atom");
    evaporated.check(|of| {
        evaporated_j(of("binding_ev") * ELEMENTARY_CHARGE_C, 1500.0) / ELEMENTARY_CHARGE_C
    });
}

#[test]
#[should_panic(expected = "mean energy of sputtered atoms")]
fn the_table_of_energies_notices_a_sharp_cut() {
    // 2 [ln(1 + X) + 2/(1 + X) − 1/(2(1 + X)²) − 3/2] (1 + 1/X)² U, X = E/U: the spectrum without its fall
    let table = values!("energy_per_atom");
    table
        .quantity("mean energy of sputtered atoms")
        .check(|of| {
            let u = of("binding_ev");
            let x = of("transfer") * of("ion_ev") / u - 1.0;
            let bracket = (1.0 + x).ln() + 2.0 / (1.0 + x) - 0.5 / (1.0 + x).powi(2) - 1.5;
            2.0 * bracket * (1.0 + 1.0 / x).powi(2) * u
        });
}

#[test]
#[should_panic(expected = "heat per evaporated atom")]
fn the_table_of_energies_notices_three_halves_of_kt() {
    let table = values!("energy_per_atom");
    table.quantity("heat per evaporated atom").check(|of| {
        // 3/2 kT is the mean in the vapour, not of the flux out of it
        let binding_j = of("binding_ev") * ELEMENTARY_CHARGE_C;
        let both_j = 0.25 * binding_j + 0.75 * evaporated_j(binding_j, 1500.0);
        both_j / ELEMENTARY_CHARGE_C
    });
}
