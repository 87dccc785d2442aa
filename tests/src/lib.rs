//! Helpers of the checks.
