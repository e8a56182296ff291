//! A NOR flash memory in a file or in memory: bits are only cleared by writing, and set by erasing whole pages. Every
//! access can be noted, and power can go at any byte of one.
#![allow(dead_code)]

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

use embedded_storage_async::nor_flash::{
    ErrorType, MultiwriteNorFlash, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};

/// Bytes of a page: what is erased at once.
pub(crate) const PAGE: usize = 4_096;

/// One change of the memory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Change {
    /// Bytes written at a place.
    Write(u32, Vec<u8>),
    /// Pages erased, from and to.
    Erase(u32, u32),
}

/// Why an access failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum FlashFault {
    /// It is not inside, or not at whole words or pages.
    Place,
    /// The power went.
    PowerCut,
    /// The file it is kept in can't be written.
    File,
}

impl NorFlashError for FlashFault {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            FlashFault::Place => NorFlashErrorKind::OutOfBounds,
            FlashFault::PowerCut | FlashFault::File => NorFlashErrorKind::Other,
        }
    }
}

/// A memory that is read and written in words of `WORD` bytes.
#[derive(Debug)]
pub(crate) struct SimFlash<const WORD: usize = 1> {
    pub(crate) bytes: Vec<u8>,
    /// Where it is kept, where it is.
    pub(crate) file: Option<File>,
    /// What was changed, where that is noted.
    pub(crate) noted: Option<Vec<Change>>,
    /// Bytes that may still be changed before the power goes; `None`: it stays.
    pub(crate) power: Option<usize>,
}

impl<const WORD: usize> SimFlash<WORD> {
    /// An erased memory of so many pages.
    pub(crate) fn blank(pages: usize) -> SimFlash<WORD> {
        SimFlash::of(vec![0xff; pages * PAGE])
    }

    /// A memory with this in it.
    pub(crate) fn of(bytes: Vec<u8>) -> SimFlash<WORD> {
        SimFlash { bytes, file: None, noted: None, power: None }
    }

    /// The memory that is kept in a file; made, erased, where there is none.
    ///
    /// # Errors
    /// When the file can't be read or made, or is no whole number of pages.
    pub(crate) fn in_file(path: &Path, pages: usize) -> io::Result<SimFlash<WORD>> {
        let mut file = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes)?;
        if bytes.is_empty() {
            bytes = vec![0xff; pages * PAGE];
            file.write_all(&bytes)?;
        }
        if bytes.len() % PAGE != 0 {
            let words = format!("no flash image: {} bytes are no whole pages of {PAGE}", bytes.len());
            return Err(io::Error::new(io::ErrorKind::InvalidData, words));
        }
        Ok(SimFlash { file: Some(file), ..SimFlash::of(bytes) })
    }

    /// Makes a change, byte by byte, as far as the power lasts; a byte that is cut off is half written.
    pub(crate) fn change(&mut self, change: &Change) -> Result<(), FlashFault> {
        let (at, count) = match change {
            Change::Write(at, bytes) => (*at as usize, bytes.len()),
            Change::Erase(from, to) => (*from as usize, (*to - *from) as usize),
        };
        if let Some(noted) = &mut self.noted {
            noted.push(change.clone());
        }
        let lasts = self.power.map_or(count, |power| power.min(count));
        for n in 0..count.min(lasts + 1) {
            let half = n == lasts;
            let Some(byte) = self.bytes.get_mut(at + n) else { return Err(FlashFault::Place) };
            *byte = match change {
                // Bits go one after another.
                Change::Write(_, bytes) if half => *byte & (bytes[n] | 0x0f),
                Change::Write(_, bytes) => *byte & bytes[n],
                Change::Erase(..) if half => *byte | 0x55,
                Change::Erase(..) => 0xff,
            };
        }
        if let Some(power) = &mut self.power {
            *power -= lasts;
        }
        self.keep(at, count)?;
        if lasts < count { Err(FlashFault::PowerCut) } else { Ok(()) }
    }

    fn keep(&mut self, at: usize, count: usize) -> Result<(), FlashFault> {
        let Some(file) = &mut self.file else { return Ok(()) };
        let bytes = self.bytes.get(at..at + count).ok_or(FlashFault::Place)?;
        let kept = file.seek(SeekFrom::Start(at as u64)).and_then(|_| file.write_all(bytes));
        kept.map_err(|_| FlashFault::File)
    }

    fn inside(&self, at: u32, count: usize, whole: usize) -> Result<(), FlashFault> {
        let at = at as usize;
        let sound = at.is_multiple_of(whole) && count.is_multiple_of(whole) && at + count <= self.bytes.len();
        sound.then_some(()).ok_or(FlashFault::Place)
    }
}

impl<const WORD: usize> ErrorType for SimFlash<WORD> {
    type Error = FlashFault;
}

impl<const WORD: usize> ReadNorFlash for SimFlash<WORD> {
    const READ_SIZE: usize = WORD;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), FlashFault> {
        self.inside(offset, bytes.len(), WORD)?;
        if self.power == Some(0) {
            return Err(FlashFault::PowerCut);
        }
        bytes.copy_from_slice(&self.bytes[offset as usize..offset as usize + bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const WORD: usize> NorFlash for SimFlash<WORD> {
    const WRITE_SIZE: usize = WORD;
    const ERASE_SIZE: usize = PAGE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), FlashFault> {
        self.inside(from, to.checked_sub(from).ok_or(FlashFault::Place)? as usize, PAGE)?;
        self.change(&Change::Erase(from, to))
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), FlashFault> {
        self.inside(offset, bytes.len(), WORD)?;
        self.change(&Change::Write(offset, bytes.to_vec()))
    }
}

impl<const WORD: usize> MultiwriteNorFlash for SimFlash<WORD> {}
