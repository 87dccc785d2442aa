//! road
