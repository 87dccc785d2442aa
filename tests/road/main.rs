//! road

mod outcome;
