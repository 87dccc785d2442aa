//! Any text as a plan: never a panic; problems have words and places inside their file.
#![no_main]

use evenfall_sim::plan;
use libfuzzer_sys::fuzz_target;
use std::path::Path;

fuzz_target!(|text: &str| {
    // In a folder that does not exist, so that nothing on disk is included.
    match plan::read_text(Path::new("/no/such/folder/plan.toml"), text) {
        Ok(plan) => {
            for error in plan::not_gathered(&plan) {
                assert!(error.place().is_some(), "{error}");
            }
        }
        Err(errors) => {
            assert!(!errors.errors.is_empty());
            for error in &errors.errors {
                assert!(!error.message().is_empty());
                if let Some(place) = error.place() {
                    assert!(place.start <= place.end && place.end <= text.len());
                }
            }
        }
    }
});
