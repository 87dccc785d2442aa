//! Slots and round holes under a wide-open flux.

use crate::values;
use evenfall_tests::forms::shading::*;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_shading");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("slot bottom centre", &|of| slot_bottom(of("aspect"), 0.0));
    check("slot bottom corner", &|of| slot_bottom(of("aspect"), 0.5));
    check("slot bottom mean", &|of| slot_bottom_mean(of("aspect")));
    check("slot wall, middle", &|of| slot_wall(0.5 * of("aspect")));
    check("slot wall, bottom", &|of| slot_wall(of("aspect")));
    check("hole bottom centre", &|of| hole_bottom_centre(of("aspect")));
    check("slot bottom centre, cosine power", &|of| {
        slot_bottom_centre_power(of("m"), of("aspect"))
    });
    check("hole bottom centre, cosine power", &|of| {
        hole_bottom_centre_power(of("m"), of("aspect"))
    });
}
