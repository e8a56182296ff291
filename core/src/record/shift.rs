//! The shift file: what an office hands a small device so that it can work a shift without it. One signed file with the
//! pack, the verifiers of PINs, what the office has seen of each device, days in steam, places in doubt, and the entries
//! that still matter, as they were recorded. The bytes are in `FORMAT.md`, section 9.
//!
//! A head of fixed size tells what follows and is signed; a reader with little memory reads it first, then hashes the
//! rest as it comes. Nothing here panics on any input.

use sha2::{Digest, Sha256};

use super::frame;
use super::seal::{SIGNATURE, Signer, verify};
use crate::entry::Entry;
use crate::ident::{DeviceId, DeviceKey, EngineId, PackHash, PersonId};
use crate::stamp::{Day, Stamp};

/// First four bytes.
pub const MAGIC: [u8; 4] = *b"OSSF";
/// The version written, and the highest reader's version that is read.
pub const VERSION: u16 = 1;
/// Bytes of the head that are signed.
pub const SIGNED: usize = 148;
/// Bytes of the head with its signature.
pub const HEAD: usize = SIGNED + SIGNATURE;

/// The parts behind the head, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The pack's file as it is.
    Pack,
    /// [`PinRow`]s.
    Pins,
    /// [`SeenRow`]s.
    Seen,
    /// [`SteamRow`]s.
    Steam,
    /// [`DoubtRow`]s.
    Doubts,
    /// Frames of entries (section 3), in the merged order.
    Entries,
}

/// How many parts there are.
pub const PARTS: usize = 6;

impl Part {
    /// All, in their order.
    pub const ALL: [Part; PARTS] = [Part::Pack, Part::Pins, Part::Seen, Part::Steam, Part::Doubts, Part::Entries];

    /// Bytes of one row; 1 where the part has no rows of one size.
    pub const fn row(self) -> u32 {
        match self {
            Part::Pins => PinRow::BYTES as u32,
            Part::Seen => SeenRow::BYTES as u32,
            Part::Steam => SteamRow::BYTES as u32,
            Part::Doubts => DoubtRow::BYTES as u32,
            Part::Pack | Part::Entries => 1,
        }
    }
}

/// Why bytes are no shift file that can be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShiftFault {
    /// Shorter than its head, or than its head says.
    Short {
        /// Bytes that it should have.
        want: u32,
        /// Bytes that are there.
        got: u32,
    },
    /// Another kind of file.
    Magic,
    /// It needs a reader of this version.
    Newer(u16),
    /// The signature is not that of the key it names: it was changed, or is not from there.
    Signature,
    /// A part's bytes are no whole rows, or all parts together are longer than a file can be.
    Layout(Part),
    /// What stands behind the head is not what was signed.
    Differs,
}

/// A shift file's head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShiftHead {
    /// The office's device that wrote it.
    pub device: DeviceId,
    /// The moment that it was written at, by the office's clock.
    pub stated: Stamp,
    /// The device's public key, which the signature is checked with. Whether that key is trusted is the reader's to say.
    pub key: DeviceKey,
    /// SHA-256 of the pack.
    pub pack: PackHash,
    /// Bytes of each part, in the order of [`Part::ALL`].
    pub bytes: [u32; PARTS],
    /// How many entries there are.
    pub entries: u32,
    /// SHA-256 of everything behind the head.
    pub body: [u8; 32],
}

/// Reads fields one behind the other.
struct Fields<'a>(&'a [u8]);

impl Fields<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (taken, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*taken)
    }
}

/// Writes fields one behind the other; what finds no room is left out, and every row here has room.
struct Put<'o>(&'o mut [u8], usize);

impl Put<'_> {
    fn put(&mut self, bytes: &[u8]) {
        if let Some(room) = self.0.get_mut(self.1..self.1 + bytes.len()) {
            room.copy_from_slice(bytes);
            self.1 += bytes.len();
        }
    }
}

impl ShiftHead {
    /// Its bytes, signed; `signer` is the device whose key the head names.
    pub fn write(&self, signer: &Signer) -> [u8; HEAD] {
        let mut out = [0; HEAD];
        let mut put = Put(&mut out, 0);
        put.put(&MAGIC);
        put.put(&VERSION.to_le_bytes());
        put.put(&VERSION.to_le_bytes());
        put.put(&self.device.0);
        put.put(&self.stated.0.to_le_bytes());
        put.put(&self.key.0);
        put.put(&self.pack.0);
        self.bytes.iter().for_each(|bytes| put.put(&bytes.to_le_bytes()));
        put.put(&self.entries.to_le_bytes());
        put.put(&self.body);
        let (signed, signature) = out.split_at_mut(SIGNED);
        signature.copy_from_slice(&signer.sign(signed));
        out
    }

    /// Reads and checks a head: its version, its layout, and its signature with the key it names.
    ///
    /// # Errors
    /// Every [`ShiftFault`] but [`ShiftFault::Differs`]; a head alone does not tell that.
    pub fn read(bytes: &[u8]) -> Result<ShiftHead, ShiftFault> {
        let got = u32::try_from(bytes.len()).unwrap_or(u32::MAX);
        let short = ShiftFault::Short { want: HEAD as u32, got };
        if !bytes.starts_with(&MAGIC) {
            return Err(if MAGIC.starts_with(bytes) { short } else { ShiftFault::Magic });
        }
        // The version is read before the rest: a later one may be shorter.
        let mut fields = Fields(bytes.get(4..).ok_or(short)?);
        let _written = fields.take::<2>().ok_or(short)?;
        let reader = u16::from_le_bytes(fields.take().ok_or(short)?);
        if reader > VERSION {
            return Err(ShiftFault::Newer(reader));
        }
        let (signed, rest) = bytes.split_first_chunk::<SIGNED>().ok_or(short)?;
        let signature = rest.first_chunk::<SIGNATURE>().ok_or(short)?;
        let head = ShiftHead::fields(&mut fields).ok_or(short)?;
        if !verify(head.key, signed, signature) {
            return Err(ShiftFault::Signature);
        }
        head.checked()
    }

    fn fields(fields: &mut Fields<'_>) -> Option<ShiftHead> {
        Some(ShiftHead {
            device: DeviceId(fields.take()?),
            stated: Stamp(i64::from_le_bytes(fields.take()?)),
            key: DeviceKey(fields.take()?),
            pack: PackHash(fields.take()?),
            bytes: {
                let mut all = [0; PARTS];
                for bytes in &mut all {
                    *bytes = u32::from_le_bytes(fields.take()?);
                }
                all
            },
            entries: u32::from_le_bytes(fields.take()?),
            body: fields.take()?,
        })
    }

    fn checked(self) -> Result<ShiftHead, ShiftFault> {
        let mut end = HEAD as u32;
        for (part, bytes) in Part::ALL.into_iter().zip(self.bytes) {
            end = end.checked_add(bytes).ok_or(ShiftFault::Layout(part))?;
            if bytes % part.row() != 0 {
                return Err(ShiftFault::Layout(part));
            }
        }
        Ok(self)
    }

    /// Where a part starts in the file, and how many bytes it takes.
    pub fn part(&self, part: Part) -> (u32, u32) {
        let mut at = HEAD as u32;
        for (other, bytes) in Part::ALL.into_iter().zip(self.bytes) {
            if other == part {
                return (at, bytes);
            }
            at = at.saturating_add(bytes);
        }
        (at, 0)
    }

    /// Bytes of the whole file.
    pub fn len(&self) -> u32 {
        self.bytes.iter().fold(HEAD as u32, |sum, bytes| sum.saturating_add(*bytes))
    }

    /// Whether nothing stands behind the head.
    pub fn is_empty(&self) -> bool {
        self.len() == HEAD as u32
    }

    /// How many rows a part has.
    pub fn rows(&self, part: Part) -> u32 {
        self.part(part).1 / part.row()
    }
}

/// What stands behind a head, hashed as it comes.
#[derive(Clone, Debug, Default)]
pub struct BodyHasher(Sha256);

impl BodyHasher {
    /// The next bytes.
    pub fn put(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The hash of all of them.
    pub fn finish(self) -> [u8; 32] {
        self.0.finalize().into()
    }
}

/// A person's PIN verifier: PBKDF2-HMAC-SHA-256 (RFC 8018, section 5.2) of the PIN's digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PinRow {
    /// The person.
    pub person: PersonId,
    /// How often it is hashed.
    pub iterations: u32,
    /// Salt.
    pub salt: [u8; 16],
    /// The hash.
    pub hash: [u8; 32],
}

impl PinRow {
    /// Bytes of a row.
    pub const BYTES: usize = 54;

    /// Its bytes.
    pub fn write(&self) -> [u8; PinRow::BYTES] {
        let mut out = [0; PinRow::BYTES];
        let mut put = Put(&mut out, 0);
        put.put(&self.person.0.to_le_bytes());
        put.put(&self.iterations.to_le_bytes());
        put.put(&self.salt);
        put.put(&self.hash);
        out
    }

    /// From its bytes.
    pub fn read(bytes: &[u8; PinRow::BYTES]) -> Option<PinRow> {
        let mut fields = Fields(bytes);
        Some(PinRow {
            person: PersonId(u16::from_le_bytes(fields.take()?)),
            iterations: u32::from_le_bytes(fields.take()?),
            salt: fields.take()?,
            hash: fields.take()?,
        })
    }
}

/// How far the office has seen a device's records.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeenRow {
    /// The device.
    pub device: DeviceId,
    /// The count of its last entry that the office has.
    pub last: u32,
    /// The hash of the last block of its book that the office has; zeros: none.
    pub block: [u8; 32],
}

impl SeenRow {
    /// Bytes of a row.
    pub const BYTES: usize = 44;

    /// Its bytes.
    pub fn write(&self) -> [u8; SeenRow::BYTES] {
        let mut out = [0; SeenRow::BYTES];
        let mut put = Put(&mut out, 0);
        put.put(&self.device.0);
        put.put(&self.last.to_le_bytes());
        put.put(&self.block);
        out
    }

    /// From its bytes.
    pub fn read(bytes: &[u8; SeenRow::BYTES]) -> Option<SeenRow> {
        let mut fields = Fields(bytes);
        let device = DeviceId(fields.take()?);
        Some(SeenRow { device, last: u32::from_le_bytes(fields.take()?), block: fields.take()? })
    }
}

/// A run of days on which an engine was in steam, by records that the entries of the file do not all hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SteamRow {
    /// The engine.
    pub engine: EngineId,
    /// The first day, local.
    pub first: Day,
    /// How many days, 1 or more.
    pub days: u16,
}

impl SteamRow {
    /// Bytes of a row.
    pub const BYTES: usize = 8;

    /// Its bytes.
    pub fn write(&self) -> [u8; SteamRow::BYTES] {
        let mut out = [0; SteamRow::BYTES];
        let mut put = Put(&mut out, 0);
        put.put(&self.engine.0.to_le_bytes());
        put.put(&self.first.0.to_le_bytes());
        put.put(&self.days.to_le_bytes());
        out
    }

    /// From its bytes.
    pub fn read(bytes: &[u8; SteamRow::BYTES]) -> Option<SteamRow> {
        let mut fields = Fields(bytes);
        let engine = EngineId(u16::from_le_bytes(fields.take()?));
        let first = Day(i32::from_le_bytes(fields.take()?));
        Some(SteamRow { engine, first, days: u16::from_le_bytes(fields.take()?) })
    }

    /// The last day of the run.
    pub fn last(&self) -> Day {
        Day(self.first.0.saturating_add(i32::from(self.days)).saturating_sub(1))
    }
}

/// Records of a device are damaged or missing in the office: engines that are not called fit on what is left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DoubtRow {
    /// Whose records; `None`: not known.
    pub device: Option<DeviceId>,
    /// The engine; `None`: every one.
    pub engine: Option<EngineId>,
}

impl DoubtRow {
    /// Bytes of a row.
    pub const BYTES: usize = 12;

    /// Its bytes.
    pub fn write(&self) -> [u8; DoubtRow::BYTES] {
        let mut out = [0; DoubtRow::BYTES];
        let mut put = Put(&mut out, 0);
        put.put(&[u8::from(self.device.is_some()), u8::from(self.engine.is_some())]);
        put.put(&self.device.unwrap_or_default().0);
        put.put(&self.engine.map_or(0, |engine| engine.0).to_le_bytes());
        out
    }

    /// From its bytes.
    pub fn read(bytes: &[u8; DoubtRow::BYTES]) -> Option<DoubtRow> {
        let mut fields = Fields(bytes);
        let [device, engine] = fields.take()?;
        let (of, about) = (DeviceId(fields.take()?), EngineId(u16::from_le_bytes(fields.take()?)));
        Some(DoubtRow { device: (device != 0).then_some(of), engine: (engine != 0).then_some(about) })
    }
}

/// The entry in a frame at the start of `bytes`, and how many bytes the frame takes; `None` where no sound frame of an
/// entry stands there.
pub fn entry(bytes: &[u8]) -> Option<(Entry, usize)> {
    let frame = frame::walk(bytes, 0).next()?.ok()?;
    let entry = (frame.kind == frame::kind::ENTRY).then(|| Entry::decode(frame.body).ok())??;
    Some((entry, frame.bytes.len()))
}
