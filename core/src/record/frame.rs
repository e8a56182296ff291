//! A frame: marker, kind, length, body, check. Walking never stops at damage; it names the place and goes on.

use crc::{CRC_32_ISO_HDLC, Crc, Digest, Table};

/// First byte of every frame.
pub const MARKER: u8 = 0xF5;
/// Bytes around a body: marker, kind, length (2), check (4).
pub const OVERHEAD: usize = 8;
/// Longest body, bytes.
pub const BODY: usize = 1024;

/// A kind of frame. Kinds this version does not know are carried byte for byte.
pub mod kind {
    /// One entry in postcard form.
    pub const ENTRY: u8 = 1;
}

static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// One frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame<'a> {
    /// Its kind.
    pub kind: u8,
    /// Its body.
    pub body: &'a [u8],
    /// The whole frame as written.
    pub bytes: &'a [u8],
    /// Where it starts.
    pub offset: usize,
}

/// A place that is no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Damage {
    /// Where it starts.
    pub offset: usize,
    /// How many bytes were passed over.
    pub len: usize,
    /// It runs to the end: a torn tail, as a power cut leaves it.
    pub at_end: bool,
}

/// The check over kind, length and body.
fn check(kind: u8, body: &[u8]) -> u32 {
    let mut digest: Digest<'_, u32, Table<1>> = CRC.digest();
    digest.update(&[kind]);
    digest.update(&(body.len() as u16).to_le_bytes());
    digest.update(body);
    digest.finalize()
}

/// Writes a frame into `out` and answers its bytes; `None` when the body is longer than [`BODY`] or `out` too short.
pub fn write<'o>(kind: u8, body: &[u8], out: &'o mut [u8]) -> Option<&'o [u8]> {
    let len = body.len() + OVERHEAD;
    if body.len() > BODY {
        return None;
    }
    let frame = out.get_mut(..len)?;
    let (head, rest) = frame.split_at_mut_checked(4)?;
    let (middle, tail) = rest.split_at_mut_checked(body.len())?;
    let size = (body.len() as u16).to_le_bytes();
    head.copy_from_slice(&[MARKER, kind, size[0], size[1]]);
    middle.copy_from_slice(body);
    tail.copy_from_slice(&check(kind, body).to_le_bytes());
    Some(frame)
}

/// The frame at the start of `bytes`, if a sound one is there.
fn read(bytes: &[u8], offset: usize) -> Option<Frame<'_>> {
    let [MARKER, kind, low, high] = *bytes.first_chunk::<4>()? else {
        return None;
    };
    let len = usize::from(u16::from_le_bytes([low, high]));
    if len > BODY {
        return None;
    }
    let bytes = bytes.get(..len + OVERHEAD)?;
    let (body, tail) = bytes.get(4..)?.split_last_chunk::<4>()?;
    (u32::from_le_bytes(*tail) == check(kind, body)).then_some(Frame { kind, body, bytes, offset })
}

/// Walks frames; a damaged place is answered as [`Damage`] and passed over to the next sound frame.
pub fn walk(bytes: &[u8], start: usize) -> Walk<'_> {
    Walk { bytes, at: start }
}

/// See [`walk`].
#[derive(Clone, Debug)]
pub struct Walk<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Iterator for Walk<'a> {
    type Item = Result<Frame<'a>, Damage>;

    fn next(&mut self) -> Option<Self::Item> {
        let rest = self.bytes.get(self.at..).filter(|rest| !rest.is_empty())?;
        if let Some(frame) = read(rest, self.at) {
            self.at += frame.bytes.len();
            return Some(Ok(frame));
        }
        let offset = self.at;
        let next = (1..rest.len()).find(|n| rest.get(*n..).is_some_and(|tail| read(tail, 0).is_some()));
        let len = next.unwrap_or(rest.len());
        self.at += len;
        Some(Err(Damage { offset, len, at_end: next.is_none() }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_damaged_frame_is_passed_over() {
        let mut bytes = [0; 64];
        let mut at = 0;
        for body in [b"one".as_slice(), b"two", b"three"] {
            at += write(kind::ENTRY, body, &mut bytes[at..]).unwrap().len();
        }
        bytes[OVERHEAD + 3 + 5] ^= 1;
        let found: heapless::Vec<_, 4> = walk(&bytes[..at], 0).collect();
        assert_eq!(found[0].as_ref().map(|f| f.body), Ok(b"one".as_slice()));
        assert_eq!(found[1], Err(Damage { offset: 11, len: 11, at_end: false }));
        assert_eq!(found[2].as_ref().map(|f| (f.body, f.offset)), Ok((b"three".as_slice(), 22)));
    }

    #[test]
    fn every_cut_is_a_torn_tail_and_nothing_else() {
        let mut bytes = [0; 32];
        let first = write(kind::ENTRY, b"one", &mut bytes).unwrap().len();
        let len = first + write(9, b"two", &mut bytes[first..]).unwrap().len();
        for cut in first + 1..len {
            let found: heapless::Vec<_, 4> = walk(&bytes[..cut], 0).collect();
            assert_eq!(found.len(), 2);
            assert_eq!(found[1], Err(Damage { offset: first, len: cut - first, at_end: true }));
        }
    }

    #[test]
    fn too_long_a_body_is_refused() {
        assert_eq!(write(1, &[0; BODY + 1], &mut [0; BODY + 100]), None);
        assert_eq!(write(1, &[0; 10], &mut [0; 17]), None);
    }
}
