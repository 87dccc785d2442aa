//! The whole road on meshes of about 60k and 1M triangles: time per stage, rays per second, memory.
//!
//! A closed pod (a rippled sphere drawn here) turns above an off-axis ring source; accuracy 2 %.
//! One run per size and process, since a run takes seconds to minutes: `cargo bench --bench road -- 60k`
//! (or `1m`, `10m`). Everything but the drawing of the mesh is inside the clock.

use evenfall_sim::transport::{Method, RunSettings, Watch};
use evenfall_sim::{film, outcome, plan, scene, transport};
use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

struct Clock(Instant);

impl Watch for Clock {
    fn elapsed_s(&self) -> f64 {
        self.0.elapsed().as_secs_f64()
    }
    fn cancelled(&self) -> bool {
        false
    }
    fn progress(&self, _stage: &'static str, _done: f64) {}
}

/// A corner of the pod, mm: radius 20 mm with ripples round it and along it.
#[expect(clippy::cast_possible_truncation, reason = "binary STL holds f32")]
fn corner(ring: u32, side: u32, (rings, sides): (u32, u32)) -> [f32; 3] {
    let theta = std::f64::consts::PI * f64::from(ring) / f64::from(rings);
    let phi = std::f64::consts::TAU * f64::from(side % sides) / f64::from(sides);
    let ripple = 1.0 + 0.12 * (9.0 * phi).cos() * theta.sin().powi(2) + 0.05 * (14.0 * theta).cos();
    let r = 20.0 * ripple;
    let s = if ring == 0 || ring == rings {
        0.0
    } else {
        theta.sin()
    };
    [r * s * phi.cos(), r * s * phi.sin(), r * theta.cos()].map(|x| x as f32)
}

/// Writes a closed pod of 2·sides·(rings − 1) triangles as binary STL.
fn draw_pod(path: &Path, rings: u32, sides: u32) -> std::io::Result<u32> {
    let at = |ring, side| corner(ring, side, (rings, sides));
    let mut file = std::io::BufWriter::new(std::fs::File::create(path)?);
    let count = 2 * sides * (rings - 1);
    file.write_all(&[0; 80])?;
    file.write_all(&count.to_le_bytes())?;
    let mut write = |triangle: [[f32; 3]; 3]| -> std::io::Result<()> {
        file.write_all(&[0; 12])?;
        for value in triangle.as_flattened() {
            file.write_all(&value.to_le_bytes())?;
        }
        file.write_all(&[0; 2])
    };
    for ring in 0..rings {
        for side in 0..sides {
            let (a, b) = (at(ring, side), at(ring + 1, side));
            let (c, d) = (at(ring + 1, side + 1), at(ring, side + 1));
            if ring + 1 < rings {
                write([a, b, c])?;
            }
            if ring > 0 {
                write([a, c, d])?;
            }
        }
    }
    file.flush()?;
    Ok(count)
}

const PLAN: &str = r#"
title = "Pod over an off-axis ring"
[chamber]
shape = "cylinder"
diameter = "400 mm"
height = "400 mm"
[[source]]
name = "head"
kind = "sputter"
metal = "silver"
at = ["30 mm", "20 mm", "60 mm"]
facing = [0, 0, 1]
footprint = { shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }
output = { charge = "300 mg" }
[[part]]
name = "pod"
mesh = "pod.stl"
unit = "mm"
at = ["0 mm", "0 mm", "170 mm"]
turn = ["0 deg", "60 deg", "0 deg"]
[[rotation]]
axis = [1, 0, 0]
through = ["0 mm", "0 mm", "170 mm"]
speed = "6 rpm"
[[step]]
lasts = "10 min"
[film]
want = "100 nm"
"#;

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
    let size = std::env::args().find(|a| ["60k", "1m", "10m"].contains(&a.as_str()));
    let (rings, sides) = match size.as_deref() {
        Some("10m") => (1601, 3126),
        Some("1m") => (501, 1000),
        _ => (121, 250),
    };
    let folder = tempfile::tempdir()?;
    let plan_path = folder.path().join("pod.toml");
    let triangles = draw_pod(&folder.path().join("pod.stl"), rings, sides)?;
    std::fs::write(&plan_path, PLAN)?;
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
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
    let outcome = outcome::assemble(&scene, &rates, &tally, &film, &settings);
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
