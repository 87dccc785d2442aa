//! Cautions that a plan triggers.
