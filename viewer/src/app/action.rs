//! What panels may want done.

use super::document::Change;
use super::settings::Settings;
use crate::stage::orbit::Side;
use crate::stage::paint::Paint;
use crate::stage::pick::Spot;
use crate::stage::ruler::Spread;
use evenfall_sim::outcome::colour::Scale;
use glam::{DAffine3, DVec2};
use std::path::PathBuf;

/// What becomes of edits that an earlier session left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    Over,
    Away,
}

/// What a panel wants done.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    Open(PathBuf),
    /// Changes the plan.
    Edit(Change),
    Undo,
    Redo,
    Save,
    /// Saves under another name and goes on with that.
    SaveCopy,
    /// The playhead runs by itself, or stops.
    Play(bool),
    /// What rides with a part is moved along with it, or not.
    Carry(bool),
    Run,
    Cancel,
    /// Advice on the plan as it stands is searched for.
    Advise,
    /// The search ends with what it has found.
    AdviseNoMore,
    /// An advised plan takes the place of the one that is worked on.
    TakePlan(String),
    Write,
    /// Asks for a file by the system's dialog.
    Browse,
    /// Draws a figure into the current folder.
    Figure,
    Paint(Paint),
    Spread(Spread),
    /// One scale for all maps from now on; none: each has its own.
    Hold(Option<Scale>),
    Time(f64),
    Cut(Option<f64>),
    Turn(DVec2),
    Slide(DVec2),
    Near(f64, DVec2),
    LookFrom(Side),
    Fit,
    /// Names of regions and probes are written on the stage, or not.
    Names(bool),
    /// Stencils are drawn, or what lies under them is seen bare.
    Sheets(bool),
    /// Grips to move the part are shown, or not.
    Grips(bool),
    /// A part is being dragged: its number and riding_from_part; none: it is let go.
    Nudge(Option<(usize, DAffine3)>),
    Hover(Option<Spot>),
    Pin(Option<Spot>),
    /// Puts one needle of a meter on a spot, the other follows what is pinned; none: takes both off.
    Needle(Option<Spot>),
    /// The unit of the mesh that waits for it; none: it is left.
    Unit(Option<&'static str>),
    /// Edits of an earlier session are taken over, or thrown away.
    TakeLeft(Taken),
    Set(Settings),
    Keep,
    Release,
    Aspect(f64),
}
