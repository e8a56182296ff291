//! Sync: copying what is missing, both ways. It may be repeated, interrupted, and run in any order.
//!
//! Only books and packs travel; journals are sealed first, and PINs, wrong tries and `folder.toml` stay where they are.
//! A book that is the start of another one grows by what is missing. Of two books of one device that differ, both are
//! kept, side by side, and the fork is told. Damaged places are not carried; what is sound behind them is.

use std::collections::HashSet;
use std::path::Path;

use offshed_core::ident::{DeviceId, PackHash};
use offshed_core::record::chain::{self, HEAD, HeadFault};

use crate::folder::{Copy, Folder, FolderFault, FolderFinding, Found, Shelf, blocks, count_entries, first_damage};

/// What a sync did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SyncReport {
    /// What came into the first folder.
    pub into_first: Carried,
    /// What came into the second folder, or into the directory.
    pub into_second: Carried,
    /// What was found wrong on the way; files are named by full path.
    pub findings: Vec<FolderFinding>,
    /// It was stopped before everything was looked at; what was copied until then stays.
    pub stopped: bool,
}

/// How far a sync is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Books and packs looked at.
    pub done: usize,
    /// Of so many.
    pub of: usize,
}

/// Is told how far a sync is before each book and pack, and answers whether it goes on.
pub type Watch<'w> = dyn FnMut(Progress) -> bool + 'w;

impl SyncReport {
    /// Whether nothing was missing on either side.
    pub fn is_quiet(&self) -> bool {
        self.into_first.is_empty() && self.into_second.is_empty()
    }
}

/// What came into one side.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Carried {
    /// Per device, sorted.
    pub books: Vec<CarriedBook>,
    /// Packs, sorted.
    pub packs: Vec<PackHash>,
}

impl Carried {
    /// Whether nothing came.
    pub fn is_empty(&self) -> bool {
        self.books.is_empty() && self.packs.is_empty()
    }

    /// How many entries came, of all devices.
    pub fn entries(&self) -> u64 {
        self.books.iter().map(|book| u64::from(book.entries)).sum()
    }

    fn note(&mut self, device: DeviceId, entries: u32, bytes: usize) {
        let at = self.books.binary_search_by_key(&device, |book| book.device);
        let at = at.unwrap_or_else(|at| {
            self.books.insert(at, CarriedBook { device, entries: 0, bytes: 0 });
            at
        });
        if let Some(book) = self.books.get_mut(at) {
            book.entries = book.entries.saturating_add(entries);
            book.bytes += bytes as u64;
        }
    }
}

/// What came of one device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CarriedBook {
    /// The device.
    pub device: DeviceId,
    /// Entries.
    pub entries: u32,
    /// Bytes.
    pub bytes: u64,
}

/// Copies what is missing between two data folders, both ways. Both journals are sealed first.
///
/// # Errors
/// When a folder is open for reading only, both write as one device, or a file can't be read or written. What was
/// copied until then stays, and the sync can be run again.
pub fn sync(first: &mut Folder, second: &mut Folder) -> Result<SyncReport, FolderFault> {
    if first.device() == second.device() {
        return Err(FolderFault::SameDevice { device: first.device() });
    }
    first.seal()?;
    second.seal()?;
    let mut report = SyncReport::default();
    let copied = both_ways(&first.shelf()?, &second.shelf()?, &mut report, &mut |_| true);
    first.refresh()?;
    second.refresh()?;
    copied.map(|()| report)
}

/// Copies what is missing between a data folder and a plain directory (a memory stick, a shared folder), both ways.
///
/// The directory holds `books/` and `packs/`, and nothing else is put there but copies of damaged packs. When others
/// write there at the same moment, a book may for a while be an older one; the next sync brings it up again.
///
/// # Errors
/// As [`sync`], and when `directory` is missing or is a data folder itself.
pub fn sync_with_dir(folder: &mut Folder, directory: &Path) -> Result<SyncReport, FolderFault> {
    let directory = Shelf::of_directory(directory)?;
    folder.seal()?;
    let mut report = SyncReport::default();
    let copied = both_ways(&folder.shelf()?, &directory, &mut report, &mut |_| true);
    folder.refresh()?;
    copied.map(|()| report)
}

/// Copies what is missing both ways; what was copied stands in `report` though it ends in a fault.
pub(crate) fn both_ways(
    first: &Shelf,
    second: &Shelf,
    report: &mut SyncReport,
    watch: &mut Watch<'_>,
) -> Result<(), FolderFault> {
    let mut of_first = first.books(&mut report.findings)?;
    let mut of_second = second.books(&mut report.findings)?;
    let of = of_first.len() + of_second.len() + first.packs()?.len() + second.packs()?.len();
    let mut gate = Gate { watch, progress: Progress { done: 0, of }, stopped: false };
    let (carried, findings) = (&mut report.into_second, &mut report.findings);
    let mut way = Way { from: first, to: second, carried, findings, gate: &mut gate };
    way.books(&of_first, &mut of_second)?;
    way.packs()?;
    let (carried, findings) = (&mut report.into_first, &mut report.findings);
    let mut way = Way { from: second, to: first, carried, findings, gate: &mut gate };
    way.books(&of_second, &mut of_first)?;
    way.packs()?;
    report.stopped = gate.stopped;
    Ok(())
}

/// Counts what was looked at, and stays shut once the watch stopped the sync.
struct Gate<'g, 'w> {
    watch: &'g mut Watch<'w>,
    progress: Progress,
    stopped: bool,
}

impl Gate<'_, '_> {
    /// Whether the next book or pack is looked at.
    fn opens(&mut self) -> bool {
        self.stopped = self.stopped || !(self.watch)(self.progress);
        self.progress.done += 1;
        // A book that came from one side is looked at on the way back too.
        self.progress.of = self.progress.of.max(self.progress.done);
        !self.stopped
    }
}

/// One direction.
struct Way<'s, 'g, 'w> {
    from: &'s Shelf,
    to: &'s Shelf,
    carried: &'s mut Carried,
    findings: &'s mut Vec<FolderFinding>,
    gate: &'s mut Gate<'g, 'w>,
}

impl Way<'_, '_, '_> {
    fn packs(&mut self) -> Result<(), FolderFault> {
        for hash in self.from.packs()? {
            if !self.gate.opens() {
                return Ok(());
            }
            if self.to.has_pack(hash) {
                continue;
            }
            if let Some(bytes) = self.from.pack(hash, self.findings)? {
                self.to.add_pack(&bytes, self.findings)?;
                self.carried.packs.push(hash);
            }
        }
        Ok(())
    }

    fn books(&mut self, from: &[Copy], here: &mut Vec<Copy>) -> Result<(), FolderFault> {
        for copy in from {
            if !self.gate.opens() {
                return Ok(());
            }
            self.book(copy, here)?;
        }
        Ok(())
    }

    /// Carries what one book has and this side lacks.
    fn book(&mut self, copy: &Copy, here: &mut Vec<Copy>) -> Result<(), FolderFault> {
        let of_device = |there: &&mut Copy| there.device == copy.device;
        if here.iter_mut().filter(of_device).any(|there| there.bytes.starts_with(&copy.bytes)) {
            return Ok(());
        }
        let sound = sound_len(copy, HEAD);
        if nothing_new(copy, sound, here) {
            if !chain::head(chain::BOOK, copy.device).starts_with(&copy.bytes) {
                self.findings.push(self.from.finding(&copy.name, Some(copy.device), Found::NothingNew));
            }
            return Ok(());
        }
        let starts = here.iter_mut().filter(of_device).filter(|there| copy.bytes.starts_with(&there.bytes));
        if let Some(start) = starts.max_by_key(|there| there.bytes.len()) {
            self.extend(copy, start)?;
        } else if sound > HEAD && !here.iter().any(|there| there.device == copy.device) {
            self.own_elsewhere(copy);
            self.store(copy, sound, here)?;
        }
        // What is sound behind a damaged place, or differs from what is here, comes with the whole file.
        if held(copy, here) { Ok(()) } else { self.beside(copy, here) }
    }

    /// Lets a book that is the start of `copy` grow, up to the first damaged place.
    fn extend(&mut self, copy: &Copy, start: &mut Copy) -> Result<(), FolderFault> {
        let from = start.bytes.len();
        let to = sound_len(copy, from);
        let Some(more) = copy.bytes.get(from..to).filter(|more| !more.is_empty()) else {
            return Ok(());
        };
        self.own_elsewhere(copy);
        let before = count_entries(&start.bytes, copy.device);
        self.to.extend(start, more)?;
        self.carried.note(copy.device, count_entries(&start.bytes, copy.device).saturating_sub(before), more.len());
        Ok(())
    }

    fn beside(&mut self, copy: &Copy, here: &mut Vec<Copy>) -> Result<(), FolderFault> {
        let other = here.iter().find(|there| there.device == copy.device).map(|there| there.name.clone());
        let name = self.store(copy, copy.bytes.len(), here)?;
        if let Some(other) = other {
            let what = Found::KeptBeside { other: other.into() };
            self.findings.push(self.to.finding(&name, Some(copy.device), what));
        }
        Ok(())
    }

    /// Stores the first `len` bytes of a book under a name of its own.
    fn store(&mut self, copy: &Copy, len: usize, here: &mut Vec<Copy>) -> Result<String, FolderFault> {
        let bytes = copy.bytes.get(..len).unwrap_or(&copy.bytes);
        let stored = self.to.store(here, copy.device, bytes.to_vec())?;
        self.carried.note(copy.device, count_entries(bytes, copy.device), bytes.len());
        let name = stored.name.clone();
        here.push(stored);
        Ok(name)
    }

    fn own_elsewhere(&mut self, copy: &Copy) {
        if self.to.is_own(copy.device) {
            self.findings.push(self.to.finding(&copy.name, Some(copy.device), Found::OwnBookElsewhere));
        }
    }
}

/// How much of a book can be carried as it stands: up to the first damaged place at or after `from`.
///
/// A book of another version is not looked into: it is carried whole.
fn sound_len(copy: &Copy, from: usize) -> usize {
    let whole = copy.bytes.len();
    match chain::read_head(chain::BOOK, &copy.bytes) {
        _ if !readable(copy) => whole,
        Ok(device) if device == copy.device => first_damage(&copy.bytes, copy.device, from).unwrap_or(whole),
        Ok(_) | Err(_) => from.min(whole),
    }
}

/// Whether a book adds nothing: it holds nothing, one book here has all its blocks, or, where it is damaged, all books
/// together do.
fn nothing_new(copy: &Copy, sound: usize, here: &[Copy]) -> bool {
    let mut of_device = here.iter().filter(|there| there.device == copy.device && readable(there));
    readable(copy)
        && if sound < copy.bytes.len() || whole(copy).next().is_none() {
            has_all(copy, of_device)
        } else {
            of_device.any(|there| has_all(copy, std::iter::once(there)))
        }
}

/// Whether a book may be looked into: it is of this version, or its head does not tell.
fn readable(copy: &Copy) -> bool {
    !matches!(chain::read_head(chain::BOOK, &copy.bytes), Err(HeadFault::Version(_)))
}

/// Whether a book is here: as the start of another, or, where it is damaged, block by block.
fn held(copy: &Copy, here: &[Copy]) -> bool {
    let mut of_device = here.iter().filter(|there| there.device == copy.device);
    of_device.any(|there| there.bytes.starts_with(&copy.bytes)) || nothing_new(copy, sound_len(copy, HEAD), here)
}

fn has_all<'c>(copy: &Copy, there: impl Iterator<Item = &'c Copy>) -> bool {
    let known: HashSet<&[u8]> = there.flat_map(whole).collect();
    whole(copy).all(|block| known.contains(block))
}

/// The whole blocks of a book, as written.
fn whole(copy: &Copy) -> impl Iterator<Item = &[u8]> {
    blocks(&copy.bytes, copy.device).map(|block| block.bytes)
}
