//! What a thread beside the window tells it, and how it hears that it is to end.

use super::Wake;
use evenfall_sim::transport::Watch;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Instant;

/// The thread's side.
pub struct Teller<M> {
    tell: Sender<M>,
    cancelled: Arc<AtomicBool>,
    wake: Wake,
    begun: Instant,
    /// Makes a message of what is being done and the share of it that is done.
    stage: fn(&'static str, f64) -> M,
}

/// The window's side; dropping it ends the work.
pub struct Listener<M> {
    messages: Receiver<M>,
    cancelled: Arc<AtomicBool>,
}

/// Both sides.
///
/// - `stage`: makes a message of what is being done and the share of it that is done
pub fn both_sides<M>(wake: Wake, stage: fn(&'static str, f64) -> M) -> (Teller<M>, Listener<M>) {
    let (tell, messages) = channel();
    let cancelled = Arc::new(AtomicBool::new(false));
    let teller = Teller {
        tell,
        cancelled: Arc::clone(&cancelled),
        wake,
        begun: Instant::now(),
        stage,
    };
    (
        teller,
        Listener {
            messages,
            cancelled,
        },
    )
}

impl<M> Teller<M> {
    /// Sends a message and wakes the window.
    pub fn say(&self, message: M) {
        // nobody listens any more once the work was dropped
        if self.tell.send(message).is_ok() {
            (self.wake)();
        }
    }

    /// Has the window look again.
    pub fn wake(&self) {
        (self.wake)();
    }
}

impl<M: Send> Watch for Teller<M> {
    fn elapsed_s(&self) -> f64 {
        self.begun.elapsed().as_secs_f64()
    }

    fn cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }

    fn progress(&self, stage: &'static str, done: f64) {
        self.say((self.stage)(stage, done));
    }
}

impl<M> Listener<M> {
    /// The next message, if there is one.
    pub fn next(&self) -> Option<M> {
        self.messages.try_recv().ok()
    }

    /// Asks the work to end with what it has.
    pub fn stop(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }
}

impl<M> Drop for Listener<M> {
    fn drop(&mut self) {
        self.stop();
    }
}
