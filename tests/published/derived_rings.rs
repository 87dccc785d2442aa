//! Rings, annuli, discs, and plates turning over a small source.

use crate::values;
use evenfall_tests::forms::rings::{
    annulus_flux, best_height, disc_flux, flat_height, ring_flux, tilted_offset_flux, unevenness,
};

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_rings");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("ring flux times a2", &|of| {
        ring_flux(of("n"), 1.0, of("h"), of("rho"))
    });
    check("annulus flux, 0.8 to 1.2", &|of| {
        annulus_flux(0.8, 1.2, of("h"), of("rho"))
    });
    check("disc flux times a2", &|of| {
        disc_flux(1.0, of("h"), of("rho"))
    });
    check("tilted offset source, turning plate", &|of| {
        tilted_offset_flux(of("a"), of("h"), of("tilt_deg").to_radians(), of("rho"))
    });
    check("non-uniformity at the flat height", &|of| {
        unevenness(of("n"), flat_height(of("n")), of("radius"))
    });
    check("best height", &|of| best_height(of("n"), of("radius")));
    check("least non-uniformity", &|of| {
        unevenness(of("n"), best_height(of("n"), of("radius")), of("radius"))
    });
}
