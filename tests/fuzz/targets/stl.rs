//! Any bytes as an STL: binary if the length fits, ASCII if they start so.
#![no_main]

use evenfall_sim::mesh::{Beside, read_mesh_bytes};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let read = read_mesh_bytes("body.stl", bytes, Some(0.001), Beside::Nothing);
    evenfall_fuzz::is_sound(read);
});
