//! What `check` reports about a scene besides its contents.

/// Facts about a scene.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SceneFacts {
    /// Clearances between what rides and what stands still.
    pub clearances: Vec<Clearance>,
    /// Findings that do not stop a run.
    pub warnings: Vec<String>,
}

/// The smallest distance between a riding body and a still thing.
///
/// Distances are within 0.5 % or 10 µm of the smallest. Where a search had to be cut short, the distance is what
/// was proved (none is smaller), and a warning says so unless that is far (30 mm) and nearly all that was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Clearance {
    /// Riding body.
    pub riding: String,
    /// Still body, "wall", "base plate" or "lid".
    pub still: String,
    /// Smallest distance through the angles that the schedule visits, m; 0 when they touch or cut.
    pub scheduled_m: f64,
    /// Angles there, rad, one per rotation.
    pub scheduled_at_rad: Vec<f64>,
    /// That distance is what was proved: it may be larger.
    pub scheduled_is_bound: bool,
    /// Smallest distance through a full turn of every rotation, m.
    pub full_turn_m: f64,
    /// Angles there, rad.
    pub full_turn_at_rad: Vec<f64>,
    /// That distance is what was proved: it may be larger.
    pub full_turn_is_bound: bool,
}
