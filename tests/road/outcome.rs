//! The outcome folder: what is written, what is read back, what is refused.
//!
//! Files are checked on a made-up outcome with one of everything; no physics is claimed by it.

mod compared;
mod container;
mod folder;
mod meshes;
mod tables;
