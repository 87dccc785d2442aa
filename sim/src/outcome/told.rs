//! What is told of a part's film beyond its thickness.

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
