//! Outcome folders that the window wrote: whole whatever happened, shown without their plan.

use super::{PLAIN, Window, at_rest, node};
use std::path::Path;

/// An outcome folder that was being written when its window closed.
pub fn whole(folder: &Path, name: &str) {
    let read = evenfall_sim::outcome::read(&folder.join(name));
    assert!(read.is_ok(), "{:?}", read.err());
    let entries = std::fs::read_dir(folder).expect("the folder");
    let names = entries.map(|entry| entry.expect("an entry").file_name());
    let halves: Vec<_> = names
        .filter(|entry| entry.to_string_lossy().starts_with(&format!(".{name}")))
        .collect();
    assert!(halves.is_empty(), "{halves:?}");
    println!("ok   what was being written when the window closed is whole");
}

/// An outcome folder without its plan.
pub fn alone(folder: &Path, name: &str) {
    let mut window = Window::open(folder, PLAIN);
    window.until("the window opens", |said| said["frames"].as_u64() > Some(0));
    window.tell(&format!("drop {}", folder.join(name).display()));
    window.until("an outcome is shown without its plan", |said| {
        said["title"] == "second"
            && at_rest(said)
            && node(said, "Go to a section of the plan").is_none()
    });
    window.until(
        "its stage is drawn though nobody moves the pointer",
        |said| said["pictured"] == true,
    );
    window.shoot("outcome");
    window.close();
}
