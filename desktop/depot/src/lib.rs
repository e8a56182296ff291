//! Everything of offshed that needs an operating system but no screen.
//!
//! ```text
//! authoring ──► packfile             TOML to a checked, proved pack; the file that devices carry
//! folder, sync, exchange             what is durable, and how folders exchange it
//! ledger                             all entries folded: register, engines, sheets, defects
//! card                               a card between this office and small devices
//! shed                               a folder at work: the ledger and the desk
//! typed, ids, zone                   what people type, and local time
//! script, passing, reach, demo       days played from a file; runs through the real rules
//! planning                           working back from off shed over a pack's steps
//! reckon                             boilers and roads from files, for arithmetic alone
//! review                             what a reviewer looks at first: what is unusual about a sheet
//! views                              what a face shows, as plain data
//! export, import                     records onto paper and into files, and tables of others into the records
//! ```

pub mod authoring;
pub mod card;
pub mod demo;
pub mod exchange;
pub mod export;
pub mod folder;
pub mod ids;
pub mod import;
pub mod ledger;
pub mod packfile;
pub mod passing;
pub mod planning;
pub mod reach;
pub mod reckon;
pub mod review;
pub mod script;
pub mod shed;
pub mod sync;
pub mod typed;
pub mod views;
pub mod zone;
