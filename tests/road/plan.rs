//! The plan reader through its public door: what a file means, what is wrong with it, and where.

mod files;
mod meant;
mod random;
mod schema;
mod wrong;

use evenfall_sim::plan::{self, Plan, PlanErrors};
use std::path::Path;

/// The example of the plan format, every key of its outside part.
const EXAMPLE: &str = include_str!("plan/example.toml");
/// A plan that says everything that can be said, differently from every default.
const WHOLE: &str = include_str!("plan/whole.toml");
/// A small plan that the wrong ones are made from.
const BASE: &str = include_str!("plan/base.toml");

/// [`WHOLE`] as `plan.toml` with every file that it names.
fn whole_in_a_folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in [
        ("plan.toml", WHOLE),
        ("erosion.csv", "radius_mm,weight\n5,0\n12.5,1\n20,0.25\n"),
        ("lobe.csv", "angle_deg,weight\n0,1\n45,0.8\n90,0\n"),
        ("horn.stl", ""),
        ("clamp.stl", ""),
        ("dial.dxf", ""),
    ] {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

fn read(text: &str) -> Result<Plan, PlanErrors> {
    plan::read_text(Path::new("plan.toml"), text)
}

#[track_caller]
fn reads(text: &str) -> Plan {
    read(text).unwrap_or_else(|errors| panic!("{errors}"))
}

/// The diagnostics of a text, one per line.
#[track_caller]
fn said(text: &str) -> Vec<String> {
    let errors = read(text).expect_err("it should not read");
    errors.errors.iter().map(ToString::to_string).collect()
}
