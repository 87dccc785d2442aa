//! Test meshes.
