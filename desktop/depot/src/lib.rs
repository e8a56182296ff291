//! Everything of offshed that needs an operating system but no screen.

pub mod authoring;
pub mod folder;
