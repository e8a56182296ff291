//! Records: entries as bytes. A journal is frames of single entries that can be walked past when damaged or unknown
//! ([`frame`]). A book is blocks ([`chain`]): a head that every version reads ([`head`]), the device's signature over it
//! ([`seal`]), and a body of entries in few bits ([`columns`], [`bits`]). The bytes are in `FORMAT.md`, sections 3 to 5.
//! What small devices are handed ([`shift`]) and the names on a card ([`card`]) are in its section 9.
//!
//! Nothing here panics on any input.

pub mod bits;
pub mod block;
pub mod card;
pub mod chain;
pub mod columns;
pub mod frame;
pub mod head;
pub mod seal;
pub mod shift;
