//! The head of a compiled pack: magic, version, sizes, and where each table of rules stands (`FORMAT.md`, section 2).

use crate::ident::{Set, StateId};
use crate::pack::rows::{Row, Span};

/// First four bytes of a pack file.
pub const MAGIC: [u8; 4] = *b"OSPK";
/// The version this code writes. 0 is unstable: it may change without notice until version 1 is frozen.
pub const VERSION: u16 = 0;
/// Bytes of the head, up to the first table.
pub const HEAD: usize = 88;

/// The tables, in the order of the directory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// [`super::rows::SequenceRow`]
    Sequences,
    /// Titles of stages: [`crate::ident::TextId`]
    Stages,
    /// [`super::rows::StepRow`]
    Steps,
    /// [`super::rows::NeedRow`]
    Needs,
    /// Step numbers: those that steps and events void, and those that figures start from: [`crate::ident::StepId`]
    StepLists,
    /// [`super::rows::PartRow`]
    Parts,
    /// [`super::rows::OptionRow`]
    Options,
    /// [`crate::units::Reading`]
    Limits,
    /// [`super::rows::GradeRow`]
    Grades,
    /// [`super::rows::NamedRow`]
    Features,
    /// [`super::rows::NamedRow`]
    States,
    /// [`super::rows::NamedRow`]
    Fittings,
    /// [`super::rows::DueRow`]
    Dues,
    /// [`super::rows::EventRow`]
    Events,
    /// Treatment products: [`super::rows::NamedRow`]
    Products,
}

/// How many tables there are.
pub const TABLES: usize = 15;

/// The first texts of every pack, by number.
pub mod text {
    use crate::ident::TextId;
    /// The pack's short id.
    pub const ID: TextId = TextId(0);
    /// The pack's title.
    pub const TITLE: TextId = TextId(1);
    /// The edition.
    pub const EDITION: TextId = TextId(2);
    /// The caution shown with every verdict.
    pub const CAUTION: TextId = TextId(3);
    /// The railway's own text for a lost water level.
    pub const LOW_WATER: TextId = TextId(4);
    /// How many there are.
    pub const COUNT: u16 = 5;
}

/// Everything in the head but the directory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Head {
    /// Bytes of the rules part, head included.
    pub rules_len: u32,
    /// How many texts each language has.
    pub texts: u16,
    /// What fitness needs: rows of the needs table.
    pub fitness: Span,
    /// The state in which days in steam are counted.
    pub steam: Option<StateId>,
    /// The state of an engine that has left the shed.
    pub away: Option<StateId>,
    /// The state of an engine that nobody is with.
    pub unattended: Option<StateId>,
    /// Any one of these grades clears an ordinary defect.
    pub defects_cleared_by: Set,
    /// Any one of these grades may restrict or dispense in writing.
    pub restricted_by: Set,
}

/// Where one table stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// Offset from the start of the file, bytes.
    pub offset: u16,
    /// Rows.
    pub rows: u16,
}

/// The directory: a place for each table.
pub type Directory = [Place; TABLES];

/// Why bytes are no pack of this version.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeadFault {
    /// Shorter than the head, or than the head says.
    Short {
        /// Bytes wanted.
        want: u32,
        /// Bytes there.
        got: u32,
    },
    /// Does not start with the magic.
    NotAPack,
    /// Written by another version.
    Version {
        /// The version it names.
        found: u16,
    },
}

/// Reads the head and the directory.
///
/// # Errors
/// When the bytes are too short, no pack, or of another version.
pub fn read_head(bytes: &[u8]) -> Result<(Head, Directory), HeadFault> {
    let got = u32::try_from(bytes.len()).unwrap_or(u32::MAX);
    if bytes.get(..4) != Some(&MAGIC) {
        return Err(HeadFault::NotAPack);
    }
    if bytes.len() < HEAD {
        return Err(HeadFault::Short { want: HEAD as u32, got });
    }
    let version = u16_at(bytes, 4);
    if version != VERSION {
        return Err(HeadFault::Version { found: version });
    }
    let state = |at: usize| bytes.get(at).filter(|n| **n < 16).map(|n| StateId(*n));
    let head = Head {
        rules_len: u32_at(bytes, 8),
        texts: u16_at(bytes, 12),
        fitness: Span { first: u16_at(bytes, 14), len: bytes.get(16).copied().unwrap_or(0) },
        steam: state(17),
        away: state(18),
        unattended: state(19),
        defects_cleared_by: Set(u32_at(bytes, 20).into()),
        restricted_by: Set(u32_at(bytes, 24).into()),
    };
    if head.rules_len > got {
        return Err(HeadFault::Short { want: head.rules_len, got });
    }
    let mut directory = Directory::default();
    for (n, place) in directory.iter_mut().enumerate() {
        let at = 28 + 4 * n;
        *place = Place { offset: u16_at(bytes, at), rows: u16_at(bytes, at + 2) };
    }
    Ok((head, directory))
}

/// Writes the head and the directory into the first [`HEAD`] bytes of `out`, which is at least so long.
pub fn write_head(head: &Head, directory: &Directory, out: &mut [u8]) {
    let state = |s: Option<StateId>| s.map_or(u8::MAX, |s| s.0);
    put(out, 0, &MAGIC);
    put(out, 4, &VERSION.to_le_bytes());
    put(out, 6, &VERSION.to_le_bytes());
    put(out, 8, &head.rules_len.to_le_bytes());
    put(out, 12, &head.texts.to_le_bytes());
    put(out, 14, &head.fitness.first.to_le_bytes());
    put(out, 16, &[head.fitness.len, state(head.steam), state(head.away), state(head.unattended)]);
    put(out, 20, &(head.defects_cleared_by.0 as u32).to_le_bytes());
    put(out, 24, &(head.restricted_by.0 as u32).to_le_bytes());
    for (n, place) in directory.iter().enumerate() {
        put(out, 28 + 4 * n, &place.offset.to_le_bytes());
        put(out, 30 + 4 * n, &place.rows.to_le_bytes());
    }
}

/// The bytes of row `n` of a table of `R`, when there is such a row.
pub fn row_bytes<R: Row>(bytes: &[u8], place: Place, n: usize) -> Option<&[u8]> {
    if n >= usize::from(place.rows) {
        return None;
    }
    let start = usize::from(place.offset) + n * R::WIDTH;
    bytes.get(start..start + R::WIDTH)
}

fn put(out: &mut [u8], at: usize, bytes: &[u8]) {
    for (place, byte) in out.iter_mut().skip(at).zip(bytes) {
        *place = *byte;
    }
}

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    let byte = |n: usize| bytes.get(n).copied().unwrap_or(0);
    u16::from_le_bytes([byte(at), byte(at + 1)])
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from(u16_at(bytes, at)) | u32::from(u16_at(bytes, at + 2)) << 16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn head_goes_both_ways() {
        let head = Head {
            rules_len: HEAD as u32,
            texts: 7,
            fitness: Span { first: 3, len: 2 },
            steam: Some(StateId(1)),
            away: None,
            unattended: Some(StateId(9)),
            defects_cleared_by: Set(0b110),
            restricted_by: Set(1 << 31),
        };
        let mut directory = Directory::default();
        directory[TABLES - 1] = Place { offset: HEAD as u16, rows: 0 };
        let mut bytes = [0; HEAD];
        write_head(&head, &directory, &mut bytes);
        assert_eq!(read_head(&bytes), Ok((head, directory)));
        assert_eq!(read_head(&bytes[..50]), Err(HeadFault::Short { want: HEAD as u32, got: 50 }));
        assert_eq!(read_head(b"OS"), Err(HeadFault::NotAPack));
        bytes[4] = 9;
        assert_eq!(read_head(&bytes), Err(HeadFault::Version { found: 9 }));
    }
}
