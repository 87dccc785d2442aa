//! A fine part in gas, the default method: how long until the map is so good.
//!
//! The pod of the road bench at about 60k triangles and twice its size, turning 100 mm above a disc in a jar; silver as
//! hard spheres in thermal argon unless said. Run as `cargo bench --workspace --bench scattered [metal] [scatter]
//! [free path in mm] [accuracy in %] [seed]`; with `fire` as one more word it fires atoms plainly for two minutes: the last
//! numbers told, squared errors times time, compare the two at equal error.

#[allow(dead_code, reason = "the plan of another bench")]
mod pod;

use evenfall_sim::transport::{Method, RunSettings, Watch};
use evenfall_sim::{plan, scene, stats, transport};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Notes when stages begin, in seconds and, where the system tells, in seconds of all cores.
struct Stages {
    begun: Instant,
    seen: Mutex<Vec<(&'static str, f64, f64)>>,
}

impl Watch for Stages {
    fn elapsed_s(&self) -> f64 {
        self.begun.elapsed().as_secs_f64()
    }
    fn cancelled(&self) -> bool {
        false
    }
    fn progress(&self, stage: &'static str, _done: f64) {
        if let Ok(mut seen) = self.seen.lock()
            && seen.last().is_none_or(|last| last.0 != stage)
        {
            seen.push((stage, self.elapsed_s(), core_s()));
        }
    }
}

/// Seconds that all cores have worked for this program; 0 where it cannot be told.
fn core_s() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = text.rsplit(')').next().unwrap_or_default();
    let mut words = after_name.split_whitespace().skip(11);
    let mut ticks = || {
        words
            .next()
            .and_then(|w| w.parse::<f64>().ok())
            .unwrap_or(0.0)
    };
    (ticks() + ticks()) / 100.0
}

/// The plan for a metal, a law and a free path.
fn text(metal: &str, scatter: &str, free_path_mm: &str) -> String {
    format!(
        r#"
title = "Pod in gas"
[chamber]
shape = "cylinder"
diameter = "300 mm"
height = "300 mm"
[gas]
pressure = "1 Pa"
free_path = "{free_path_mm} mm"
scatter = "{scatter}"
[[source]]
name = "head"
kind = "sputter"
metal = "{metal}"
at = ["0 mm", "0 mm", "20 mm"]
facing = [0, 0, 1]
footprint = {{ shape = "disc", radius = "25 mm" }}
output = {{ charge = "300 mg" }}
[[part]]
name = "pod"
mesh = "pod.stl"
unit = "mm"
scale = 1.8
at = ["0 mm", "0 mm", "160 mm"]
turn = ["0 deg", "60 deg", "0 deg"]
[[rotation]]
axis = [1, 0, 0]
through = ["0 mm", "0 mm", "160 mm"]
speed = "6 rpm"
[[step]]
lasts = "10 min"
"#
    )
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|w| !w.starts_with("--"))
        .collect();
    let word = |index: usize, otherwise: &str| -> String {
        words
            .get(index)
            .map_or(otherwise, String::as_str)
            .to_owned()
    };
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("pod.toml");
    let triangles = pod::draw(&folder.path().join("pod.stl"), (121, 250))?;
    let text = text(&word(0, "silver"), &word(1, "hard-sphere"), &word(2, "10"));
    let plan = Arc::new(plan::read_text(&path, &text).map_err(|e| format!("{e:?}"))?);
    let mut meshes = scene::Meshes::default();
    scene::load_missing(&plan, &mut meshes)?;
    let scene = scene::lower(plan, &meshes)?;
    let fires = word(5, "") == "fire";
    let settings = RunSettings {
        method: if fires { Method::Fire } else { Method::Auto },
        accuracy: word(3, "10").parse::<f64>()? / 100.0,
        time: fires.then_some(Duration::from_secs(120)),
        atoms: None,
        seed: word(4, "1").parse()?,
        threads: 0,
    };
    let rates = transport::calibrate(&scene, &settings)?;
    let watch = Stages {
        begun: Instant::now(),
        seen: Mutex::new(Vec::new()),
    };
    let before_s = core_s();
    let tally = transport::run(&scene, &rates, &settings, &watch);
    let seconds = watch.elapsed_s();
    let mut ends = vec![(seconds, core_s())];
    for (stage, at_s, core_at_s) in watch.seen.into_inner()?.into_iter().rev() {
        let (end_s, core_end_s) = ends[ends.len() - 1];
        println!(
            "  {stage:>10} {:6.1} s, {:6.1} core-s",
            end_s - at_s,
            core_end_s - core_at_s
        );
        ends.push((at_s, core_at_s));
    }
    println!("all {seconds:.1} s, {:.1} core-s", core_s() - before_s);
    let relative: Vec<f64> = tally
        .receivers
        .iter()
        .map(|sums| sums.std_error_m / sums.thickness_m.max(f64::MIN_POSITIVE))
        .collect();
    let areas: Vec<f64> = scene.receivers.iter().map(|r| r.area_m2).collect();
    let quantile = |q: f64| 100.0 * stats::weighted_quantile(&relative, &areas, q).unwrap_or(0.0);
    println!(
        "{triangles} triangles, {seconds:.1} s: error {:.2} % (median of the area), {:.2} % (95 %); accuracy {:.2} %",
        quantile(0.5),
        quantile(0.95),
        100.0 * tally.accuracy
    );
    let in_nm = |(mean, error): &(f64, f64)| format!("{:.4} ± {:.4} nm", mean * 1e9, error * 1e9);
    let fired = tally.audit_part_mean_m.first().filter(|_| !fires);
    println!(
        "part mean {}, fired {}",
        in_nm(&tally.part_mean_m[0]),
        fired.map_or_else(|| "by itself".to_owned(), in_nm)
    );
    let of_time = |q: f64| (quantile(q) / 100.0).powi(2) * seconds;
    println!(
        "error² × time {:.3e} s (median of the area), {:.3e} s (95 %)",
        of_time(0.5),
        of_time(0.95)
    );
    Ok(())
}
