//! What `summary.json` says of how atoms flew: gas, collisions, what arrived.
//!
//! In: `outcome::flight` fills these. Out: the summary, and every sentence that people read.

/// How atoms flew that collided or bounced.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct FlightSummary {
    /// The gas, if there was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gas: Option<GasSummary>,
    /// Mean collisions of a fired atom.
    pub collisions_per_atom: Known,
    /// Mean bounces of a fired atom.
    pub bounces_per_atom: Known,
    /// What arrived, per part.
    pub parts: Vec<ArrivalSummary>,
}

/// The gas of a run.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct GasSummary {
    /// Species.
    pub species: String,
    /// Pressure, Pa.
    pub pressure_pa: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Residual pressure before gas is let in, Pa, where the plan says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub base_pressure_pa: Option<f64>,
    /// Law of deflection: "hard-sphere", "hard-sphere-at-rest" or "isotropic".
    pub scatter: String,
    /// Free paths, per metal.
    pub free_paths: Vec<FreePath>,
}

/// Free path of a metal in a gas.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct FreePath {
    /// Metal.
    pub metal: String,
    /// 1/(n σ), that of atoms far faster than the gas, mm.
    pub free_path_mm: f64,
    /// σ, nm².
    pub sigma_nm2: f64,
    /// Where a tabulated one may truly lie, mm; nothing where the plan gives it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt_mm: Option<[f64; 2]>,
}

/// Fired atoms that stuck to a part.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ArrivalSummary {
    /// Part.
    pub part: String,
    /// Share of them that came after a collision or a bounce.
    pub scattered_fraction: Known,
    /// Their mean number of collisions.
    pub collisions: Known,
    /// Their mean energy, eV; nothing without gas.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub energy_ev: Option<Known>,
}

/// A mean over fired atoms.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Known {
    /// The mean.
    pub mean: f64,
    /// Its standard error.
    pub stderr: f64,
}
