//! road

mod import;
