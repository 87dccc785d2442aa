//! road

mod scene;
