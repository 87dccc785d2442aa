//! The outside of a sphere, coated from a small cosine source.

use crate::values;
use evenfall_tests::forms::spheres::{horizon_rad, outside_caught, outside_flux};

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_convex");
    let flux = table.quantity("flux times Rs2 on a sphere");
    flux.check(|of| outside_flux(of("distance"), of("polar_angle_deg").to_radians()));
    table
        .quantity("caught fraction")
        .check(|of| outside_caught(of("distance")));
    table
        .quantity("horizon angle")
        .check(|of| horizon_rad(of("distance")).to_degrees());
}
