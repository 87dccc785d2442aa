//! Calls into libraries that panic where they should fail.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};

thread_local! {
    static TAKEN: Cell<bool> = const { Cell::new(false) };
}

/// The call panicked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Panicked;

/// Makes a call that may panic for a reason that is no defect of ours; what it worked on must be thrown away then.
///
/// # Errors
/// If it panicked.
pub fn taken<R>(call: impl FnOnce() -> R) -> Result<R, Panicked> {
    TAKEN.set(true);
    let done = catch_unwind(AssertUnwindSafe(call)).map_err(|_| Panicked);
    TAKEN.set(false);
    done
}

/// True while such a call is under way on this thread: its panic is not to be told.
pub fn is_taken() -> bool {
    TAKEN.get()
}
