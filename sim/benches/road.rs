//! The whole road on meshes of about 60k and 1M triangles: time per stage, rays per second, memory.
//!
//! A closed pod (a rippled sphere drawn here) turns above an off-axis ring source; accuracy 2 %.
//! One run per size and process, since a run takes seconds to minutes: `cargo bench --bench road -- 60k`
//! (or `1m`, `10m`). Everything but the drawing of the mesh is inside the clock. With `one` it runs on one thread,
//! with `finer` to 1 %, with `fire` it fires atoms plainly for a minute: the last number told, squared relative error of the
//! worst of twenty receivers but one times time, compares the two at equal error.

mod clock;
mod pod;

use clock::Clock;
use evenfall_sim::transport::{Method, RunSettings, Watch};
use evenfall_sim::{film, outcome, plan, scene, transport};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Largest resident memory of this process so far, MB.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmHWM"))
        .unwrap_or("");
    line.split_whitespace()
        .nth(1)
        .and_then(|kb| kb.parse::<f64>().ok())
        .unwrap_or(f64::NAN)
        / 1024.0
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let told = |word: &str| std::env::args().any(|argument| argument == word);
    let size = std::env::args().find(|a| ["60k", "1m", "10m"].contains(&a.as_str()));
    let fineness = match size.as_deref() {
        Some("10m") => (1601, 3126),
        Some("1m") => (501, 1000),
        _ => (121, 250),
    };
    let folder = tempfile::tempdir()?;
    let plan_path = folder.path().join("pod.toml");
    let triangles = pod::draw(&folder.path().join("pod.stl"), fineness)?;
    std::fs::write(&plan_path, pod::PLAN)?;
    let settings = RunSettings {
        method: if told("fire") {
            Method::Fire
        } else {
            Method::Auto
        },
        accuracy: if told("finer") { 0.01 } else { 0.02 },
        time: told("fire").then_some(Duration::from_secs(60)),
        atoms: None,
        seed: 1,
        threads: usize::from(told("one")),
    };
    let clock = Clock(Instant::now());
    let mut last = 0.0;
    let mut lap = |name: &str| {
        let now = clock.elapsed_s();
        println!(
            "{name:>10}: {:8.3} s, peak {:7.1} MB",
            now - last,
            peak_mb()
        );
        std::mem::replace(&mut last, now)
    };
    let plan = Arc::new(plan::read(&plan_path).map_err(|e| format!("{e:?}"))?);
    let meshes = scene::load_meshes(&plan)?;
    lap("import");
    let scene = scene::lower(plan, &meshes)?;
    lap("lower");
    let rates = transport::calibrate(&scene, &settings)?;
    let tally = transport::run(&scene, &rates, &settings, &clock);
    let before = lap("run");
    let run_s = clock.elapsed_s() - before;
    let film = film::grow(&scene, &tally);
    let outcome = outcome::assemble(&scene, &rates, &tally, film, &settings);
    lap("assemble");
    outcome::write(
        &outcome,
        &folder.path().join("out"),
        &outcome::WriteList::default(),
    )?;
    lap("write");
    println!(
        "{triangles} triangles, {} receivers, accuracy {:.2} %, {:.1} M rays, {:.2} M rays/s in the run, \
         {:.0} triangles/s over all, (s.e./thickness)² × time {:.2e} s",
        scene.receivers.len(),
        tally.accuracy * 100.0,
        tally.rays as f64 * 1e-6,
        tally.rays as f64 * 1e-6 / run_s,
        f64::from(triangles) / clock.elapsed_s(),
        tally.accuracy.powi(2) * run_s,
    );
    Ok(())
}
