//! Polygons: how a face of more than three corners becomes rows.
//!
//! In: corners around a face. Out: triples of their places in it, always two fewer than corners.
//! A face that is seen whole from its first corner is fanned from there; any other simple one loses
//! ears, the first that fits each time.

use super::error::MeshProblem;
use glam::DVec3;

/// Most tests of a corner against an ear, for all polygons of a file together: about a second.
const TESTS_LIMIT: u64 = 200_000_000;

/// Splits a polygon; triples are places in `corners`, `tests` counts the work over a whole file.
pub(super) fn split(corners: &[DVec3], tests: &mut u64) -> Result<Vec<[usize; 3]>, MeshProblem> {
    let count = corners.len();
    if count < 3 {
        return Err(MeshProblem::TooFewCorners { corners: count });
    }
    let fan: Vec<_> = (1..count - 1).map(|place| [0, place, place + 1]).collect();
    if count == 3 {
        return Ok(fan);
    }
    let normal = area_vector(corners);
    let turns = |[a, b, c]: [usize; 3]| {
        let [a, b, c] = [corners[a], corners[b], corners[c]];
        (b - a).cross(c - a).dot(normal)
    };
    if fan.iter().all(|triple| turns(*triple) >= 0.0) {
        return Ok(fan);
    }
    cut_ears(corners, normal, tests)
}

/// Twice the area of a polygon times its normal: Σ (p − p₀) × (next − p₀), Newell's sum.
fn area_vector(corners: &[DVec3]) -> DVec3 {
    let first = corners[0];
    corners
        .windows(2)
        .map(|pair| (pair[0] - first).cross(pair[1] - first))
        .sum()
}

/// Cuts off one ear after the other. If none is left though the polygon is not used up, it crosses
/// itself.
fn cut_ears(
    corners: &[DVec3],
    normal: DVec3,
    tests: &mut u64,
) -> Result<Vec<[usize; 3]>, MeshProblem> {
    let crosses = MeshProblem::PolygonCrosses {
        corners: corners.len(),
    };
    let mut left: Vec<usize> = (0..corners.len()).collect();
    let mut triples = Vec::with_capacity(corners.len() - 2);
    while left.len() > 3 {
        let around = |place: usize| {
            let count = left.len();
            [
                left[(place + count - 1) % count],
                left[place],
                left[(place + 1) % count],
            ]
        };
        let ear = (0..left.len()).find(|place| {
            *tests += left.len() as u64;
            *tests > TESTS_LIMIT || is_ear(corners, normal, &left, around(*place))
        });
        if *tests > TESTS_LIMIT {
            return Err(MeshProblem::PolygonsTooComplex {
                corners: corners.len(),
                limit: TESTS_LIMIT,
            });
        }
        let Some(ear) = ear else {
            return Err(crosses);
        };
        triples.push(around(ear));
        left.remove(ear);
    }
    let last = [left[0], left[1], left[2]];
    if turn(corners, normal, last) < 0.0 {
        return Err(crosses);
    }
    triples.push(last);
    Ok(triples)
}

fn turn(corners: &[DVec3], normal: DVec3, [a, b, c]: [usize; 3]) -> f64 {
    (corners[b] - corners[a])
        .cross(corners[c] - corners[a])
        .dot(normal)
}

/// True if a triple turns with the polygon and no other corner lies in it or on its new side.
fn is_ear(corners: &[DVec3], normal: DVec3, left: &[usize], [a, b, c]: [usize; 3]) -> bool {
    if turn(corners, normal, [a, b, c]) < 0.0 {
        return false;
    }
    let own = [corners[a], corners[b], corners[c]];
    left.iter().all(|other| {
        let other = *other;
        own.contains(&corners[other])
            || turn(corners, normal, [a, b, other]) < 0.0
            || turn(corners, normal, [b, c, other]) < 0.0
            || turn(corners, normal, [c, a, other]) < 0.0
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn area(corners: &[DVec3]) -> f64 {
        split(corners, &mut 0)
            .unwrap()
            .iter()
            .map(|[a, b, c]| {
                let [a, b, c] = [corners[*a], corners[*b], corners[*c]];
                (b - a).cross(c - a).z / 2.0
            })
            .inspect(|area| assert!(*area >= 0.0, "a piece is turned over"))
            .sum()
    }

    fn flat(points: &[(f64, f64)]) -> Vec<DVec3> {
        points
            .iter()
            .map(|(x, y)| DVec3::new(*x, *y, 0.0))
            .collect()
    }

    #[test]
    fn convex_polygons_are_fanned_from_their_first_corner() {
        let square = flat(&[(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]);
        assert_eq!(split(&square, &mut 0).unwrap(), [[0, 1, 2], [0, 2, 3]]);
    }

    #[test]
    fn an_arrowhead_is_split_inside_itself() {
        // Area of the dart by the shoelace formula: 1.
        let dart = flat(&[(0.0, 0.0), (2.0, -1.0), (1.0, 0.0), (2.0, 1.0)]);
        assert!((area(&dart) - 1.0).abs() < 1e-15);
        // The same from each other first corner.
        for start in 1..4 {
            let mut turned = dart.clone();
            turned.rotate_left(start);
            assert!((area(&turned) - 1.0).abs() < 1e-15);
        }
    }

    #[test]
    fn a_comb_keeps_its_area() {
        // 50 teeth of width 0.5 and height 1 on a back of 50 × 1: 25 + 50.
        let mut comb = vec![(0.0, -1.0), (50.0, -1.0)];
        for tooth in (0..50).rev() {
            let left = f64::from(tooth);
            comb.extend([
                (left + 1.0, 0.0),
                (left + 0.5, 0.0),
                (left + 0.5, 1.0),
                (left, 1.0),
            ]);
        }
        comb.push((0.0, 0.0));
        assert!((area(&flat(&comb)) - 75.0).abs() < 1e-12);
    }

    #[test]
    fn a_polygon_that_crosses_itself_is_refused() {
        let bow = flat(&[(0.0, 0.0), (2.0, 1.0), (2.0, 0.0), (0.0, 1.5)]);
        assert!(split(&bow, &mut 0).is_err());
    }

    proptest! {
        #[test]
        fn star_shaped_polygons_keep_their_area(radii in prop::collection::vec(0.1_f64..10.0, 3..60)) {
            let count = radii.len();
            let corners: Vec<_> = radii
                .iter()
                .enumerate()
                .map(|(place, radius)| {
                    let angle = std::f64::consts::TAU * place as f64 / count as f64;
                    DVec3::new(radius * angle.cos(), radius * angle.sin(), 0.0)
                })
                .collect();
            // Shoelace about the middle: Σ r r' sin(2π/n) / 2.
            let sine = (std::f64::consts::TAU / count as f64).sin();
            let exact: f64 = (0..count)
                .map(|place| radii[place] * radii[(place + 1) % count] * sine / 2.0)
                .sum();
            prop_assert!((area(&corners) - exact).abs() < 1e-9 * exact);
        }

        #[test]
        fn any_corners_give_a_split_or_an_error(
            corners in prop::collection::vec(prop::array::uniform3(-2_i8..3), 0..30)
        ) {
            let corners: Vec<_> = corners
                .iter()
                .map(|axes| DVec3::from_array(axes.map(f64::from)))
                .collect();
            if let Ok(triples) = split(&corners, &mut 0) {
                prop_assert_eq!(triples.len(), corners.len() - 2);
            }
        }
    }
}
