//! Film: the tally as metres on triangles, with states and causes.
//!
//! In: [`crate::scene::Scene`] and [`crate::transport::Tally`]. Out: [`Film`]. Next on the road: `outcome`.

/// State of a row or facet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum State {
    /// Film arrives.
    #[serde(rename = "reached")]
    Reached,
    /// No sample arrived; an upper bound is given.
    #[serde(rename = "none seen")]
    NoneSeen,
    /// Proved bare.
    #[serde(rename = "unreached")]
    Unreached,
    /// Inside another solid of the part.
    #[serde(rename = "buried")]
    Buried,
    /// No area.
    #[serde(rename = "needle")]
    Needle,
}

/// Film on all parts and coupons.
#[derive(Debug, Clone, Default)]
pub struct Film {
    /// Per part, per row of the mesh file.
    pub rows: Vec<Vec<RowFilm>>,
    /// Per receiver: thickness and standard error, m, and state.
    pub facets: Vec<FacetFilm>,
}

/// Film on one facet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FacetFilm {
    /// m.
    pub thickness_m: f64,
    /// m.
    pub std_error_m: f64,
    /// State.
    pub state: State,
}

/// Film on one row of a part's mesh file (front side; the back beside it).
#[derive(Debug, Clone, PartialEq)]
pub struct RowFilm {
    /// Centroid in the part's coordinates after unit and scale, m.
    pub centroid_m: glam::DVec3,
    /// Area, m².
    pub area_m2: f64,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Standard error, m.
    pub std_error_m: f64,
    /// Back side thickness, m, where both sides count.
    pub back_m: Option<f64>,
    /// Mean incidence, rad, where film arrives.
    pub incidence_rad: Option<f64>,
    /// Share of the film that had collided or bounced before.
    pub scattered: f64,
    /// Visible share of the footprint.
    pub visible: f64,
    /// State.
    pub state: State,
    /// Shares: direct, facing, self, fixtures, mask, shutter, gas.
    pub shares: [f64; 7],
    /// Upper bound at 95 % where none was seen, m.
    pub bound_m: Option<f64>,
    /// Thickness per metal, m; empty when there is one.
    pub by_metal_m: Vec<f64>,
}
