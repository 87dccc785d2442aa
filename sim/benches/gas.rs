//! Atoms fired one by one through argon: atoms and collisions per second and core.
//!
//! A source disc on the floor of an absorbing jar, a target disc 100 mm above it; run with `cargo bench --bench gas`.
#![allow(clippy::unwrap_used, reason = "a bench whose set-up breaks has failed")]

use evenfall_sim::geometry::solids;
use evenfall_sim::mesh::Mesh;
use evenfall_sim::plan;
use evenfall_sim::scene::{self, Meshes};
use evenfall_sim::transport::{self, Method, RunSettings, Unwatched};
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

/// Fires atoms on one thread; prints rates.
fn measure(metal: &str, scatter: &str, free_path_mm: f64) {
    let text = format!(
        "title = \"gas\"\n[chamber]\nshape = \"cylinder\"\ndiameter = \"300 mm\"\nheight = \"300 mm\"\n\
         [gas]\npressure = \"1 Pa\"\nfree_path = \"{free_path_mm:?} mm\"\nscatter = \"{scatter}\"\n\
         [[source]]\nname = \"head\"\nkind = \"sputter\"\nmetal = \"{metal}\"\nat = [\"0 mm\", \"0 mm\", \"0 mm\"]\n\
         facing = [0, 0, 1]\nfootprint = {{ shape = \"disc\", radius = \"20 mm\" }}\n\
         output = {{ atoms_per_second = 1.0e18 }}\n\
         [[part]]\nname = \"plate\"\nmesh = \"plate.stl\"\nunit = \"m\"\nat = [\"0 mm\", \"0 mm\", \"100 mm\"]\n\
         [[step]]\nlasts = \"1 s\"\n"
    );
    let plan = plan::read_text(Path::new("gas.toml"), &text).unwrap();
    let grid = solids::grid(0.05, 0.05, [4, 4]);
    let mut meshes = Meshes::default();
    let mesh = Mesh::from_triangles(&grid.vertices, &grid.triangles).unwrap();
    meshes.insert(plan.path.with_file_name("plate.stl"), mesh);
    let scene = scene::lower(Arc::new(plan), &meshes).unwrap();
    let settings = |atoms: u64| RunSettings {
        method: Method::Fire,
        accuracy: 1e-9,
        time: None,
        atoms: Some(atoms),
        seed: 1,
        threads: 1,
    };
    let rates = transport::calibrate(&scene, &settings(1)).unwrap();
    let few = transport::run(&scene, &rates, &settings(2000), &Unwatched);
    let (per_atom, _) = few.collisions.mean(few.balance.emitted);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a number of atoms"
    )]
    let atoms = (2e7 / (per_atom + 5.0)) as u64;
    let clock = Instant::now();
    let tally = transport::run(&scene, &rates, &settings(atoms), &Unwatched);
    let seconds = clock.elapsed().as_secs_f64();
    println!(
        "{metal:>9} {scatter:>20} {free_path_mm:>4} mm: {per_atom:6.1} collisions per atom, {:8.0} atoms/s, {:5.2} M collisions/s",
        atoms as f64 / seconds,
        tally.collisions.sum as f64 / seconds * 1e-6
    );
}

fn main() {
    for metal in ["silver", "aluminium"] {
        for scatter in ["hard-sphere", "hard-sphere-at-rest", "isotropic"] {
            for free_path_mm in [50.0, 10.0] {
                measure(metal, scatter, free_path_mm);
            }
        }
    }
}
