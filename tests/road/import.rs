//! Import through the front door: the same body in every format, and files that are hostile.

mod files;
mod formats;
mod gltf;
mod hostile;
mod properties;
mod threemf;

use evenfall_sim::mesh::{Beside, Mesh, MeshError, MeshRead, read_mesh_bytes};

/// Metres per millimetre.
const MM: Option<f64> = Some(0.001);

/// Reads bytes as a file of that name without companions.
fn read(name: &str, bytes: &[u8], unit_m: Option<f64>) -> Result<MeshRead, MeshError> {
    read_mesh_bytes(name, bytes, unit_m, Beside::Nothing)
}

/// The mesh of bytes that must be readable.
#[track_caller]
fn mesh(name: &str, bytes: &[u8], unit_m: Option<f64>) -> Mesh {
    match read(name, bytes, unit_m) {
        Ok(read) => read.mesh,
        Err(error) => panic!("{error}"),
    }
}

/// Asserts that bytes are refused with a text that names the file, says all of `fragments`, and is
/// worded as a problem and a remedy.
#[track_caller]
fn refused(name: &str, bytes: &[u8], unit_m: Option<f64>, fragments: &[&str]) {
    let error = match read(name, bytes, unit_m) {
        Ok(read) => panic!(
            "{name} was accepted with {} rows",
            read.mesh.triangles.len()
        ),
        Err(error) => error.to_string(),
    };
    assert!(error.starts_with(name), "{error:?} does not name {name}");
    assert!(error.contains("; "), "{error:?} says no remedy");
    assert!(!error.ends_with('.'), "{error:?} ends with a period");
    for fragment in fragments {
        assert!(
            error.contains(fragment),
            "{error:?} does not say {fragment:?}"
        );
    }
}
