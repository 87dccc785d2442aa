//! Any bytes as the archive of a 3MF, and as the model within one.
#![no_main]

use evenfall_sim::mesh::{Beside, read_mesh_bytes};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let whole = read_mesh_bytes("body.3mf", bytes, None, Beside::Nothing);
    evenfall_fuzz::is_sound(whole);
    let archive = evenfall_fuzz::stored("3D/3dmodel.model", bytes);
    let model = read_mesh_bytes("body.3mf", &archive, None, Beside::Nothing);
    evenfall_fuzz::is_sound(model);
});
