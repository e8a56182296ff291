//! offshed on a small screen with few buttons: no heap, no operating system.
//!
//! ```text
//! keys                              five buttons: from contacts to what a person meant
//! layout, lines, flow, glyphs       where things stand, lines of words, small pictures
//! paint, column                     what screens are drawn with
//! screens                           one struct a screen; they borrow what they show and see no desk
//! steam, roster, names, phrases     the register in tables of fixed size, and words
//! hand                              what a device is made of, behind one trait
//! program                           the state machine over the core's desk
//! store                             entries and blocks on flash memory, PINs, the shift file
//! card                              a card between the handheld and an office
//! ```
//!
//! It offers what `offshed_core::verdict` offers and writes through `offshed_core::desk`, as every face does.
#![no_std]
#![cfg_attr(
    not(test),
    deny(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::indexing_slicing,
        clippy::panic,
        clippy::unreachable,
        clippy::todo
    )
)]

mod any;
pub mod card;
pub mod column;
mod decimal;
pub mod flow;
pub mod glyphs;
pub mod hand;
pub mod keys;
pub mod layout;
pub mod lines;
pub mod names;
pub mod paint;
pub mod phrases;
pub mod program;
pub mod roster;
pub mod screens;
pub mod steam;
pub mod store;
