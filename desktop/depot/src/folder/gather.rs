//! All entries of a data folder: every book and the journal, merged, each entry once.

use std::collections::hash_map::Entry as Slot;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::{Path, PathBuf};

use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, EntryRef};
use offshed_core::limits::CLOCK_SKEW_SECONDS;
use offshed_core::record::seal::SealState;

use super::books::{self, Openers};
use super::fault::FolderFault;
use super::finding::{BlockFault, FolderFinding, Found, Scope};
use super::journal::Seen;
use super::trust::{Depth, Judged, Source, Trust};
use super::{files, keys, pages};

/// What a folder's books and journal say together.
#[derive(Clone, Debug, Default)]
pub(crate) struct Gathered {
    /// Every entry once, in the merged order.
    pub(crate) entries: Vec<Entry>,
    /// What is wrong.
    pub(crate) findings: Vec<FolderFinding>,
    /// Which engines sheets and defects are of.
    pub(crate) openers: Openers,
}

/// Merges the books under `root` with a journal that was read before them.
///
/// That order matters: a block that another process seals meanwhile is then read twice, and not missed.
pub(crate) fn gather(root: &Path, journal: Option<Seen>, depth: Depth) -> Result<Gathered, FolderFault> {
    let mut findings = Vec::new();
    let mut sources = read_books(root, &mut findings)?;
    // Of two histories of one device every folder takes the same one, whatever the files are called.
    sources.sort_by(|a, b| (a.device, &a.bytes, &a.file).cmp(&(b.device, &b.bytes, &b.file)));
    let tail = journal.as_ref().map_or(&[][..], |seen| &seen.entries);
    let trust = Trust::judge(&sources, keys::own(root)?, tail, depth);

    let mut merge = Merge::default();
    for (source, judged) in sources.iter().zip(&trust.judged) {
        let counts = |judged: &Judged| !matches!(judged.state, SealState::Bad | SealState::Revoked);
        let pages = source.book.pages.iter().zip(judged).filter(|(_, judged)| counts(judged));
        merge.take(&source.file, pages.flat_map(|(page, _)| &page.entries));
    }
    if let Some(seen) = &journal {
        merge.take(Path::new(files::JOURNAL), &seen.entries);
    }
    merge.entries.sort_by_key(Entry::order);
    let openers = Openers::of(&merge.entries);
    findings.extend(pages::findings(&sources, &trust, |at| merge.places.contains_key(&at)));
    if let Some(seen) = &journal {
        findings.extend(seen.findings.iter().cloned());
    }
    findings.extend(merge.forks(&sources, tail, &openers));
    findings.extend(merge.missing(&claimed(&sources, &trust)));
    findings.extend(clocks(&merge.entries));
    Ok(Gathered { entries: merge.entries, findings, openers })
}

/// The highest count in the books of one device.
pub(crate) fn last_seq(root: &Path, device: DeviceId) -> Result<u32, FolderFault> {
    let dir = root.join(files::BOOKS);
    let mut last = 0;
    for name in files::names(&dir)?.iter().filter(|name| files::book_named(name) == Some(device)) {
        let bytes = files::read(&dir.join(name))?.unwrap_or_default();
        let book = books::read_book(Path::new(name), &bytes, device);
        last = book.pages.iter().flat_map(|page| &page.entries).map(|entry| entry.at.seq).fold(last, u32::max);
    }
    Ok(last)
}

fn read_books(root: &Path, findings: &mut Vec<FolderFinding>) -> Result<Vec<Source>, FolderFault> {
    let dir = Path::new(files::BOOKS);
    let mut sources = Vec::new();
    for name in files::names(&root.join(dir))? {
        let file = dir.join(&name);
        let whole = |what| FolderFinding::new(&file, None, None, what);
        let Some(device) = files::book_named(&name) else {
            findings.push(whole(Found::StrayFile));
            continue;
        };
        match files::read(&root.join(&file)) {
            Ok(Some(bytes)) => {
                let book = books::read_book(&file, &bytes, device);
                sources.push(Source { file, device, bytes, book });
            }
            Ok(None) => {}
            Err(fault) => findings.push(whole(Found::CannotRead { why: fault.to_string() })),
        }
    }
    Ok(sources)
}

/// Counts of blocks that are accounted for though their entries do not count here: what is wrong with them is told.
fn claimed(sources: &[Source], trust: &Trust<'_>) -> BTreeSet<EntryRef> {
    let mut claimed = BTreeSet::new();
    for (source, judged) in sources.iter().zip(&trust.judged) {
        for (page, judged) in source.book.pages.iter().zip(judged) {
            let told = judged.head_holds && (page.fault.is_some() || judged.state == SealState::Revoked);
            if told && !matches!(page.fault, Some(BlockFault::Foreign(_))) {
                claimed.extend((page.head.first..=page.head.last()).map(|seq| EntryRef { device: source.device, seq }));
            }
        }
    }
    claimed
}

/// Where a device's clock jumped back, or its order runs ahead of it, by more than clocks may differ.
fn clocks(entries: &[Entry]) -> Vec<FolderFinding> {
    let mut by_device: Vec<&Entry> = entries.iter().collect();
    by_device.sort_by_key(|entry| entry.at);
    let mut findings = Vec::new();
    let mut latest: Option<&Entry> = None;
    let mut was_ahead = false;
    for entry in by_device {
        let before = latest.filter(|latest| latest.at.device == entry.at.device);
        was_ahead &= before.is_some();
        let ahead = (entry.hlc.0 >> 20) as i64 - entry.stamp.0;
        let mut found = |what| {
            let file = Path::new(files::BOOKS).join(files::book_name(entry.at.device));
            findings.push(FolderFinding::new(file, None, Some(entry.at.device), what));
        };
        match before {
            Some(before) if before.stamp.since(entry.stamp) > CLOCK_SKEW_SECONDS => {
                found(Found::ClockBack { entry: entry.at.seq, from: before.stamp, to: entry.stamp });
                latest = Some(entry);
            }
            _ if ahead > CLOCK_SKEW_SECONDS && !was_ahead => {
                found(Found::ClockAhead { entry: entry.at.seq, at: entry.stamp, ahead_seconds: ahead });
            }
            _ => {}
        }
        was_ahead = ahead > CLOCK_SKEW_SECONDS;
        if before.is_none_or(|before| before.stamp <= entry.stamp) {
            latest = Some(entry);
        }
    }
    findings
}

/// Entries, each once.
#[derive(Default)]
struct Merge {
    entries: Vec<Entry>,
    files: Vec<PathBuf>,
    /// Where each entry is, and from which file.
    places: HashMap<EntryRef, (usize, usize)>,
    /// By kept and other file: the first entry that differs, and how many do.
    conflicts: BTreeMap<(DeviceId, usize, usize), (EntryRef, u32)>,
}

impl Merge {
    fn take<'e>(&mut self, file: &Path, entries: impl IntoIterator<Item = &'e Entry>) {
        let source = self.files.len();
        self.files.push(file.to_path_buf());
        for entry in entries {
            match self.places.entry(entry.at) {
                Slot::Vacant(slot) => {
                    slot.insert((self.entries.len(), source));
                    self.entries.push(entry.clone());
                }
                Slot::Occupied(slot) => {
                    let (at, kept) = *slot.get();
                    if self.entries.get(at) != Some(entry) {
                        let conflict = self.conflicts.entry((entry.at.device, kept, source));
                        let (first, count) = conflict.or_insert((entry.at, 0));
                        (*first, *count) = ((*first).min(entry.at), count.saturating_add(1));
                    }
                }
            }
        }
    }

    /// Two histories of one device; what either touches from where they part is in doubt.
    fn forks(&self, sources: &[Source], tail: &[Entry], openers: &Openers) -> Vec<FolderFinding> {
        let file = |n: usize| self.files.get(n).cloned().unwrap_or_default();
        let fork = |(&(device, kept, other), &(entry, entries)): (&(DeviceId, usize, usize), &(EntryRef, u32))| {
            let mut scope = Scope::nothing();
            let books = sources.iter().filter(|source| source.device == device);
            let after = books.flat_map(|source| &source.book.pages).filter(|page| page.head.last() >= entry.seq);
            after.for_each(|page| scope.add(&page.head.touched));
            let tail = tail.iter().filter(|one| one.at.device == device && one.at.seq >= entry.seq);
            scope.add(&openers.touched(tail));
            let what = Found::Fork { entry, entries, kept: file(kept) };
            FolderFinding::new(file(other), None, Some(device), what).about(scope)
        };
        self.conflicts.iter().map(fork).collect()
    }

    /// The runs of counts that no file holds, below the highest of each device.
    fn missing(&self, claimed: &BTreeSet<EntryRef>) -> Vec<FolderFinding> {
        let refs: BTreeSet<EntryRef> = self.places.keys().chain(claimed).copied().collect();
        let mut findings = Vec::new();
        let mut before: Option<EntryRef> = None;
        for at in refs {
            let last = before.filter(|b| b.device == at.device).map_or(0, |b| b.seq);
            if at.seq > last.saturating_add(1) {
                let what = Found::Missing { first: last.saturating_add(1), last: at.seq.saturating_sub(1) };
                let file = Path::new(files::BOOKS).join(files::book_name(at.device));
                findings.push(FolderFinding::new(file, None, Some(at.device), what));
            }
            before = Some(at);
        }
        findings
    }
}
