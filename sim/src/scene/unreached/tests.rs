//! What is proved bare: faces that look away, stand edge-on, or lie in a closed cavity.

use crate::geometry::{Solid, solids};
use crate::plan::Plan;
use crate::plan::model as p;
use crate::scene::lower::tests::{cube_over_disc, mesh_of};
use crate::scene::{Meshes, Scene, lower};
use glam::DVec3;
use std::f64::consts::{FRAC_PI_2, TAU};
use std::sync::Arc;

fn lowered(plan: Plan, meshes: &Meshes) -> Scene {
    lower(Arc::new(plan), meshes).unwrap()
}

/// Rows that are proved bare with their normals in the part's coordinates.
fn proved(scene: &Scene) -> Vec<(DVec3, bool)> {
    let part = &scene.parts[0];
    let rows = 0..part.mesh.triangles.len();
    rows.map(|row| (part.mesh.normal(row).unwrap(), part.unreached[0][row]))
        .collect()
}

#[test]
fn only_the_face_that_looks_away_from_a_wide_disc_is_proved_bare() {
    let (mut plan, meshes) = cube_over_disc();
    plan.sources[0].footprint = p::Footprint::Disc { radius_m: 0.02 };
    for (normal, bare) in proved(&lowered(plan, &meshes)) {
        assert_eq!(bare, normal.z > 0.5, "{normal}");
    }
}

#[test]
fn faces_exactly_edge_on_to_a_spot_are_proved_bare() {
    let (mut plan, meshes) = cube_over_disc();
    plan.sources[0].footprint = p::Footprint::Spot;
    plan.parts[0].placement.at_m = DVec3::new(0.01, 0.0, 0.1); // its −x face stands over the spot
    for (normal, bare) in proved(&lowered(plan.clone(), &meshes)) {
        // ±y faces look past the spot, −x is edge-on, +x and +z look away
        assert_eq!(bare, normal.z > -0.5, "{normal}");
    }
    plan.parts[0].placement.at_m.x += 1e-6; // and a micron further it is not
    for (normal, bare) in proved(&lowered(plan, &meshes)) {
        assert_eq!(bare, normal.z > -0.5 && normal.x > -0.5, "{normal}");
    }
}

#[test]
fn turning_shows_a_side_to_the_source_and_takes_the_proof_away() {
    let (mut plan, meshes) = cube_over_disc();
    plan.sources[0].at_m = DVec3::new(0.1, 0.0, 0.0);
    plan.sources[0].facing = DVec3::new(-1.0, 0.0, 1.0).normalize();
    plan.sources[0].footprint = p::Footprint::Disc { radius_m: 0.02 };
    let away = |scene: &Scene| {
        let rows = proved(scene);
        rows.iter()
            .filter(|(normal, bare)| *bare && normal.z.abs() < 0.5)
            .count()
    };
    // −x looks away; +y and −y are edge-on to the middle of the disc, but not to its rim
    assert_eq!(away(&lowered(plan.clone(), &meshes)), 2);
    let rotation = |speed_rad_per_s| p::Rotation {
        axis: DVec3::Z,
        through_m: DVec3::ZERO,
        speed_rad_per_s,
        swing_rad: None,
    };
    plan.rotations = vec![rotation(TAU / 30.0)];
    assert_eq!(away(&lowered(plan.clone(), &meshes)), 0);
    // 60 s at 20 deg in all: −x does not come round
    plan.rotations = vec![rotation(20_f64.to_radians() / 60.0)];
    assert_eq!(away(&lowered(plan.clone(), &meshes)), 2);
    // parked half way round, the other side looks away
    plan.steps[0].hold = Some(vec![p::Hold::At(2.0 * FRAC_PI_2)]);
    let scene = lowered(plan, &meshes);
    let bare: Vec<DVec3> = proved(&scene)
        .iter()
        .filter(|row| row.1)
        .map(|row| row.0)
        .collect();
    assert!(bare.iter().any(|normal| normal.x > 0.5) && bare.iter().all(|normal| normal.x > -0.5));
}

#[test]
fn a_closed_cavity_is_dark_unless_the_source_stands_in_it() {
    let (mut plan, mut meshes) = cube_over_disc();
    let (outer, inner) = (solids::sphere(0.2), solids::sphere(0.1));
    let offset = u32::try_from(outer.vertices.len()).unwrap();
    let reversed = inner
        .triangles
        .iter()
        .map(|[a, b, c]| [offset + a, offset + c, offset + b]);
    let hollow = Solid {
        triangles: outer.triangles.iter().copied().chain(reversed).collect(),
        vertices: [outer.vertices, inner.vertices].concat(),
    };
    let walls = |scene: &Scene| {
        let part = &scene.parts[0];
        let inside =
            (0..part.mesh.triangles.len()).filter(|&row| part.mesh.centroid(row).length() < 0.06);
        inside.filter(|&row| part.unreached[0][row]).count()
    };
    meshes.insert("cube", mesh_of(&hollow));
    plan.parts[0].placement.at_m.z = 0.15;
    let walled = inner.triangles.len();
    assert_eq!(walls(&lowered(plan.clone(), &meshes)), walled);
    plan.sources[0].at_m.z = 0.14;
    plan.sources[0].footprint = p::Footprint::Spot;
    assert!(walls(&lowered(plan, &meshes)) < walled / 2);
}

#[test]
fn gas_or_a_face_that_lets_go_takes_proofs_of_a_bare_horizon_away_but_not_of_a_dark_one() {
    let (mut plan, meshes) = cube_over_disc();
    plan.sources[0].footprint = p::Footprint::Disc { radius_m: 0.02 };
    plan.chamber = Some(p::Chamber {
        shape: p::ChamberShape::Cylinder {
            diameter_m: 0.5,
            height_m: 0.5,
        },
        sticking: 1.0,
    });
    let bare = |plan: &Plan| {
        let rows = proved(&lowered(plan.clone(), &meshes));
        rows.iter().filter(|(_, bare)| *bare).count()
    };
    let dark = |plan: &Plan| lowered(plan.clone(), &meshes).parts[0].dark[0].clone();
    let (count, looks_away) = (bare(&plan), dark(&plan));
    assert!(count > 0 && count < looks_away.len());
    assert_eq!(looks_away.iter().filter(|dark| **dark).count(), count);
    let mut lets_go = plan.clone();
    lets_go.parts[0].sticking = 0.99;
    assert_eq!(bare(&lets_go), 0);
    assert_eq!(dark(&lets_go), looks_away);
    plan.gas = Some(p::Gas {
        species: p::GasSpecies::Argon,
        pressure_pa: 0.1,
        temperature_k: 300.0,
        base_pressure_pa: None,
        free_path_m: None,
        scatter: p::Scatter::HardSphere,
    });
    assert_eq!(bare(&plan), 0);
    assert_eq!(dark(&plan), looks_away);
}
