//! Starter plans: commented, complete, ready to be changed.
//!
//! In: what the plan is for. Out: its text. They are read by the tests of the reader.

/// What a starter plan is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A printed part that turns in front of a sputter head.
    Print,
    /// A flat part under a cut stencil.
    Stencil,
    /// A part over an evaporator boat.
    Boat,
}

/// A commented plan to start from.
pub fn text(kind: Kind) -> &'static str {
    match kind {
        Kind::Print => include_str!("starter/print.toml"),
        Kind::Stencil => include_str!("starter/stencil.toml"),
        Kind::Boat => include_str!("starter/boat.toml"),
    }
}
