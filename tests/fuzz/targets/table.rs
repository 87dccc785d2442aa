//! Any bytes as the table of an erosion groove: never a panic; what is accepted rises and weighs something.
#![no_main]

use evenfall_fuzz::on_disk;
use evenfall_sim::plan::{self, model::Footprint};
use libfuzzer_sys::fuzz_target;

const PLAN: &str = r#"
title = "A groove"
[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["0 mm", "0 mm", "0 mm"]
facing = [0, 0, 1]
footprint = { shape = "groove", table = "groove.csv" }
output = { charge = "300 mg" }
[[part]]
name = "dial"
mesh = "dial.stl"
unit = "mm"
[[step]]
lasts = "10 min"
"#;

fuzz_target!(|bytes: &[u8]| {
    let table = on_disk("groove.csv", bytes);
    match plan::read_text(&table.with_file_name("plan.toml"), PLAN) {
        Ok(plan) => {
            let Footprint::Groove { rows, .. } = &plan.sources[0].footprint else {
                panic!("the footprint is a groove");
            };
            assert!(rows.windows(2).all(|pair| pair[0].0 < pair[1].0));
            assert!(rows.iter().all(|row| row.1 >= 0.0 && row.1.is_finite()));
            assert!(rows.iter().any(|row| row.1 > 0.0));
        }
        Err(errors) => assert!(!errors.errors.is_empty()),
    }
});
