//! What must not change a film: where the scene stands, which way it faces, how finely its triangles are cut
//! and how they are numbered.
//!
//! No outside figure is needed: space has no marked place or direction, and a triangle's mean is the mean of
//! its pieces. Films are compared at different seeds, each with its own error.

use evenfall_tests::agreement::{Comparison, Disagreement, SCRAMBLINGS, judge};
use evenfall_tests::bench::{Asked, Bench, Head};
use evenfall_tests::solids::{Sheet, block};
use glam::{DAffine3, DQuat, DVec3};

/// Facets in a bent wall over a ring, half behind a post.
fn wall() -> Sheet {
    let mut wall = Sheet::default();
    for k in 0..12 {
        let turn = 0.25 * f64::from(k);
        let out = DVec3::new(turn.cos(), turn.sin(), 0.0);
        let centre = out * 0.03 + DVec3::Z * (0.09 + 0.004 * f64::from(k % 3));
        wall.patch(centre, (out * 0.4 - DVec3::Z).normalize(), 0.006);
    }
    wall
}

fn each(sheet: &Sheet, of: impl Fn(DVec3) -> DVec3) -> Sheet {
    let mut moved = sheet.clone();
    for corner in moved.triangles.iter_mut().flatten() {
        *corner = of(*corner);
    }
    moved
}

/// Each triangle in four by the middles of its edges, one after the other.
fn quartered(sheet: &Sheet) -> Sheet {
    let mut fine = Sheet::default();
    for &[a, b, c] in &sheet.triangles {
        let [d, e, f] = [(a + b) * 0.5, (b + c) * 0.5, (c + a) * 0.5];
        fine.triangles
            .extend([[a, d, f], [d, b, e], [f, e, c], [d, e, f]]);
    }
    fine
}

/// Flux per row of a wall that turns above a ring past a post, all of it placed by a pose.
fn fluxes(place: DAffine3, wall: &Sheet, seed: u64) -> Vec<(f64, f64)> {
    let at = |p: DVec3| place.transform_point3(p);
    let post = block(
        DVec3::new(0.012, -0.01, 0.04),
        DVec3::new(0.022, 0.012, 0.06),
    );
    let [axis, through] = [place.transform_vector3(DVec3::Z), at(DVec3::ZERO)];
    let coated = Bench::new()
        .source(&Head {
            footprint: r#"{ shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }"#,
            cosine: 1.3,
            at: at(DVec3::new(0.01, 0.0, 0.0)),
            facing: place.transform_vector3(DVec3::Z),
            along: None,
        })
        .part("wall", each(wall, at))
        .fixture("post", each(&post, at))
        .with(&format!(
            "[[rotation]]\naxis = [{:?}, {:?}, {:?}]\nthrough = [\"{:?} m\", \"{:?} m\", \"{:?} m\"]\n\
             speed = \"10 deg/s\"",
            axis.x, axis.y, axis.z, through.x, through.y, through.z
        ))
        .step(12.0, "")
        .coat(&Asked {
            seed,
            ..Asked::rows(0.01)
        });
    (0..coated.rows()).map(|row| coated.flux(row)).collect()
}

/// Judges two films, row by row.
fn same(one: &[(f64, f64)], other: &[(f64, f64)]) -> Result<(), Disagreement> {
    assert_eq!(one.len(), other.len());
    let most = other.iter().fold(0.0, |most: f64, row| most.max(row.0));
    let comparisons: Vec<Comparison> = one
        .iter()
        .zip(other)
        .enumerate()
        .filter(|(_, (_, (flux, _)))| *flux > 0.02 * most)
        .map(|(row, (&(found, error), &(reference, other)))| Comparison {
            name: format!("row {row}"),
            found,
            std_error: error.hypot(other),
            reference,
            bias: 1e-5 * reference, // corners rounded to f32
        })
        .collect();
    assert!(comparisons.len() > 12, "{}", comparisons.len());
    judge(&comparisons, SCRAMBLINGS, 0.05)
}

fn as_it_stands() -> Vec<(f64, f64)> {
    fluxes(DAffine3::IDENTITY, &wall(), 1)
}

#[test]
fn a_scene_moved_and_turned_as_a_whole_gets_the_same_film() {
    let turn = DQuat::from_axis_angle(DVec3::new(1.0, 2.0, -0.5).normalize(), 2.1);
    let place = DAffine3::from_rotation_translation(turn, DVec3::new(0.3, -0.2, 0.5));
    same(&fluxes(place, &wall(), 2), &as_it_stands()).unwrap();
}

#[test]
fn sameness_notices_a_wall_two_millimetres_nearer() {
    let near = each(&wall(), |corner| corner - DVec3::Z * 0.002);
    let found = fluxes(DAffine3::IDENTITY, &near, 2);
    assert!(same(&found, &as_it_stands()).unwrap_err().speaks_against());
}

#[test]
fn a_finer_mesh_gets_the_same_film() {
    let pieces = fluxes(DAffine3::IDENTITY, &quartered(&wall()), 3);
    // the four pieces of a triangle have the same area; their errors as if they went together
    let means: Vec<(f64, f64)> = pieces
        .chunks(4)
        .map(|four| {
            let sum = four.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
            (0.25 * sum.0, 0.25 * sum.1)
        })
        .collect();
    same(&means, &as_it_stands()).unwrap();
}

#[test]
fn renumbered_triangles_get_the_same_film() {
    let mut numbered: Vec<[DVec3; 3]> = wall().triangles;
    let count = numbered.len();
    // 7 shares no factor with 24: a permutation
    let order: Vec<usize> = (0..count).map(|k| k * 7 % count).collect();
    let triangles = order
        .iter()
        .map(|&k| {
            numbered[k].rotate_left(k % 3);
            numbered[k]
        })
        .collect();
    let found = fluxes(DAffine3::IDENTITY, &Sheet { triangles }, 4);
    let mut back = vec![(0.0, 0.0); count];
    for (&k, flux) in order.iter().zip(found) {
        back[k] = flux;
    }
    same(&back, &as_it_stands()).unwrap();
}
