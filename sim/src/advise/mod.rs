//! Advice: which angle, height, speed and dwell make a run short, thrifty or even.
//!
//! In: a plan whose `[advise]` frees some of its keys. Out: ranked candidates, a front of trade-offs, what limits them,
//! and the best as a plan.

pub mod candidate;
pub mod dwell;
pub mod free;
pub mod front;
pub mod places;
pub mod score;
pub mod search;
pub mod stops;
pub mod turns;
