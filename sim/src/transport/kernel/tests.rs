//! Checks of the ray kernel: against every triangle one by one, and against leaks.

mod brute;
mod leaks;
mod levels;
mod packet;
mod rise;
mod shaft;
mod shapes;
mod sifting;
mod starts;
