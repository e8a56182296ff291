//! Handheld.
