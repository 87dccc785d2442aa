//! Erosion of a target by a current of ions: depth per time.

use crate::values;
use evenfall_sim::constants::ELEMENTARY_CHARGE_C;
use evenfall_sim::metals::{Metal, built_in};
use evenfall_sim::supply::sputter::{Ion, Target};
use evenfall_sim::worth::target::depth_m;
use evenfall_tests::published::metal_of;

/// Ions per m² in a second of 1 mA/cm².
fn ions_per_m2() -> f64 {
    10.0 / ELEMENTARY_CHARGE_C
}

fn bulk(molar_mass_g_per_mol: f64, density_g_per_cm3: f64) -> Metal {
    Metal {
        molar_mass_kg_per_mol: 1e-3 * molar_mass_g_per_mol,
        density_kg_per_m3: 1e3 * density_g_per_cm3,
        ..built_in("copper").unwrap()
    }
}

fn by_number(number: f64) -> Metal {
    built_in(metal_of(number)).unwrap()
}

#[test]
fn a_milliampere_per_square_centimetre_digs_as_deep_as_the_table_says() {
    let table = values!("erosion_rate");
    let at_one = table.quantity("erosion rate at yield 1");
    at_one.check(|of| {
        let metal = bulk(of("molar_mass_g_per_mol"), of("density_g_per_cm3"));
        1e9 * depth_m(ions_per_m2(), metal.atom_volume_m3())
    });
    let argon = Ion::of("argon").unwrap();
    let at_500_ev = table.quantity("erosion rate at 500 eV of argon");
    at_500_ev.check(|of| {
        let metal = by_number(of("atomic_number"));
        let target = Target::of(&metal.name).unwrap();
        let atoms_per_m2 = ions_per_m2() * target.yield_per_ion(argon, 500.0);
        1e9 * depth_m(atoms_per_m2, metal.atom_volume_m3())
    });
}

#[test]
#[should_panic(expected = "erosion rate at yield 1")]
fn the_table_of_erosion_notices_the_handbooks_constant() {
    // 62.3 for 62.185 62 Å/min is 0.2 % too much
    let table = values!("erosion_rate");
    table
        .quantity("erosion rate at yield 1")
        .check(|of| 62.3 / 600.0 * of("molar_mass_g_per_mol") / of("density_g_per_cm3"));
}
