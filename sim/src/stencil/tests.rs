//! Artwork and sheets against what can be reckoned by hand.

mod drawings;
mod sheets;
