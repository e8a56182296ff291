//! Whose signatures are believed: the own device's, and those made with keys that a believed device states. Of a device
//! that nobody vouches for the key of its first block is taken, and shown as unknown.

use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;

use offshed_core::entry::{Entry, Fact, What};
use offshed_core::ident::{DeviceId, DeviceKey};
use offshed_core::record::chain::Block;
use offshed_core::record::seal::SealState;
use offshed_core::stamp::Stamp;

use super::books::{Book, Page};

/// One book file that was read.
#[derive(Debug)]
pub(crate) struct Source {
    /// Its name in findings.
    pub(crate) file: PathBuf,
    /// Whose book it is.
    pub(crate) device: DeviceId,
    /// Its bytes.
    pub(crate) bytes: Vec<u8>,
    /// What it holds.
    pub(crate) book: Book,
}

/// A key as a believed device states it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stated {
    key: DeviceKey,
    /// From when on it is withdrawn.
    pub(crate) until: Option<Stamp>,
}

/// What a block is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Judged {
    /// What its signature is worth.
    pub(crate) state: SealState,
    /// Its head is the device's word: by its own signature, or by a later block that names it.
    pub(crate) head_holds: bool,
    /// Its own signature is spoilt, and a later block vouches for it.
    pub(crate) spoilt: bool,
}

/// How closely signatures are looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Depth {
    /// One signature for all blocks that its chain of hashes leads back to.
    Chain,
    /// Every signature.
    Every,
}

/// Judges the blocks of all books.
#[derive(Debug)]
pub(crate) struct Trust<'s> {
    sources: &'s [Source],
    own: BTreeMap<DeviceId, DeviceKey>,
    depth: Depth,
    stated: BTreeMap<DeviceId, Stated>,
    /// Signatures already checked, by source, page and key.
    checked: HashMap<(usize, usize, DeviceKey), bool>,
    /// Per source and page.
    pub(crate) judged: Vec<Vec<Judged>>,
}

/// Devices that vouch for one another in a row, at most.
const ROUNDS: usize = 16;

impl<'s> Trust<'s> {
    /// Judges all blocks; `journal` is the own device's, which is believed.
    pub(crate) fn judge(
        sources: &'s [Source],
        own: BTreeMap<DeviceId, DeviceKey>,
        journal: &[Entry],
        depth: Depth,
    ) -> Trust<'s> {
        let (stated, checked) = (BTreeMap::new(), HashMap::new());
        let mut trust = Trust { sources, own, depth, stated, checked, judged: Vec::new() };
        for _ in 0..ROUNDS {
            trust.judged = (0..sources.len()).map(|at| trust.source(at)).collect();
            let stated = trust.statements(journal);
            if stated == trust.stated {
                break;
            }
            trust.stated = stated;
        }
        trust
    }

    /// From when on a device's key is withdrawn.
    pub(crate) fn until(&self, device: DeviceId) -> Option<Stamp> {
        self.stated.get(&device)?.until
    }

    /// The key that is not confirmed, of a device that has one.
    pub(crate) fn own_word(&self, device: DeviceId) -> Option<DeviceKey> {
        let mut of_device =
            (0..self.sources.len()).filter(|at| self.sources.get(*at).is_some_and(|s| s.device == device));
        of_device.find_map(|at| first_key(self.sources.get(at)?))
    }

    /// Keys stated in blocks that are good, and in the journal; of one device the last in the merged order.
    fn statements(&self, journal: &[Entry]) -> BTreeMap<DeviceId, Stated> {
        let pages = self.sources.iter().zip(&self.judged).flat_map(|(s, judged)| s.book.pages.iter().zip(judged));
        let good = pages.filter(|(_, judged)| judged.state == SealState::Good).flat_map(|(page, _)| &page.entries);
        let mut entries: Vec<&Entry> = good.chain(journal).collect();
        entries.sort_by_key(|entry| entry.order());
        let mut stated = BTreeMap::new();
        for entry in entries {
            if let What::Registered(Fact::DeviceKey { device, key, until }) = &entry.what {
                stated.insert(*device, Stated { key: *key, until: *until });
            }
        }
        stated
    }

    fn source(&mut self, at: usize) -> Vec<Judged> {
        let sources = self.sources;
        let Some(source) = sources.get(at) else { return Vec::new() };
        let (key, known) = self.key(source);
        let until = self.until(source.device);
        let mut judged = Vec::new();
        let mut later: Option<(&Page, bool)> = None;
        for (n, page) in source.book.pages.iter().enumerate().rev() {
            let named = later.is_some_and(|(next, held)| held && next.head.previous == page.hash);
            let signed = match key {
                Some(key) if !named || self.depth == Depth::Every => self.signed(at, n, page, key),
                _ => false,
            };
            let head_holds = named || signed;
            let state = match key {
                None => SealState::UnknownKey,
                Some(_) if !head_holds => SealState::Bad,
                Some(_) if withdrawn(page, until) => SealState::Revoked,
                Some(_) if known => SealState::Good,
                Some(_) => SealState::UnknownKey,
            };
            let spoilt = key.is_some() && named && !signed && self.depth == Depth::Every;
            judged.push(Judged { state, head_holds, spoilt });
            later = Some((page, head_holds));
        }
        judged.reverse();
        judged
    }

    /// The key of a book, and whether it is confirmed.
    fn key(&mut self, source: &Source) -> (Option<DeviceKey>, bool) {
        if let Some(stated) = self.stated.get(&source.device) {
            return (Some(stated.key), true);
        }
        match self.own.get(&source.device) {
            Some(key) => (Some(*key), true),
            None => (first_key(source).or_else(|| self.own_word(source.device)), false),
        }
    }

    fn signed(&mut self, at: usize, n: usize, page: &Page, key: DeviceKey) -> bool {
        let sources = self.sources;
        let check = || {
            let bytes = sources.get(at).and_then(|source| source.bytes.get(page.offset..));
            bytes.and_then(|bytes| Block::read(bytes, page.offset)).is_some_and(|block| block.signed_by(key))
        };
        *self.checked.entry((at, n, key)).or_insert_with(check)
    }
}

/// The key that a book's first block states, where that block is signed with it.
fn first_key(source: &Source) -> Option<DeviceKey> {
    let page = source.book.pages.iter().find(|page| page.head.number == 0 && page.head.device == source.device)?;
    let block = Block::read(source.bytes.get(page.offset..)?, page.offset)?;
    page.head.key.filter(|key| block.signed_by(*key))
}

fn withdrawn(page: &Page, until: Option<Stamp>) -> bool {
    until.is_some_and(|until| page.entries.iter().any(|entry| entry.stamp > until))
}
