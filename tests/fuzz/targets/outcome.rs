//! Any bytes as a stored outcome, or as the header inside one: never a panic; what is refused is refused in
//! words.
#![no_main]

use evenfall_fuzz::{on_disk, stored};
use evenfall_sim::outcome;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let path = if bytes.starts_with(b"PK") {
        on_disk("coat.evenfall", bytes)
    } else {
        on_disk("coat.evenfall", &stored("outcome.json", bytes))
    };
    if let Err(error) = outcome::read(&path) {
        assert!(!error.to_string().is_empty());
    }
});
