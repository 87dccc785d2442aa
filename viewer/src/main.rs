//! Evenfall: plans a vacuum-coating run before anyone pumps down.
fn main() {}
