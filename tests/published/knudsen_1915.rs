//! The inside of a sphere, coated from a small source on its wall: M. Knudsen (1915).

use crate::values;
use evenfall_tests::forms::spheres::inside_over_mean;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("knudsen_1915");
    let inside = table.quantity("flux over mean inside a sphere");
    inside.check(|of| inside_over_mean(of("n"), of("emission_angle_deg").to_radians()));
}
