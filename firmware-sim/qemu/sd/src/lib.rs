//! What a handheld keeps on an SD card, and how: no heap, and nothing panics on any card.
//!
//! ```text
//! disk      a FAT32 volume: where a file's sectors lie, and a file's length
//! intake    SHIFT.OSR: records and PIN verifiers that came in, read by sector
//! log       LOG.OSL: what this device wrote, one sector an entry, never written twice
//! book      BOOK.OSB: the sealed book, format 1
//! journal   both as the journal of `offshed_handheld`, in the merged order
//! pins      PIN verifiers, and wrong tries kept in the log before they are answered
//! words     PACK.OSP: the words of the pack, read as they are shown
//! ```
//!
//! The bytes are in `CARD.md`.
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

pub mod book;
pub mod disk;
pub mod fault;
pub mod intake;
pub mod journal;
pub mod log;
pub mod pins;
pub mod words;
