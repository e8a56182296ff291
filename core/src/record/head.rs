//! A block's head: whose it is, where it stands, which engines and sheets it touches, and what its body is. Every version
//! reads it, so that a block that can't be read puts only the engines it names in doubt. The bytes are in `FORMAT.md`,
//! section 5.

use heapless::Vec;
use sha2::{Digest, Sha256};

use crate::entry::{Entry, Fact, What};
use crate::ident::{DeviceId, DeviceKey, EngineId, EntryRef, SheetId};

/// First byte of a block.
pub const MARKER: u8 = 0xB7;
/// The version of blocks written.
pub const BLOCK_VERSION: u8 = 1;
/// Bytes of the longest head.
pub const HEAD_BYTES: usize = 272;
/// Engines that one head names; a block that touches more touches every engine.
pub const ENGINES: usize = 16;
/// Sheets that one head names: the first ones.
pub const SHEETS: usize = 8;
/// Entries of one block, at most.
pub const ENTRIES: u32 = 120;
/// Bytes of one body, at most.
pub const BODY_BYTES: usize = 65_535;

/// SHA-256 of a block's head: what the next block names.
pub type Hash = [u8; 32];
/// The first 16 bytes of SHA-256 of a block's body.
pub type BodyHash = [u8; 16];

/// The hash that stands before the first block of a device: SHA-256 of its id.
pub fn root(device: DeviceId) -> Hash {
    Sha256::digest(device.0).into()
}

/// What a head says of a body.
pub fn body_hash(body: &[u8]) -> BodyHash {
    let [hash @ .., _, _, _, _, _, _, _, _, _, _, _, _, _, _, _, _]: Hash = Sha256::digest(body).into();
    hash
}

/// The engines that a block's entries may have to do with.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Touched {
    /// Facts of the register that hold for every engine, or more engines than can be named.
    pub every: bool,
    /// These, in rising order.
    pub engines: Vec<EngineId, ENGINES>,
}

impl Touched {
    /// It touches this engine, too.
    pub fn engine(&mut self, engine: EngineId) {
        if let Err(at) = self.engines.binary_search(&engine) {
            self.every |= self.engines.insert(at, engine).is_err();
        }
    }

    /// It touches what an entry touches; `of` tells the engine of a sheet or a defect by the entry that opened it.
    pub fn entry(&mut self, entry: &Entry, of: impl Fn(EntryRef) -> Option<EngineId>) {
        match touch(&entry.what) {
            Touch::Nothing => {}
            Touch::Every => self.every = true,
            Touch::Engine(engine) => self.engine(engine),
            Touch::Of(opened) => match of(opened) {
                Some(engine) => self.engine(engine),
                None => self.every = true,
            },
        }
    }
}

/// What one entry touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touch {
    /// No engine.
    Nothing,
    /// This one.
    Engine(EngineId),
    /// The engine of a sheet, or of a defect, opened by this entry.
    Of(EntryRef),
    /// Every engine.
    Every,
}

/// What an entry touches.
pub fn touch(what: &What) -> Touch {
    match what {
        What::SheetOpened { engine, .. }
        | What::HandedOver { engine, .. }
        | What::Happened { engine, .. }
        | What::DefectOpened { engine, .. }
        | What::Dispensed { engine, .. }
        | What::TagHung { engine }
        | What::TagLifted { engine } => Touch::Engine(*engine),
        What::Answered { sheet, .. }
        | What::Struck { sheet, .. }
        | What::Joined { into: sheet, .. }
        | What::Abandoned { sheet, .. } => Touch::Of(*sheet),
        What::DefectRestricted { defect, .. } | What::DefectCleared { defect, .. } => Touch::Of(*defect),
        What::Registered(fact) => match fact {
            Fact::Person { .. } | Fact::Device { .. } => Touch::Nothing,
            Fact::Engine { engine, .. }
            | Fact::Fitted { engine, .. }
            | Fact::DueDone { engine, .. }
            | Fact::DuePostponed { engine, .. }
            | Fact::Turn { engine, .. }
            | Fact::Boiler { engine, .. }
            | Fact::UsualRoad { engine, .. } => Touch::Engine(*engine),
            _ => Touch::Every,
        },
    }
}

/// A block's head.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlockHead {
    /// The version of the block.
    pub version: u8,
    /// The lowest version of a reader that can read its body.
    pub reader: u8,
    /// Whose block it is.
    pub device: DeviceId,
    /// Its number in the book, from 0.
    pub number: u32,
    /// The count of its first entry.
    pub first: u32,
    /// How many entries it has.
    pub entries: u32,
    /// The engines it touches.
    pub touched: Touched,
    /// The sheets its entries belong to, as they come, each once; the first [`SHEETS`] of them.
    pub sheets: Vec<SheetId, SHEETS>,
    /// The hash of the block before.
    pub previous: Hash,
    /// The device's key, which its first block states, and only that.
    pub key: Option<DeviceKey>,
    /// Bytes of the body.
    pub body_len: u32,
    /// The body's hash.
    pub body_hash: BodyHash,
}

/// The bytes of a head.
pub type HeadBytes = Vec<u8, HEAD_BYTES>;

impl BlockHead {
    /// Its bytes, over which the device signs; `None` when they are more than [`HEAD_BYTES`], which they never are.
    pub fn write(&self) -> Option<HeadBytes> {
        let mut out = HeadBytes::new();
        out.extend_from_slice(&[MARKER, self.version, self.reader]).ok()?;
        out.extend_from_slice(&self.device.0).ok()?;
        for number in [self.number, self.first, self.entries] {
            varint(&mut out, number.into())?;
        }
        varint(&mut out, self.touched.engines.len() as u64 * 2 + u64::from(self.touched.every))?;
        self.touched.engines.iter().try_for_each(|engine| varint(&mut out, engine.0.into()))?;
        varint(&mut out, self.sheets.len() as u64)?;
        self.sheets.iter().try_for_each(|sheet| self.sheet(&mut out, *sheet))?;
        out.extend_from_slice(&self.previous).ok()?;
        if self.number == 0 {
            out.extend_from_slice(&self.key?.0).ok()?;
        }
        varint(&mut out, self.body_len.into())?;
        out.extend_from_slice(&self.body_hash).ok()?;
        Some(out)
    }

    /// A sheet: twice its count, and 1 more with its device behind where that is another.
    fn sheet(&self, out: &mut HeadBytes, sheet: SheetId) -> Option<()> {
        let foreign = sheet.device != self.device;
        varint(out, u64::from(sheet.seq) * 2 + u64::from(foreign))?;
        if foreign { out.extend_from_slice(&sheet.device.0).ok() } else { Some(()) }
    }

    /// The head at the start of `bytes` and how many bytes it takes, if one is there.
    pub fn read(bytes: &[u8]) -> Option<(BlockHead, usize)> {
        let mut at = Cursor(bytes);
        let [MARKER, version @ 1..=255, reader @ 1..=255] = at.array::<3>()? else { return None };
        let device = DeviceId(at.array()?);
        let (number, first, entries) = (at.number()?, at.number()?, at.number()?);
        let engines: u32 = at.number()?;
        let mut touched = Touched { every: engines & 1 == 1, engines: Vec::new() };
        for _ in 0..engines / 2 {
            touched.engines.push(EngineId(at.number()?)).ok()?;
        }
        let mut sheets = Vec::new();
        for _ in 0..at.number::<u32>()? {
            sheets.push(at.sheet(device)?).ok()?;
        }
        let previous = at.array()?;
        let key = if number == 0 { Some(DeviceKey(at.array()?)) } else { None };
        let (body_len, body_hash) = (at.number()?, at.array()?);
        let sound = reader <= version && (1..=ENTRIES).contains(&entries) && body_len as usize <= BODY_BYTES;
        let head = BlockHead {
            version,
            reader,
            device,
            number,
            first,
            entries,
            touched,
            sheets,
            previous,
            key,
            body_len,
            body_hash,
        };
        sound.then_some((head, bytes.len() - at.0.len()))
    }

    /// The highest count that it can hold, if its counts have no gap.
    pub fn last(&self) -> u32 {
        self.first.saturating_add(self.entries).saturating_sub(1)
    }
}

fn varint(out: &mut HeadBytes, mut number: u64) -> Option<()> {
    while number >= 0x80 {
        out.push(number as u8 | 0x80).ok()?;
        number >>= 7;
    }
    out.push(number as u8).ok()
}

/// Bytes still to be read.
struct Cursor<'a>(&'a [u8]);

impl Cursor<'_> {
    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (taken, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*taken)
    }

    /// A varint of at most five bytes, in its shortest form, that fits `T`.
    fn number<T: TryFrom<u64>>(&mut self) -> Option<T> {
        let mut number = 0u64;
        for place in 0..5 {
            let [byte] = self.array()?;
            number |= u64::from(byte & 0x7F) << (7 * place);
            if byte & 0x80 == 0 {
                let shortest = byte != 0 || place == 0;
                return if shortest { T::try_from(number).ok() } else { None };
            }
        }
        None
    }

    fn sheet(&mut self, own: DeviceId) -> Option<SheetId> {
        let number: u64 = self.number()?;
        let device = if number & 1 == 1 { DeviceId(self.array()?) } else { own };
        Some(SheetId { device, seq: u32::try_from(number / 2).ok()? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn largest(number: u32) -> BlockHead {
        let sheet = EntryRef { device: DeviceId([9; 8]), seq: u32::MAX };
        BlockHead {
            version: 1,
            reader: 1,
            device: DeviceId([1; 8]),
            number,
            first: u32::MAX,
            entries: ENTRIES,
            touched: Touched {
                every: true,
                engines: (0..ENGINES).map(|n| EngineId(u16::MAX - 99 + n as u16)).collect(),
            },
            sheets: core::iter::repeat_n(sheet, SHEETS).collect(),
            previous: [7; 32],
            key: (number == 0).then_some(DeviceKey([5; 32])),
            body_len: BODY_BYTES as u32,
            body_hash: [6; 16],
        }
    }

    #[test]
    fn heads_come_back_and_cut_ones_do_not() {
        for head in [largest(0), largest(u32::MAX)] {
            let bytes = head.write().unwrap();
            assert_eq!(BlockHead::read(&bytes), Some((head, bytes.len())));
            assert!((0..bytes.len()).all(|cut| BlockHead::read(&bytes[..cut]).is_none()));
        }
    }

    #[test]
    fn more_engines_than_a_head_names_are_every_engine() {
        let mut touched = Touched::default();
        (1..=ENGINES as u16).rev().for_each(|n| touched.engine(EngineId(n)));
        assert!(!touched.every && touched.engines.is_sorted());
        touched.engine(EngineId(3));
        assert!(!touched.every);
        touched.engine(EngineId(99));
        assert!(touched.every);
    }
}
