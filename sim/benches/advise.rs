//! What advice costs: the pod of the road bench at about 60k triangles, three free keys.
//!
//! Run as `cargo bench --workspace --bench advise`; prints the time until the answer, how many candidates were looked at, and
//! the time over that of one run of the plan at 2 %.

mod clock;
mod pod;

use clock::Clock;
use evenfall_sim::advise::{self, Asked, NoJournal};
use evenfall_sim::transport::{Method, RunSettings, Watch};
use evenfall_sim::{plan, scene, transport};
use std::sync::Arc;
use std::time::Instant;

/// Goes on from the end of the plan, its `[film]`.
const ADVISE: &str = r#"on = "80 %"
[advise]
minimise = "time"
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

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("pod.toml");
    let triangles = pod::draw(&folder.path().join("pod.stl"), (121, 250))?;
    let text = format!("{}{ADVISE}", pod::PLAN);
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
    let clock = Clock(Instant::now());
    let asked = Asked {
        settings: settings.clone(),
        ripple: 0.01,
        timing_s: 1.0,
    };
    let found = advise::advise(&plan, &meshes, &asked, (&mut NoJournal, &clock))?;
    let advice_s = clock.elapsed_s();
    let advice = found.advice;
    println!(
        "{triangles} triangles, {} free keys: an answer after {advice_s:.1} s, {} candidates looked at, {:.1e} rays",
        advice.keys.len(),
        advice.tried,
        advice.rays as f64
    );
    if let Some(best) = advice.candidates.first() {
        println!("{:?}, open {:.0} s", best.values, best.open_time_s);
    }
    let clock = Clock(Instant::now());
    let scene = scene::lower(Arc::new(plan), &meshes)?;
    let rates = transport::calibrate(&scene, &settings)?;
    transport::run(&scene, &rates, &settings, &clock);
    let run_s = clock.elapsed_s();
    println!(
        "one run at 2 %: {run_s:.1} s; advice is {:.1} of these",
        advice_s / run_s
    );
    Ok(())
}
