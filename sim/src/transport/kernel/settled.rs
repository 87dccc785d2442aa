//! Moves what is built to where it stays: as much memory as it takes, in large pages where the system has them.
//!
//! In: a list that grows no more. Out: the same. A walk through a large mesh reads memory in no order; with pages of 4 kB
//! it waits as long for where a page is as for what is in it.

/// Least size for which large pages are asked for, bytes: two of them on common processors.
const LARGE: usize = 4 << 20;

/// The list in memory of its own.
pub(super) fn settled<T: Copy>(list: Vec<T>) -> Vec<T> {
    if size_of_val(list.as_slice()) < LARGE {
        let mut list = list;
        list.shrink_to_fit();
        return list;
    }
    let mut settled = Vec::with_capacity(list.len());
    ask_for_large_pages(&mut settled);
    settled.extend_from_slice(&list);
    settled
}

/// Of the room that a list has and has not used yet; nothing comes of it where the system has none.
#[cfg(target_os = "linux")]
#[expect(
    unsafe_code,
    reason = "the system is told how to back memory that belongs to the list alone; what is in it stays"
)]
fn ask_for_large_pages<T>(list: &mut Vec<T>) {
    const PAGE: usize = 4096;
    let room = list.spare_capacity_mut();
    let bytes = size_of_val(room);
    let start: *mut u8 = room.as_mut_ptr().cast();
    let skipped = start.align_offset(PAGE);
    let whole = bytes.saturating_sub(skipped) / PAGE * PAGE;
    let first = start.wrapping_add(skipped).cast();
    // SAFETY: the range lies within the list's own room, and this advice changes no contents and unmaps nothing.
    let asked = unsafe { rustix::mm::madvise(first, whole, rustix::mm::Advice::LinuxHugepage) };
    // A system without large pages does without.
    asked.unwrap_or_default();
}

#[cfg(not(target_os = "linux"))]
fn ask_for_large_pages<T>(_list: &mut Vec<T>) {}
