//! Writing a block: a run of entries becomes a body, a head that names it, and the device's signature over the head.

use super::bits::BitFault;
use super::columns;
use super::head::{self, BLOCK_VERSION, BlockHead, ENTRIES, Hash, HeadBytes, Touched};
use super::seal::{SignatureBytes, Signer};
use crate::entry::Entry;
use crate::ident::DeviceId;

/// Where a block goes in its book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Whose book.
    pub device: DeviceId,
    /// The block's number, from 0.
    pub number: u32,
    /// The hash of the block before, or the device's [`head::root`].
    pub previous: Hash,
}

/// A block sealed; its body is in the buffer that was handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sealed {
    /// Its head.
    pub head: BlockHead,
    /// The head's bytes.
    pub bytes: HeadBytes,
    /// The signature over them.
    pub signature: SignatureBytes,
}

/// Seals a run of entries of one device whose counts rise, and that is at most [`ENTRIES`] long.
///
/// The body is put into `out`; how long it is stands in the head.
///
/// # Errors
/// [`BitFault::Full`] when the run is longer than a block or `out` holds: seal fewer. Else as [`columns::write`].
pub fn seal(
    place: Place,
    entries: &[Entry],
    touched: Touched,
    signer: &Signer,
    out: &mut [u8],
) -> Result<Sealed, BitFault> {
    let Place { device, number, previous } = place;
    let count = u32::try_from(entries.len()).ok().filter(|count| *count <= ENTRIES).ok_or(BitFault::Full)?;
    let first = entries.first().ok_or(BitFault::Meaningless)?.at.seq;
    let mut sheets = heapless::Vec::new();
    for sheet in entries.iter().filter_map(Entry::sheet) {
        if !sheets.contains(&sheet) {
            // Those beyond the first are written out in the body.
            let _ = sheets.push(sheet);
        }
    }
    let room = out.len().min(head::BODY_BYTES);
    let out = out.get_mut(..room).ok_or(BitFault::Full)?;
    let length = columns::write(device, &sheets, entries, out)?;
    let body = out.get(..length).ok_or(BitFault::Full)?;
    let head = BlockHead {
        version: BLOCK_VERSION,
        reader: BLOCK_VERSION,
        device,
        number,
        first,
        entries: count,
        touched,
        sheets,
        previous,
        key: (number == 0).then(|| signer.key()),
        body_len: u32::try_from(length).map_err(|_| BitFault::Full)?,
        body_hash: head::body_hash(body),
    };
    let bytes = head.write().ok_or(BitFault::Full)?;
    let signature = signer.sign(&bytes);
    Ok(Sealed { head, bytes, signature })
}
