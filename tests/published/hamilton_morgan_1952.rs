//! Rectangles that face each other or share an edge: Hamilton and Morgan, NACA TN 2836 (1952).

use crate::values;
use evenfall_tests::forms::view_factors::{opposed_rectangles, rectangles_with_common_edge};

#[test]
fn closed_forms_match_the_table() {
    let table = values!("hamilton_morgan_1952");
    table
        .quantity("opposed rectangles")
        .check(|of| opposed_rectangles(of("x"), of("y")));
    let common = table.quantity("rectangles with a common edge");
    common.check(|of| rectangles_with_common_edge(of("h"), of("w")));
}

#[test]
fn six_faces_of_a_cube_share_everything() {
    let around = 4.0 * rectangles_with_common_edge(1.0, 1.0);
    assert!((opposed_rectangles(1.0, 1.0) + around - 1.0).abs() < 1e-14);
}
