//! Two needles on a part: what a meter would read between them.
//!
//! In: a first spot that was kept, a second one that is pinned. Out: a sentence, worked out on a thread of its own.

use super::State;
use crate::stage::pick::Spot;
use evenfall_sim::outcome::worth::resistance_in_words;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

/// A needle that stays on the part while the other one is moved by pinning.
pub struct Meter {
    /// Where it is.
    pub from: Spot,
    /// What the meter reads, or why it reads nothing; none while that is worked out or no second spot is pinned.
    pub told: Option<String>,
    /// Where the other one was when the sentence was asked for.
    to: Option<Spot>,
    coming: Option<Receiver<String>>,
}

impl State {
    /// Puts the first needle on a spot, or takes both off.
    pub(super) fn put_needle(&mut self, from: Option<Spot>) {
        self.meter = from.map(|from| Meter {
            from,
            told: None,
            to: None,
            coming: None,
        });
    }

    /// Works out what the meter reads once a second spot is pinned.
    pub(super) fn measure(&mut self) {
        let (Some(meter), Some(shown), Some(to)) = (&mut self.meter, &self.shown, self.spot) else {
            return;
        };
        if meter.from == to || meter.to == Some(to) {
            return;
        }
        meter.to = Some(to);
        meter.told = None;
        if meter.from.part != to.part {
            meter.coming = None;
            meter.told = Some("the needles are on two parts".to_owned());
            return;
        }
        let ends = [meter.from.at_m, to.at_m];
        let (outcome, wake) = (Arc::clone(&shown.outcome), Arc::clone(&self.wake));
        let (tell, coming) = channel();
        meter.coming = Some(coming);
        std::thread::spawn(move || {
            let told = resistance_in_words(&outcome, to.part, ends);
            // nobody waits any more where the needle has moved on
            if tell.send(told.unwrap_or_else(|why| why)).is_ok() {
                wake();
            }
        });
    }

    /// Takes what was worked out; true when there is something new.
    pub(super) fn hear_meter(&mut self) -> bool {
        let Some(meter) = &mut self.meter else {
            return false;
        };
        let told = meter
            .coming
            .as_ref()
            .and_then(|coming| coming.try_recv().ok());
        let new = told.is_some();
        if new {
            meter.told = told;
            meter.coming = None;
        }
        new
    }

    /// Measures anew what is shown now, where both needles are still on it.
    pub(super) fn measure_again(&mut self) {
        if let Some(meter) = &mut self.meter {
            meter.to = None;
        }
        self.measure();
    }
}
