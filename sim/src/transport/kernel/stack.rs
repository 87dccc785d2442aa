//! The stack of a walk: room that is not cleared first.
//!
//! In and out: numbers, last in, first out. Clearing room for the deepest tree would take longer than many a walk.

#![expect(
    unsafe_code,
    reason = "slots are read only below `count`, and `count` passes a slot only after it was written"
)]

use std::mem::MaybeUninit;

/// Slots of most walks; deeper trees take theirs from the heap.
pub(super) const ROOM: usize = 32;

/// What waits.
pub(super) struct Stack<'a, T> {
    slots: &'a mut [MaybeUninit<T>],
    /// All slots below this one are written.
    count: usize,
}

/// Where a stack is.
pub(super) struct Room<T, const SLOTS: usize>([MaybeUninit<T>; SLOTS]);

impl<T: Copy, const SLOTS: usize> Room<T, SLOTS> {
    /// Room that costs nothing until it is used.
    #[inline(always)]
    pub fn new() -> Self {
        Self([const { MaybeUninit::uninit() }; SLOTS])
    }

    /// An empty stack.
    #[inline(always)]
    pub fn stack(&mut self) -> Stack<'_, T> {
        Stack {
            slots: &mut self.0,
            count: 0,
        }
    }
}

/// Where a deep stack is.
pub(super) struct Heap<T>(Vec<MaybeUninit<T>>);

impl<T: Copy> Heap<T> {
    /// Room for so many.
    pub fn new(slots: usize) -> Self {
        Self(vec![MaybeUninit::uninit(); slots])
    }

    /// An empty stack.
    pub fn stack(&mut self) -> Stack<'_, T> {
        Stack {
            slots: &mut self.0,
            count: 0,
        }
    }
}

impl<T: Copy> Stack<'_, T> {
    /// One more waits.
    ///
    /// # Panics
    /// When there is no room.
    #[inline(always)]
    pub fn push(&mut self, value: T) {
        self.slots[self.count].write(value);
        self.count += 1;
    }

    /// One more waits if `more` is 1, and none if it is 0; no branch depends on it.
    ///
    /// # Panics
    /// When there is no room.
    #[inline(always)]
    pub fn push_if(&mut self, value: T, more: bool) {
        self.slots[self.count].write(value);
        self.count += usize::from(more);
    }

    /// The last one.
    #[inline(always)]
    pub fn top(&self) -> Option<T> {
        let last = self.count.checked_sub(1)?;
        // SAFETY: the slot is below `count`.
        Some(unsafe { self.slots[last].assume_init() })
    }

    /// The last one, which waits no more.
    #[inline(always)]
    pub fn pop(&mut self) -> Option<T> {
        self.count = self.count.checked_sub(1)?;
        // SAFETY: the slot is below what `count` was.
        Some(unsafe { self.slots[self.count].assume_init() })
    }
}
