//! Which plans are beyond gathering alone.
//!
//! In: a sound plan. Out: one problem per key that method `gather` must refuse, never ignore.

use super::error::PlanError;
use super::model::Plan;
use super::problem::Problem;

/// What keeps a plan from being gathered, which follows straight lines to where they first end: gas, and sticking
/// below 1.
pub fn not_gathered(plan: &Plan) -> Vec<PlanError> {
    let gas = plan.gas.iter().map(|_| "gas".to_owned());
    let bounces = stickings(plan)
        .filter(|(_, sticking)| *sticking < 1.0)
        .map(|(key, _)| format!("{key}.sticking"));
    let found = gas.chain(bounces);
    in_order(plan, found.map(|key| (key, Problem::NotGathered)))
}

impl Plan {
    /// Whether every atom flies straight from a footprint to where it ends: no gas, and everything sticks.
    pub fn is_straight(&self) -> bool {
        self.gas.is_none() && stickings(self).all(|(_, sticking)| sticking >= 1.0)
    }
}

/// Problems with their places, in the order of the files' text.
fn in_order(plan: &Plan, found: impl Iterator<Item = (String, Problem)>) -> Vec<PlanError> {
    let mut errors: Vec<PlanError> = found
        .map(|(key, problem)| PlanError::new(plan.place_of(&key), key.clone(), problem))
        .collect();
    errors.sort_by_key(|error| {
        error.place.as_ref().map(|place| {
            let file = plan.files.iter().position(|(path, _)| *path == place.file);
            (file, place.start)
        })
    });
    errors
}

/// Every sticking of the plan with the key of its body.
fn stickings(plan: &Plan) -> impl Iterator<Item = (String, f64)> + '_ {
    let chamber = plan
        .chamber
        .iter()
        .map(|c| ("chamber".to_owned(), c.sticking));
    let fixtures = plan
        .fixtures
        .iter()
        .map(|f| (format!("fixture.{}", f.name), f.sticking));
    let shutters = plan
        .shutters
        .iter()
        .map(|s| (format!("shutter.{}", s.name), s.sticking));
    let parts = plan
        .parts
        .iter()
        .map(|p| (format!("part.{}", p.name), p.sticking));
    let coupons = plan
        .coupons
        .iter()
        .map(|c| (format!("coupon.{}", c.name), c.sticking));
    let masks = plan
        .masks
        .iter()
        .enumerate()
        .map(|(i, m)| (format!("mask.{}", i + 1), m.sticking));
    chamber
        .chain(fixtures)
        .chain(shutters)
        .chain(parts)
        .chain(coupons)
        .chain(masks)
}
