//! What `summary.json` says of the worth of a film: looks, conducts, grows, heat, purity, target.
//!
//! In: `outcome::worth` fills these. Out: the summary, and every sentence that people read.

/// How a part looks.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PartLooks {
    /// In words.
    pub sentence: String,
    /// Thickness from which the metal looks solid, nm.
    pub solid_from_nm: f64,
    /// Share of the counted area that does.
    pub solid_fraction: f64,
    /// Share of green light that goes through where the film is thick and where it is thin (95th and 5th percentile).
    pub light_through: [f64; 2],
}

/// How a part conducts.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PartConducts {
    /// In words.
    pub sentence: String,
    /// Resistance of a square at the middle thickness of what conducts, from and to, Ω; none where nothing does.
    pub square_ohm: Option<[f64; 2]>,
    /// Share of the counted area that conducts for certain.
    pub conducting_fraction: f64,
    /// Pieces of it that do not touch.
    pub pieces: usize,
    /// Share of the largest in the conducting area.
    pub largest_fraction: f64,
    /// From end to end of the largest piece; none where nothing conducts, and on meshes of very many triangles.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub far: Option<FarOhm>,
}

/// Resistance between two needles at the ends of a piece.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct FarOhm {
    /// In words.
    pub sentence: String,
    /// From and to, Ω.
    pub ohm: [f64; 2],
    /// Where they are pressed on, part's coordinates, mm.
    pub ends_mm: [[f64; 3]; 2],
    /// How wide they are, mm.
    pub needle_mm: f64,
}

/// How a part's film grows.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PartGrowth {
    /// In words.
    pub sentence: String,
    /// Mean angle at which metal arrives, by metal, from straight on, deg.
    pub mean_incidence_deg: f64,
    /// Tilt of columns there, least and greatest of two rules, deg.
    pub tilt_deg: [f64; 2],
    /// Share of the counted area that gets more than 300 nm at more than 60°.
    pub grazing_fraction: f64,
}

/// How warm a part gets. All figures are good to a factor of 2.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PartHeat {
    /// In words.
    pub sentence: String,
    /// Number of the hottest step, from 0.
    #[serde(default)]
    pub hottest_step: usize,
    /// What the figures below are of: "the place that gets most" or "the mean of the part".
    pub decides: String,
    /// Heat that arrives while the hottest step is open, in the mean over the counted area, from and to, W/m².
    pub mean_w_per_m2: [f64; 2],
    /// The same where most film grows.
    pub most_w_per_m2: [f64; 2],
    /// Warming at the start, from and to, K/min; none without wall or material.
    pub rise_k_per_min: Option<[f64; 2]>,
    /// Where it would settle if it went on, from and to, °C; none without material or emissivity.
    pub steady_c: Option<[f64; 2]>,
    /// The warmest that it gets in this run, from and to, °C; none without wall or material.
    pub highest_c: Option<[f64; 2]>,
    /// What it bears, °C: of the plan, else what is usual for its material.
    pub limit_c: Option<f64>,
    /// Minutes of coating without a rest until then, soonest and latest; none: never.
    pub limit_after_min: [Option<f64>; 2],
    /// Coating and resting that stays below the limit; none where none is needed or none is known.
    pub rests: Option<HeatRests>,
}

/// Coating by turns with resting.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct HeatRests {
    /// Minutes on.
    pub on_min: f64,
    /// Minutes off.
    pub off_min: f64,
    /// The warmest that it then gets, °C.
    pub highest_c: f64,
}

/// How much water comes with the metal.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PartPurity {
    /// In words.
    pub sentence: String,
    /// The metal it is said of.
    pub metal: String,
    /// Water molecules that strike a face, 1/(m² s).
    pub water_per_m2_s: f64,
    /// Metal atoms that stay on the median facet while the source is open, 1/(m² s).
    pub metal_per_m2_s: f64,
    /// Water over metal: striking, and thus the most that can be built in.
    pub water_per_metal: f64,
}

/// What a run takes from a source.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct SourceWear {
    /// In words.
    pub sentence: String,
    /// Metal that leaves, mg.
    pub leaves_mg: f64,
    /// Depth of the groove that this run alone digs at its deepest, from and to, mm; none where nothing is dug or the
    /// footprint has no area.
    pub groove_mm: Option<[f64; 2]>,
    /// That depth over the target's thickness, from and to; none where the plan does not say it.
    pub groove_per_thickness: Option<[f64; 2]>,
    /// Charge left, mg; none without a charge.
    pub charge_left_mg: Option<f64>,
}

/// How far the rate of a source may be off.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct RateDoubt {
    /// The factor, either way: the product of the parts'.
    pub factor: f64,
    /// What it is made of.
    pub parts: Vec<DoubtPart>,
}

/// A part of the doubt of a rate.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct DoubtPart {
    /// What is not known well.
    pub what: String,
    /// What that does to the rate, as a factor either way.
    pub factor: f64,
}
