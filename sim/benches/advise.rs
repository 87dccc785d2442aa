//! What advice costs: the pod of the road bench at about 60k triangles, three free keys.
//!
//! Run as `cargo bench --workspace --bench advise -- [time|unevenness] [steady|both]`; prints the time until the answer and what
//! its stages took, how many candidates were looked at, and the time over that of one run of the plan at 2 %.

mod clock;
mod pod;

use clock::Clock;
use evenfall_sim::advise::{self, Asked, NoJournal};
use evenfall_sim::transport::{Method, RunSettings, Watch};
use evenfall_sim::{plan, scene, transport};
use std::sync::{Arc, Mutex};
use std::time::Instant;

/// Goes on from the end of the plan, its `[film]`.
const ADVISE: &str = r#"on = "80 %"
[advise]
minimise = "MINIMISE"
turning = "TURNING"
[[advise.vary]]
key = "part.pod.at.x"
from = "-40 mm"
to = "40 mm"
[[advise.vary]]
key = "part.pod.at.z"
from = "160 mm"
to = "190 mm"
[[advise.vary]]
key = "part.pod.turn.y"
from = "0 deg"
to = "90 deg"
"#;

/// A clock that notes when each stage began.
struct Stages {
    clock: Clock,
    seen: Mutex<Vec<(&'static str, f64)>>,
}

impl Stages {
    fn new() -> Self {
        Self {
            clock: Clock(Instant::now()),
            seen: Mutex::new(vec![("preparing", 0.0)]),
        }
    }

    /// Prints how long each stage took.
    fn told(&self) -> Result<(), Box<dyn std::error::Error>> {
        let seen = self.seen.lock().map_err(|e| e.to_string())?;
        let ends = seen.iter().skip(1).map(|(_, at_s)| *at_s);
        let ends = ends.chain([self.elapsed_s()]);
        for ((stage, at_s), end_s) in seen.iter().zip(ends) {
            println!("  {stage:>10} {:6.1} s", end_s - at_s);
        }
        Ok(())
    }
}

impl Watch for Stages {
    fn elapsed_s(&self) -> f64 {
        self.clock.elapsed_s()
    }

    fn cancelled(&self) -> bool {
        false
    }

    fn progress(&self, stage: &'static str, _done: f64) {
        if let Ok(mut seen) = self.seen.lock()
            && seen.last().is_none_or(|(last, _)| *last != stage)
        {
            seen.push((stage, self.elapsed_s()));
        }
    }
}

/// Seconds that all cores have worked for this program; 0 where it cannot be told.
fn core_s() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = text.rsplit(')').next().unwrap_or_default();
    let words = after_name.split_whitespace().skip(11).take(2);
    let ticks: f64 = words.filter_map(|word| word.parse::<f64>().ok()).sum();
    ticks / 100.0
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("pod.toml");
    let triangles = pod::draw(&folder.path().join("pod.stl"), (121, 250))?;
    let said = |known: &[&'static str]| {
        let of = |name: &&str| std::env::args().any(|argument| argument == *name);
        known.iter().copied().find(of).unwrap_or(known[0])
    };
    let advise = ADVISE
        .replace("MINIMISE", said(&["time", "unevenness"]))
        .replace("TURNING", said(&["steady", "both"]));
    let text = format!("{}{advise}", pod::PLAN);
    let plan = plan::read_text(&path, &text).map_err(|e| format!("{e}"))?;
    let mut meshes = scene::Meshes::default();
    scene::load_missing(&plan, &mut meshes)?;
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
    };
    let clock = Stages::new();
    let before_s = core_s();
    let asked = Asked {
        settings: settings.clone(),
        ripple: 0.01,
        timing_s: 1.0,
    };
    let found = advise::advise(&plan, &meshes, &asked, (&mut NoJournal, &clock))?;
    let (advice_s, advice_core_s) = (clock.elapsed_s(), core_s() - before_s);
    clock.told()?;
    let advice = found.advice;
    println!(
        "{triangles} triangles, {} free keys: an answer after {advice_s:.1} s ({advice_core_s:.1} core-s), {} candidates looked at, {:.1e} rays",
        advice.keys.len(),
        advice.tried,
        advice.rays as f64
    );
    if let Some(best) = advice.candidates.first() {
        println!("{:?}, open {:.0} s", best.values, best.open_time_s);
    }
    let (clock, before_s) = (Clock(Instant::now()), core_s());
    let scene = scene::lower(Arc::new(plan), &meshes)?;
    let rates = transport::calibrate(&scene, &settings)?;
    transport::run(&scene, &rates, &settings, &clock);
    let run_s = clock.elapsed_s();
    println!(
        "one run at 2 %: {run_s:.1} s; advice is {:.1} of these, {:.1} in core-s",
        advice_s / run_s,
        advice_core_s / (core_s() - before_s)
    );
    Ok(())
}
