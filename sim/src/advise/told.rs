//! What advice says: `advice.json`.
//!
//! In: what `advice` found. Out: plain records, for the file and for words.

use super::stops::ByCount;
use super::sure::Sure;
use super::turns::Turns;
use std::collections::BTreeMap;

/// All that advice says.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Advice {
    /// "evenfall-advice".
    pub format: String,
    /// Version of the format.
    pub version: u32,
    /// Version of the program.
    pub program: String,
    /// Title of the plan.
    pub title: String,
    /// Seed.
    pub seed: u64,
    /// "time", "metal" or "unevenness".
    pub minimise: String,
    /// The user ended it early.
    pub stopped: bool,
    /// The free keys.
    pub keys: Vec<KeyTold>,
    /// Candidates that were simulated again on their own, the best first; empty where nothing does.
    pub candidates: Vec<Ranked>,
    /// Candidates of which none is beaten in everything by another.
    pub front: Vec<FrontPoint>,
    /// Hand-turned schedules, where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stops: Option<StopsTold>,
    /// How many turns do, where the part turns steadily.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turning: Option<TurningTold>,
    /// Open times that are sure to be enough.
    pub sure: Vec<Sure>,
    /// Factor within which the rate lies, at 95 %, that they rest on.
    pub rate_factor: f64,
    /// What to do at the machine, step by step.
    pub card: Vec<CardRow>,
    /// What limits it, in words.
    pub limits: Vec<String>,
    /// What else must be said.
    pub warnings: Vec<String>,
    /// Candidates looked at.
    pub tried: usize,
    /// Of these, such as fit and get the film.
    pub feasible: usize,
    /// Lines drawn and atoms fired for all of this.
    pub rays: u64,
}

/// A free key.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct KeyTold {
    /// Key.
    pub key: String,
    /// Bounds as the plan would write them.
    pub from: String,
    /// Upper one.
    pub to: String,
    /// What the plan said.
    pub now: String,
}

/// A number with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Known {
    /// The number.
    pub value: f64,
    /// Its standard error.
    pub stderr: f64,
}

/// A candidate that was simulated again on its own, with other random numbers.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Ranked {
    /// Values of the free keys as the plan writes them.
    pub values: BTreeMap<String, String>,
    /// "steady", or "stops" of a hand-turned part.
    pub turning: String,
    /// Open time, s.
    pub open_time_s: f64,
    /// From and to, as the rate may be off.
    pub open_time_range_s: [f64; 2],
    /// Metal that leaves, mg, with the plan's rate.
    pub metal_mg: f64,
    /// From and to, as the rate may be off, in the open time as it stands.
    pub metal_range_mg: [f64; 2],
    /// Share of the wanted area that gets the wanted film; none where nothing is wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reached: Option<Known>,
    /// "met", "missed" or "too close to call"; none where nothing is wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdict: Option<String>,
    /// (max − min)/(max + min) where film is wanted.
    pub unevenness: Known,
    /// Share of the wanted area that gets nothing.
    pub not_reached: f64,
    /// The warmest that each part gets, from and to, °C; parts of which too little is said are missing.
    pub highest_c: BTreeMap<String, [f64; 2]>,
    /// Heat that arrives on each part in the mean, from and to, W/m².
    pub heat_w_per_m2: BTreeMap<String, [f64; 2]>,
}

/// A point of the front, as the search saw it.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct FrontPoint {
    /// Values of the free keys as the plan writes them.
    pub values: BTreeMap<String, String>,
    /// Open time, s.
    pub open_time_s: f64,
    /// Unevenness.
    pub unevenness: Known,
    /// Metal, mg.
    pub metal_mg: f64,
    /// Share of the wanted area that gets nothing.
    pub not_reached: f64,
    /// Film that lands on the parts per open time, over the least of the front: what the heat that arrives goes with.
    pub heat: f64,
}

/// Hand-turned schedules.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct StopsTold {
    /// Steady turning, for comparison: open time, s.
    pub steady_open_time_s: f64,
    /// And unevenness.
    pub steady_unevenness: Known,
    /// By number of stops.
    pub by_count: Vec<ByCount>,
    /// Which number is advised, and of what kind: "equal", "weighted" or "free".
    pub chosen: Option<(u32, String)>,
    /// Whether the advised plan has stops.
    pub advised: bool,
}

/// How fast to turn.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct TurningTold {
    /// Step, from 1.
    pub step: usize,
    /// Its duration in the advised plan, s.
    pub lasts_s: f64,
    /// Unevenness that the last part of a turn and the timing may bring.
    pub figure: f64,
    /// How much the duration may be off, s.
    pub timing_s: f64,
    /// Fewest turns.
    pub turns: Turns,
    /// The plan's own speed makes so many.
    pub plan_turns: f64,
    /// In words.
    pub sentence: String,
}

/// A row of the card.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct CardRow {
    /// Running clock at its start, s.
    pub start_s: f64,
    /// Duration, s.
    pub lasts_s: f64,
    /// What to do.
    pub what: String,
}

/// Values of the free keys in words.
pub fn values_in_words(values: &BTreeMap<String, String>) -> String {
    let all = values.iter().map(|(key, value)| format!("{key} = {value}"));
    let all = all.collect::<Vec<_>>().join(", ");
    if all.is_empty() {
        "as it is".to_owned()
    } else {
        all
    }
}
