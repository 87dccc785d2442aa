//! Turning: whole turns, parts of turns, stops.

use crate::values;
use evenfall_tests::forms::turning::*;

#[test]
fn closed_forms_match_the_table() {
    let table = values!("derived_turning");
    let check = |name: &str, form: &dyn Fn(&dyn Fn(&str) -> f64) -> f64| {
        table.quantity(name).check(form);
    };
    check("peak to valley over mean, rectified cosine", &|of| {
        rectified_unevenness(of("turns"), of("rest"))
    });
    check("worst peak to valley over mean, rectified cosine", &|of| {
        rectified_unevenness(of("turns"), worst_rest(of("turns")))
    });
    check("stops over steady, one stop on axis", &|of| {
        stops_on_axis(of("stops"))
    });
    check("stops over steady, half a stop off", &|of| {
        stops_off_axis(of("stops"))
    });
}

#[test]
fn dose_of_a_turning_wall_has_the_stated_unevenness() {
    for (whole, rest) in [(0.0, 0.1), (1.0, 0.25), (2.0, 0.5), (5.0, 0.75)] {
        let starts = (0..3600).map(|k| std::f64::consts::TAU * f64::from(k) / 3600.0);
        let doses: Vec<f64> = starts
            .map(|start| rectified_dose(start, whole + rest))
            .collect();
        let [high, low] = [
            doses.iter().copied().fold(0.0, f64::max),
            doses.iter().copied().fold(f64::INFINITY, f64::min),
        ];
        let mean = doses.iter().sum::<f64>() / 3600.0;
        let found = (high - low) / mean;
        assert!(
            (found - rectified_unevenness(whole, rest)).abs() < 1e-6,
            "{whole} + {rest}"
        );
    }
}
