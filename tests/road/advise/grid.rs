//! Advice against a grid by hand: every pose of 5 × 5 × 5 coated as a user would, the best of them found.
//!
//! In: a scene whose `[advise]` frees three keys. Out: what advice and grid come to when both are coated again with other
//! random numbers and closely. What a film is worth is computed here, from the film alone.

use evenfall_sim::advise::{self, Advised, Asked, NoJournal};
use evenfall_sim::film;
use evenfall_sim::plan;
use evenfall_sim::scene::{self, Meshes, Scene};
use evenfall_sim::transport::{self, Method, RunSettings, Unwatched};
use evenfall_tests::solids::Sheet;
use std::path::Path;
use std::sync::Arc;

/// Values of each key.
const VALUES: u32 = 5;
/// Accuracy that a user coats with unless told otherwise.
const USUAL: f64 = 0.02;
/// Seeds of the runs that judge, and their accuracy.
const JUDGES: std::ops::Range<u64> = 1000..1004;

/// A key that varies: its name, bounds and unit.
pub type Vary = (&'static str, [f64; 2], &'static str);

/// A scene: `VALUE0` to `VALUE2` in its text stand for the keys.
pub struct Case {
    /// Sources, part at "part.stl", steps, `[film]`.
    pub text: String,
    /// What is made small: "time" or "unevenness".
    pub minimise: &'static str,
    /// Share of the area that wants film.
    pub on: f64,
    /// The keys.
    pub vary: [Vary; 3],
    /// The part, in metres.
    pub part: Sheet,
    /// Accuracy of the runs that judge.
    pub close: f64,
}

/// What one run comes to.
#[derive(Debug, Clone, Copy)]
pub struct Worth {
    /// Open time that the film needs, s, or its unevenness.
    pub value: f64,
    /// Share of the area that gets the wanted film in the plan's own time.
    pub reached: f64,
    /// Lines drawn and atoms fired.
    pub rays: u64,
}

/// A mean over seeds with its standard error.
#[derive(Debug, Clone, Copy)]
pub struct Judged {
    /// Mean.
    pub mean: f64,
    /// Standard error.
    pub error: f64,
}

/// Everything that a comparison needs.
pub struct Compared {
    /// What was advised.
    pub advised: Advised,
    /// The advised plan coated again.
    pub advice: Judged,
    /// Share reached in its open time.
    pub reached: Judged,
    /// Best pose of the grid coated again.
    pub best: Judged,
    /// Worst pose of the grid that does.
    pub worst: Judged,
    /// Lines and atoms of the grid.
    pub grid_rays: u64,
}

impl Judged {
    fn of(values: &[f64]) -> Self {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        Self {
            mean,
            error: (squares / (n * (n - 1.0))).sqrt(),
        }
    }

    /// Whether this is no more than the other within two standard errors of both.
    pub fn no_worse_than(&self, other: &Self) -> bool {
        self.mean - other.mean <= 2.0 * self.error.hypot(other.error)
    }
}

impl Case {
    fn meshes(&self) -> Meshes {
        let mut meshes = Meshes::default();
        meshes.insert("part.stl", self.part.mesh());
        meshes
    }

    /// The plan's text with values of the keys.
    fn text(&self, values: [f64; 3]) -> String {
        let mut text = self.text.clone();
        for (k, value) in values.into_iter().enumerate() {
            let written = format!("\"{value} {}\"", self.vary[k].2);
            text = text.replace(&format!("VALUE{k}"), &written);
        }
        text
    }

    fn advise(&self) -> Advised {
        let middle = self.vary.map(|(_, [from, to], _)| 0.5 * (from + to));
        let mut text = self.text(middle);
        text += &format!("[advise]\nminimise = \"{}\"\n", self.minimise);
        for (key, [from, to], unit) in self.vary {
            text += &format!(
                "[[advise.vary]]\nkey = \"{key}\"\nfrom = \"{from} {unit}\"\nto = \"{to} {unit}\"\n"
            );
        }
        let plan = plan::read_text(Path::new("check.toml"), &text)
            .unwrap_or_else(|e| panic!("{e}\n{text}"));
        let asked = Asked {
            settings: settings(USUAL, 1),
            ripple: 0.01,
            timing_s: 1.0,
        };
        advise::advise(&plan, &self.meshes(), &asked, (&mut NoJournal, &Unwatched))
            .unwrap_or_else(|e| panic!("{e}\n{text}"))
    }

    /// Coats a plan; none where there is no such scene.
    fn coat(&self, text: &str, settings: &RunSettings) -> Option<Worth> {
        let plan = plan::read_text(Path::new("check.toml"), text)
            .unwrap_or_else(|e| panic!("{e}\n{text}"));
        let scene = scene::lower(Arc::new(plan), &self.meshes()).ok()?;
        let rates = transport::calibrate(&scene, settings).unwrap();
        let tally = transport::run(&scene, &rates, settings, &Unwatched);
        let film = film::grow(&scene, &tally);
        let facets = scene.receivers.iter().zip(&film.facets);
        let facets: Vec<(f64, f64)> = facets
            .map(|(receiver, film)| (film.thickness_m, receiver.area_m2))
            .collect();
        Some(self.worth(&scene, facets, tally.rays))
    }

    fn worth(&self, scene: &Scene, mut facets: Vec<(f64, f64)>, rays: u64) -> Worth {
        facets.sort_by(|a, b| b.0.total_cmp(&a.0));
        let area: f64 = facets.iter().map(|(_, area)| area).sum();
        let want_m = 100e-9;
        let met: f64 = facets
            .iter()
            .filter(|(film, _)| *film >= want_m)
            .map(|(_, area)| area)
            .sum();
        let value = if self.minimise == "unevenness" {
            let (thick, thin) = (facets[0].0, facets[facets.len() - 1].0);
            (thick - thin) / (thick + thin)
        } else {
            let mut passed = 0.0;
            let decides = facets.iter().find(|(_, of_facet)| {
                passed += of_facet;
                passed >= self.on * area * (1.0 - 1e-12)
            });
            let open_s: f64 = scene.steps.iter().map(|step| step.lasts_s).sum();
            open_s * want_m / decides.map_or(0.0, |(film, _)| *film)
        };
        Worth {
            value,
            reached: met / area,
            rays,
        }
    }

    /// A plan coated closely with other seeds than any before.
    fn judge(&self, text: &str) -> (Judged, Judged) {
        let all: Vec<Worth> = JUDGES
            .filter_map(|seed| self.coat(text, &settings(self.close, seed)))
            .collect();
        let of = |value: fn(&Worth) -> f64| Judged::of(&all.iter().map(value).collect::<Vec<_>>());
        (of(|worth| worth.value), of(|worth| worth.reached))
    }

    /// Advises, coats the grid, and coats what is best again.
    pub fn compare(&self) -> Compared {
        let advised = self.advise();
        eprintln!("advice: {:?}", advised.advice.rays);
        let mut grid: Vec<([f64; 3], Worth)> = Vec::new();
        for pose in 0..VALUES.pow(3) {
            let values = [0, 1, 2].map(|k: usize| {
                let (_, [from, to], _) = self.vary[k];
                let step = pose / VALUES.pow(u32::try_from(k).unwrap()) % VALUES;
                from + (to - from) * f64::from(step) / f64::from(VALUES - 1)
            });
            let coated = self.coat(&self.text(values), &settings(USUAL, 1));
            grid.extend(coated.map(|worth| (values, worth)));
        }
        eprintln!("grid done");
        let grid_rays = grid.iter().map(|(_, worth)| worth.rays).sum();
        grid.retain(|(_, worth)| worth.value.is_finite());
        grid.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let again = |(values, _): &([f64; 3], Worth)| self.judge(&self.text(*values)).0;
        let (best, worst) = (again(&grid[0]), again(&grid[grid.len() - 1]));
        println!("grid: best {:?} {best:?}, worst {worst:?}", grid[0].0);
        let (mut advice, reached) = self.judge(advised.text.as_ref().expect("advice"));
        let told = &advised.advice.candidates[0];
        println!("advice: {:?} {advice:?}, reached {reached:?}, told {told:?}", told.values);
        println!(
            "rays: advice {:.2e}, grid {grid_rays:.2e}: {:.1} %",
            advised.advice.rays as f64,
            100.0 * advised.advice.rays as f64 / grid_rays as f64
        );
        if self.minimise != "unevenness" {
            // the time that the plan takes counts, not what it could do with
            println!("needs {advice:?} of {} s", told.open_time_s);
            advice.mean = told.open_time_s;
        }
        Compared {
            advised,
            advice,
            reached,
            best,
            worst,
            grid_rays,
        }
    }
}

/// Gather to an accuracy with a token audit.
fn settings(accuracy: f64, seed: u64) -> RunSettings {
    RunSettings {
        method: Method::Auto,
        accuracy,
        time: None,
        atoms: Some(1000),
        seed,
        threads: 0,
    }
}
