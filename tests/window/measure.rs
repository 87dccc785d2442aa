//! How the window keeps up with a large part: `window measure 60k` (or `1m`), from a release build; prints figures.

use super::{Look, PLAIN, Window, at_rest, middle, node};
use std::path::Path;
use std::time::{Duration, Instant};

#[path = "../../sim/benches/pod/mod.rs"]
mod pod;

/// Moves of the pointer in a drag.
const MOVES: u32 = 60;

/// Opens the pod, turns the view, edits the tilt, and says what that took.
pub fn run(folder: &Path, size: &str) {
    let fineness = if size == "1m" {
        (501, 1000)
    } else {
        (121, 250)
    };
    let triangles = pod::draw(&folder.join("pod.stl"), fineness).expect("a mesh");
    std::fs::write(folder.join("pod.toml"), pod::PLAN).expect("a plan");
    let mut window = Window::open(folder, Look { ..PLAIN });
    window.patience = Duration::from_secs(600);
    window.until("the window opens", |said| said["frames"].as_u64() > Some(0));
    let id = window.number();
    window.drive(&["windowfocus", "--sync", &id]);
    let begun = Instant::now();
    window.tell(&format!("drop {}", folder.join("pod.toml").display()));
    window.until("a first map", |said| said["headline"].is_string());
    println!(
        "first map {:.2} s after opening",
        begun.elapsed().as_secs_f64()
    );
    let coated = window.until("the finished map", at_rest);
    println!(
        "finished map {:.1} s after opening",
        begun.elapsed().as_secs_f64()
    );

    window.tell("afresh");
    let frames = |said: &serde_json::Value| said["frames"].as_u64().expect("a count");
    let before = frames(&window.say());
    let stage = node(&coated, "Stage").and_then(middle).expect("the stage");
    let at = |k: u32| [stage[0] + f64::from(k) * 4.0 - 120.0, stage[1]].map(|x| format!("{x:.0}"));
    let [x, y] = at(0);
    window.drive(&["mousemove", &x, &y, "mousedown", "1"]);
    let begun = Instant::now();
    for k in 1..MOVES {
        let [x, y] = at(k);
        window.drive(&["mousemove", &x, &y]);
        std::thread::sleep(Duration::from_millis(15));
    }
    window.drive(&["mouseup", "1"]);
    let said = window.say();
    let drawn = frames(&said) - before;
    println!(
        "{triangles} triangles: {drawn} frames in {:.2} s of orbiting, slowest {} ms apart from the rasteriser",
        begun.elapsed().as_secs_f64(),
        said["slowest_ms"]
    );

    window.tell("afresh");
    let before = super::mean(&window.say());
    let begun = Instant::now();
    window.type_into("turn y", "40 deg");
    window.until("the map of the edit", |said| {
        super::mean(said).total_cmp(&before).is_ne()
    });
    println!(
        "another map {:.2} s after the first key of an edit",
        begun.elapsed().as_secs_f64()
    );
    let said = window.until("the finished map of the edit", at_rest);
    println!(
        "slowest frame of the edit {} ms apart from the rasteriser",
        said["slowest_ms"]
    );
    window.shoot(&format!("pod-{size}"));
    window.tell("quit");
}
