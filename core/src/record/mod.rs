//! Records: entries as bytes. Frames that can be walked past when damaged or unknown ([`frame`]), and blocks of them
//! chained by hash ([`chain`]). The byte tables are in `FORMAT.md`, sections 3 to 5.
//!
//! Nothing here panics on any input.

pub mod bits;
pub mod chain;
pub mod columns;
pub mod frame;
