//! Scenes from plans that stand in memory.

use super::*;
use crate::geometry::Solid;
use crate::geometry::solids;
use crate::plan::model as p;
use glam::DVec3;

/// A mesh from a solid.
pub(crate) fn mesh_of(solid: &Solid) -> Mesh {
    Mesh::from_triangles(&solid.vertices, &solid.triangles).unwrap()
}

/// A part of the mesh stored under this path.
pub(crate) fn part(name: &str, at_m: DVec3) -> p::Part {
    p::Part {
        name: name.to_owned(),
        mesh: p::MeshFile {
            path: name.into(),
            unit_m: None,
        },
        scale: 1.0,
        placement: p::Placement {
            at_m,
            turn_rad: DVec3::ZERO,
        },
        faces: p::Faces::Outside,
        sticking: 1.0,
        material: None,
        wall_m: None,
        limit_k: None,
        emissivity: None,
        clear: false,
    }
}

/// A silver disc of 10 mm radius facing up.
pub(crate) fn source(name: &str, at_m: DVec3) -> p::Source {
    p::Source {
        name: name.to_owned(),
        kind: p::SourceKind::Boat {
            temperature_k: None,
        },
        metal: "silver".to_owned(),
        at_m,
        facing: DVec3::Z,
        along: None,
        footprint: p::Footprint::Disc { radius_m: 0.01 },
        law: p::EmissionLaw::CosinePower { exponent: 1.0 },
        output: p::Output::AtomsPerSecond { rate_per_s: 1e18 },
        correction: 1.0,
        target_thickness_m: None,
    }
}

/// An open step of one minute.
pub(crate) fn step() -> p::Step {
    p::Step {
        note: None,
        lasts_s: 60.0,
        shutter: p::ShutterState::All { shut: false },
        power: p::StepPower::All(1.0),
        hold: None,
        speed_rad_per_s: None,
        vent: false,
        turn_rad: std::collections::BTreeMap::new(),
        at_m: std::collections::BTreeMap::new(),
    }
}

/// A cube of 20 mm, 100 mm above a disc.
pub(crate) fn cube_over_disc() -> (Plan, Meshes) {
    let plan = Plan {
        sources: vec![source("boat", DVec3::ZERO)],
        parts: vec![part("cube", DVec3::new(0.0, 0.0, 0.1))],
        steps: vec![step()],
        ..Plan::default()
    };
    let mut meshes = Meshes::default();
    meshes.insert("cube", mesh_of(&solids::cuboid(DVec3::splat(0.02))));
    (plan, meshes)
}

#[test]
fn a_cube_over_a_disc_becomes_receivers_with_the_area_of_the_cube() {
    let (plan, meshes) = cube_over_disc();
    let scene = lower(Arc::new(plan), &meshes).unwrap();
    let area: f64 = scene.receivers.iter().map(|r| r.area_m2).sum();
    assert!((area - 6.0 * 0.02 * 0.02).abs() < 1e-15);
    assert_eq!(scene.bodies.len(), 2);
    assert_eq!(scene.configurations.len(), 1);
    let riding = &scene.configurations[0].riding;
    assert_eq!(riding.kernel.len(), 12);
}
