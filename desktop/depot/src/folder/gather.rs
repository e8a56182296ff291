//! All entries of a data folder: every book and the journal, merged, each entry once.

use std::collections::hash_map::Entry as Slot;
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use offshed_core::entry::Entry;
use offshed_core::ident::{DeviceId, EntryRef};
use offshed_core::record::chain;

use super::books::{self, Contents};
use super::fault::FolderFault;
use super::files;
use super::finding::{FolderFinding, Found};
use super::journal::Seen;

/// What a folder's books and journal say together.
#[derive(Clone, Debug, Default)]
pub(crate) struct Gathered {
    /// Every entry once, in the merged order.
    pub(crate) entries: Vec<Entry>,
    /// What is wrong.
    pub(crate) findings: Vec<FolderFinding>,
}

/// One record file that was read.
struct Source {
    file: PathBuf,
    device: DeviceId,
    bytes: Vec<u8>,
    contents: Contents,
}

/// Merges the books under `root` with a journal that was read before them.
///
/// That order matters: a block that another process seals meanwhile is then read twice, and not missed.
pub(crate) fn gather(root: &Path, journal: Option<Seen>) -> Result<Gathered, FolderFault> {
    let mut gathered = Gathered::default();
    let mut sources = read_books(root, &mut gathered.findings)?;
    // Of two histories of one device every folder takes the same one, whatever the files are called.
    sources.sort_by(|a, b| (a.device, &a.bytes, &a.file).cmp(&(b.device, &b.bytes, &b.file)));
    if let Some(seen) = journal {
        let contents = Contents { entries: seen.entries, findings: seen.findings };
        sources.push(Source { file: files::JOURNAL.into(), device: seen.device, bytes: seen.bytes, contents });
    }
    let mut merge = Merge::default();
    for source in sources {
        gathered.findings.extend(source.contents.findings);
        merge.take(&source.file, source.contents.entries);
    }
    gathered.findings.extend(merge.forks());
    gathered.findings.extend(merge.missing());
    gathered.entries = merge.entries;
    gathered.entries.sort_by_key(Entry::order);
    Ok(gathered)
}

/// The highest count in the books of one device.
pub(crate) fn last_seq(root: &Path, device: DeviceId) -> Result<u32, FolderFault> {
    let dir = root.join(files::BOOKS);
    let mut last = 0;
    for name in files::names(&dir)?.iter().filter(|name| files::book_named(name) == Some(device)) {
        let bytes = files::read(&dir.join(name))?.unwrap_or_default();
        let contents = books::read(Path::new(name), chain::BOOK, &bytes, device);
        last = contents.entries.iter().map(|entry| entry.at.seq).fold(last, u32::max);
    }
    Ok(last)
}

fn read_books(root: &Path, findings: &mut Vec<FolderFinding>) -> Result<Vec<Source>, FolderFault> {
    let dir = Path::new(files::BOOKS);
    let mut sources = Vec::new();
    for name in files::names(&root.join(dir))? {
        let file = dir.join(&name);
        let whole = |what| FolderFinding { file: file.clone(), offset: None, device: None, what, saved: None };
        let Some(device) = files::book_named(&name) else {
            findings.push(whole(Found::StrayFile));
            continue;
        };
        match files::read(&root.join(&file)) {
            Ok(Some(bytes)) => {
                let contents = books::read(&file, chain::BOOK, &bytes, device);
                sources.push(Source { file, device, bytes, contents });
            }
            Ok(None) => {}
            Err(fault) => findings.push(whole(Found::CannotRead { why: fault.to_string() })),
        }
    }
    Ok(sources)
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
    fn take(&mut self, file: &Path, entries: Vec<Entry>) {
        let source = self.files.len();
        self.files.push(file.to_path_buf());
        for entry in entries {
            match self.places.entry(entry.at) {
                Slot::Vacant(slot) => {
                    slot.insert((self.entries.len(), source));
                    self.entries.push(entry);
                }
                Slot::Occupied(slot) => {
                    let (at, kept) = *slot.get();
                    if self.entries.get(at) != Some(&entry) {
                        let conflict = self.conflicts.entry((entry.at.device, kept, source));
                        let (first, count) = conflict.or_insert((entry.at, 0));
                        (*first, *count) = ((*first).min(entry.at), count.saturating_add(1));
                    }
                }
            }
        }
    }

    fn forks(&self) -> Vec<FolderFinding> {
        let file = |n: usize| self.files.get(n).cloned().unwrap_or_default();
        let fork = |(&(device, kept, other), &(entry, entries)): (&(DeviceId, usize, usize), &(EntryRef, u32))| {
            let what = Found::Fork { entry, entries, kept: file(kept) };
            FolderFinding { file: file(other), offset: None, device: Some(device), what, saved: None }
        };
        self.conflicts.iter().map(fork).collect()
    }

    /// The runs of counts that no file holds, below the highest of each device.
    fn missing(&self) -> Vec<FolderFinding> {
        let mut refs: Vec<EntryRef> = self.places.keys().copied().collect();
        refs.sort();
        let mut findings = Vec::new();
        let mut before: Option<EntryRef> = None;
        for at in refs {
            let last = before.filter(|b| b.device == at.device).map_or(0, |b| b.seq);
            if at.seq > last.saturating_add(1) {
                findings.push(FolderFinding {
                    file: Path::new(files::BOOKS).join(files::book_name(at.device)),
                    offset: None,
                    device: Some(at.device),
                    what: Found::Missing { first: last.saturating_add(1), last: at.seq.saturating_sub(1) },
                    saved: None,
                });
            }
            before = Some(at);
        }
        findings
    }
}
