//! Scenes from plan files: the examples stand, and what must not matter does not.

use evenfall_sim::plan;
use evenfall_sim::scene::{self, Scene};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn models() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../models")
}

fn lowered(path: &Path) -> Scene {
    let plan = plan::read(path).unwrap_or_else(|errors| panic!("{errors:?}"));
    let meshes = scene::load_meshes(&plan).unwrap_or_else(|issues| panic!("{issues}"));
    scene::lower(Arc::new(plan), &meshes).unwrap_or_else(|issues| panic!("{issues}"))
}

#[test]
fn every_example_stands_without_warnings_and_its_facets_cover_its_parts() {
    for name in ["horn", "cap", "reflector"] {
        let scene = lowered(&models().join(name).with_extension("toml"));
        assert!(
            scene.facts.warnings.is_empty(),
            "{name}: {:?}",
            scene.facts.warnings
        );
        for part in &scene.parts {
            let facets: f64 = scene.receivers[part.front.clone()]
                .iter()
                .map(|r| r.area_m2)
                .sum();
            let mesh = part.mesh.total_area_m2();
            assert!(
                (facets / mesh - 1.0).abs() < 1e-12,
                "{name} {facets} {mesh}"
            );
        }
        let clearances = &scene.facts.clearances;
        assert!(!clearances.is_empty(), "{name}");
        for found in clearances {
            assert!(found.full_turn_m > 1e-3, "{name}: {found:?}");
        }
    }
}
