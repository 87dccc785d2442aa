//! A cup in gas: the default method against plain firing, which is the judge.
//!
//! In: metal, law, free path, and how the cup is held. Out: totals and clusters of facets of both, compared.

use crate::agreement::{Comparison, Disagreement, Spread, judge, repeated};
use crate::bench::{Asked, Bench, Coated, Head};
use crate::solids::{Sheet, rings};
use evenfall_sim::scene::Scene;
use evenfall_sim::transport::Tally;
use glam::DVec3;

/// Runs of the default method per case, with atoms of their own.
pub const RUNS: u64 = 8;
/// Clusters of facets that are compared one by one.
pub const CLUSTERS: usize = 64;
/// Relative difference of totals that the method must keep below.
pub const TOTAL: f64 = 0.015;

/// Relative error up to which a cluster is compared.
pub const CLUSTER: f64 = 0.3;

/// How the part is held and what is in the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Held {
    Still,
    Turning,
    Shielded,
    Loose,
}

/// Profile of a cup with its mouth down, radius and height in m: outside, rim, deep inside.
pub fn cup_profile() -> [(f64, f64); 10] {
    [
        (0.0, 0.030),
        (0.010, 0.029),
        (0.018, 0.022),
        (0.020, 0.010),
        (0.021, 0.0),
        (0.023, 0.0),
        (0.023, 0.011),
        (0.021, 0.024),
        (0.012, 0.033),
        (0.0, 0.035),
    ]
    .map(|(radius, z)| (radius, z + 0.085))
}

/// The cup of some hundred facets.
pub fn cup() -> Sheet {
    rings(&cup_profile(), 36)
}

pub fn scene(gas: (&str, &str, f64), held: Held) -> Bench {
    scene_with(cup(), gas, held)
}

pub fn scene_with(part: Sheet, (metal, scatter, path_mm): (&str, &str, f64), held: Held) -> Bench {
    let head = Head {
        footprint: r#"{ shape = "disc", radius = "15 mm" }"#,
        cosine: 1.0,
        at: DVec3::new(0.02, 0.0, 0.015),
        facing: DVec3::Z,
        along: None,
    };
    let mut bench = Bench::new()
        .with("[chamber]\nshape = \"cylinder\"\ndiameter = \"180 mm\"\nheight = \"180 mm\"")
        .with(&format!(
            "[gas]\npressure = \"1 Pa\"\nfree_path = \"{path_mm:?} mm\"\nscatter = \"{scatter}\""
        ))
        .source(&head)
        .part("cup", part);
    if held == Held::Loose {
        bench = bench.with("sticking = 0.5");
    }
    if held == Held::Shielded {
        bench = bench.with(
            "[[fixture]]\nname = \"shield\"\nat = [\"30 mm\", \"0 mm\", \"50 mm\"]\n\
             body = { shape = \"plate\", size = [\"50 mm\", \"70 mm\", \"1 mm\"] }",
        );
    }
    if held == Held::Turning {
        bench = bench
            .turning(DVec3::X)
            .with("through = [\"0 mm\", \"0 mm\", \"100 mm\"]");
    }
    let mut bench = bench.step(1.0, "");
    bench.text = bench
        .text
        .replace("metal = \"silver\"", &format!("metal = \"{metal}\""));
    bench
}

/// Film volume of every cluster of neighbouring facets, as shares of all that was emitted; the last is the sum.
pub fn clusters(scene: &Scene, tally: &Tally) -> Vec<f64> {
    let facets = scene.parts[0].front.clone();
    let mut sums = vec![0.0; CLUSTERS + 1];
    let count = facets.len();
    for (place, facet) in facets.enumerate() {
        let volume = tally.receivers[facet].thickness_m * scene.receivers[facet].area_m2;
        sums[place * CLUSTERS / count] += volume;
        sums[CLUSTERS] += volume;
    }
    sums
}

/// The default method's clusters over several seeds, and those of plain firing with their errors.
pub struct Both {
    pub runs: Vec<Vec<f64>>,
    pub fired: Vec<(f64, f64)>,
}

/// The default method, run with several seeds.
pub fn runs(bench: &Bench) -> Vec<Vec<f64>> {
    let asked = Asked {
        atoms: 60_000,
        ..Asked::gather(0.1)
    };
    runs_of(bench, asked, RUNS)
}

pub fn runs_of(bench: &Bench, asked: Asked, count: u64) -> Vec<Vec<f64>> {
    let run = |seed: u64| {
        let asked = Asked {
            method: evenfall_sim::transport::Method::Auto,
            seed,
            ..asked
        };
        let coated = bench.coat(&asked);
        clusters(&coated.scene, &coated.tally)
    };
    (1..=count).map(run).collect()
}

/// Plain firing of so many atoms.
pub fn fired(bench: &Bench, atoms: u64) -> Vec<(f64, f64)> {
    let coated: Coated = bench.coat(&Asked::fire(atoms));
    let emitted = coated.tally.balance.emitted as f64;
    let landed = clusters(&coated.scene, &coated.tally);
    let facets = coated.scene.parts[0].front.clone();
    let arrived: u32 = facets.map(|f| coated.tally.receivers[f].arrived).sum();
    let per_atom = landed[CLUSTERS] / f64::from(arrived.max(1));
    let error = |volume: f64| {
        let count = volume / per_atom;
        (count * (1.0 - count / emitted)).max(1.0).sqrt() * per_atom
    };
    landed
        .into_iter()
        .map(|volume| (volume, error(volume)))
        .collect()
}

pub fn both(judged: &Bench, judge: &Bench, atoms: u64) -> Both {
    Both {
        runs: runs(judged),
        fired: fired(judge, atoms),
    }
}

impl Both {
    pub fn comparison(&self, cluster: usize) -> Comparison {
        let found = self.runs.iter().map(|run| run[cluster]);
        repeated(format!("cluster {cluster}"), found, self.fired[cluster])
    }

    /// Totals within what is promised, and as near as their errors say.
    ///
    /// # Errors
    /// How they part.
    pub fn totals_agree(&self) -> Result<(), Disagreement> {
        let total = self.comparison(CLUSTERS);
        let off = total.found / total.reference - 1.0;
        assert!(
            off.abs() < TOTAL + 3.0 * total.std_error / total.reference,
            "{off}"
        );
        judge(&[total], Spread::Repetitions(8), 0.0125)
    }

    /// Clusters one by one, and Σz²; those deep inside that hardly an atom was fired onto are left out.
    ///
    /// # Errors
    /// How they part.
    pub fn clusters_agree(&self) -> Result<(), Disagreement> {
        let all = (0..CLUSTERS).map(|cluster| self.comparison(cluster));
        let told: Vec<Comparison> = all
            .filter(|c| c.std_error <= CLUSTER * c.reference)
            .collect();
        assert!(
            told.len() >= CLUSTERS / 2,
            "only {} clusters tell",
            told.len()
        );
        judge(&told, Spread::Repetitions(8), CLUSTER)
    }
}
