//! offshed on a small screen with few buttons: no heap, no operating system.
//!
//! It holds the reading of a pack's words by page so far. Screens, keys and the store follow.
#![no_std]

pub mod lines;
