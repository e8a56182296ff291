//! Builders for the checks.
