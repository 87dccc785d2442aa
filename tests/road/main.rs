//! road

mod plan;
