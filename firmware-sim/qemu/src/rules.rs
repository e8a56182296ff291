//! The pack that is built into the image: its rules in flash, which keeps them out of RAM. Its words are on the card.
//!
//! The build compiles the practice pack, or takes the pack file that `OFFSHED_PACK` names. The hash is that of the whole
//! file, so that sheets are bound to the pack everybody has, and the words on the card are the ones that belong to it.

use offshed_core::ident::PackHash;
use offshed_core::pack::Pack;

/// The rules.
pub static RULES: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/rules.bin"));
/// SHA-256 of the pack file.
static HASH: &[u8; 32] = include_bytes!(concat!(env!("OUT_DIR"), "/hash.bin"));

/// The rules, which the build has checked; none when the image is damaged.
pub fn pack() -> Option<Pack<'static>> {
    Pack::built_in(RULES, PackHash(*HASH)).ok()
}
