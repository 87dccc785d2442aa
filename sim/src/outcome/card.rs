//! The bench card: what to do at the machine, on one printed page.
