//! Which tilt would bring the region of the pinned spot more: worked out on a thread of its own.

use super::State;
use crate::stage::pick::Spot;
use crate::stage::tilts::{Tilts, tilts};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

/// What is being asked, or was answered.
pub struct Around {
    spot: Spot,
    /// Where the outcome lies that was asked about, and the step.
    of: (usize, usize),
    /// The answer; none while it is worked out, or where there is none.
    pub told: Option<Tilts>,
    coming: Option<Receiver<Option<Tilts>>>,
}

#[cfg(test)]
impl Around {
    /// True once there is an answer, or it is known that there is none.
    pub fn is_answered(&self) -> bool {
        self.coming.is_none()
    }
}

impl State {
    /// Asks about the pinned spot, unless that was asked already.
    pub(super) fn ask_around(&mut self) {
        let (Some(shown), Some(spot)) = (&self.shown, self.spot) else {
            self.around = None;
            return;
        };
        let of = (Arc::as_ptr(shown).addr(), shown.step_at(self.time_s).0);
        let asked = self.around.as_ref();
        if asked.is_some_and(|asked| asked.spot == spot && asked.of == of) {
            return;
        }
        let (tell, coming) = channel();
        let (shown, wake, time_s) = (Arc::clone(shown), Arc::clone(&self.wake), self.time_s);
        self.around = Some(Around {
            spot,
            of,
            told: None,
            coming: Some(coming),
        });
        std::thread::spawn(move || {
            // nobody waits any more where another spot was pinned
            if tell.send(tilts(&shown, &spot, time_s)).is_ok() {
                wake();
            }
        });
    }

    /// Takes the answer; true when there is one.
    pub(super) fn hear_around(&mut self) -> bool {
        let Some(around) = &mut self.around else {
            return false;
        };
        let answer = around
            .coming
            .as_ref()
            .and_then(|coming| coming.try_recv().ok());
        let new = answer.is_some();
        if let Some(told) = answer {
            around.told = told;
            around.coming = None;
        }
        new
    }
}
