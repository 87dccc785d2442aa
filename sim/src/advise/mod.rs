//! Advice: which angle, height, speed and dwell make a run short, thrifty or even.
//!
//! In: a plan whose `[advise]` frees some of its keys. Out: ranked candidates, a front of trade-offs, what limits them,
//! and the best as a plan.
//!
//! Inside, in order: `free` (values in the plan's text), `places` and `candidate` (a trial of some values), `score` (what
//! it comes to), `search` (which values to try), `checked` (the best as a plan, simulated again), `dwell`, `stops` and
//! `turns` (how to turn), `front`, `limits`, `sure` and `tell` (what is said of it), `advised` (the plan's text),
//! `report` (its page).

mod advice;
mod advised;
mod candidate;
mod checked;
mod dwell;
mod free;
mod front;
mod hand;
mod limits;
mod maybe;
mod places;
pub mod report;
mod score;
mod search;
mod stops;
mod sure;
mod tell;
mod told;
mod turns;

pub use advice::{Advised, Asked, Journal, NoJournal, Refusal, advise};
pub use advised::rebased;
pub use candidate::{Candidate, Effort, WhyNot};
pub use score::Score;
pub use stops::{ByCount, Schedule};
pub use sure::{Sure, rate_factor, sure_enough};
pub use told::*;
pub use turns::{Ripple, Shutter, Turns};
