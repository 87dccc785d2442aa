//! Stencils: artwork read from a drawing, and the sheet that is cut after it.
//!
//! In: SVG or DXF files and what a `[[mask]]` says. Out: [`Artwork`] (closed outlines in whole nanometres) and the
//! sheet as a closed solid in the part's coordinates. Next on the road: `scene`, where a sheet is a body.

mod artwork;
mod corners;
mod correct;
mod cover;
mod dxf;
mod error;
mod flatten;
mod lay;
mod outline;
mod refine;
mod sheet;
mod stations;
mod svg;
#[cfg(test)]
mod tests;

pub use artwork::{Artwork, read_artwork, read_artwork_bytes};
pub(crate) use correct::moved;
pub use correct::{Vanished, as_svg};
pub(crate) use cover::{Cover, Covered};
pub use error::{ArtworkError, ArtworkPlace, ArtworkProblem};
pub use lay::{Laid, Lay};
pub(crate) use lay::{half_round_m, on_surface};
pub use outline::{Contour, NM_M, Outlines};
pub use sheet::{Opens, Sheet, cut, sheet_area};
pub use stations::Station;
pub(crate) use stations::stations;
