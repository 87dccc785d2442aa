//! What an edit in the window costs until its first map: the sim's share of it, stage by stage.
//!
//! The pod of the road bench at about 60k triangles, turning above an off-axis ring, with a shield and a coupon. Each
//! edit tilts the part by another degree, the dearest kind: the meshes stay, all else is made anew. Run as
//! `cargo bench --workspace --bench edit`; prints the median over some edits and the share of a whole run at 2 %.

mod clock;
mod pod;

use clock::Clock;
use evenfall_sim::transport::{Method, RunSettings, Watch};
use evenfall_sim::{film, outcome, plan, scene, transport};
use std::sync::Arc;
use std::time::Instant;

const EDITS: usize = 15;

const SHIELD: &str = r#"
[[fixture]]
name = "shield"
body = { shape = "plate", size = ["80 mm", "80 mm", "1 mm"], hole_diameter = "46 mm" }
at = ["30 mm", "20 mm", "66 mm"]
[[coupon]]
name = "witness"
at = ["60 mm", "0 mm", "150 mm"]
facing = [0, 0, -1]
"#;

/// Stages of an edit, in their order.
const STAGES: [&str; 6] = ["read", "draft", "calibrate", "sketch", "assemble", "survey"];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("pod.toml");
    let triangles = pod::draw(&folder.path().join("pod.stl"), (121, 250))?;
    let settings = RunSettings {
        method: Method::Auto,
        accuracy: 0.02,
        time: None,
        atoms: None,
        seed: 1,
        threads: 0,
    };
    let mut meshes = scene::Meshes::default();
    let mut laps: Vec<Vec<f64>> = vec![Vec::new(); STAGES.len()];
    let mut sums = Vec::new();
    for edit in 0..=EDITS {
        let tilt = format!("\"{} deg\", \"0 deg\"]", 60 - edit);
        let text = pod::PLAN.replace("\"60 deg\", \"0 deg\"]", &tilt) + SHIELD;
        let clock = Clock(Instant::now());
        let mut times = vec![0.0];
        let plan = Arc::new(plan::read_text(&path, &text).map_err(|e| format!("{e:?}"))?);
        scene::load_missing(&plan, &mut meshes)?;
        times.push(clock.elapsed_s());
        let draft = scene::draft(plan, &meshes)?;
        times.push(clock.elapsed_s());
        let rates = transport::calibrate(draft.scene(), &settings)?;
        times.push(clock.elapsed_s());
        let tally = transport::sketch(draft.scene(), &rates, &settings, &clock);
        times.push(clock.elapsed_s());
        let film = film::grow(draft.scene(), &tally);
        let outcome = outcome::assemble(draft.scene(), &rates, &tally, film, &settings);
        times.push(clock.elapsed_s());
        let survey = outcome::survey::Survey::of(&outcome);
        let scale = outcome::colour::Scale::of(&outcome, &survey);
        let said = outcome::headline::with_survey(&outcome, &survey);
        times.push(clock.elapsed_s());
        std::hint::black_box((scale, said));
        if edit > 0 {
            // the first one reads the mesh
            for (laps, pair) in laps.iter_mut().zip(times.windows(2)) {
                laps.push(pair[1] - pair[0]);
            }
            sums.push(clock.elapsed_s());
        }
        if edit == EDITS {
            let begun = clock.elapsed_s();
            let scene = draft.prove()?;
            let proved = clock.elapsed_s();
            let rates = transport::calibrate(&scene, &settings)?;
            transport::run(&scene, &rates, &settings, &clock);
            let whole_s = clock.elapsed_s() - begun;
            println!(
                "{:>10}: {:7.1} ms, after the first map",
                "prove",
                1e3 * (proved - begun)
            );
            let sum = median(&mut sums);
            println!(
                "{triangles} triangles: first map after {:.1} ms, 1/{:.0} of a run",
                1e3 * sum,
                whole_s / sum
            );
        }
    }
    for (name, laps) in STAGES.iter().zip(&mut laps) {
        println!("{name:>10}: {:7.1} ms", 1e3 * median(laps));
    }
    Ok(())
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
