//! SHIFT.OSR: what the office put on the card for this device: records in the merged order, and PIN verifiers before them.

use offshed_core::entry::Entry;
use offshed_core::ident::{PackHash, PersonId};
use offshed_core::limits::ENTRY_BYTES;
use offshed_core::record::frame::{self, OVERHEAD, kind};
use offshed_core::stamp::Stamp;

use crate::disk::{self, Extents, Sectors, Stream};
use crate::fault::CardFault;

/// The file's name.
pub const NAME: &str = "SHIFT.OSR";
/// Its first four bytes.
pub const MAGIC: [u8; 4] = *b"OSCR";
/// Its version.
pub const VERSION: u16 = 1;
/// Bytes of its head.
pub const HEAD: usize = 64;
/// The kind of frame that holds a PIN verifier.
pub const PIN: u8 = 2;

/// The file's head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Head {
    /// The pack that the records were judged under.
    pub pack: PackHash,
    /// Which log belongs to it: pages of another are no pages.
    pub log: [u8; 8],
    /// When it was made.
    pub made: Stamp,
    /// Bytes of the frames behind the head.
    pub length: u32,
}

impl Head {
    /// Its bytes.
    pub fn write(&self) -> [u8; HEAD] {
        let mut out = [0; HEAD];
        let parts: [&[u8]; 7] = [
            &MAGIC,
            &VERSION.to_le_bytes(),
            &[0, 0],
            &self.pack.0,
            &self.log,
            &self.made.0.to_le_bytes(),
            &self.length.to_le_bytes(),
        ];
        out.iter_mut().zip(parts.into_iter().flatten()).for_each(|(to, byte)| *to = *byte);
        out
    }

    /// What the first bytes of a file say.
    ///
    /// # Errors
    /// When it is another file, or of another version.
    pub fn read(bytes: &[u8; HEAD]) -> Result<Head, CardFault> {
        let [m0, m1, m2, m3, v0, v1, _, _, rest @ ..] = *bytes;
        if [m0, m1, m2, m3] != MAGIC {
            return Err(CardFault::Damaged(NAME, 0));
        }
        match u16::from_le_bytes([v0, v1]) {
            VERSION => Head::fields(&rest).ok_or(CardFault::Damaged(NAME, 8)),
            other => Err(CardFault::Version(NAME, other)),
        }
    }

    fn fields(rest: &[u8]) -> Option<Head> {
        let (pack, rest) = rest.split_first_chunk()?;
        let (log, rest) = rest.split_first_chunk()?;
        let (made, rest) = rest.split_first_chunk()?;
        let (length, _) = rest.split_first_chunk()?;
        Some(Head {
            pack: PackHash(*pack),
            log: *log,
            made: Stamp(i64::from_le_bytes(*made)),
            length: u32::from_le_bytes(*length),
        })
    }
}

/// A person's PIN verifier: PBKDF2-HMAC-SHA-256 (RFC 8018, section 5.2) of its digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Verifier {
    /// Whose.
    pub person: PersonId,
    /// How often it is hashed.
    pub iterations: u32,
    /// Salt.
    pub salt: [u8; 16],
    /// The hash.
    pub hash: [u8; 32],
}

/// Bytes of a verifier.
pub const VERIFIER: usize = 54;

impl Verifier {
    /// Its bytes.
    pub fn write(&self) -> [u8; VERIFIER] {
        let mut out = [0; VERIFIER];
        let parts: [&[u8]; 4] = [&self.person.0.to_le_bytes(), &self.iterations.to_le_bytes(), &self.salt, &self.hash];
        out.iter_mut().zip(parts.into_iter().flatten()).for_each(|(to, byte)| *to = *byte);
        out
    }

    /// A verifier from the body of its frame.
    pub fn read(body: &[u8]) -> Option<Verifier> {
        let (person, rest) = body.split_first_chunk()?;
        let (iterations, rest) = rest.split_first_chunk()?;
        let (salt, rest) = rest.split_first_chunk()?;
        let hash = <[u8; 32]>::try_from(rest).ok()?;
        let person = PersonId(u16::from_le_bytes(*person));
        Some(Verifier { person, iterations: u32::from_le_bytes(*iterations), salt: *salt, hash })
    }
}

/// The file on a card.
#[derive(Clone, Debug)]
pub struct Intake {
    extents: Extents,
    head: Head,
}

impl Intake {
    /// Finds it and reads its head.
    ///
    /// # Errors
    /// When it is not there, or not what its name promises.
    pub fn open<D: Sectors>(device: D) -> Result<Intake, CardFault> {
        let extents = disk::find(device, NAME)?;
        let mut bytes = [0; HEAD];
        if !Stream::new(device, &extents, 0).fill(&mut bytes)? {
            return Err(CardFault::Damaged(NAME, 0));
        }
        let head = Head::read(&bytes)?;
        if head.length > extents.bytes.saturating_sub(HEAD as u32) {
            return Err(CardFault::Damaged(NAME, extents.bytes));
        }
        Ok(Intake { extents, head })
    }

    /// Its head.
    pub fn head(&self) -> &Head {
        &self.head
    }

    /// Walks its frames.
    pub fn frames<D: Sectors>(&self, device: D) -> Frames<'_, D> {
        let end = self.head.length + HEAD as u32;
        Frames { stream: Stream::new(device, &self.extents, HEAD as u32), end, buffer: [0; LONGEST] }
    }

    /// The verifier of a person.
    ///
    /// # Errors
    /// When the card does not answer or the file is damaged.
    pub fn verifier<D: Sectors>(&self, device: D, person: PersonId) -> Result<Option<Verifier>, CardFault> {
        let mut frames = self.frames(device);
        while let Some(Framed::Pin(verifier)) = frames.read_next()? {
            if verifier.person == person {
                return Ok(Some(verifier));
            }
        }
        Ok(None)
    }
}

/// Bytes of the longest frame.
const LONGEST: usize = ENTRY_BYTES + OVERHEAD;

/// What a frame holds.
#[derive(Clone, Debug, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "there is no heap to box an entry into")]
pub enum Framed {
    /// A verifier.
    Pin(Verifier),
    /// An entry.
    Entry(Entry),
    /// A kind that this version does not know.
    Other,
}

/// See [`Intake::frames`].
pub struct Frames<'i, D> {
    stream: Stream<'i, D>,
    end: u32,
    buffer: [u8; LONGEST],
}

impl<D: Sectors> Frames<'_, D> {
    /// The next frame; none behind the last.
    ///
    /// # Errors
    /// When the card does not answer, or a frame is damaged: what the office wrote is taken whole or not at all.
    pub fn read_next(&mut self) -> Result<Option<Framed>, CardFault> {
        let at = self.stream.at();
        if at >= self.end {
            return Ok(None);
        }
        let damaged = CardFault::Damaged(NAME, at);
        let (head, rest) = self.buffer.split_first_chunk_mut::<4>().ok_or(damaged)?;
        if !self.stream.fill(head)? {
            return Err(damaged);
        }
        let [_, _, low, high] = *head;
        let behind = usize::from(u16::from_le_bytes([low, high])) + OVERHEAD - 4;
        if !self.stream.fill(rest.get_mut(..behind).ok_or(damaged)?)? {
            return Err(damaged);
        }
        let whole = self.buffer.get(..behind + 4).ok_or(damaged)?;
        let frame = frame::walk(whole, 0).next().and_then(Result::ok).ok_or(damaged)?;
        Ok(Some(match frame.kind {
            kind::ENTRY => Framed::Entry(Entry::decode(frame.body).map_err(|_| damaged)?),
            PIN => Framed::Pin(Verifier::read(frame.body).ok_or(damaged)?),
            _ => Framed::Other,
        }))
    }

    /// The next entry; none behind the last.
    ///
    /// # Errors
    /// As [`Frames::read_next`].
    pub fn entry(&mut self) -> Result<Option<Entry>, CardFault> {
        loop {
            match self.read_next()? {
                Some(Framed::Entry(entry)) => return Ok(Some(entry)),
                Some(_) => {}
                None => return Ok(None),
            }
        }
    }
}
