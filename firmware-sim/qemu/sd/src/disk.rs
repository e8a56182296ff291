//! A FAT volume on a card: where the sectors of a file lie, and the few writes that go through the file system.
//!
//! Files that are read often or written while people work are read and written by sector, past the file system. Nothing
//! is kept open: the file system is looked at when the device starts, and when a block is sealed.

use embedded_sdmmc::fat::Bpb;
use embedded_sdmmc::{Block, BlockDevice, BlockIdx, Mode, TimeSource, Timestamp, VolumeIdx, VolumeManager};
use heapless::Vec;

use crate::fault::CardFault;

/// Bytes of a sector.
pub const SECTOR: usize = 512;
/// Pieces of one file that are kept track of.
const PIECES: usize = 16;

/// A device of sectors that is cheap to name again: registers, or a reference.
pub trait Sectors: BlockDevice + Copy {}

impl<D: BlockDevice + Copy> Sectors for D {}

/// Reads one sector.
///
/// # Errors
/// When the card does not answer.
pub fn read<D: Sectors>(device: D, sector: u32, into: &mut Block) -> Result<(), CardFault> {
    device.read(core::slice::from_mut(into), BlockIdx(sector)).map_err(|_| CardFault::Card)
}

/// Writes one sector, and reads it back.
///
/// # Errors
/// When the card does not answer, or does not keep it.
pub fn write<D: Sectors>(device: D, sector: u32, from: &Block) -> Result<(), CardFault> {
    device.write(core::slice::from_ref(from), BlockIdx(sector)).map_err(|_| CardFault::Card)?;
    let mut back = Block::new();
    read(device, sector, &mut back)?;
    if back.contents == from.contents { Ok(()) } else { Err(CardFault::ReadBack) }
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
    pieces: Vec<Piece, PIECES, u8>,
}

impl Extents {
    /// The card's sector that holds the file's sector `n`.
    pub fn sector(&self, n: u32) -> Option<u32> {
        let mut before = 0;
        for piece in &self.pieces {
            if n - before < piece.sectors {
                return Some(piece.first + (n - before));
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

/// Sixteen bits at a place of a sector, 0 outside.
fn u16_at(block: &Block, at: usize) -> u16 {
    block.contents.get(at..).and_then(|rest| rest.first_chunk()).map_or(0, |bytes| u16::from_le_bytes(*bytes))
}

/// Thirty-two bits at a place of a sector, 0 outside.
fn u32_at(block: &Block, at: usize) -> u32 {
    block.contents.get(at..).and_then(|rest| rest.first_chunk()).map_or(0, |bytes| u32::from_le_bytes(*bytes))
}

/// What is needed of a volume to follow a file's clusters.
#[derive(Clone, Copy, Debug)]
struct Shape {
    fat: u32,
    data: u32,
    cluster_sectors: u32,
    clusters: u32,
    wide: bool,
}

/// Offset of the first row of a partition table, and of its first sector in it; a volume's first sector ends as the table
/// does (FAT32 File System Specification 1.03; the table's layout from memory).
const FIRST_SECTOR: usize = 446 + 8;

impl Shape {
    fn of<D: Sectors>(device: D) -> Result<Shape, CardFault> {
        let mut block = Block::new();
        read(device, 0, &mut block)?;
        let start = u32_at(&block, FIRST_SECTOR);
        read(device, start, &mut block)?;
        let bpb = Bpb::create_from_bytes(&block.contents).map_err(|_| CardFault::NoVolume)?;
        let fat = start.saturating_add(bpb.reserved_block_count().into());
        let root = (u32::from(bpb.root_entries_count()) * 32).div_ceil(SECTOR as u32);
        let fats = u32::from(bpb.num_fats()).saturating_mul(bpb.fat_size());
        Ok(Shape {
            fat,
            data: fat.saturating_add(fats).saturating_add(root),
            cluster_sectors: u32::from(bpb.blocks_per_cluster()).max(1),
            clusters: bpb.total_clusters(),
            // A volume of this many clusters or more has four bytes for each in its table (the same, section 3.5).
            wide: bpb.total_clusters() >= 65_525,
        })
    }

    /// The cluster behind this one; none at the end of a file.
    fn next<D: Sectors>(&self, device: D, cluster: u32, table: &mut (u32, Block)) -> Result<Option<u32>, CardFault> {
        let width = if self.wide { 4 } else { 2 };
        let at = cluster.saturating_mul(width);
        let sector = self.fat.saturating_add(at / SECTOR as u32);
        if table.0 != sector {
            read(device, sector, &mut table.1)?;
            table.0 = sector;
        }
        let at = (at % SECTOR as u32) as usize;
        let next = if self.wide { u32_at(&table.1, at) & 0x0fff_ffff } else { u16_at(&table.1, at).into() };
        Ok((2..self.clusters.saturating_add(2)).contains(&next).then_some(next))
    }

    fn first_sector(&self, cluster: u32) -> u32 {
        self.data.saturating_add(cluster.saturating_sub(2).saturating_mul(self.cluster_sectors))
    }
}

/// No clock tells files of a handheld their time: what is in them tells its own.
struct NoTime;

impl TimeSource for NoTime {
    fn get_timestamp(&self) -> Timestamp {
        Timestamp::from_fat(0x0021, 0)
    }
}

/// The file system with no more open at once than is needed.
type Volumes<D> = VolumeManager<D, NoTime, 1, 1, 1>;

fn volumes<D: Sectors>(device: D) -> Volumes<D> {
    VolumeManager::new_with_limits(device, NoTime, 1)
}

/// Where the sectors of a file in the root directory lie.
///
/// # Errors
/// When it is not there, or in too many pieces.
pub fn find<D: Sectors>(device: D, name: &'static str) -> Result<Extents, CardFault> {
    let (first, bytes) = entry(device, name)?;
    let shape = Shape::of(device)?;
    let mut extents = Extents { name, bytes, pieces: Vec::new() };
    let mut table = (u32::MAX, Block::new());
    let mut cluster = (bytes > 0).then_some(first);
    let mut left = bytes.div_ceil(SECTOR as u32);
    while let Some(at) = cluster.filter(|_| left > 0) {
        let (first, sectors) = (shape.first_sector(at), shape.cluster_sectors.min(left));
        match extents.pieces.last_mut() {
            Some(piece) if piece.first + piece.sectors == first => piece.sectors += sectors,
            _ => extents.pieces.push(Piece { first, sectors }).map_err(|_| CardFault::Pieces(name))?,
        }
        left -= sectors;
        cluster = shape.next(device, at, &mut table)?;
    }
    if left == 0 { Ok(extents) } else { Err(CardFault::Damaged(name, bytes - left.min(bytes / 512) * 512)) }
}

/// A file's first cluster and its bytes; the row's fields are those of section 6 of the specification named above.
fn entry<D: Sectors>(device: D, name: &'static str) -> Result<(u32, u32), CardFault> {
    let volumes = volumes(device);
    let volume = volumes.open_volume(VolumeIdx(0)).map_err(|_| CardFault::NoVolume)?;
    let root = volume.open_root_dir().map_err(|_| CardFault::NoVolume)?;
    let entry = root.find_directory_entry(name).map_err(|_| CardFault::Missing(name))?;
    let (mut block, row) = (Block::new(), entry.entry_offset as usize);
    read(device, entry.entry_block.0, &mut block)?;
    Ok((u32::from(u16_at(&block, row + 20)) << 16 | u32::from(u16_at(&block, row + 26)), entry.size))
}

/// Appends to a file in the root directory, which is made where there is none.
///
/// The new length is written last: what is interrupted leaves the file as it was.
///
/// # Errors
/// When the card does not answer, or is full.
pub fn append<D: Sectors>(device: D, name: &'static str, parts: &[&[u8]]) -> Result<(), CardFault> {
    let volumes = volumes(device);
    let volume = volumes.open_volume(VolumeIdx(0)).map_err(|_| CardFault::NoVolume)?;
    let root = volume.open_root_dir().map_err(|_| CardFault::NoVolume)?;
    let file = root.open_file_in_dir(name, Mode::ReadWriteCreateOrAppend).map_err(|_| CardFault::Card)?;
    for part in parts {
        file.write(part).map_err(|_| CardFault::Card)?;
    }
    file.close().map_err(|_| CardFault::Card)
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
                read(self.device, sector, &mut self.block)?;
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

