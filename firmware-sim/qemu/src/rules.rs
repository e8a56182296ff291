//! The pack that is built into the image: rules and words in flash, which keeps them out of RAM.
//!
//! The build compiles the practice pack, or takes the pack file that `OFFSHED_PACK` names. Of its words the first language
//! is kept; its hash is that of the whole file, so that sheets are bound to the pack everybody has.

use offshed_core::ident::PackHash;
use offshed_core::pack::{Pack, SliceTexts};

/// The rules.
pub static RULES: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/rules.bin"));
/// The words of one language, as a pack file holds them.
pub static WORDS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/words.bin"));
/// SHA-256 of the pack file.
static HASH: &[u8; 32] = include_bytes!(concat!(env!("OUT_DIR"), "/hash.bin"));

/// The rules, checked; none when the image is damaged.
pub fn pack() -> Option<Pack<'static>> {
    Pack::check(RULES, PackHash(*HASH)).ok()
}

/// The words.
pub fn texts() -> SliceTexts<'static> {
    let language = SliceTexts::languages(WORDS).next().unwrap_or_default();
    SliceTexts::open(WORDS, language).unwrap_or_default()
}
