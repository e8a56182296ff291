//! A FAT32 volume on a card, as far as a handheld needs it: where a file's sectors lie, and a file's length.
//!
//! All files are made by the office with the room that they may need; the device writes into them by sector and, for its
//! book, states the new length last. It makes no file, allocates nothing, and so has no table to tear in a power cut.
//! Sections and offsets named here are those of the FAT32 File System Specification 1.03.

use heapless::Vec;

use crate::fault::CardFault;

/// Bytes of a sector.
pub const SECTOR: usize = 512;
/// Pieces of one file that are kept track of.
const PIECES: usize = 16;

/// A sector's bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    /// Its bytes.
    pub contents: [u8; SECTOR],
}

impl Block {
    /// Zeros.
    pub const fn new() -> Block {
        Block { contents: [0; SECTOR] }
    }
}

impl Default for Block {
    fn default() -> Block {
        Block::new()
    }
}

/// A card, by sector; cheap to name again: registers, or a reference.
pub trait Sectors: Copy {
    /// Reads sector `n`.
    ///
    /// # Errors
    /// When the card does not answer.
    fn read(&self, n: u32, into: &mut Block) -> Result<(), CardFault>;

    /// Writes sector `n`.
    ///
    /// # Errors
    /// When the card does not answer, or refuses it.
    fn write(&self, n: u32, from: &Block) -> Result<(), CardFault>;
}

/// Reads one sector.
///
/// # Errors
/// When the card does not answer.
pub fn read<D: Sectors>(device: D, sector: u32, into: &mut Block) -> Result<(), CardFault> {
    device.read(sector, into)
}

/// Writes one sector, and reads it back.
///
/// # Errors
/// When the card does not answer, or does not keep it.
pub fn write<D: Sectors>(device: D, sector: u32, from: &Block) -> Result<(), CardFault> {
    device.write(sector, from)?;
    let mut back = Block::new();
    device.read(sector, &mut back)?;
    if back == *from { Ok(()) } else { Err(CardFault::ReadBack) }
}

/// Sectors of a file that follow each other on the card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Piece {
    first: u32,
    sectors: u32,
}

/// Where a file's sectors lie.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Extents {
    /// The file's name.
    pub name: &'static str,
    /// Bytes of the file.
    pub bytes: u32,
    /// Where its row of the directory stands: the card's sector, and the byte in it.
    row: (u32, usize),
    pieces: Vec<Piece, PIECES, u8>,
}

impl Extents {
    /// The card's sector that holds the file's sector `n`; those behind its length, which it has room for, among them.
    pub fn sector(&self, n: u32) -> Option<u32> {
        let mut before = 0;
        for piece in &self.pieces {
            let within = n.checked_sub(before)?;
            if within < piece.sectors {
                return piece.first.checked_add(within);
            }
            before += piece.sectors;
        }
        None
    }

    /// Whole sectors of the file.
    pub fn sectors(&self) -> u32 {
        self.bytes / SECTOR as u32
    }
}

/// Bytes at a place of a sector as a number, lowest first; 0 outside.
fn number<const N: usize>(block: &Block, at: usize) -> u32 {
    let bytes = block.contents.get(at..).and_then(|rest| rest.first_chunk::<N>());
    bytes.map_or(0, |bytes| bytes.iter().rev().fold(0, |sum, byte| sum << 8 | u32::from(*byte)))
}

/// What is needed of a volume to follow a file's clusters.
#[derive(Clone, Copy, Debug)]
struct Shape {
    fat: u32,
    data: u32,
    cluster_sectors: u32,
    clusters: u32,
    root: u32,
}

/// Where the first row of a partition table tells its first sector (the table's layout from memory).
const FIRST_SECTOR: usize = 446 + 8;

impl Shape {
    /// Section 3.1: the fields of a volume's first sector.
    fn of<D: Sectors>(device: D) -> Result<Shape, CardFault> {
        let mut block = Block::new();
        device.read(0, &mut block)?;
        let start = number::<4>(&block, FIRST_SECTOR);
        device.read(start, &mut block)?;
        let (sector, cluster_sectors) = (number::<2>(&block, 11), number::<1>(&block, 13));
        let (reserved, tables) = (number::<2>(&block, 14), number::<1>(&block, 16));
        let (sectors, table) = (number::<4>(&block, 32), number::<4>(&block, 36));
        // FAT12 and FAT16 have no table of this length.
        let is_fat32 = number::<2>(&block, 510) == 0xaa55 && number::<2>(&block, 22) == 0 && table > 0;
        if !is_fat32 || sector as usize != SECTOR || cluster_sectors == 0 {
            return Err(CardFault::NoVolume);
        }
        let fat = start.saturating_add(reserved);
        let data = fat.saturating_add(tables.saturating_mul(table));
        let clusters = start.saturating_add(sectors).saturating_sub(data).checked_div(cluster_sectors).unwrap_or(0);
        Ok(Shape { fat, data, cluster_sectors, clusters, root: number::<4>(&block, 44) })
    }

    /// The cluster behind this one; none at the end of a file (section 4).
    fn next<D: Sectors>(&self, device: D, cluster: u32, table: &mut (u32, Block)) -> Result<Option<u32>, CardFault> {
        let sector = self.fat.saturating_add(cluster / (SECTOR as u32 / 4));
        if table.0 != sector {
            device.read(sector, &mut table.1)?;
            table.0 = sector;
        }
        let next = number::<4>(&table.1, (cluster as usize % (SECTOR / 4)) * 4) & 0x0fff_ffff;
        Ok(self.holds(next).then_some(next))
    }

    fn holds(&self, cluster: u32) -> bool {
        (2..self.clusters.saturating_add(2)).contains(&cluster)
    }

    fn first_sector(&self, cluster: u32) -> u32 {
        self.data.saturating_add(cluster.saturating_sub(2).saturating_mul(self.cluster_sectors))
    }

    /// Shows the clusters of a chain, as many as a volume has at the most, until `show` answers something.
    fn chain<D: Sectors, T>(
        &self,
        device: D,
        first: u32,
        mut show: impl FnMut(u32) -> Result<Option<T>, CardFault>,
    ) -> Result<Option<T>, CardFault> {
        let mut table = (u32::MAX, Block::new());
        let mut cluster = Some(first).filter(|first| self.holds(*first));
        for _ in 0..self.clusters {
            let Some(at) = cluster else { break };
            if let Some(found) = show(self.first_sector(at))? {
                return Ok(Some(found));
            }
            cluster = self.next(device, at, &mut table)?;
        }
        Ok(None)
    }
}

/// Bytes of a row of a directory (section 6).
const ROW: usize = 32;

/// The eleven letters under which a short name stands in a directory (section 6).
fn short(name: &str) -> [u8; 11] {
    let mut letters = [b' '; 11];
    let (stem, ending) = name.split_once('.').unwrap_or((name, ""));
    let (first, last) = letters.split_at_mut(8);
    first.iter_mut().zip(stem.bytes()).for_each(|(to, letter)| *to = letter);
    last.iter_mut().zip(ending.bytes()).for_each(|(to, letter)| *to = letter);
    letters
}

/// Where the sectors of a file in the root directory lie.
///
/// # Errors
/// When it is not there, or in too many pieces.
pub fn find<D: Sectors>(device: D, name: &'static str) -> Result<Extents, CardFault> {
    let shape = Shape::of(device)?;
    let mut block = Block::new();
    let letters = short(name);
    let row = shape.chain(device, shape.root, |first| {
        for sector in (first..).take(shape.cluster_sectors as usize) {
            device.read(sector, &mut block)?;
            let rows = block.contents.chunks(ROW);
            if let Some(n) = rows.into_iter().position(|row| row.starts_with(&letters)) {
                return Ok(Some((sector, n * ROW)));
            }
        }
        Ok(None)
    });
    let row = row?.ok_or(CardFault::Missing(name))?;
    let first = number::<2>(&block, row.1 + 20) << 16 | number::<2>(&block, row.1 + 26);
    let mut extents = Extents { name, bytes: number::<4>(&block, row.1 + 28), row, pieces: Vec::new() };
    let mut sectors = 0;
    shape.chain(device, first, |first| {
        sectors += shape.cluster_sectors;
        match extents.pieces.last_mut() {
            Some(piece) if piece.first + piece.sectors == first => piece.sectors += shape.cluster_sectors,
            _ => {
                let piece = Piece { first, sectors: shape.cluster_sectors };
                extents.pieces.push(piece).map_err(|_| CardFault::Pieces(name))?;
            }
        }
        Ok(None::<()>)
    })?;
    let whole = extents.bytes.div_ceil(SECTOR as u32) <= sectors;
    if whole { Ok(extents) } else { Err(CardFault::Damaged(name, sectors.saturating_mul(SECTOR as u32))) }
}

/// States a file's length.
///
/// # Errors
/// When the card does not answer, or the file has no room for so much.
pub fn set_length<D: Sectors>(device: D, extents: &mut Extents, bytes: u32) -> Result<(), CardFault> {
    let last = bytes.saturating_sub(1) / SECTOR as u32;
    extents.sector(last).ok_or(CardFault::Full)?;
    let mut block = Block::new();
    device.read(extents.row.0, &mut block)?;
    let place = block.contents.get_mut(extents.row.1 + 28..).and_then(|rest| rest.first_chunk_mut::<4>());
    *place.ok_or(CardFault::Damaged(extents.name, 0))? = bytes.to_le_bytes();
    write(device, extents.row.0, &block)?;
    extents.bytes = bytes;
    Ok(())
}

/// Writes behind the end of a file, into the room it has; its new length is stated last.
///
/// # Errors
/// When the card does not answer, or the file has no room left: it is then as long as it was.
pub fn append<D: Sectors>(device: D, extents: &mut Extents, parts: &[&[u8]]) -> Result<(), CardFault> {
    let mut block = Block::new();
    let (mut at, mut held) = (extents.bytes, None);
    for byte in parts.iter().copied().flatten() {
        let n = at / SECTOR as u32;
        if held != Some(n) {
            if let Some(sector) = held.and_then(|n| extents.sector(n)) {
                write(device, sector, &block)?;
            }
            device.read(extents.sector(n).ok_or(CardFault::Full)?, &mut block)?;
            held = Some(n);
        }
        if let Some(place) = block.contents.get_mut(at as usize % SECTOR) {
            *place = *byte;
        }
        at = at.checked_add(1).ok_or(CardFault::Full)?;
    }
    if let Some(sector) = held.and_then(|n| extents.sector(n)) {
        write(device, sector, &block)?;
    }
    set_length(device, extents, at)
}

/// A file read from a place on, sector by sector.
pub struct Stream<'e, D> {
    device: D,
    extents: &'e Extents,
    block: Block,
    /// The sector of the file that is in `block`.
    held: Option<u32>,
    /// Where it reads next, bytes from the start of the file.
    at: u32,
}

impl<'e, D: Sectors> Stream<'e, D> {
    /// From byte `at` on.
    pub fn new(device: D, extents: &'e Extents, at: u32) -> Stream<'e, D> {
        Stream { device, extents, block: Block::new(), held: None, at }
    }

    /// Where it reads next, bytes from the start of the file.
    pub fn at(&self) -> u32 {
        self.at
    }

    /// Fills `out`, and says whether the file had that much.
    ///
    /// # Errors
    /// When the card does not answer.
    pub fn fill(&mut self, mut out: &mut [u8]) -> Result<bool, CardFault> {
        while !out.is_empty() {
            let n = self.at / SECTOR as u32;
            let Some(sector) = self.extents.sector(n).filter(|_| self.at < self.extents.bytes) else {
                return Ok(false);
            };
            if self.held != Some(n) {
                self.held = None;
                self.device.read(sector, &mut self.block)?;
                self.held = Some(n);
            }
            let within = (self.at % SECTOR as u32) as usize;
            let left = (self.extents.bytes - self.at) as usize;
            let there = self.block.contents.get(within..).unwrap_or_default();
            let take = there.len().min(out.len()).min(left);
            let (to, rest) = out.split_at_mut_checked(take).unwrap_or_default();
            to.iter_mut().zip(there).for_each(|(to, byte)| *to = *byte);
            out = rest;
            self.at += take as u32;
        }
        Ok(true)
    }
}
