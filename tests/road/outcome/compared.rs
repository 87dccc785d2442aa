//! Two outcomes side by side.

use evenfall_sim::outcome::compare;
use evenfall_sim::outcome::compare::Map;
use evenfall_tests::made_up;

#[test]
fn an_outcome_does_not_differ_from_itself() {
    let outcome = made_up::outcome();
    let found = compare(&outcome, &outcome);
    assert_eq!(found.only_in, [Vec::<String>::new(), Vec::new()]);
    assert!(found.scale_nm.abs() < 1e-12);
    assert_eq!((found.parts.len(), found.coupons.len()), (2, 1));
    for part in &found.parts {
        let Map::Rows(rows) = &part.map else {
            panic!("{:?}", part.map)
        };
        assert!(rows.iter().all(|row| row.difference_nm.abs() < 1e-12 && row.z.is_none_or(|z| z.abs() < 1e-12)));
        assert!(
            rows.iter()
                .all(|row| row.ratio.is_none_or(|ratio| (ratio - 1.0).abs() < 1e-12))
        );
    }
}

#[test]
fn differences_are_b_less_a_with_errors_added_in_quadrature() {
    let (a, mut b) = (made_up::outcome(), made_up::outcome());
    b.summary.coupons[0].thickness_nm = a.summary.coupons[0].thickness_nm + 7.0;
    let row = &mut b.parts[0].rows[0];
    let (film_m, error_m) = (row.thickness_m, row.std_error_m);
    row.thickness_m = 3.0 * film_m;
    let found = compare(&a, &b);
    let coupon = found.coupons[0].thickness_nm;
    let error = a.summary.coupons[0].stderr_nm * 2.0_f64.sqrt();
    assert!((coupon.z.unwrap() - 7.0 / error).abs() < 1e-9);
    let Map::Rows(rows) = &found.parts[0].map else {
        panic!("no rows")
    };
    assert!((rows[0].difference_nm - 2e9 * film_m).abs() < 1e-9);
    assert!((rows[0].ratio.unwrap() - 3.0).abs() < 1e-12);
    let z = 2.0 * film_m / (error_m * 2.0_f64.sqrt());
    assert!((rows[0].z.unwrap() - z).abs() < 1e-9);
    assert!(found.scale_nm <= 2e9 * film_m + 1e-9);
}

#[test]
fn rows_of_different_meshes_are_not_set_against_each_other() {
    let (a, mut b) = (made_up::outcome(), made_up::outcome());
    b.parts[1].vertices_m[2].x += 1e-6;
    let found = compare(&a, &b);
    let Map::Refused { reason } = &found.parts[1].map else {
        panic!("not refused")
    };
    assert!(
        reason.starts_with("triangle 0 of cover lies elsewhere in B than in A"),
        "{reason}"
    );
    assert!(matches!(found.parts[0].map, Map::Rows(_)));
}

#[test]
fn parts_and_coupons_of_one_side_only_are_named() {
    let (a, mut b) = (made_up::outcome(), made_up::outcome());
    b.parts[1].name = "lid".to_owned();
    b.summary.parts[1].name = "lid".to_owned();
    b.summary.coupons.clear();
    let found = compare(&a, &b);
    let names = |names: &[&str]| {
        names
            .iter()
            .map(|&name| name.to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        found.only_in,
        [names(&["cover", "witness"]), names(&["lid"])]
    );
    assert_eq!(found.parts.len(), 1);
}
