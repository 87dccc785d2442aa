//! Any bytes as a PLY.
#![no_main]

use evenfall_sim::mesh::{Beside, read_mesh_bytes};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let read = read_mesh_bytes("body.ply", bytes, Some(0.001), Beside::Nothing);
    evenfall_fuzz::is_sound(read);
});
