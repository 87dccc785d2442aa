//! Convex bodies in a beam, averaged over a turn and over all orientations: A. Cauchy (1832).

use crate::values;
use std::f64::consts::{FRAC_1_PI, PI};

#[test]
fn closed_forms_match_the_table() {
    let table = values!("cauchy_1832");
    // Mean of the positive part of a cosine, over the sphere of directions and over a turn.
    let over_all =
        evenfall_tests::quadrature::integral(0.0, 0.5 * PI, 4, |t| 0.5 * t.cos() * t.sin());
    table
        .quantity("mean projection over surface")
        .check(|_| over_all);
    table
        .quantity("mean over flat, side of a turning cylinder")
        .check(|_| FRAC_1_PI);
}
