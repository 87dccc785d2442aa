//! How fast metal leaves a source: sputtered by a discharge, or evaporated at a temperature.
//!
//! In: current and voltage, or temperature and area, and a metal's name. Out: atoms per second for
//! `transport::calibrate`. What is not known for a metal is none, never a guess.

pub mod evaporate;
pub mod sputter;
