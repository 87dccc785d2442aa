//! A tile of 100 × 100 mm under a stencil with 10 m of cut edge: time and memory of the whole road at 2 %.
//!
//! Sheet 80 µm without lift, holes, rings and slots all over; the source's middle stands 50° off the normal as seen from the
//! tile's middle and about 60° from its far side. `cargo bench -p evenfall-sim --bench stencil`; the aim is 90 s and 2 GB on
//! two cores.

mod clock;

use clock::Clock;
use evenfall_sim::transport::{Method, RunSettings};
use evenfall_sim::{film, outcome, plan, scene, transport};
use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Instant;

const PLAN: &str = r#"title = "tile"
[[source]]
name = "head"
kind = "sputter"
metal = "gold"
at = ["-120 mm", "0 mm", "0 mm"]
facing = [0.6, 0, 1]
footprint = { shape = "ring", inner_radius = "12 mm", outer_radius = "21 mm" }
output = { charge = "100 mg" }
[[part]]
name = "tile"
mesh = "tile.obj"
unit = "mm"
at = ["0 mm", "0 mm", "100 mm"]
turn = ["180 deg", "0 deg", "0 deg"]
[[mask]]
part = "tile"
artwork = "tile.svg"
sheet = "80 um"
[[step]]
lasts = "10 min"
[film]
want = "20 nm"
"#;

const TILE: &str = "v -50 -50 0\nv 50 -50 0\nv 50 50 0\nv -50 50 0\nf 1 2 3 4\n";

/// Cells of 5 mm, each with a ring or a slot or a hole.
fn artwork() -> String {
    let mut text = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\" viewBox=\"-50 -50 100 100\">\n"
        .to_owned();
    for (i, j) in (0..20_u32).flat_map(|i| (0..20_u32).map(move |j| (i, j))) {
        let [x, y] = [i, j].map(|k| f64::from(k) * 5.0 - 47.5);
        let _ = match (i + 2 * j) % 3 {
            0 => writeln!(
                text,
                "<path fill-rule=\"evenodd\" d=\"M{} {y}a2.3 2.3 0 1 0 4.6 0a2.3 2.3 0 1 0 -4.6 0zM{} {y}a1.9 1.9 0 1 0 3.8 0a1.9 1.9 0 1 0 -3.8 0z\"/>",
                x - 2.3,
                x - 1.9
            ),
            1 => {
                let mut bars = String::new();
                for k in 0..3 {
                    let at = y - 2.2 + 1.6 * f64::from(k);
                    let _ = write!(bars, "M{} {at}h4.4v1.0h-4.4z", x - 2.2);
                }
                writeln!(text, "<path d=\"{bars}\"/>")
            }
            _ => {
                let mut dots = String::new();
                for k in 0..9 {
                    let [u, v] = [k % 3, k / 3].map(|k| f64::from(k) * 1.6 - 1.6);
                    let _ = write!(
                        dots,
                        "<circle cx=\"{}\" cy=\"{}\" r=\"0.4\"/>",
                        x + u,
                        y + v
                    );
                }
                writeln!(text, "{dots}")
            }
        };
    }
    text + "</svg>\n"
}

/// Largest resident memory of this process so far, MB.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    let number = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    number.unwrap_or(f64::NAN) / 1024.0
}

/// Processor time of this process so far, all threads, s: what counts where other work shares the machine.
fn processor_s() -> f64 {
    let line = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // times in user and kernel are fields 14 and 15, the 12th and 13th after the name in brackets; 100 ticks a second
    let fields = line
        .rsplit(')')
        .next()
        .unwrap_or_default()
        .split_whitespace();
    let ticks: f64 = fields
        .skip(11)
        .take(2)
        .filter_map(|field| field.parse::<f64>().ok())
        .sum();
    ticks / 100.0
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("tile.toml"), PLAN)?;
    std::fs::write(at("tile.obj"), TILE)?;
    std::fs::write(at("tile.svg"), artwork())?;
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
    };
    let clock = Clock(Instant::now());
    let (mut last, mut last_processor) = (0.0, 0.0);
    let mut lap = |name: &str| {
        let now = clock.0.elapsed().as_secs_f64();
        println!(
            "{name:>10}: {:8.3} s, {:8.3} s of processors, peak {:7.1} MB",
            now - last,
            processor_s() - last_processor,
            peak_mb()
        );
        (last, last_processor) = (now, processor_s());
    };
    let plan = Arc::new(plan::read(&at("tile.toml")).map_err(|e| format!("{e:?}"))?);
    let meshes = scene::load_meshes(&plan)?;
    lap("import");
    let scene = scene::lower(plan, &meshes)?;
    lap("lower");
    let rates = transport::calibrate(&scene, &settings)?;
    let tally = transport::run(&scene, &rates, &settings, &clock);
    lap("run");
    let film = film::grow(&scene, &tally);
    let outcome = outcome::assemble(&scene, &rates, &tally, film, &settings);
    outcome::write(&outcome, &at("out"), &outcome::WriteList::default())?;
    lap("write");
    println!(
        "{:.2} m of edge, {} receivers, accuracy {:.2} %, {:.1} M rays of the map",
        scene.stencils[0].artwork.shapes.length_m(),
        scene.receivers.len(),
        tally.accuracy * 100.0,
        tally.rays as f64 * 1e-6
    );
    let mut errors: Vec<f64> = tally.stencils[0]
        .edges
        .profiles
        .iter()
        .flat_map(|profile| {
            profile
                .points
                .iter()
                .map(|p| p.std_error_m / profile.open_m)
        })
        .collect();
    errors.sort_by(f64::total_cmp);
    println!(
        "{} stations, {} points across edges, 95 % of them within {:.2} % of the open film",
        tally.stencils[0].edges.profiles.len(),
        errors.len(),
        100.0 * errors[errors.len() * 95 / 100]
    );
    for sentence in &outcome.summary.stencils[0].sentences {
        println!("{sentence}");
    }
    Ok(())
}
