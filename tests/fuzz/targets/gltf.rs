//! Any bytes as a GLB, as the JSON of a glTF, and as a buffer beside one.
#![no_main]

use evenfall_sim::mesh::{Beside, read_mesh_bytes};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let name = if bytes.starts_with(b"glTF") {
        "body.glb"
    } else {
        "body.gltf"
    };
    let held: [(&str, &[u8]); 1] = [("body.bin", bytes)];
    let read = read_mesh_bytes(name, bytes, None, Beside::Held(&held));
    evenfall_fuzz::is_sound(read);
});
