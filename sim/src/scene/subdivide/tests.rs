//! Facets cover their rows, no more and no less, fit to their neighbours, and are small where film changes.

use crate::geometry::{Solid, solids};
use crate::plan::Plan;
use crate::plan::model as p;
use crate::scene::lower::tests::{cube_over_disc, mesh_of};
use crate::scene::{Meshes, Scene, Side, lower};
use glam::{DVec2, DVec3};
use std::collections::BTreeMap;
use std::sync::Arc;

fn lowered(plan: Plan, meshes: &Meshes) -> Scene {
    lower(Arc::new(plan), meshes).unwrap()
}

/// A plate of two triangles, 100 mm wide, 100 mm over a disc and facing it, half shaded by a knife.
fn plate_under_a_knife(gap_m: f64) -> (Plan, Meshes) {
    let (mut plan, mut meshes) = cube_over_disc();
    let mut sheet = solids::grid(0.1, 0.1, [1, 1]);
    sheet.triangles.iter_mut().for_each(|row| row.reverse());
    meshes.insert("cube", mesh_of(&sheet));
    plan.sources[0].footprint = p::Footprint::Disc { radius_m: 0.025 };
    plan.fixtures = vec![p::Fixture {
        name: "knife".to_owned(),
        body: p::BodyShape::Plate {
            size_m: DVec3::new(0.1, 0.2, 1e-5),
            hole_diameter_m: None,
        },
        placement: p::Placement {
            at_m: DVec3::new(-0.05, 0.0, 0.1 - gap_m),
            turn_rad: DVec3::ZERO,
        },
        rides: p::Rides::Chamber,
        sticking: 1.0,
    }];
    (plan, meshes)
}

/// Corners of every front facet of the first part, m.
fn facets(scene: &Scene) -> Vec<[DVec3; 3]> {
    let part = &scene.parts[0];
    let receivers = scene.receivers[part.front.clone()].iter();
    let corners = receivers.map(|receiver| {
        let [a, b, c] = part.mesh.corners(receiver.triangle as usize);
        receiver.corners.map(|w| a + (b - a) * w.x + (c - a) * w.y)
    });
    corners.collect()
}

fn longest(facet: &[DVec3; 3]) -> f64 {
    (0..3)
        .map(|i| facet[i].distance(facet[(i + 1) % 3]))
        .fold(0.0, f64::max)
}

#[test]
fn facets_have_the_area_of_their_row_to_rounding() {
    let (plan, meshes) = plate_under_a_knife(0.002);
    let scene = lowered(plan, &meshes);
    let part = &scene.parts[0];
    let mut sums: BTreeMap<u32, f64> = BTreeMap::new();
    for receiver in &scene.receivers[part.front.clone()] {
        *sums.entry(receiver.triangle).or_default() += receiver.area_m2;
    }
    for (row, sum) in sums {
        assert!((sum / part.mesh.area_m2(row as usize) - 1.0).abs() < 1e-12);
    }
    assert!(part.front.len() > 1000);
}

#[test]
fn every_point_of_a_row_belongs_to_the_facet_that_holds_it() {
    let (plan, meshes) = plate_under_a_knife(0.002);
    let scene = lowered(plan, &meshes);
    let part = &scene.parts[0];
    for (number, receiver) in (0..).zip(&scene.receivers[part.front.clone()]) {
        let [a, b, c] = receiver.corners;
        let middle = (a + b + c) / 3.0;
        let found = scene.receiver_at(part.body, receiver.triangle, Side::Front, middle);
        assert_eq!(found, Some(part.front.start + number));
        // just inside each corner
        for corner in [a, b, c] {
            let near = corner.lerp(middle, 1e-6);
            let found = scene.receiver_at(part.body, receiver.triangle, Side::Front, near);
            assert_eq!(found, Some(part.front.start + number));
        }
        assert_eq!(
            scene.receiver_at(part.body, receiver.triangle, Side::Back, middle),
            None
        );
    }
    // points on lines of bisection and outside by rounding belong to one facet all the same
    for weights in [
        DVec2::new(0.5, 0.5),
        DVec2::new(0.25, 0.25),
        DVec2::new(-1e-17, 0.5),
        DVec2::X,
    ] {
        assert!(
            scene
                .receiver_at(part.body, 0, Side::Front, weights)
                .is_some()
        );
    }
}

#[test]
fn the_refined_mesh_of_a_solid_has_no_gaps() {
    let (mut plan, meshes) = cube_over_disc();
    plan.parts[0].placement.at_m.z = 0.03; // close by, so that distance asks for small facets below
    let scene = lowered(plan, &meshes);
    // corners follow from weights, row by row: equal to rounding
    #[expect(
        clippy::cast_possible_truncation,
        reason = "picometres of a small cube"
    )]
    let picometres = |at: DVec3| at.to_array().map(|x| (x * 1e12).round() as i64);
    let mut edges = BTreeMap::new();
    for facet in facets(&scene) {
        for i in 0..3 {
            let edge = (picometres(facet[i]), picometres(facet[(i + 1) % 3]));
            *edges.entry(edge).or_insert(0) += 1;
        }
    }
    for (&(a, b), &walked) in &edges {
        let back = edges.get(&(b, a));
        assert!(
            walked == 1 && back == Some(&1),
            "{a:?} {b:?} {walked} {back:?}"
        );
    }
    assert!(scene.parts[0].front.len() > 1000);
}

#[test]
fn facets_are_a_fraction_of_the_penumbra_at_the_shadow_edge_and_coarse_away_from_it() {
    // w = D g / (H − g) with D 50 mm, H 100 mm, g 5 mm
    let (gap, width) = (0.005, 0.05 * 0.005 / 0.095);
    let (plan, meshes) = plate_under_a_knife(gap);
    let scene = lowered(plan, &meshes);
    let all = facets(&scene);
    let middle = |facet: &[DVec3; 3]| facet.iter().sum::<DVec3>() / 3.0;
    let at_edge = all
        .iter()
        .filter(|f| middle(f).x.abs() < 0.3 * width && middle(f).y.abs() < 0.03);
    let mut count = 0;
    for facet in at_edge {
        count += 1;
        assert!(longest(facet) < 0.3 * width, "{} {width}", longest(facet));
    }
    assert!(count > 100);
    let away = all.iter().filter(|f| middle(f).x > 0.03);
    let coarsest = away.map(longest).fold(0.0, f64::max);
    assert!(coarsest > 1e-3, "{coarsest}");
}

#[test]
fn both_sides_of_a_sheet_have_the_same_facets() {
    let (mut plan, meshes) = plate_under_a_knife(0.002);
    plan.parts[0].faces = p::Faces::Both;
    let scene = lowered(plan, &meshes);
    let part = &scene.parts[0];
    assert_eq!(part.front.len(), part.back.len());
    let pairs = part.front.clone().zip(part.back.clone());
    for (front, back) in pairs {
        let [front, back] = [&scene.receivers[front], &scene.receivers[back]];
        assert_eq!(
            (front.triangle, front.corners),
            (back.triangle, back.corners)
        );
        assert_eq!([front.side, back.side], [Side::Front, Side::Back]);
    }
}

#[test]
fn a_fine_mesh_is_left_as_it_is() {
    let (mut plan, mut meshes) = cube_over_disc();
    let fine: Solid = solids::grid(0.02, 0.02, [200, 200]);
    meshes.insert("cube", mesh_of(&fine));
    plan.parts[0].faces = p::Faces::Both;
    let scene = lowered(plan, &meshes);
    assert_eq!(scene.parts[0].front.len(), fine.triangles.len());
    assert!(scene.parts[0].bisections.is_empty());
}
