//! Tilt of columns under metal that arrives aslant: the tangent rule and the geometric one.

use crate::values;
use evenfall_sim::worth::growth::{geometric_rule_rad, tangent_rule_rad, tilt_range_rad};

#[test]
fn columns_lean_as_the_two_rules_say() {
    let table = values!("column_tilt");
    let by = |rule: fn(f64) -> f64, deg: f64| rule(deg.to_radians()).to_degrees();
    let tangent = table.quantity("tangent rule");
    tangent.check(|of| by(tangent_rule_rad, of("incidence_deg")));
    let geometric = table.quantity("geometric rule");
    geometric.check(|of| by(geometric_rule_rad, of("incidence_deg")));
}

#[test]
fn the_rules_cross_and_part_again() {
    // at 66.519 degrees, computed independently
    let [low, high] = tilt_range_rad(66.519_f64.to_radians());
    assert!((high - low).to_degrees() < 2e-3);
    let [low, high] = tilt_range_rad(85.0_f64.to_radians());
    assert!((high - low).to_degrees() > 20.0);
}
