//! The heart of offshed: may this engine leave?
//!
//! Pure functions over plain data, one way:
//!
//! ```text
//! limits, ident, stamp, units        words everyone uses
//!    due, boiler                     dates; the arithmetic of water and steam
//!    pack                            rules, as data
//!    entry ── record                 one thing someone did; its bytes
//!    engine, reason, register        what an engine is in, why something waits, what the office knows
//!    sheet                           what the entries say of one working
//!    verdict                         what may be done now, and why the rest may not
//!    fold                            how an entry changes a sheet and its engine
//!    fitness                         may it leave, why not, until when
//!    desk                            the single write path
//!    words                           reasons as sentences, from a message file
//!    plan                            working back from the off-shed time
//! ```
//!
//! No heap, no clock, no files: time and randomness are arguments, and nothing reachable from bytes or from what a
//! person types panics.
//!
//! It records what competent people did; it does not make an engine safe, and replaces neither a railway's rules nor its
//! boiler inspector.
#![no_std]
// There is no heap to box the large variants into.
#![allow(clippy::large_enum_variant)]
// Nothing reachable from bytes or input panics: what could is not written, outside of tests.
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

pub mod boiler;
pub mod desk;
pub mod due;
pub mod engine;
pub mod entry;
pub mod fitness;
pub mod fold;
pub mod ident;
pub mod limits;
pub mod pack;
pub mod plan;
pub mod reason;
pub mod record;
pub mod register;
pub mod sheet;
pub mod stamp;
pub mod units;
pub mod verdict;
pub mod words;
