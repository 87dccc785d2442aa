//! Advice against a grid by hand: 5 × 5 × 5 poses over the same keys and bounds, the best of them found.
//!
//! In: a scene whose `[advise]` frees three keys. Out: what advice and grid come to when both are coated again with other
//! random numbers. What a film is worth is computed here, from the film alone.
//!
//! To coat all 125 poses at the accuracy that a user has unless told otherwise would take minutes a scene. All are looked at
//! coarsely; the best few of them are coated so, and the best of these is the grid's. What the whole grid would cost is 125
//! times the mean of the poses that were coated.

use super::settings;
use evenfall_sim::advise::{self, Advised, Asked, NoJournal};
use evenfall_sim::film;
use evenfall_sim::plan;
use evenfall_sim::scene::{self, Meshes, Scene};
use evenfall_sim::transport::{self, TrialSettings, Unwatched};
use evenfall_tests::solids::Sheet;
use std::path::Path;
use std::sync::Arc;

/// Values of each key.
const VALUES: u32 = 5;
/// Accuracy that a user coats with unless told otherwise.
const USUAL: f64 = 0.02;
/// Seeds of the runs that judge.
const JUDGES: std::ops::Range<u64> = 1000..1004;
/// Film that all scenes want, m.
const WANT_M: f64 = 100e-9;
/// Poses that are coated before the best is chosen.
const CHOSEN: usize = 3;

/// A key that varies: its name, bounds and unit.
pub type Vary = (&'static str, [f64; 2], &'static str);

/// A scene: `VALUE0` to `VALUE2` in its text stand for the keys.
pub struct Case {
    /// Sources, part at "part.stl", steps, `[film]`.
    pub text: String,
    /// Share of the area that wants film.
    pub on: f64,
    /// The keys.
    pub vary: [Vary; 3],
    /// The part, in metres.
    pub part: Sheet,
}

/// What one run comes to.
#[derive(Debug, Clone, Copy)]
pub struct Worth {
    /// Open time that the film needs, s.
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
    /// What the advised plan needs when coated again.
    pub advice: Judged,
    /// Share reached in its open time.
    pub reached: Judged,
    /// Best pose of the grid coated again.
    pub best: Judged,
    /// Middle one of the grid's poses that do, which advice must be better than.
    pub middle: Judged,
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
        text += "[advise]\nminimise = \"time\"\n";
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

    fn scene(&self, text: &str) -> Option<Scene> {
        let plan = plan::read_text(Path::new("check.toml"), text)
            .unwrap_or_else(|e| panic!("{e}\n{text}"));
        let draft = scene::draft(Arc::new(plan), &self.meshes()).ok()?;
        draft.stands().is_ok().then(|| draft.scene().clone())
    }

    /// Coats a plan; none where there is no such scene.
    fn coat(&self, text: &str, seed: u64) -> Option<Worth> {
        let (scene, settings) = (self.scene(text)?, settings(USUAL, seed));
        let rates = transport::calibrate(&scene, &settings).unwrap();
        let tally = transport::run(&scene, &rates, &settings, &Unwatched);
        let film = film::grow(&scene, &tally);
        let films = film.facets.iter().map(|film| film.thickness_m);
        Some(self.worth(&scene, films, tally.rays))
    }

    /// Looks at a plan coarsely; none where there is no such scene.
    fn glance(&self, text: &str) -> Option<Worth> {
        let scene = self.scene(text)?;
        let rates = transport::calibrate(&scene, &settings(USUAL, 1)).unwrap();
        let settings = TrialSettings {
            lines: 1,
            atoms: 0,
            seed: 7,
            threads: 0,
        };
        let all = transport::side_by_side(&scene);
        let tried = transport::trial(&scene, &rates, &all, (1, &|_, _| 0), (settings, &Unwatched));
        let mut films = vec![0.0; all.len()];
        for (chosen, &receiver) in all.iter().enumerate() {
            films[receiver] = tried.of(0, chosen);
        }
        Some(self.worth(&scene, films.into_iter(), tried.rays))
    }

    /// What films of all receivers, m, are worth.
    fn worth(&self, scene: &Scene, films: impl Iterator<Item = f64>, rays: u64) -> Worth {
        let areas = scene.receivers.iter().map(|receiver| receiver.area_m2);
        let mut facets: Vec<(f64, f64)> = films.zip(areas).collect();
        facets.sort_by(|a, b| b.0.total_cmp(&a.0));
        let area: f64 = facets.iter().map(|(_, area)| area).sum();
        let met = facets.iter().take_while(|(film, _)| *film >= WANT_M);
        let met: f64 = met.map(|(_, area)| area).sum();
        let mut passed = 0.0;
        let decides = facets.iter().find(|(_, of_facet)| {
            passed += of_facet;
            passed >= self.on * area * (1.0 - 1e-12)
        });
        let open_s: f64 = scene.steps.iter().map(|step| step.lasts_s).sum();
        Worth {
            value: open_s * WANT_M / decides.map_or(0.0, |(film, _)| *film),
            reached: met / area,
            rays,
        }
    }

    /// A plan coated with other seeds than any before: the time it needs, and the share it reaches.
    fn judge(&self, text: &str) -> (Judged, Judged) {
        let all: Vec<Worth> = JUDGES.filter_map(|seed| self.coat(text, seed)).collect();
        let of = |value: fn(&Worth) -> f64| Judged::of(&all.iter().map(value).collect::<Vec<_>>());
        (of(|worth| worth.value), of(|worth| worth.reached))
    }

    /// All poses of the grid that do, the best first.
    fn grid(&self) -> Vec<([f64; 3], Worth)> {
        let mut grid: Vec<([f64; 3], Worth)> = Vec::new();
        for pose in 0..VALUES.pow(3) {
            let values = [0, 1, 2].map(|k: usize| {
                let (_, [from, to], _) = self.vary[k];
                let step = pose / VALUES.pow(u32::try_from(k).unwrap()) % VALUES;
                from + (to - from) * f64::from(step) / f64::from(VALUES - 1)
            });
            let seen = self.glance(&self.text(values));
            grid.extend(seen.map(|worth| (values, worth)));
        }
        grid.retain(|(_, worth)| worth.value.is_finite());
        grid.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
        grid
    }

    /// Advises, looks at the grid, and coats what is best again.
    pub fn compare(&self) -> Compared {
        let advised = self.advise();
        let grid = self.grid();
        let coat = |(values, _): &([f64; 3], Worth)| {
            let worth = self.coat(&self.text(*values), 1);
            (*values, worth.expect("it was a scene before"))
        };
        let mut chosen: Vec<([f64; 3], Worth)> = grid.iter().take(CHOSEN).map(coat).collect();
        let middle_and_worst = [grid.len() / 2, grid.len() - 1].map(|k| coat(&grid[k]));
        let coated = chosen.iter().chain(&middle_and_worst);
        let rays: u64 = coated.map(|(_, worth)| worth.rays).sum();
        let grid_rays = u64::from(VALUES.pow(3)) * rays / (CHOSEN + 2) as u64;
        chosen.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let again = |values: [f64; 3]| self.judge(&self.text(values)).0;
        let (best, middle) = (again(chosen[0].0), again(middle_and_worst[0].0));
        let (advice, reached) = self.judge(advised.text.as_ref().expect("advice"));
        let told = &advised.advice.candidates[0];
        println!(
            "grid: {} poses do, the best {:?} needs {:.1} ± {:.1} s, the middle one {:.0} s\n             advice: {:?} needs {:.1} ± {:.1} s and takes {} s, {:.2} ± {:.2} % get the film, said {:.2} ± {:.2} %\n             rays: advice {:.2e}, grid {:.2e}: {:.1} %",
            grid.len(),
            chosen[0].0,
            best.mean,
            best.error,
            middle.mean,
            told.values,
            advice.mean,
            advice.error,
            told.open_time_s,
            100.0 * reached.mean,
            100.0 * reached.error,
            100.0 * told.reached.map_or(0.0, |known| known.value),
            100.0 * told.reached.map_or(0.0, |known| known.stderr),
            advised.advice.rays as f64,
            grid_rays as f64,
            100.0 * advised.advice.rays as f64 / grid_rays as f64
        );
        Compared {
            advice,
            advised,
            reached,
            best,
            middle,
            grid_rays,
        }
    }
}
