//! Small cosⁿ sources over a plate: Holland and Steckelmacher, Vacuum 2, 346 (1952).

use crate::values;
use evenfall_tests::forms::small_source::{caught_fraction, drop_radius, relative_on_plate};

#[test]
fn closed_forms_match_the_table() {
    let table = values!("holland_steckelmacher_1952");
    let relative = table.quantity("relative thickness on a plate");
    relative.check(|of| relative_on_plate(of("n"), of("x_over_h")));
    table
        .quantity("caught fraction")
        .check(|of| caught_fraction(of("n"), of("x_over_h")));
    table
        .quantity("drop radius over height")
        .check(|of| drop_radius(of("n"), of("share")));
}
