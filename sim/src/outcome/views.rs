//! Pictures of the outcome: ray-cast heat maps that need no GPU and no display.
//!
//! In: an [`Outcome`]. Out: PNG files as bytes, for the folder and the report.

use super::model::Outcome;

/// A finished picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    /// File name in the outcome folder, `view-….png`.
    pub file: String,
    /// What it shows, one line.
    pub title: String,
    /// What to look for in it, one or two sentences.
    pub caption: String,
    /// The PNG file.
    pub png: Vec<u8>,
}

/// Draws all pictures of an outcome.
pub fn draw_all(_outcome: &Outcome) -> Vec<View> {
    Vec::new()
}
