//! The stack of a walk: room that is not cleared first.
//!
//! In and out: numbers, last in, first out. Clearing room for the deepest tree would take longer than many a walk.

#![expect(
    unsafe_code,
    reason = "slots are read only below `count`, and `count` passes a slot only after it was written"
)]

use std::mem::MaybeUninit;

/// Room of most walks; deeper trees take theirs from the heap.
pub(super) const ROOM: usize = 160;

/// Numbers that wait.
pub(super) struct Stack<'a> {
    slots: &'a mut [MaybeUninit<u64>],
    /// All slots below this one are written.
    count: usize,
}

/// Where a stack is.
pub(super) struct Room {
    here: [MaybeUninit<u64>; ROOM],
    heap: Vec<MaybeUninit<u64>>,
}

impl Room {
    /// Room that costs nothing until it is used.
    #[inline(always)]
    pub fn new() -> Self {
        Self {
            here: [const { MaybeUninit::uninit() }; ROOM],
            heap: Vec::new(),
        }
    }

    /// An empty stack of so many slots.
    #[inline(always)]
    pub fn stack(&mut self, slots: usize) -> Stack<'_> {
        let slots = if slots <= ROOM {
            &mut self.here[..]
        } else {
            self.heap.resize(slots, MaybeUninit::uninit());
            &mut self.heap[..]
        };
        Stack { slots, count: 0 }
    }
}

impl Stack<'_> {
    /// How many wait.
    #[inline(always)]
    pub fn len(&self) -> usize {
        self.count
    }

    /// One more waits.
    ///
    /// # Panics
    /// When there is no room.
    #[inline(always)]
    pub fn push(&mut self, value: u64) {
        self.slots[self.count].write(value);
        self.count += 1;
    }

    /// The last one, which waits no more.
    #[inline(always)]
    pub fn pop(&mut self) -> Option<u64> {
        self.count = self.count.checked_sub(1)?;
        // SAFETY: the slot is below what `count` was.
        Some(unsafe { self.slots[self.count].assume_init() })
    }

    /// Sorts those from a place on, the greatest first.
    #[inline(always)]
    pub fn sort_from(&mut self, bottom: usize) {
        for next in bottom + 1..self.count {
            // SAFETY: here and below, slots up to `next`, which is below `count`.
            let value = unsafe { self.slots[next].assume_init() };
            let mut at = next;
            while at > bottom {
                let before = unsafe { self.slots[at - 1].assume_init() };
                if before >= value {
                    break;
                }
                self.slots[at].write(before);
                at -= 1;
            }
            self.slots[at].write(value);
        }
    }
}
