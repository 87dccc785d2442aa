//! Configuration factors: J. R. Howell's catalogue (1982).

use crate::values;
use evenfall_tests::forms::view_factors::*;
use glam::DVec3;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("howell_1982");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("element to coaxial disc", &|of| {
        element_to_parallel_disc(of("r"), of("h"), 0.0)
    });
    check("element to parallel disc, offset", &|of| {
        element_to_parallel_disc(of("r"), of("h"), of("a"))
    });
    check("element at right angles to disc", &|of| {
        element_at_right_angles_to_disc(of("r"), of("h"), of("l"))
    });
    let cap = |of: &dyn Fn(&str) -> f64| {
        element_to_cap((of("r") / of("h")).atan(), of("tilt_deg").to_radians())
    };
    check("tilted element on axis, all visible", &cap);
    check("tilted element on axis, past the horizon", &cap);
    check("tilted element off axis, all visible", &|of| {
        let (sin, cos) = of("tilt_deg").to_radians().sin_cos();
        let (sin_azimuth, cos_azimuth) = of("azimuth_deg").to_radians().sin_cos();
        let normal = DVec3::new(sin * cos_azimuth, sin * sin_azimuth, cos);
        tilted_element_to_disc(of("r"), of("h"), of("a"), normal)
    });
    check("element to sphere", &|of| {
        element_to_cap((1.0 / of("distance")).asin(), of("tilt_deg").to_radians())
    });
    check("coaxial discs", &|of| {
        disc_to_disc(of("r1"), of("r2"), of("h"))
    });
    check("coaxial discs, worked example", &|of| {
        disc_to_disc(of("r1"), of("r2"), of("h"))
    });
    check("disc to sphere", &|of| {
        disc_to_sphere(of("rd"), of("rs"), of("h"))
    });
    check("tube wall to itself", &|of| {
        tube_wall_to_itself(of("length"))
    });
    check("tube wall to one end", &|of| {
        0.5 * (1.0 - tube_wall_to_itself(of("length")))
    });
    check("tube end to wall", &|of| {
        1.0 - disc_to_disc(1.0, 1.0, of("length"))
    });
    check("wall ring to end disc", &|of| wall_ring_to_end(of("x")));
    check("wall ring to wall ring", &|of| wall_ring_to_ring(of("x")));
    check("element under the corner of a rectangle", &|of| {
        element_under_corner(of("a"), of("b"), of("c"))
    });
    check("infinite opposed strips", &|of| opposed_strips(of("w")));
}

#[test]
fn polygon_form_matches_the_corner_of_a_rectangle() {
    let at = |x: f64, y: f64| DVec3::new(x, y, 1.5);
    let corners = [at(0.0, 0.0), at(2.0, 0.0), at(2.0, 0.7), at(0.0, 0.7)];
    let found = element_to_polygon(DVec3::Z, &corners);
    assert!((found - element_under_corner(2.0, 0.7, 1.5)).abs() < 1e-15);
}
