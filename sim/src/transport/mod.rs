//! Atoms fly: from footprints through the scene to where they stick.
//!
//! In: a [`crate::scene::Scene`] and the rates. Out: a [`Tally`]. Next on the road: `film`.

mod aimed;
mod audit;
mod bundle;
mod calibrate;
mod causes;
mod channel;
mod cluster;
pub mod corrected;
mod draw;
pub mod edges;
mod fire;
mod fired;
mod flight;
mod flown;
mod gather;
pub mod kernel;
mod led;
mod lines;
mod looks;
mod order;
mod pilot;
mod probe;
mod run;
mod scattered;
mod tally;
mod trial;
mod walls;
mod window;

pub use calibrate::{calibrate, calibrate_within};
pub use run::{run, sketch};
pub use trial::{Trial, TrialSettings, side_by_side, trial};

use std::time::Duration;

/// How the run is to be done.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSettings {
    /// Method.
    pub method: Method,
    /// Asked accuracy (area-weighted 95th percentile of relative standard error), e.g. 0.02.
    pub accuracy: f64,
    /// Time limit.
    pub time: Option<Duration>,
    /// Limit on fired atoms.
    pub atoms: Option<u64>,
    /// Seed.
    pub seed: u64,
    /// Threads; 0 means all cores.
    pub threads: usize,
}

/// Method of transport.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Method {
    /// Gather what comes straight, walk what is scattered, audited by firing.
    Auto,
    /// Gather, audited by firing.
    Gather,
    /// Firing only.
    Fire,
}

impl Method {
    /// The method that a run really uses: gathered lines end where they first meet a solid or a gas atom, so that
    /// gathering alone is not enough where atoms go on from there.
    #[must_use]
    pub fn in_effect(self, scene: &crate::scene::Scene) -> Self {
        match self {
            Self::Gather if !scene.is_straight() => Self::Auto,
            method => method,
        }
    }
}

/// Why a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Stopped {
    /// Accuracy reached.
    Reached,
    /// Time limit.
    Time,
    /// Limit on atoms.
    Atoms,
    /// Stopped by the user.
    User,
}

/// How a run tells where it is and learns that it should stop. The library has no clock: the caller brings it.
pub trait Watch: Sync {
    /// Seconds since the run began.
    fn elapsed_s(&self) -> f64;
    /// True when the user wants to stop.
    fn cancelled(&self) -> bool;
    /// Share done so far, 0..=1, with the name of the stage.
    fn progress(&self, stage: &'static str, done: f64);
}

/// A watch on which no time passes and that never stops a run: for whoever waits for its end.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn elapsed_s(&self) -> f64 {
        0.0
    }

    fn cancelled(&self) -> bool {
        false
    }

    fn progress(&self, _stage: &'static str, _done: f64) {}
}

/// Fates of fired atoms, whole numbers; they add up to `emitted`.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Balance {
    /// All.
    pub emitted: u64,
    /// On counted sides of parts.
    pub part: u64,
    /// On the other side of parts.
    pub part_back: u64,
    /// On fixtures.
    pub fixtures: u64,
    /// On stencils.
    pub mask: u64,
    /// On shutters.
    pub shutter: u64,
    /// On coupons (either side).
    pub coupons: u64,
    /// On chamber walls.
    pub walls: u64,
    /// Back on an emitting face.
    pub source: u64,
    /// Gone where there is no chamber.
    pub escaped: u64,
}

/// Atoms that stuck to one side of a part, whole numbers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Arrivals {
    /// All.
    pub atoms: u64,
    /// Of these, not straight from a footprint: after a collision or a bounce.
    pub scattered: u64,
    /// Collisions that they had been through.
    pub collisions: Moments,
    /// Their energies, whole microelectronvolts; 0 without gas, where no energies are drawn.
    pub micro_ev: Moments,
}

/// Sum and sum of squares over atoms of something that is a whole number for each.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Moments {
    /// Sum.
    pub sum: u64,
    /// Sum of squares.
    pub squares: u128,
}

impl Moments {
    /// Takes in one atom's.
    pub fn push(&mut self, value: u64) {
        self.sum += value;
        self.squares += u128::from(value) * u128::from(value);
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            sum: self.sum + other.sum,
            squares: self.squares + other.squares,
        }
    }

    /// Mean over so many atoms and its standard error, √((⟨x²⟩ − ⟨x⟩²)/(n − 1)); (0, 0) without atoms.
    pub fn mean(&self, atoms: u64) -> (f64, f64) {
        let n = atoms.max(1) as f64;
        let mean = self.sum as f64 / n;
        let variance = (self.squares as f64 / n - mean * mean).max(0.0);
        (mean, (variance / (n - 1.0).max(1.0)).sqrt())
    }
}

impl Arrivals {
    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            atoms: self.atoms + other.atoms,
            scattered: self.scattered + other.scattered,
            collisions: self.collisions.plus(&other.collisions),
            micro_ev: self.micro_ev.plus(&other.micro_ev),
        }
    }
}

/// Real atoms per source and step, and how well they are known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rates {
    /// `atoms[source][step]`.
    pub atoms: Vec<Vec<f64>>,
    /// Relative standard error per source (0 unless the rate comes from a computed coupon).
    pub relative_error: Vec<f64>,
}

/// Sums over one receiver (same index as `Scene::receivers`), or over one probe point.
///
/// Fluence: real atoms per m² that stuck.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sums {
    /// Thickness, m (all metals, bulk density), mean over scramblings or batches.
    pub thickness_m: f64,
    /// Standard error of it, m.
    pub std_error_m: f64,
    /// Flux-weighted mean incidence angle from the normal, rad; NaN without arrivals.
    pub incidence_rad: f64,
    /// Share of the footprint with a clear line, averaged over open time.
    pub visible: f64,
    /// Shares of the open flux: direct, facing, self, fixtures, mask, shutter, gas.
    pub shares: [f64; 7],
    /// Flux if it faced the source with nothing in the way, as thickness, m.
    pub open_thickness_m: f64,
    /// Samples drawn.
    pub samples: u32,
    /// Samples that arrived.
    pub arrived: u32,
}

/// What a run counted.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    /// Per receiver.
    pub receivers: Vec<Sums>,
    /// Per receiver: share of the film that had collided or bounced before; empty where all fly straight.
    pub scattered: Vec<f32>,
    /// Per receiver: film that one fired atom is worth, m; empty where lines are gathered.
    pub per_atom_m: Vec<f64>,
    /// Per receiver and metal, thickness m: `[metal][receiver]`; empty when there is one metal.
    pub by_metal: Vec<Vec<f32>>,
    /// Per receiver and step, thickness m: `[step][receiver]`.
    pub by_step: Vec<Vec<f32>>,
    /// Per row of each part, standard error of the row's mean, m: `[part][side][row]`.
    pub row_std_error_m: Vec<[Vec<f64>; 2]>,
    /// Per part: mean thickness over its counted area and its standard error, m.
    pub part_mean_m: Vec<(f64, f64)>,
    /// Per coupon: thickness and standard error, m.
    pub coupons_m: Vec<(f64, f64)>,
    /// Per probe of the plan, its points.
    pub probes: Vec<Vec<ProbePoint>>,
    /// Per stencil of the scene; fewer where the run was ended before, none where not all atoms fly straight.
    pub stencils: Vec<corrected::StencilFilm>,
    /// Fates of the fired atoms.
    pub balance: Balance,
    /// Collisions with the gas that all fired atoms went through.
    pub collisions: Moments,
    /// Bounces off surfaces of all fired atoms.
    pub bounces: Moments,
    /// Per part: fired atoms that stuck to its front, to its back.
    pub arrivals: Vec<[Arrivals; 2]>,
    /// Audit: per part, mean thickness by firing and its standard error, m.
    pub audit_part_mean_m: Vec<(f64, f64)>,
    /// Audit: per coupon.
    pub audit_coupons_m: Vec<(f64, f64)>,
    /// Relative error of the rates, which is in every error but those of the audit.
    pub rate_error: f64,
    /// Accuracy reached.
    pub accuracy: f64,
    /// Why it ended.
    pub stopped: Option<Stopped>,
    /// A first look only ([`sketch`]).
    pub is_sketch: bool,
    /// Rays traced.
    pub rays: u64,
}

/// A probe point dropped onto the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProbePoint {
    /// Distance along the probe line, m.
    pub s_m: f64,
    /// The point on the surface, part's coordinates, m.
    pub position_m: glam::DVec3,
    /// What arrives.
    pub sums: Sums,
}

/// Runs `work` on that many threads (0: all cores).
fn with_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(work),
        Err(_) => work(), // no threads to be had: the shared pool, or this thread alone
    }
}

#[cfg(test)]
mod tests;
